#include "core/balance/runoff.h"

#include <math.h>

static bool valid_cn2(double cn2) {
    return cn2 >= 0 && cn2 <= 100;
}

double runoff_retention_mm(double cn) {
    return cn > 0 && cn <= 100 ? runoff_retention_inside_mm(cn) : NAN;
}

enum status runoff_curve_number_mm(double rain_mm, double cn, double *runoff_mm) {
    return runoff_with_ratio_mm(rain_mm, cn, RUNOFF_ABSTRACTION_RATIO, runoff_mm);
}

enum status runoff_with_ratio_mm(double rain_mm, double cn, double abstraction_ratio, double *runoff_mm) {
    if (!isfinite(rain_mm) || !isfinite(cn) || !isfinite(abstraction_ratio))
        return STATUS_NOT_FINITE;
    double retention_mm = runoff_retention_mm(cn);
    if (rain_mm < 0 || isnan(retention_mm) || abstraction_ratio < 0 || abstraction_ratio > 1)
        return STATUS_OUT_OF_RANGE;
    *runoff_mm = runoff_inside_mm(rain_mm, retention_mm, abstraction_ratio);
    return STATUS_OK;
}

/* Chow's formulas in whole coefficients. Both meet 100 at 100: rounding must not lead past it. */
double runoff_cn_dry(double cn2) {
    return valid_cn2(cn2) ? fmin(4200 * cn2 / (10000 - 58 * cn2), cn2) : NAN;
}

double runoff_cn_wet(double cn2) {
    return valid_cn2(cn2) ? fmin(2300 * cn2 / (1000 + 13 * cn2), 100) : NAN;
}

struct runoff_surface runoff_surface_of(double cn2, double rew_mm, double tew_mm) {
    return (struct runoff_surface){.cn_dry = runoff_cn_dry(cn2),
                                   .cn_wet = runoff_cn_wet(cn2),
                                   .wet_mm = 0.5 * rew_mm,
                                   .dry_mm = 0.7 * rew_mm + 0.3 * tew_mm};
}

double runoff_cn_for_wetness(double cn2, double wetness) {
    if (!(wetness >= 0 && wetness <= 1 && valid_cn2(cn2)))
        return NAN;
    struct runoff_surface surface = runoff_surface_of(cn2, 0, 0);
    return runoff_cn_inside(&surface, wetness);
}

double runoff_wetness(double surface_depletion_mm, double rew_mm, double tew_mm) {
    if (!(surface_depletion_mm >= 0 && surface_depletion_mm <= tew_mm && rew_mm >= 0 && rew_mm < tew_mm) ||
        isinf(tew_mm))
        return NAN;
    struct runoff_surface surface = runoff_surface_of(NAN, rew_mm, tew_mm);
    return runoff_wetness_inside(&surface, surface_depletion_mm);
}

enum status runoff_antecedent_class(double rain_5d_mm, bool growing, enum runoff_antecedent *out) {
    if (!isfinite(rain_5d_mm))
        return STATUS_NOT_FINITE;
    if (rain_5d_mm < 0)
        return STATUS_OUT_OF_RANGE;
    if (rain_5d_mm < (growing ? 35.56 : 12.7))
        *out = ANTECEDENT_DRY;
    else
        *out = rain_5d_mm > (growing ? 53.34 : 27.94) ? ANTECEDENT_WET : ANTECEDENT_AVERAGE;
    return STATUS_OK;
}

double runoff_cn_for_class(double cn2, enum runoff_antecedent antecedent) {
    switch (antecedent) {
    case ANTECEDENT_DRY:
        return runoff_cn_dry(cn2);
    case ANTECEDENT_AVERAGE:
        return valid_cn2(cn2) ? cn2 : NAN;
    case ANTECEDENT_WET:
        return runoff_cn_wet(cn2);
    case ANTECEDENT_COUNT:
        break;
    }
    return NAN;
}
