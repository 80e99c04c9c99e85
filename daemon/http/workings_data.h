/* From the database to the workings of a day. */
#ifndef WATERTURN_WORKINGS_DATA_H
#define WATERTURN_WORKINGS_DATA_H

#include "daemon/store/db.h"
#include "daemon/view/workings.h"

/* Reckons a day of the planting that stands on a field on the newest morning, from what is stored.
 * STATUS_NOT_FOUND: no such field, nothing planted, or no such day. */
enum status workings_load(struct db *db, const char *field, int32_t date, struct workings_facts *out,
                          struct problems *problems);

#endif
