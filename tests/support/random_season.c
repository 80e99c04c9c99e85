#include "tests/support/random_season.h"

#include <math.h>

static double between(struct hostile *source, double low, double high) {
    return hostile_between(source, low, high);
}

bool random_one_in(struct hostile *source, double n) {
    return between(source, 0, n) < 1;
}

static void random_soil(struct hostile *source, struct soil *soil) {
    *soil = (struct soil){
        .layer_count = 1 + (int)between(source, 0, 2.999), .curve_number = NAN, .intake_mm_h = NAN};
    double bottom_m = 0;
    for (int i = 0; i < soil->layer_count; i++) {
        bottom_m += between(source, 0.1, 0.8);
        double wp = between(source, 0.02, 0.25);
        soil->layer[i] = (struct soil_layer){bottom_m, wp + between(source, 0.04, 0.2), wp};
    }
    soil->evaporation_depth_m = between(source, 0.10, 0.15);
    soil->tew_mm = soil_tew_mm(soil->layer[0].field_capacity_m3_m3, soil->layer[0].wilting_point_m3_m3,
                               soil->evaporation_depth_m);
    soil->rew_mm = soil->tew_mm * between(source, 0.2, 0.7);
    if (random_one_in(source, 2))
        soil->curve_number = between(source, 40, 95);
}

static void random_crop(struct hostile *source, struct crop *crop) {
    *crop = (struct crop){.reference = random_one_in(source, 5) ? REFERENCE_ASCE_TALL : REFERENCE_FAO56_GRASS,
                          .clock = random_one_in(source, 3) ? CLOCK_DEGREE_DAYS : CLOCK_DAYS,
                          .base_c = 8,
                          .ceiling_c = random_one_in(source, 2) ? 30 : NAN};
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        crop->stage_days[k] = 1 + (int)between(source, 2, 50);
        crop->stage_degree_days[k] = between(source, 50, 700);
        crop->cut_stage_days[k] = 1 + (int)between(source, 1, 12);
        crop->allowed_depletion[k] = random_one_in(source, 3) ? between(source, 0.05, 1) : NAN;
        crop->ky_stage[k] = NAN;
    }
    crop->kc_ini = between(source, 0.1, 1);
    crop->kc_mid = between(source, 0.3, 1.3);
    crop->kc_end = between(source, 0.1, 1.2);
    crop->kcb_ini = between(source, 0, 0.6);
    crop->kcb_mid = between(source, 0.2, 1.25);
    crop->kcb_end = between(source, 0.05, 1.2);
    crop->height_max_m = between(source, 0.05, 6);
    crop->height_ini_m = crop->height_max_m * between(source, 0, 1);
    crop->root_ini_m = between(source, 0.05, 0.5);
    crop->root_max_m = crop->root_ini_m + between(source, 0, 1.5);
    crop->depletion_fraction = between(source, 0.1, 0.8);
    crop->depletion_fixed = random_one_in(source, 3);
    crop->ky_season = random_one_in(source, 2) ? NAN : between(source, 0.7, 1.3);
    crop->salt_threshold_ds_m = between(source, 1, 6);
    crop->salt_slope_pct = between(source, 3, 15);
    crop->forage = random_one_in(source, 4);
    crop->cut_height_m = crop->height_max_m / 3;
}

struct season_setup random_season_setup(struct hostile *source) {
    struct season_setup setup = season_setup_default();
    random_soil(source, &setup.soil);
    random_crop(source, &setup.crop);
    setup.method = random_one_in(source, 3) ? COEFFICIENT_SINGLE : COEFFICIENT_DUAL;
    setup.first_date = RANDOM_SEASON_FIRST;
    setup.planting_date = RANDOM_SEASON_FIRST + (int32_t)between(source, 0, 25);
    int32_t date = setup.planting_date;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        date += 1 + (int32_t)between(source, 1, 40);
        setup.stage_date[k] = random_one_in(source, 5) ? date : CALENDAR_NONE;
    }
    setup.start_depletion = between(source, 0, 1);
    setup.start_surface = between(source, 0, 1);
    setup.system_wetted_fraction = random_one_in(source, 2) ? 1 : between(source, 0.05, 1);
    setup.drip_under_canopy = random_one_in(source, 3);
    setup.drainage_days = random_one_in(source, 2) ? 0 : between(source, 0, 6);
    setup.water_table_m = random_one_in(source, 4) ? between(source, 0, 3) : NAN;
    setup.capillary_max_mm = between(source, 0, 5);
    if (random_one_in(source, 3)) {
        setup.wetting_interval_d = between(source, 1, 15);
        setup.wetting_depth_mm = between(source, 3, 60);
    }
    if (setup.method == COEFFICIENT_DUAL && random_one_in(source, 3))
        setup.ece_ds_m = setup.crop.salt_threshold_ds_m + between(source, -1, 3);
    return setup;
}

struct season_input random_season_day(struct hostile *source, int32_t date) {
    struct season_input input = season_input_empty(date);
    input.et0_mm = random_one_in(source, 40) ? -0.2 : between(source, 0, 12);
    input.wind_2m_m_s = between(source, 0, 8);
    input.rh_min_pct = between(source, 5, 100);
    input.tmin_c = between(source, 2, 24);
    input.tmax_c = input.tmin_c + between(source, 2, 16);
    input.rain_mm = random_one_in(source, 4) ? between(source, 0, random_one_in(source, 10) ? 150 : 25) : 0;
    return input;
}

void random_season_irrigate(struct hostile *source, struct season_input *input) {
    if (!random_one_in(source, 9))
        return;
    input->irrigation_gross_mm = between(source, 1, 70);
    input->irrigation_net_mm = input->irrigation_gross_mm * between(source, 0.4, 1);
}
