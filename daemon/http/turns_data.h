/* The turns out of the database, for pages, feeds and `waterturn turns`. */
#ifndef WATERTURN_TURNS_DATA_H
#define WATERTURN_TURNS_DATA_H

#include "daemon/base/wall_clock.h"
#include "daemon/store/db.h"
#include "daemon/store/farm_store.h"
#include "daemon/view/turns.h"

struct turns_data {
    struct farm farm; /* without records */
    struct farm_ids ids;
    struct stored_turns turns;
};

/* STATUS_NOT_FOUND: the book is empty. Freed with turns_data_free() whatever is returned. */
enum status turns_data_load(struct db *db, int32_t today, struct turns_data *out, struct problems *problems);
void turns_data_free(struct turns_data *data);

/* What a view wants of it; `mornings` may be NULL. */
struct turns_facts turns_data_facts(const struct turns_data *data, const struct field_morning *mornings,
                                    size_t count, const struct morning_time *now);

#endif
