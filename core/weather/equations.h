/* The equations of FAO-56 chapters 3 and 4 that make ET0 out of a day's weather, as they are printed and
 * without any check of what goes in: air.c, sun.c and reference_et.c check and reckon one value,
 * weather_complete.c one day, day_block.c many days side by side, all with these. Nothing branches, so that a
 * loop over days becomes vector instructions; each number has the same bits wherever it is reckoned. */
#ifndef WATERTURN_EQUATIONS_H
#define WATERTURN_EQUATIONS_H

#include <math.h>

#include "core/base/exponential.h"
#include "core/base/extreme.h"
#include "core/weather/sun.h"

/* 1 / latent heat of vaporization 2.45 MJ/kg, as FAO-56 and ASCE-EWRI print it: mm of water for 1 MJ m-2. */
#define EQUATION_MM_PER_MJ_M2 0.408

/* Eq. 9. */
static inline double equation_mean_c(double tmax_c, double tmin_c) {
    return (tmax_c + tmin_c) / 2.0;
}

/* Eq. 8. */
static inline double equation_psychrometric_kpa_c(double pressure_kpa) {
    return 0.665e-3 * pressure_kpa;
}

/* Eq. 11: e0(T). */
static inline double equation_saturation_kpa(double t_c) {
    return 0.6108 * exponential_near(17.27 * t_c / (t_c + 237.3));
}

/* Eq. 12, of e0(tmax) and e0(tmin). */
static inline double equation_mean_saturation_kpa(double e_tmax_kpa, double e_tmin_kpa) {
    return (e_tmax_kpa + e_tmin_kpa) / 2.0;
}

/* Eq. 13, of T and e0(T). */
static inline double equation_saturation_slope_kpa_c(double t_c, double e_kpa) {
    return 4098.0 * e_kpa / ((t_c + 237.3) * (t_c + 237.3));
}

/* Eq. 17, of e0(tmax) and e0(tmin). The worked line of Example 5 leaves out the division by 2; its result has
 * it (errata). */
static inline double equation_ea_rh_max_min_kpa(double e_tmax_kpa, double e_tmin_kpa, double rh_max_pct,
                                                double rh_min_pct) {
    return (e_tmin_kpa * rh_max_pct / 100.0 + e_tmax_kpa * rh_min_pct / 100.0) / 2.0;
}

/* Eq. 18, of e0(tmin). */
static inline double equation_ea_rh_max_kpa(double e_tmin_kpa, double rh_max_pct) {
    return e_tmin_kpa * rh_max_pct / 100.0;
}

/* Eq. 19, of the es of eq. 12. */
static inline double equation_ea_rh_mean_kpa(double es_kpa, double rh_mean_pct) {
    return rh_mean_pct / 100.0 * es_kpa;
}

/* Eq. 10 for RHmin, of ea and e0(tmax). */
static inline double equation_rh_min_pct(double ea_kpa, double e_tmax_kpa) {
    return lesser_of(100.0 * ea_kpa / e_tmax_kpa, 100.0);
}

/* Eq. 37. */
static inline double equation_clear_sky_mj_m2(double ra_mj_m2, double elevation_m) {
    return (0.75 + 2e-5 * elevation_m) * ra_mj_m2;
}

/* Eq. 38. */
static inline double equation_net_short_mj_m2(double rs_mj_m2) {
    return (1.0 - SUN_ALBEDO) * rs_mj_m2;
}

/* Rs / Rso as eq. 39 takes it; see sun.h for its limits. */
static inline double equation_clearness(double rs_mj_m2, double rso_mj_m2) {
    double held = lesser_of(greater_of(rs_mj_m2 / rso_mj_m2, SUN_CLEARNESS_MIN), SUN_CLEARNESS_MAX);
    return rso_mj_m2 > 0.0 ? held : SUN_CLEARNESS_DARK;
}

static inline double equation_fourth_power(double x) {
    return x * x * (x * x);
}

/* Eq. 39. */
static inline double equation_net_long_mj_m2(double tmax_c, double tmin_c, double ea_kpa, double clearness) {
    double emitted = SUN_STEFAN_BOLTZMANN *
                     (equation_fourth_power(tmax_c + 273.16) + equation_fourth_power(tmin_c + 273.16)) / 2.0;
    return emitted * (0.34 - 0.14 * sqrt(ea_kpa)) * (1.35 * clearness - 0.35);
}

/* Eq. 40: Rn, by eqs 38 and 39. */
static inline double equation_net_mj_m2(double tmax_c, double tmin_c, double ea_kpa, double rs_mj_m2,
                                        double rso_mj_m2) {
    double clearness = equation_clearness(rs_mj_m2, rso_mj_m2);
    return equation_net_short_mj_m2(rs_mj_m2) - equation_net_long_mj_m2(tmax_c, tmin_c, ea_kpa, clearness);
}

/* What eqs 6 and 53 have in common: Cd is the denominator's constant, 0.34 in eq. 6, Cn the numerator's, 900.
 */
struct equation_air {
    double t_c, es_kpa, ea_kpa, delta_kpa_c, gamma_kpa_c, wind_2m_m_s, available_mj_m2;
};

static inline double equation_denominator(const struct equation_air *air, double cd) {
    return air->delta_kpa_c + air->gamma_kpa_c * (1.0 + cd * air->wind_2m_m_s);
}

static inline double equation_radiation_mm(const struct equation_air *air, double denominator) {
    return EQUATION_MM_PER_MJ_M2 * air->delta_kpa_c * air->available_mj_m2 / denominator;
}

static inline double equation_aerodynamic_mm(const struct equation_air *air, double cn, double denominator) {
    return air->gamma_kpa_c * cn / (air->t_c + 273.0) * air->wind_2m_m_s * (air->es_kpa - air->ea_kpa) /
           denominator;
}

#endif
