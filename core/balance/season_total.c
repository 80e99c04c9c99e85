/* Sums over the days of a season, and whether they add up. */
#include "core/balance/season.h"

#include <math.h>

struct season_total season_total_empty(void) {
    return (struct season_total){.days = 0};
}

double season_closure_mm(const struct season_day *day) {
    double expected_mm = day->depletion_start_mm - day->excess_start_mm - (day->rain_mm - day->runoff_mm) -
                         day->irrigation_net_mm - day->capillary_mm + day->eta_mm + day->percolation_mm +
                         day->new_soil_mm + day->reading_shift_mm;
    return day->depletion_mm - day->excess_mm - expected_mm;
}

void season_total_add(struct season_total *total, const struct season_day *day) {
    if (total->days == 0)
        total->depletion_first_mm = day->depletion_start_mm;
    total->depletion_last_mm = day->depletion_mm;
    total->days++;
    total->et0_mm += day->et0_mm;
    total->etc_mm += day->etc_mm;
    total->eta_mm += day->eta_mm;
    total->evaporation_mm += day->evaporation_mm;
    total->transpiration_mm += day->transpiration_mm;
    total->rain_mm += day->rain_mm;
    total->runoff_mm += day->runoff_mm;
    total->irrigation_gross_mm += day->irrigation_gross_mm;
    total->irrigation_net_mm += day->irrigation_net_mm;
    total->capillary_mm += day->capillary_mm;
    total->percolation_mm += day->percolation_mm;
    total->new_soil_mm += day->new_soil_mm;
    total->reading_shift_mm += day->reading_shift_mm;
    if (crop_growing(day->stage)) {
        int k = (int)day->stage - STAGE_INITIAL;
        total->etc_stage_mm[k] += day->etc_mm;
        total->eta_stage_mm[k] += day->eta_mm;
        total->stress_days += day->ks < 1;
    }
    double closure_mm = fabs(season_closure_mm(day));
    if (!(closure_mm <= total->closure_max_mm))
        total->closure_max_mm = closure_mm;
}
