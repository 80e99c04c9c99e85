/* One season of a field for benches: maize on a silt loam (FAO-56 Tables 11, 12, 17, 19, 22), sprinkled every
 * ninth day, in invented weather. */
#ifndef WATERTURN_TESTS_BENCH_SEASON_H
#define WATERTURN_TESTS_BENCH_SEASON_H

#include "core/balance/season.h"

#define BENCH_SEASON_FIRST 20089 /* 2025-01-01 */
#define BENCH_SEASON_DAYS  140   /* planting to harvest */

struct season_setup bench_season_setup(void);

/* BENCH_SEASON_DAYS of them. */
void bench_season_inputs(const struct season_setup *setup, struct season_input *input);

/* 0..1, for a day and a prime of one's own; et0_numpy.py has the same. */
double bench_unrest(int day, long long step);

#endif
