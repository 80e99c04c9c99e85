#include "core/balance/budget.h"

#include <math.h>

static struct budget_part part_empty(void) {
    return (struct budget_part){.ks_least = 1};
}

struct budget budget_empty(void) {
    struct budget budget = {.season = part_empty(), .first = CALENDAR_NONE, .last = CALENDAR_NONE};
    for (int stage = 0; stage < STAGE_ENDED; stage++) {
        budget.stage[stage] = part_empty();
        budget.stage_first[stage] = CALENDAR_NONE;
    }
    return budget;
}

/* Depletion less what is still draining: the water that is lacking to field capacity. */
static double lacking_mm(double depletion_mm, double excess_mm) {
    return depletion_mm - excess_mm;
}

static void add_water(struct budget_part *part, const struct season_day *day, double rain_share) {
    part->rain_mm += day->rain_mm;
    part->runoff_mm += day->runoff_mm;
    part->effective_rain_mm += day->rain_mm - day->runoff_mm - rain_share * day->percolation_mm;
    part->irrigation_gross_mm += day->irrigation_gross_mm;
    part->irrigation_net_mm += day->irrigation_net_mm;
    part->irrigations += day->irrigation_gross_mm > 0;
    part->capillary_mm += day->capillary_mm;
    part->percolation_mm += day->percolation_mm;
    part->et0_mm += day->et0_mm;
    part->etc_mm += day->etc_mm;
    part->eta_mm += day->eta_mm;
    part->evaporation_mm += day->evaporation_mm;
    part->transpiration_mm += day->transpiration_mm;
    part->new_soil_mm += day->new_soil_mm;
    part->reading_shift_mm += day->reading_shift_mm;
}

static void add_stress(struct budget_part *part, const struct season_day *day) {
    part->stress_days += day->ks < 1;
    part->stress_mm += day->etc_mm - day->eta_mm;
    part->stress_deepest_mm = fmax(part->stress_deepest_mm, day->depletion_mm - day->raw_mm);
    part->ks_least = fmin(part->ks_least, day->ks);
}

static void add_part(struct budget_part *part, const struct season_day *day, double rain_share) {
    part->days++;
    add_water(part, day, rain_share);
    part->storage_change_mm += lacking_mm(day->depletion_start_mm, day->excess_start_mm) -
                               lacking_mm(day->depletion_mm, day->excess_mm);
    part->closure_mm += season_closure_mm(day);
    if (crop_growing(day->stage))
        add_stress(part, day);
}

enum status budget_add(struct budget *budget, const struct season_day *day) {
    if ((unsigned)day->stage >= STAGE_ENDED)
        return STATUS_OUT_OF_RANGE;
    double rain_in_mm = day->rain_mm - day->runoff_mm, in_mm = rain_in_mm + day->irrigation_net_mm;
    if (in_mm > 0)
        budget->rain_share = rain_in_mm / in_mm;
    if (budget->first == CALENDAR_NONE)
        budget->first = day->date;
    budget->last = day->date;
    if (budget->stage_first[day->stage] == CALENDAR_NONE)
        budget->stage_first[day->stage] = day->date;
    add_part(&budget->season, day, budget->rain_share);
    add_part(&budget->stage[day->stage], day, budget->rain_share);
    budget->closure_max_mm = fmax(budget->closure_max_mm, fabs(season_closure_mm(day)));
    return STATUS_OK;
}
