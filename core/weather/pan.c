#include "core/weather/pan.h"

#include <math.h>

static enum status check(double value, double low, double high) {
    if (!isfinite(value))
        return STATUS_NOT_FINITE;
    return value < low || value > high ? STATUS_OUT_OF_RANGE : STATUS_OK;
}

enum status pan_coefficient(enum pan_kind kind, enum pan_fetch fetch, double wind_2m_m_s, double rh_mean_pct,
                            double fetch_m, double *kp) {
    enum status status = check(wind_2m_m_s, 1.0, 8.0);
    if (status == STATUS_OK)
        status = check(rh_mean_pct, 30.0, 84.0);
    if (status == STATUS_OK)
        status = check(fetch_m, 1.0, 1000.0);
    if (status != STATUS_OK)
        return status;
    if ((unsigned)kind > PAN_COLORADO_SUNKEN || (unsigned)fetch > PAN_FETCH_DRY)
        return STATUS_OUT_OF_RANGE;

    double u = wind_2m_m_s, rh = rh_mean_pct;
    double ln_fetch = log(fetch_m), ln_rh = log(rh), ln_run = log(86.4 * u); /* wind run, km/day */
    if (kind == PAN_CLASS_A && fetch == PAN_FETCH_GREEN)
        *kp =
            0.108 - 0.0286 * u + 0.0422 * ln_fetch + 0.1434 * ln_rh - 0.000631 * ln_fetch * ln_fetch * ln_rh;
    else if (kind == PAN_CLASS_A)
        *kp = 0.61 + 0.00341 * rh - 0.000162 * u * rh - 0.00000959 * u * fetch_m + 0.00327 * u * ln_fetch -
              0.00289 * u * ln_run - 0.0106 * ln_run * ln_fetch + 0.00063 * ln_fetch * ln_fetch * ln_run;
    else if (fetch == PAN_FETCH_GREEN)
        *kp = 0.87 + 0.119 * ln_fetch - 0.0157 * ln_run * ln_run - 0.0019 * ln_fetch * ln_fetch * ln_run +
              0.013 * ln_run * ln_rh - 0.000053 * ln_run * ln_fetch * rh;
    else
        *kp = 1.145 - 0.080 * u + 0.000903 * u * u * ln_rh - 0.0964 * ln_fetch + 0.0031 * u * ln_fetch +
              0.0015 * ln_fetch * ln_fetch * ln_rh;
    return STATUS_OK;
}

enum status pan_reference_et(double kp, double pan_mm, double *et0_mm) {
    enum status status = check(kp, 0.1, 1.5);
    if (status == STATUS_OK)
        status = check(pan_mm, 0.0, 50.0);
    if (status != STATUS_OK)
        return status;
    *et0_mm = kp * pan_mm;
    return STATUS_OK;
}
