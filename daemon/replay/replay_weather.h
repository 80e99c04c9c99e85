/* The weather that replays run on: what each station reported, from the farm file's sources or from the
 * database, and the days made of it. */
#ifndef WATERTURN_REPLAY_WEATHER_H
#define WATERTURN_REPLAY_WEATHER_H

#include "daemon/morning/station_days.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/weather_store.h"

struct station_reports {
    struct weather_days observed, forecast;
};

/* Something that went in, and its SHA-256. */
struct replay_input {
    char what[FARM_NAME_SIZE + 20]; /* "source observed", "weather of Valley floor" */
    char address[FARM_TEXT_SIZE];   /* where it came from; "": the database */
    char sha256[WEATHER_HASH_SIZE];
};

struct replay_weather {
    struct station_reports *station; /* in the order of the farm's stations */
    size_t count;
    struct replay_input *input;
    size_t input_count;
};

/* Both begin with `weather` zeroed; whatever they return it is freed with replay_weather_free(). */

/* From the sources that the farm file names; relative file: addresses start at `base_dir`. Between
 * download_start() and download_stop(). */
enum status replay_weather_of_files(const struct farm *farm, const char *base_dir,
                                    struct replay_weather *weather, struct problems *problems);
/* As it was known in the database on the morning of `today`. */
enum status replay_weather_of_db(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                 int32_t today, struct replay_weather *weather, struct problems *problems);
void replay_weather_free(struct replay_weather *weather);

/* The day after the last one that any station observed; CALENDAR_NONE: none did. */
int32_t replay_weather_end(const struct replay_weather *weather);

/* The first day that any station observed; CALENDAR_NONE: none did. */
int32_t replay_weather_first(const struct replay_weather *weather);

/* station_days_build() for every station of `farm` (the one that the weather was read for, or one with the
 * same stations, whose settings may be others), `today` and the days ahead included. `days` has room for them
 * all; free each with station_days_free(), whatever is returned. */
enum status replay_weather_build(const struct replay_weather *weather, const struct farm *farm, int32_t first,
                                 int32_t today, struct station_days *days);

/* Index of a station in the farm; station_count: none of that name. */
size_t replay_station_index(const struct farm *farm, const char *name);

#endif
