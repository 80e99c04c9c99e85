/* Weather as it was reported, download by download, and the state of the sources. */
#ifndef WATERTURN_WEATHER_STORE_H
#define WATERTURN_WEATHER_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/source/weather_days.h"
#include "daemon/store/db.h"

#define WEATHER_HASH_SIZE   65 /* SHA-256 in hexadecimal, and its NUL */
#define WEATHER_HEADER_SIZE 256

/* ---- taking what was downloaded */

/* A download that was read whole, or that the server said is unchanged. */
struct weather_fetch {
    long long source_id, station_id;
    enum source_kind kind;
    int64_t at;          /* seconds since 1970-01-01 UTC */
    int32_t day;         /* the morning; of a forecast: the day of issue */
    int32_t start, end;  /* days that were asked for; CALENDAR_NONE: whatever the file has */
    const char *address; /* without keys */
    const char *layout;
    double wind_height_m; /* at which the service states its wind; NaN: the station's own anemometer */
    size_t size;
    char sha256[WEATHER_HASH_SIZE];
    const char *etag, *modified;     /* as the server named the copy; NULL or "": it did not */
    const struct weather_site *site; /* for the findings; NULL: none are made */
    bool in_trouble; /* another download of this source failed in this run: its trouble stays */
};

/* Stores the days of a download in one transaction: of an observed source those that differ from what the
 * source said before, of a forecast all. The same bytes again change nothing, but that they are confirmed on
 * this morning; a forecast of another morning is another issue all the same. Ledgers that they touch are
 * marked from the first changed day on, those of stations that have this one for a neighbour too. `changed`
 * (may be NULL): days stored. */
enum status weather_store_take(struct db *db, const struct weather_fetch *fetch,
                               const struct weather_days *days, size_t *changed, struct problems *problems);

/* The server said that the newest copy is still true: the same, with the days that it had. */
enum status weather_store_unchanged(struct db *db, const struct weather_fetch *fetch,
                                    struct problems *problems);

/* Notes that a download failed, and why. `retry_at`: the server wants not to be asked before it; 0: nothing.
 */
enum status weather_store_trouble(struct db *db, long long source_id, int64_t at, int64_t retry_at,
                                  const char *trouble, struct problems *problems);

/* ---- asking for more */

/* What the next request to a source is made with. */
struct source_memory {
    int64_t retry_at;               /* 0: at any time */
    char etag[WEATHER_HEADER_SIZE]; /* of the copy that is there; "" when there is none at this address, */
    char modified[WEATHER_HEADER_SIZE]; /* by this layout, for this station */
};
enum status weather_store_memory(struct db *db, long long source_id, long long station_id,
                                 const char *address, const char *layout, struct source_memory *out,
                                 struct problems *problems);

/* Days from `first` to `last` that an observed source is still to be asked for: need[i] is set for first + i.
 * A day that it has is settled once it was reported five days later; one that it lacks is asked for until
 * fifteen days after. */
#define WEATHER_SETTLED_D  5
#define WEATHER_GIVEN_UP_D 15
enum status weather_store_needed(struct db *db, long long source_id, long long station_id, int32_t first,
                                 int32_t last, bool *need, struct problems *problems);

/* ---- what is known */

/* What is known of a station on the morning of `today`: for each day the newest report of each source taken
 * by then, sources in their order of preference, element by element. Observed days before `today` go to
 * `observed`, forecast days to `forecast` (both initialised, empty; forecasts from `first` on, observed days
 * from `observed_first` on). `issued`: the day on which the newest forecast was first seen; CALENDAR_NONE. */
enum status weather_store_load(struct db *db, long long station_id, int32_t observed_first, int32_t first,
                               int32_t today, int32_t last, struct weather_days *observed,
                               struct weather_days *forecast, int32_t *issued, struct problems *problems);

/* The state of one source. */
struct source_state {
    long long source_id, station_id;
    char name[FARM_NAME_SIZE], station[FARM_NAME_SIZE], layout[FARM_NAME_SIZE], address[FARM_TEXT_SIZE];
    enum source_kind kind;
    int64_t tried_at, taken_at;      /* 0: never */
    int64_t retry_at;                /* 0: at any time */
    int32_t first_day, last_day;     /* oldest and newest day it has; CALENDAR_NONE */
    int32_t issued;                  /* of a forecast: the day on which the newest one was first seen */
    char trouble[PROBLEM_KEPT_SIZE]; /* why the last try failed, as problems_keep_first() has it; "": it did
                                        not */
};
/* All sources in order of station and preference, as of the morning of `today`; a malloc'd array. */
enum status weather_store_sources(struct db *db, int32_t today, struct source_state **out, size_t *count,
                                  struct problems *problems);

/* Days from `first` to `last` on which a source has reported at least one value: has[i] for first + i. */
enum status weather_store_reported(struct db *db, long long source_id, int32_t first, int32_t last, bool *has,
                                   struct problems *problems);

/* What was found odd about a source, kind by kind. */
struct source_finding {
    enum weather_finding_kind kind;
    enum weather_element element;
    int days;
    int32_t newest; /* the last such day, and its figures */
    double found, held;
    bool suspect; /* the value is not used */
};
/* The findings on days from `first` on, the newest before the others; a malloc'd array. */
enum status weather_store_findings(struct db *db, long long source_id, int32_t first,
                                   struct source_finding **out, size_t *count, struct problems *problems);

#endif
