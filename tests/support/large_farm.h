/* A large invented farm in a database of its own, for benches: fields alike but for crop dates and waterings,
 * one station, weather day by day. tests/support/large_farm.mjs makes the same sort of farm from outside. */
#ifndef WATERTURN_TESTS_LARGE_FARM_H
#define WATERTURN_TESTS_LARGE_FARM_H

#include <stdbool.h>

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"
#include "daemon/store/farm_store.h"

#define LARGE_FARM_FIRST 20544 /* 2026-04-01: the first day of the balance of every field */

struct large_farm {
    char path[400]; /* below the folder of the build */
    struct db *db;
    struct problems problems;
};

/* One crop on each of `fields` fields, planted in the first 28 days, watered every week from the fifth on up
 * to the day `days` after the first. Each of the functions gives up the program, with its reason, when it
 * fails. */
void large_farm_open(struct large_farm *farm, int fields, int days);
void large_farm_close(struct large_farm *farm); /* and removes the file */

/* Takes weather from four days before the first to the day before `today`, as observed on `today`. With
 * `forecast`, ten days to come as well. */
void large_farm_weather(struct large_farm *farm, int32_t today, bool forecast);

/* Runs the morning of a day; seconds of a processor that it took. */
double large_farm_morning(struct large_farm *farm, int32_t today);

#endif
