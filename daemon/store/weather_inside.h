/* What the files about weather share. Nobody else includes this. */
#ifndef WATERTURN_WEATHER_INSIDE_H
#define WATERTURN_WEATHER_INSIDE_H

#include "daemon/store/db_inside.h"
#include "daemon/store/weather_store.h"

/* The columns of a weather row carry the names of the elements, in their order. */
void weather_elements_list(struct text *sql, const char *prefix);

/* Reads them from result column `first` on. */
void weather_day_read(sqlite3_stmt *statement, int first, enum weather_origin origin,
                      struct weather_day *day);

/* The hours of a day as a value of column "hours"; NULL is NULL. */
void weather_hours_bind(sqlite3_stmt *statement, int index, const struct weather_hours *hours);

/* False when there are none. */
bool weather_hours_read(sqlite3_stmt *statement, int column, int32_t date, struct weather_hours *hours);

/* Whether what changed from the day `day` (SQL) on can touch the ledger of a row of planting, or it is marked
 * already. Days from the start of the field's next planting on are not a planting's; and of the newest one
 * every morning writes what its ledger lacks, marked or not. */
#define WEATHER_TOUCHES(day)                                                                                 \
    "(dirty_day IS NOT NULL OR (SELECT coalesce(min(next.start_day) > " day ", EXISTS (SELECT 1 FROM "       \
    "ledger WHERE ledger.planting_id = planting.planting_id AND ledger.day >= " day ")) FROM planting AS "   \
    "next WHERE next.field_id = planting.field_id AND next.start_day > planting.start_day))"

/* Puts the findings of the days of a file in place of those that the source had on the days that the file
 * spans; within the caller's transaction. */
enum status finding_store_replace(struct db *db, long long source_id, const struct weather_days *days,
                                  const struct weather_site *site, struct problems *problems);

#endif
