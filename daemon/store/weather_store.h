/* Weather as it was reported, download by download, and the state of the sources. */
#ifndef WATERTURN_WEATHER_STORE_H
#define WATERTURN_WEATHER_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/source/weather_days.h"
#include "daemon/store/db.h"

#define WEATHER_HASH_SIZE 65 /* SHA-256 in hexadecimal, and its NUL */

/* A download that was read whole. */
struct weather_fetch {
    long long source_id, station_id;
    enum source_kind kind;
    int64_t at;  /* seconds since 1970-01-01 UTC */
    int32_t day; /* the morning; of a forecast: the day of issue */
    const char *address, *layout;
    size_t size;
    char sha256[WEATHER_HASH_SIZE];
};

/* Stores the days of a download in one transaction: of an observed source those that differ from what the
 * source said before, of a forecast all. The same bytes again change nothing but taken_at. Ledgers that they
 * touch are marked from the first changed day on. `changed` (may be NULL): days stored. */
enum status weather_store_take(struct db *db, const struct weather_fetch *fetch,
                               const struct weather_days *days, size_t *changed, struct problems *problems);

/* Notes that a download failed, and why. */
enum status weather_store_trouble(struct db *db, long long source_id, int64_t at, const char *trouble,
                                  struct problems *problems);

/* What is known of a station on the morning of `today`: for each day the newest report of each source taken
 * by then, sources in their order of preference, element by element. Observed days before `today` go to
 * `observed`, forecast days to `forecast` (both initialised, empty). `issued`: day of issue of the newest
 * forecast; CALENDAR_NONE. */
enum status weather_store_load(struct db *db, long long station_id, int32_t first, int32_t today,
                               int32_t last, struct weather_days *observed, struct weather_days *forecast,
                               int32_t *issued, struct problems *problems);

/* The state of one source. */
struct source_state {
    char name[FARM_NAME_SIZE], station[FARM_NAME_SIZE];
    enum source_kind kind;
    int64_t tried_at, taken_at; /* 0: never */
    int32_t last_day;           /* newest day it has; CALENDAR_NONE */
    char trouble[FARM_TEXT_SIZE];
};
/* All sources in order of station and preference; a malloc'd array. */
enum status weather_store_sources(struct db *db, struct source_state **out, size_t *count,
                                  struct problems *problems);

#endif
