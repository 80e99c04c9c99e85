#include "core/balance/salinity.h"

#include <math.h>

#define EC_MAX_DS_M 100.0

static enum status check_number(double value, double low, double high) {
    if (!isfinite(value))
        return STATUS_NOT_FINITE;
    return value >= low && value <= high ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

static enum status check_tolerance(const struct salinity_tolerance *crop) {
    enum status status = check_number(crop->threshold_ds_m, 0, EC_MAX_DS_M);
    return status == STATUS_OK ? check_number(crop->slope_pct, 0.1, 100) : status;
}

double salinity_limit_ds_m(const struct salinity_tolerance *crop) {
    return check_tolerance(crop) == STATUS_OK ? crop->threshold_ds_m + 50 / crop->slope_pct : NAN;
}

enum status salinity_relative_yield(const struct salinity_tolerance *crop, double ece_ds_m,
                                    double *relative) {
    /* Eq. 89 is eq. 91 with a Ky of 1. */
    return salinity_stress(crop, 1, ece_ds_m, relative);
}

enum status salinity_stress(const struct salinity_tolerance *crop, double ky, double ece_ds_m, double *ks) {
    enum status status = check_tolerance(crop);
    if (status == STATUS_OK)
        status = check_number(ky, 0.1, 3);
    if (status == STATUS_OK)
        status = check_number(ece_ds_m, 0, EC_MAX_DS_M);
    if (status != STATUS_OK)
        return status;
    if (ece_ds_m >= salinity_limit_ds_m(crop))
        return STATUS_OUT_OF_RANGE;
    double above_ds_m = fmax(ece_ds_m - crop->threshold_ds_m, 0);
    double stress = 1 - crop->slope_pct / (100 * ky) * above_ds_m;
    if (stress < 0)
        return STATUS_OUT_OF_RANGE;
    *ks = stress;
    return STATUS_OK;
}

enum status salinity_water_stress(double ks_salt, double depletion_mm, double taw_mm, double raw_mm,
                                  double *ks) {
    enum status status = check_number(ks_salt, 0, 1);
    if (status == STATUS_OK)
        status = check_number(depletion_mm, 0, 1e6);
    if (status == STATUS_OK)
        status = check_number(taw_mm, 0, 1e6);
    if (status == STATUS_OK)
        status = check_number(raw_mm, 0, 1e6);
    if (status == STATUS_OK && (depletion_mm > taw_mm || raw_mm >= taw_mm))
        status = STATUS_ORDER;
    if (status != STATUS_OK)
        return status;
    *ks = depletion_mm > raw_mm ? ks_salt * ((taw_mm - depletion_mm) / (taw_mm - raw_mm)) : ks_salt;
    return STATUS_OK;
}

enum status salinity_of_root_zone(double eciw_ds_m, double leaching_fraction, double *ece_ds_m) {
    enum status status = check_number(eciw_ds_m, 0, EC_MAX_DS_M);
    if (status == STATUS_OK)
        status = check_number(leaching_fraction, 0.01, 1);
    if (status == STATUS_OK)
        *ece_ds_m = (1 + leaching_fraction) / leaching_fraction * eciw_ds_m / 5;
    return status;
}

enum status salinity_leaching_requirement(double eciw_ds_m, double ece_ds_m, double *requirement) {
    enum status status = check_number(eciw_ds_m, 0, EC_MAX_DS_M);
    if (status == STATUS_OK)
        status = check_number(ece_ds_m, 0, EC_MAX_DS_M);
    if (status != STATUS_OK)
        return status;
    if (eciw_ds_m >= 2.5 * ece_ds_m)
        return STATUS_OUT_OF_RANGE;
    *requirement = eciw_ds_m / (5 * ece_ds_m - eciw_ds_m);
    return STATUS_OK;
}
