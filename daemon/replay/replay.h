/* Seasons replayed side by side: a farm and its weather, from files or the database, the scenarios, what came
 * out. */
#ifndef WATERTURN_REPLAY_H
#define WATERTURN_REPLAY_H

#include <cjson/cJSON.h>

#include "daemon/replay/replay_weather.h"
#include "daemon/replay/scenario.h"
#include "daemon/replay/season_value.h"

struct replay_result {
    size_t scenario; /* index in replay->scenario */
    char field[FARM_NAME_SIZE], crop_name[FARM_NAME_SIZE];
    char supply[FARM_NAME_SIZE]; /* of the field; "": none */
    struct crop crop;
    double area_m2;
    int32_t planting_date;
    struct season_day *day; /* the ledger of the scenario */
    int days;
    struct budget budget,
        rainfed; /* rainfed: the same season without irrigation, nor readings made under it */
    struct season_value value;
    int harvest_count;
    struct harvest_option harvest[HARVEST_OPTIONS_MAX];
    int32_t spent_date;      /* when the supply's allotment was used up; CALENDAR_NONE */
    int32_t weather_missing; /* CALENDAR_NONE, or the day before which it had to stop */
    int readings;            /* days with readings of soil water */
    bool readings_used;
    bool finished;   /* the season came to its end within the weather that is known */
    bool as_it_was;  /* the same to the last bit as what the first scenario gives */
    double measured; /* sum of the recorded harvests, in the user's unit; NaN: none */
};

struct replay {
    char name[FARM_TEXT_SIZE]; /* the farm file, or "the database" */
    cJSON *file;               /* its text, as change_parse() has it */
    char file_sha256[WEATHER_HASH_SIZE];
    struct farm farm;
    struct replay_weather weather;
    int32_t until; /* the first day that is not past */
    struct money money;
    struct scenario *scenario; /* the first one is as it was */
    size_t scenario_count;
    struct replay_result *result; /* planting by planting, in each the scenarios in their order */
    size_t result_count;
};

/* Both begin with a zeroed `replay`, and whatever they return it is freed with replay_free(). `today`: the
 * first day that is not past; CALENDAR_NONE: the day after the last observed one. The first scenario, "as it
 * was", is made. */

/* A farm file and the sources that it names. Between download_start() and download_stop(). */
enum status replay_open_file(struct replay *replay, const char *path, int32_t today,
                             struct problems *problems);
/* The farm in the database. `field`: its plantings and records alone are replayed, and the others are not
 * read again and again; NULL: of all fields. */
enum status replay_open_db(struct replay *replay, struct db *db, const char *field, int32_t today,
                           struct problems *problems);
void replay_free(struct replay *replay);

/* Adds a scenario. `changes` is taken over. */
enum status replay_add(struct replay *replay, const char *name, cJSON *changes, struct problems *problems);
/* Adds those of a scenarios file: {"scenarios": [{"name": "rainfed", "set": {"irrigation": "none"}}],
 * "money": {...}}.
 */
enum status replay_add_file(struct replay *replay, const char *path, struct problems *problems);

/* Computes every scenario of the plantings of `field` (NULL: of all fields). STATUS_NOT_FOUND: nothing is
 * planted. */
enum status replay_run(struct replay *replay, const char *field, struct problems *problems);

/* SHA-256 in hexadecimal. */
void replay_hash(const void *bytes, size_t size, char out[WEATHER_HASH_SIZE]);

#endif
