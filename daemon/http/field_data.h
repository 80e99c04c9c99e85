/* From the database to what a field's own pages show. */
#ifndef WATERTURN_FIELD_DATA_H
#define WATERTURN_FIELD_DATA_H

#include "daemon/store/db.h"
#include "daemon/view/field_facts.h"

/* A field as it stands on the morning of `today`. STATUS_NOT_FOUND: there is none of that name. */
enum status field_facts_load(struct db *db, const char *field, int32_t today, struct field_facts *out,
                             struct problems *problems);
void field_facts_free(struct field_facts *facts);

#endif
