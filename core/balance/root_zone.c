#include "core/balance/root_zone.h"

#include <math.h>
#include <stdbool.h>

#include "core/base/extreme.h"

#define CAPILLARY_REACH_M 1.0

/* STATUS_OK when `sum`, of all terms, is a number and the terms are `inside` their ranges. */
static enum status check_terms(double sum, bool inside) {
    if (isnan(sum))
        return STATUS_MISSING;
    if (isinf(sum))
        return STATUS_NOT_FINITE;
    return inside ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

double root_zone_capillary_limit_mm(double water_table_m, double root_m, double capillary_max_mm) {
    if (isnan(water_table_m))
        return 0;
    double gap_m = water_table_m - root_m;
    if (!(water_table_m >= 0 && root_m >= 0 && capillary_max_mm >= 0 && isfinite(gap_m + capillary_max_mm)))
        return NAN;
    if (gap_m >= CAPILLARY_REACH_M)
        return 0;
    return gap_m <= 0 ? capillary_max_mm : capillary_max_mm * (1 - gap_m / CAPILLARY_REACH_M);
}

double root_zone_ks(double taw_mm, double raw_mm, double depletion_mm) {
    if (!(raw_mm >= 0 && raw_mm < taw_mm && depletion_mm >= 0 && depletion_mm <= taw_mm))
        return NAN;
    return root_zone_ks_inside(taw_mm, raw_mm, depletion_mm);
}

enum status root_zone_open(struct root_zone *zone, const struct root_zone_inflow *inflow, double taw_mm,
                           struct root_zone_flow *flow, double *depletion_mm) {
    double sum = zone->depletion_mm + zone->excess_mm + zone->below_depletion_mm + inflow->new_soil_mm +
                 inflow->infiltration_mm + inflow->irrigation_mm + inflow->capillary_limit_mm + taw_mm;
    enum status status =
        check_terms(sum, inflow->new_soil_mm >= 0 && inflow->infiltration_mm >= 0 &&
                             inflow->irrigation_mm >= 0 && inflow->capillary_limit_mm >= 0 &&
                             inflow->new_soil_mm <= zone->below_depletion_mm && taw_mm >= zone->depletion_mm);
    if (status == STATUS_OK)
        *depletion_mm = root_zone_open_inside(zone, inflow, taw_mm, flow);
    return status;
}

enum status root_zone_close(struct root_zone *zone, double demand_mm, double taw_mm, double drainage_days,
                            struct root_zone_flow *flow) {
    double sum =
        zone->depletion_mm + zone->excess_mm + zone->below_depletion_mm + demand_mm + taw_mm + drainage_days;
    enum status status =
        check_terms(sum, demand_mm >= 0 && drainage_days >= 0 && taw_mm >= zone->depletion_mm);
    if (status == STATUS_OK)
        root_zone_close_inside(zone, demand_mm, taw_mm, drainage_days, flow);
    return status;
}

double root_zone_gain(double variance_mm2, double sd_mm) {
    if (!(variance_mm2 >= 0 && sd_mm >= 0 && isfinite(variance_mm2 + sd_mm)))
        return NAN;
    return sd_mm > 0 ? variance_mm2 / (variance_mm2 + sd_mm * sd_mm) : 1;
}

enum status root_zone_correct(struct root_zone *zone, const struct root_zone_reading *reading, double taw_mm,
                              double *variance_mm2, double *shift_mm) {
    double sum = zone->depletion_mm + zone->excess_mm + reading->depletion_mm + reading->sd_mm + taw_mm +
                 *variance_mm2;
    enum status status = check_terms(sum, taw_mm >= 0 && reading->sd_mm >= 0 && *variance_mm2 >= 0);
    if (status != STATUS_OK)
        return status;
    double gain = root_zone_gain(*variance_mm2, reading->sd_mm);
    double read_mm = fmin(fmax(reading->depletion_mm, 0), taw_mm);
    double before_mm = zone->depletion_mm - zone->excess_mm;
    if (read_mm > 0)
        zone->excess_mm = 0;
    /* Written so that a gain of 1 gives the reading itself, to the last digit. */
    zone->depletion_mm = fmin((1 - gain) * zone->depletion_mm + gain * read_mm, taw_mm);
    *shift_mm = zone->depletion_mm - zone->excess_mm - before_mm;
    *variance_mm2 *= 1 - gain;
    return STATUS_OK;
}
