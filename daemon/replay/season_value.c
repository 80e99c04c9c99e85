#include "daemon/replay/season_value.h"

#include <math.h>

#define M3_HA_MM 10.0 /* m3 on a hectare for each mm */

/* Rounding may put the sum of what was used a hair above the sum of what was asked. */
static struct yield_water water_of(double ky, double etc_mm, double eta_mm) {
    return (struct yield_water){ky, etc_mm, fmin(eta_mm, etc_mm)};
}

enum status season_relative_yield(const struct crop *crop, const struct budget *budget,
                                  struct yield_share *out) {
    double etc_mm = 0, eta_mm = 0;
    for (int stage = STAGE_INITIAL; stage < STAGE_ENDED; stage++) {
        etc_mm += budget->stage[stage].etc_mm;
        eta_mm += budget->stage[stage].eta_mm;
    }
    const struct yield_water water = water_of(crop->ky_season, etc_mm, eta_mm);
    return yield_season(&water, out);
}

static void by_stage(const struct crop *crop, const struct budget *budget, struct season_value *value) {
    struct yield_water water[CROP_GROWING_STAGES];
    struct yield_stage each[CROP_GROWING_STAGES];
    struct yield_share share;
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        const struct budget_part *part = &budget->stage[STAGE_INITIAL + i];
        water[i] = water_of(crop->ky_stage[i], part->etc_mm, part->eta_mm);
        value->stage_cost[i] = (double)NAN;
    }
    value->relative_by_stage = (double)NAN;
    if (yield_by_stage(water, CROP_GROWING_STAGES, &share, each) != STATUS_OK)
        return;
    value->relative_by_stage = share.relative;
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        value->stage_cost[i] = each[i].counted ? each[i].cost : (double)NAN;
}

/* x / y where y is above 0, else NaN. */
static double per(double x, double y) {
    return y > 0 ? x / y : (double)NAN;
}

static double or_zero(double cost) {
    return isnan(cost) ? 0 : cost;
}

/* The costs of water that were given; NaN when none was. */
static double costs(const struct season_value *value, const struct money *money) {
    if (isnan(value->water_cost) && isnan(value->pass_cost) && isnan(money->season_cost))
        return (double)NAN;
    return or_zero(value->water_cost) + or_zero(value->pass_cost) + or_zero(money->season_cost);
}

static void in_money(const struct budget_part *season, const struct money *money,
                     struct season_value *value) {
    value->income = value->yield * money->price;
    value->water_cost = season->irrigation_gross_mm * M3_HA_MM * money->water_cost;
    value->pass_cost = season->irrigations * money->pass_cost;
    value->margin = value->income - or_zero(costs(value, money));
    double rainfed = value->rainfed_relative * money->max_yield * money->price - or_zero(money->season_cost);
    value->margin_over_rainfed = value->margin - rainfed;
}

struct season_value season_value_of(const struct crop *crop, const struct budget *budget,
                                    const struct budget *rainfed, const struct money *money,
                                    const struct watering_denied *denied) {
    struct season_value value = {.relative = (double)NAN, .rainfed_relative = (double)NAN};
    const struct budget_part *season = &budget->season;
    struct yield_share share;
    if (season_relative_yield(crop, budget, &share) == STATUS_OK)
        value.relative = share.relative;
    if (season_relative_yield(crop, rainfed, &share) == STATUS_OK)
        value.rainfed_relative = share.relative;
    by_stage(crop, budget, &value);
    double gained = value.relative - value.rainfed_relative, eta_mm = season->eta_mm;
    double gross_mm = season->irrigation_gross_mm;
    value.yield = value.relative * money->max_yield;
    value.per_mm = per(value.yield, eta_mm);
    value.per_m3 = per(value.yield, eta_mm * M3_HA_MM);
    value.per_m3_in = per(value.yield, (season->rain_mm + gross_mm) * M3_HA_MM);
    value.irrigation_per_mm = per(gained * money->max_yield, gross_mm);
    value.irrigation_per_m3 = per(gained * money->max_yield, gross_mm * M3_HA_MM);
    value.relative_per_100mm = per(100 * value.relative, eta_mm);
    value.irrigation_relative_per_100mm = per(100 * gained, gross_mm);
    in_money(season, money, &value);
    value.denied_mm = denied != NULL ? denied->gross_mm : (double)NAN;
    value.denied_days = denied != NULL ? denied->days : (double)NAN;
    return value;
}

/* ---- the harvest ---- */

#define HARVEST_STEP_D 7

/* Index of the last day with the crop on the field; -1: none. */
static int last_of_crop(const struct season_day *day, int days) {
    int last = days - 1;
    while (last >= 0 && !crop_growing(day[last].stage))
        last--;
    return last;
}

static struct harvest_option option_at(const struct crop *crop, const struct season_day *day, int at,
                                       double transpiration_mm) {
    struct harvest_option option = {
        .date = day[at].date, .days_in_season = day[at].days_in_season, .depletion_mm = day[at].depletion_mm};
    double etc_mm = 0, crop_eta_mm = 0, transpired_mm = 0;
    for (int i = 0; i <= at; i++) {
        option.irrigation_gross_mm += day[i].irrigation_gross_mm;
        option.eta_mm += day[i].eta_mm;
        if (!crop_growing(day[i].stage))
            continue;
        option.stress_days += day[i].ks < 1;
        etc_mm += day[i].etc_mm;
        crop_eta_mm += day[i].eta_mm;
        transpired_mm += day[i].transpiration_mm;
    }
    const struct yield_water water = water_of(crop->ky_season, etc_mm, crop_eta_mm);
    struct yield_share share;
    option.relative = yield_season(&water, &share) == STATUS_OK ? share.relative : (double)NAN;
    option.transpired = per(transpired_mm, transpiration_mm);
    return option;
}

int season_harvest_window(const struct crop *crop, const struct season_day *day, int days,
                          struct harvest_option out[HARVEST_OPTIONS_MAX]) {
    int last = last_of_crop(day, days), count = 0;
    double transpiration_mm = 0;
    for (int i = 0; i <= last; i++)
        transpiration_mm += crop_growing(day[i].stage) ? day[i].transpiration_mm : 0;
    int weeks = HARVEST_OPTIONS_MAX - 1;
    while (weeks >= 0) {
        int at = last - weeks * HARVEST_STEP_D;
        if (at >= 0 && (day[at].stage == STAGE_MID || day[at].stage == STAGE_LATE))
            out[count++] = option_at(crop, day, at, transpiration_mm);
        weeks--;
    }
    return count;
}
