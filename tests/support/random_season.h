/* Seasons drawn by chance: crops, soils, weather and irrigation far wider than farms see, all inside their
 * ranges. */
#ifndef WATERTURN_TESTS_RANDOM_SEASON_H
#define WATERTURN_TESTS_RANDOM_SEASON_H

#include <stdbool.h>
#include <stdint.h>

#include "core/balance/season.h"
#include "tests/support/hostile.h"

#define RANDOM_SEASON_FIRST 20000 /* first_date of them all */

/* True once in `n` times. */
bool random_one_in(struct hostile *source, double n);

struct season_setup random_season_setup(struct hostile *source);

/* Weather without water, and water once in nine times. */
struct season_input random_season_day(struct hostile *source, int32_t date);
void random_season_irrigate(struct hostile *source, struct season_input *input);

#endif
