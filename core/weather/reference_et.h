/* Reference evapotranspiration.
 * FAO-56: R.G. Allen et al., Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, 1998.
 * ASCE-EWRI: The ASCE standardized reference evapotranspiration equation, 2005. */
#ifndef WATERTURN_REFERENCE_ET_H
#define WATERTURN_REFERENCE_ET_H

#include "core/base/status.h"
#include "core/weather/sun.h"
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

/* ET of a day, mm/day; soil heat flux is day->soil_heat_mj_m2, 0 for a day (eq. 42). FAO-56 eq. 6, or
 * ASCE-EWRI eq. 1 with its daily constants. `terms` may be NULL. A result below zero (dew in deep winter) is
 * returned as it is.
 * Needs tmax, tmin, tmean (-100..100 degC), ea (0..20 kPa), u2 (0..200 m/s), Rn and G (-100..100 MJ m-2
 * day-1); pressure (30..120 kPa) is eq. 7 at the site's elevation when it is missing. STATUS_MISSING when a
 * needed value is NaN; STATUS_NOT_FINITE; STATUS_OUT_OF_RANGE (also for `kind`); STATUS_ORDER when tmin is
 * above tmax. Rn is that of FAO-56 for all kinds; ASCE-EWRI's sigma is 4.901e-9 for 4.903e-9, 0.04 % of Rnl.
 */
enum status reference_et_day(const struct weather_full *day, const struct weather_site *site,
                             enum reference_kind kind, struct reference_et_terms *terms, double *et_mm);

/* Eq. 52: from temperature alone, mm/day. ra_mj_m2 (0..60) in MJ m-2 day-1, temperatures -100..100 degC.
 * Below a mean of -17.8 degC the equation has no sense: STATUS_OUT_OF_RANGE. tmin above tmax: STATUS_ORDER.
 */
enum status reference_et_temperature(double tmax_c, double tmin_c, double ra_mj_m2, double *et_mm);

/* What an hour brings, means and sums of the hour. */
struct reference_hour {
    double t_c;         /* -100..100 */
    double ea_kpa;      /* 0..20 */
    double wind_2m_m_s; /* 0..200 */
    double rs_mj_m2;    /* MJ m-2 hour-1, 0..6 */
};

struct reference_place {
    struct sun_place sun;
    double elevation_m; /* -430..6000 */
};

struct reference_hour_terms {
    struct sun_period sun;
    double delta_kpa_c, gamma_kpa_c, es_kpa;
    double rso_mj_m2, clearness; /* eq. 37; Rs/Rso as used */
    double rns_mj_m2, rnl_mj_m2, rn_mj_m2, soil_heat_mj_m2;
    double cn, cd, soil_heat_share; /* of this hour: numerator and denominator of the wind, G / Rn */
    double radiation_mm, aerodynamic_mm;
};

/* Sun below this elevation: Rs/Rso says nothing, and that of an earlier hour is used (ASCE-EWRI 2005; FAO-56
 * chapter 4 takes the hours 2 to 3 before sunset for the night). */
#define REFERENCE_LOW_SUN_RAD 0.3

/* ET of the hour around midpoint_h (0..24, clock of standard time), mm/hour. May be below zero at night.
 *
 *   REFERENCE_FAO56_GRASS: eq. 53 as printed in 1998. Cd 0.34 by day and night, G by eqs 45, 46
 *   REFERENCE_ASCE_SHORT: ASCE-EWRI eq. 1. Cn 37, Cd 0.24 by day, 0.96 at night (Rn below 0), G as above
 *   REFERENCE_ASCE_TALL: the same. Cn 66, Cd 0.25 and 1.7, G 0.04 Rn by day, 0.2 Rn at night
 *
 * clearness_before: Rs/Rso of the last hour with the sun high enough, SUN_CLEARNESS_MIN..1; used when it is
 * not. `terms` may be NULL. Statuses as reference_et_day(). */
enum status reference_et_hourly(const struct reference_hour *hour, const struct reference_place *place,
                                int day_of_year, double midpoint_h, double clearness_before,
                                enum reference_kind kind, struct reference_hour_terms *terms, double *et_mm);

#define REFERENCE_HOURS 24

/* The hours of a day, one after the other. */
struct reference_hours {
    double
        start_h; /* when the first begins on the clock of standard time, -24..48: below 0 on the day before */
    struct reference_hour hour[REFERENCE_HOURS];
};

struct reference_hours_sum {
    double et_mm; /* mm/day */
    double hour_mm[REFERENCE_HOURS];
    struct reference_hour_terms terms[REFERENCE_HOURS];
};

/* The hours of a day, each by reference_et_hourly() with the sun of `day_of_year`, summed. clearness_before:
 * of the evening before; each hour with a low sun takes that of the last one before it with a high sun.
 * STATUS_NOT_FINITE or STATUS_OUT_OF_RANGE for start_h, else statuses as reference_et_hourly(); `out` is then
 * unchanged. */
enum status reference_et_hours_summed(const struct reference_hours *hours,
                                      const struct reference_place *place, int day_of_year,
                                      double clearness_before, enum reference_kind kind,
                                      struct reference_hours_sum *out);

/* Rs/Rso of the last of these hours whose sun stands high enough, for the night after them: what FAO-56
 * chapter 4 takes from the hours 2 to 3 before sunset. NaN when there is none, or an argument is outside its
 * range. */
double reference_evening_clearness(const struct reference_hours *hours, const struct reference_place *place,
                                   int day_of_year);

#endif
