#include "tests/support/outlook_case.h"

#include <math.h>
#include <stdlib.h>

static double between(struct hostile *source, double low, double high) {
    return hostile_between(source, low, high);
}

static bool one_in(struct hostile *source, double n) {
    return between(source, 0, n) < 1;
}

static void make_crop(struct hostile *source, struct crop *crop) {
    *crop = (struct crop){.reference = REFERENCE_FAO56_GRASS,
                          .clock = CLOCK_DAYS,
                          .base_c = NAN,
                          .ceiling_c = NAN,
                          .kc_ini = between(source, 0.3, 0.7),
                          .kc_mid = between(source, 0.9, 1.2),
                          .kc_end = between(source, 0.3, 0.9),
                          .kcb_ini = 0.15,
                          .kcb_mid = between(source, 0.8, 1.15),
                          .kcb_end = between(source, 0.2, 0.8),
                          .height_ini_m = 0.05,
                          .height_max_m = between(source, 0.2, 2.5),
                          .root_ini_m = between(source, 0.12, 0.3),
                          .depletion_fraction = between(source, 0.3, 0.65),
                          .depletion_fixed = one_in(source, 3),
                          .ky_season = between(source, 0.8, 1.3),
                          .salt_threshold_ds_m = 2,
                          .salt_slope_pct = 8,
                          .cut_height_m = 0.1};
    crop->root_max_m = crop->root_ini_m + between(source, 0.1, 1);
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        crop->stage_days[k] = 10 + (int)between(source, 5, 35);
        crop->stage_degree_days[k] = 100;
        crop->cut_stage_days[k] = 10;
        crop->allowed_depletion[k] = one_in(source, 3) ? between(source, 0.2, 0.7) : NAN;
        crop->ky_stage[k] = NAN;
    }
}

struct season_setup outlook_case_setup(struct hostile *source, int32_t first) {
    struct season_setup setup = season_setup_default();
    double wp = between(source, 0.05, 0.2), fc = wp + between(source, 0.08, 0.18);
    if (soil_from_water(fc, wp, 0.1, &setup.soil) != STATUS_OK)
        abort();
    if (one_in(source, 2))
        setup.soil.curve_number = between(source, 60, 85);
    make_crop(source, &setup.crop);
    setup.method = one_in(source, 3) ? COEFFICIENT_SINGLE : COEFFICIENT_DUAL;
    setup.first_date = first;
    setup.planting_date = first + 5;
    setup.start_depletion = between(source, 0, 0.5);
    setup.system_wetted_fraction = one_in(source, 2) ? 1 : between(source, 0.3, 1);
    setup.drip_under_canopy = one_in(source, 3);
    setup.drainage_days = one_in(source, 2) ? 0 : between(source, 0, 4);
    setup.water_table_m = one_in(source, 4) ? between(source, 1, 3) : NAN;
    setup.capillary_max_mm = 2;
    if (setup.method == COEFFICIENT_DUAL && one_in(source, 4))
        setup.ece_ds_m = between(source, 1, 4);
    return setup;
}

struct season_input outlook_case_day(struct hostile *source, int32_t date) {
    struct season_input input = season_input_empty(date);
    input.et0_mm = one_in(source, 40) ? -0.1 : between(source, 0.5, 8);
    input.wind_2m_m_s = between(source, 0.5, 5);
    input.rh_min_pct = between(source, 15, 80);
    input.tmin_c = between(source, 8, 20);
    input.tmax_c = input.tmin_c + between(source, 4, 15);
    input.rain_mm = one_in(source, 4) ? between(source, 0, 30) : 0;
    return input;
}

void outlook_case_walk(struct hostile *source, const struct season_setup *setup, int days,
                       struct season_prepared *prepared, struct season_state *state) {
    if (season_prepare(setup, prepared) != STATUS_OK || season_begin(prepared, state) != STATUS_OK)
        abort();
    for (int i = 0; i < days; i++) {
        struct season_input input = outlook_case_day(source, state->next_date);
        struct season_day day;
        if (one_in(source, 8))
            input.irrigation_gross_mm = input.irrigation_net_mm = between(source, 5, 40);
        if (season_step(prepared, state, &input, &day) != STATUS_OK)
            abort();
    }
}

void outlook_case_field(struct hostile *source, int32_t first, int walked, int days,
                        struct outlook_field *out) {
    struct season_setup setup = outlook_case_setup(source, first);
    struct season_prepared prepared;
    struct season_state state;
    struct season_input input[OUTLOOK_DAYS_MAX];
    outlook_case_walk(source, &setup, (int)hostile_between(source, 0, walked), &prepared, &state);
    for (int day = 0; day < days; day++)
        input[day] = outlook_case_day(source, state.next_date + day);
    if (outlook_field_prepare(&prepared, &state, input, days, out) != STATUS_OK)
        abort();
}
