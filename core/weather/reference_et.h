/* Reference evapotranspiration.
 * FAO-56: R.G. Allen et al., Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, 1998.
 * ASCE-EWRI: The ASCE standardized reference evapotranspiration equation, 2005. */
#ifndef WATERTURN_REFERENCE_ET_H
#define WATERTURN_REFERENCE_ET_H

#include "core/base/status.h"
#include "core/weather/weather.h"

/* Which reference surface a coefficient table belongs to. */
enum reference_kind {
    REFERENCE_FAO56_GRASS, /* ET0, eq. 6 */
    REFERENCE_ASCE_SHORT,  /* ETos: 0.12 m grass */
    REFERENCE_ASCE_TALL    /* ETrs: 0.50 m alfalfa */
};

/* The terms of eq. 6 for one day, for those who want to see them. */
struct reference_et_terms {
    double delta_kpa_c;    /* eq. 13 */
    double gamma_kpa_c;    /* eq. 8 */
    double es_kpa;         /* eq. 12 */
    double radiation_mm;   /* the radiation term */
    double aerodynamic_mm; /* the wind and vapour-deficit term */
};

/* ET of a day, mm/day; soil heat flux is 0 for a day (eq. 42). FAO-56 eq. 6, or ASCE-EWRI eq. 1 with its daily
 * constants. `terms` may be NULL. STATUS_MISSING when a needed value is NaN. A result below zero (dew in deep
 * winter) is returned as it is. */
enum status reference_et_day(const struct weather_full *day, const struct weather_site *site,
                             enum reference_kind kind, struct reference_et_terms *terms, double *et_mm);

/* Eq. 52: from temperature alone, mm/day. ra_mj_m2 in MJ m-2 day-1. */
enum status reference_et_temperature(double tmax_c, double tmin_c, double ra_mj_m2, double *et_mm);

#endif
