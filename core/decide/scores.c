#include "core/decide/scores.h"

#include <math.h>

static double mean_of(const double *value, size_t count) {
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += value[i];
    return sum / (double)count;
}

static double square(double x) {
    return x * x;
}

/* 1 - x / y, NaN where y is 0. */
static double one_less(double x, double y) {
    return y > 0 ? 1 - x / y : NAN;
}

enum status scores_of(const double *measured, const double *modelled, size_t count, struct scores *out) {
    if (count == 0)
        return STATUS_MISSING;
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(measured[i]) || !isfinite(modelled[i]))
            return STATUS_NOT_FINITE;
    }
    double mean = mean_of(measured, count), modelled_mean = mean_of(modelled, count);
    double error = 0, absolute = 0, spread = 0, modelled_spread = 0, both = 0, potential = 0;
    for (size_t i = 0; i < count; i++) {
        double o = measured[i], m = modelled[i];
        error += square(m - o);
        absolute += fabs(m - o);
        spread += square(o - mean);
        modelled_spread += square(m - modelled_mean);
        both += (o - mean) * (m - modelled_mean);
        potential += square(fabs(m - mean) + fabs(o - mean));
    }
    double n = (double)count, varied = spread * modelled_spread;
    *out = (struct scores){.count = count,
                           .bias = modelled_mean - mean,
                           .rmse = sqrt(error / n),
                           .mae = absolute / n,
                           .efficiency = one_less(error, spread),
                           .agreement = one_less(error, potential),
                           .r2 = varied > 0 ? square(both) / varied : NAN};
    return STATUS_OK;
}
