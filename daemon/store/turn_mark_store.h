/* People's word on turns, one by one. Writing is within the caller's transaction (db_begin). The ids of those
 * that farm_store_load() read are in struct farm_ids. */
#ifndef WATERTURN_TURN_MARK_STORE_H
#define WATERTURN_TURN_MARK_STORE_H

#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* Who said it and when. */
struct turn_mark_said {
    int64_t at;
    const char *who;
};

/* Adds a mark. `said` NULL: it came with a farm file. `id` may be NULL. STATUS_NOT_FOUND: no such field. */
enum status turn_mark_store_add(struct db *db, const struct farm_turn_mark *mark,
                                const struct turn_mark_said *said, long long *id, struct problems *problems);
/* Whether one that says the same is there. STATUS_NOT_FOUND: none is. */
enum status turn_mark_store_find(struct db *db, const struct farm_turn_mark *mark, struct problems *problems);

/* STATUS_NOT_FOUND: there is none. */
enum status turn_mark_store_get(struct db *db, long long id, struct farm_turn_mark *out,
                                struct problems *problems);
enum status turn_mark_store_remove(struct db *db, long long id, struct problems *problems);

#endif
