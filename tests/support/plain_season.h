/* A plain season for tests: 70 days of crop after 5 of bare soil, 150 mm/m, TEW 20 mm, steady weather.
 * Include cmocka.h first. */
#ifndef WATERTURN_TESTS_PLAIN_SEASON_H
#define WATERTURN_TESTS_PLAIN_SEASON_H

#include <math.h>

#include "core/balance/season.h"

#define FIRST 20000 /* first day of the balance */

static inline struct season_setup plain_setup(void) {
    struct season_setup setup = season_setup_default();
    setup.crop = (struct crop){.stage_days = {10, 20, 30, 10},
                               .stage_degree_days = {100, 200, 300, 100},
                               .base_c = 10,
                               .ceiling_c = 30,
                               .kc_ini = 0.4,
                               .kc_mid = 1.2,
                               .kc_end = 0.6,
                               .kcb_ini = 0.15,
                               .kcb_mid = 1.1,
                               .kcb_end = 0.5,
                               .height_ini_m = 0.1,
                               .height_max_m = 0.9,
                               .root_ini_m = 0.3,
                               .root_max_m = 0.9,
                               .depletion_fraction = 0.5,
                               .allowed_depletion = {NAN, NAN, NAN, NAN},
                               .ky_season = NAN,
                               .ky_stage = {NAN, NAN, NAN, NAN},
                               .salt_threshold_ds_m = 2,
                               .salt_slope_pct = 10,
                               .cut_stage_days = {4, 8, 12, 4},
                               .cut_height_m = 0.3};
    assert_int_equal(soil_from_water(0.25, 0.10, 0.1, &setup.soil), STATUS_OK); /* 150 mm/m, TEW 20 */
    setup.first_date = FIRST;
    setup.planting_date = FIRST + 5;
    return setup;
}

static inline struct season_input plain_day(int32_t date) {
    struct season_input input = season_input_empty(date);
    input.et0_mm = 5;
    input.wind_2m_m_s = 2;
    input.rh_min_pct = 45;
    input.tmax_c = 25;
    input.tmin_c = 15;
    input.rain_mm = 0;
    return input;
}

static inline struct season_prepared prepare(const struct season_setup *setup) {
    struct season_prepared prepared;
    assert_int_equal(season_prepare(setup, &prepared), STATUS_OK);
    return prepared;
}

static inline struct season_state begin(const struct season_setup *setup) {
    struct season_prepared prepared = prepare(setup);
    struct season_state run;
    assert_int_equal(season_begin(&prepared, &run), STATUS_OK);
    return run;
}

#endif
