/* What a season's water earned: relative yield, water productivity, value and cost, and what an earlier
 * harvest would have done. */
#ifndef WATERTURN_SEASON_VALUE_H
#define WATERTURN_SEASON_VALUE_H

#include "core/balance/budget.h"
#include "core/balance/crop.h"
#include "core/balance/yield.h"
#include "core/decide/watering.h"
#include "daemon/replay/scenario.h"

/* Of a season, with one without irrigation beside it. NaN: cannot be known. Yields and money are for a
 * hectare; 1 mm on a hectare is 10 m3. */
struct season_value {
    double relative;          /* of the yield without water stress, by the seasonal Ky (eq. 90) */
    double relative_by_stage; /* the same by the Ky of the stages */
    double stage_cost[CROP_GROWING_STAGES]; /* share of the yield lost in each */
    double rainfed_relative;
    double yield;          /* max_yield x relative */
    double per_mm, per_m3; /* water productivity: yield for each mm, and m3, of actual ET */
    double per_m3_in;      /* yield for each m3 of rain and gross irrigation */
    double irrigation_per_mm, irrigation_per_m3; /* irrigation water-use efficiency: yield beyond the rainfed
                                                    season's for each mm, and m3, of gross irrigation */
    double relative_per_100mm; /* relative yield for 100 mm of actual ET; needs no max_yield */
    double
        irrigation_relative_per_100mm; /* and that gained over the rainfed season for 100 mm of irrigation */
    double income, water_cost, pass_cost, margin; /* margin: income less all costs that were given */
    double margin_over_rainfed;
    double denied_mm, denied_days; /* of a field with a supply that waters itself: struct watering_denied;
                                      NaN: any other */
};

/* `denied` NULL: nothing was drawn from a supply. */
struct season_value season_value_of(const struct crop *crop, const struct budget *budget,
                                    const struct budget *rainfed, const struct money *money,
                                    const struct watering_denied *denied);

/* Actual and potential ET while the crop stood. STATUS_MISSING: no Ky, or it did not grow yet. */
enum status season_relative_yield(const struct crop *crop, const struct budget *budget,
                                  struct yield_share *out);

/* One date of an earlier harvest. */
struct harvest_option {
    int32_t date;
    double days_in_season;
    double transpired; /* share of the whole season's transpiration, which growth goes with */
    double relative; /* relative yield by the water up to then, of a crop that is ripe by then; NaN: no Ky */
    double irrigation_gross_mm, eta_mm; /* up to and with the day */
    int stress_days;
    double depletion_mm; /* in the evening */
};

#define HARVEST_OPTIONS_MAX 8

/* The last day with the crop on the field, and up to seven weekly dates before it, the oldest first; none in
 * the first two stages. Returns how many. */
int season_harvest_window(const struct crop *crop, const struct season_day *day, int days,
                          struct harvest_option out[HARVEST_OPTIONS_MAX]);

#endif
