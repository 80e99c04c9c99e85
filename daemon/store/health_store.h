/* How the database is: what is counted about it, and whether it is whole. */
#ifndef WATERTURN_HEALTH_STORE_H
#define WATERTURN_HEALTH_STORE_H

#include <stdint.h>

#include "core/decide/call.h"
#include "daemon/store/db.h"

struct health {
    double calls[CALL_KIND_COUNT]; /* of the newest morning, by kind */
    int64_t bytes;                 /* of the database file */
    int64_t devices;               /* that may come in */
};
enum status health_store_load(struct db *db, struct health *out, struct problems *problems);

/* Looks at every page and every reference. STATUS_REFUSED: it is damaged; `problems` says where. */
enum status health_store_check(struct db *db, struct problems *problems);

#endif
