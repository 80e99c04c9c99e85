#include "tests/support/bench_season.h"

#include <math.h>
#include <stdlib.h>

double bench_unrest(int day, long long step) {
    return (double)(day * step % 1009) / 1009.0;
}

struct season_setup bench_season_setup(void) {
    struct season_setup setup = season_setup_default();
    setup.crop = (struct crop){.stage_days = {25, 40, 45, 30},
                               .base_c = NAN,
                               .ceiling_c = NAN,
                               .kc_ini = 0.3,
                               .kc_mid = 1.2,
                               .kc_end = 0.6,
                               .kcb_ini = 0.15,
                               .kcb_mid = 1.15,
                               .kcb_end = 0.5,
                               .height_ini_m = 0.05,
                               .height_max_m = 2,
                               .root_ini_m = 0.15,
                               .root_max_m = 1.2,
                               .depletion_fraction = 0.55,
                               .allowed_depletion = {NAN, NAN, NAN, NAN},
                               .ky_season = 1.25,
                               .ky_stage = {NAN, NAN, NAN, NAN},
                               .salt_threshold_ds_m = NAN,
                               .salt_slope_pct = NAN};
    if (soil_from_water(0.32, 0.15, 0.12, &setup.soil) != STATUS_OK)
        abort();
    setup.soil.curve_number = 75;
    setup.first_date = setup.planting_date = BENCH_SEASON_FIRST + 100;
    setup.start_depletion = 0.3;
    setup.start_surface = 0.5;
    return setup;
}

void bench_season_inputs(const struct season_setup *setup, struct season_input *input) {
    for (int i = 0; i < BENCH_SEASON_DAYS; i++) {
        input[i] = season_input_empty(setup->first_date + i);
        input[i].et0_mm = 2 + 6 * bench_unrest(i, 7919);
        input[i].wind_2m_m_s = 0.6 + 4 * bench_unrest(i, 32452843);
        input[i].rh_min_pct = 20 + 40 * bench_unrest(i, 15485863);
        input[i].tmin_c = 12;
        input[i].tmax_c = 28;
        input[i].rain_mm = bench_unrest(i, 104729) > 0.75 ? 60 * (bench_unrest(i, 104729) - 0.75) : 0;
        input[i].irrigation_gross_mm = i % 9 == 8 ? 25 : 0;
        input[i].irrigation_net_mm = 0.85 * input[i].irrigation_gross_mm;
    }
}
