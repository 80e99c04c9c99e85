#include "daemon/replay/parameter.h"

#include <math.h>
#include <string.h>

#define NO_FIT (double)NAN, (double)NAN

const struct parameter_row parameter_rows[PARAMETER_COUNT] = {
    [PARAMETER_FIELD_CAPACITY] = {"field_capacity", "soils, layers, field_capacity", QUANTITY_SHARE, 0.02,
                                  0.74, 0.12, 0.04},
    [PARAMETER_WILTING_POINT] = {"wilting_point", "soils, layers, wilting_point", QUANTITY_SHARE, 0, 0.6,
                                 0.10, 0.04},
    [PARAMETER_ROOT_DEPTH] = {"root_depth", "plantings, root_depth, max", QUANTITY_LENGTH, 0.05, 10, 0.6,
                              0.25},
    [PARAMETER_KCB_MID] = {"kcb_mid", "plantings, kcb, mid", QUANTITY_NUMBER, 0, 2, 0.4, 0.1},
    [PARAMETER_DEPLETION_FRACTION] = {"p", "plantings, depletion_fraction", QUANTITY_SHARE, 0.05, 0.95, 0.3,
                                      0.1},
    [PARAMETER_START_DEPLETION] = {"start_depletion", "plantings, start_depletion", QUANTITY_SHARE, 0, 1, 1,
                                   0.3},
    [PARAMETER_ALLOWED_DEPLETION] = {"allowed_depletion", "plantings, allowed_depletion", QUANTITY_SHARE,
                                     0.01, 1, NO_FIT},
    [PARAMETER_CURVE_NUMBER] = {"curve_number", "soils, curve_number", QUANTITY_NUMBER, 1, 100, 15, 5},
    [PARAMETER_EFFICIENCY] = {"efficiency", "fields, system, efficiency", QUANTITY_SHARE, 0.2, 1, NO_FIT},
    [PARAMETER_SHARE] = {"share", "irrigation.share", QUANTITY_SHARE, 0, 5, NO_FIT},
    [PARAMETER_TRIGGER] = {"trigger", "irrigation.trigger", QUANTITY_SHARE, 0.01, 5, NO_FIT},
    [PARAMETER_REFILL] = {"refill", "irrigation.refill", QUANTITY_SHARE, 0.01, 1, NO_FIT},
};

enum parameter parameter_named(const char *name) {
    int i = 0;
    while (i < PARAMETER_COUNT && strcmp(parameter_rows[i].name, name) != 0)
        i++;
    return (enum parameter)i;
}

struct season_variant season_variant_of(const struct season_case *season) {
    return (struct season_variant){season->setup, season->field->system, season->rule};
}

/* Where a parameter that is one number stands. */
static double *place(struct season_variant *variant, enum parameter parameter) {
    switch (parameter) {
    case PARAMETER_FIELD_CAPACITY:
        return &variant->setup.soil.layer[0].field_capacity_m3_m3;
    case PARAMETER_WILTING_POINT:
        return &variant->setup.soil.layer[0].wilting_point_m3_m3;
    case PARAMETER_ROOT_DEPTH:
        return &variant->setup.crop.root_max_m;
    case PARAMETER_KCB_MID:
        return &variant->setup.crop.kcb_mid;
    case PARAMETER_DEPLETION_FRACTION:
        return &variant->setup.crop.depletion_fraction;
    case PARAMETER_START_DEPLETION:
        return &variant->setup.start_depletion;
    case PARAMETER_ALLOWED_DEPLETION:
        return &variant->setup.crop.allowed_depletion[0];
    case PARAMETER_CURVE_NUMBER:
        return &variant->setup.soil.curve_number;
    case PARAMETER_EFFICIENCY:
        return &variant->system.efficiency;
    case PARAMETER_SHARE:
        return &variant->rule.share;
    case PARAMETER_TRIGGER:
        return &variant->rule.trigger;
    case PARAMETER_REFILL:
        return &variant->rule.refill;
    case PARAMETER_COUNT:
        break;
    }
    return NULL;
}

double parameter_get(const struct season_variant *variant, enum parameter parameter) {
    struct season_variant copy = *variant;
    return *place(&copy, parameter);
}

/* All layers by as much as the upper one, and the surface in proportion. */
static void move_water(struct soil *soil, bool capacity, double value) {
    const struct soil_layer before = soil->layer[0];
    double by = value - (capacity ? before.field_capacity_m3_m3 : before.wilting_point_m3_m3);
    for (int i = 0; i < soil->layer_count; i++)
        *(capacity ? &soil->layer[i].field_capacity_m3_m3 : &soil->layer[i].wilting_point_m3_m3) += by;
    const struct soil_layer *top = &soil->layer[0];
    double depth_m = soil->evaporation_depth_m;
    soil->tew_mm *= soil_tew_mm(top->field_capacity_m3_m3, top->wilting_point_m3_m3, depth_m) /
                    soil_tew_mm(before.field_capacity_m3_m3, before.wilting_point_m3_m3, depth_m);
    soil->rew_mm *= soil_rew_mm(top->field_capacity_m3_m3, top->wilting_point_m3_m3) /
                    soil_rew_mm(before.field_capacity_m3_m3, before.wilting_point_m3_m3);
}

void parameter_set(struct season_variant *variant, enum parameter parameter, double value) {
    if (parameter == PARAMETER_FIELD_CAPACITY || parameter == PARAMETER_WILTING_POINT) {
        move_water(&variant->setup.soil, parameter == PARAMETER_FIELD_CAPACITY, value);
        return;
    }
    *place(variant, parameter) = value;
    for (int i = 1; parameter == PARAMETER_ALLOWED_DEPLETION && i < CROP_GROWING_STAGES; i++)
        variant->setup.crop.allowed_depletion[i] = value;
}

enum status season_variant_run(const struct season_case *season, const struct season_variant *variant,
                               struct season_day *day, int *days, struct budget *budget,
                               struct watering_denied *denied) {
    const struct watering_season run = {.setup = &variant->setup,
                                        .input = season->input,
                                        .count = season->count,
                                        .system = &variant->system,
                                        .rule = &variant->rule,
                                        .supply = &season->supply,
                                        .denied = denied};
    return watering_run(&run, day, days, budget, NULL);
}
