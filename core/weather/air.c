#include "core/weather/air.h"

#include <math.h>
#include <stdbool.h>

#include "core/weather/equations.h"

/* False for NaN too. */
static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

double air_pressure_kpa(double elevation_m) {
    if (!within(elevation_m, -430.0, 9000.0))
        return (double)NAN;
    return 101.3 * pow((293.0 - 0.0065 * elevation_m) / 293.0, 5.26);
}

double air_psychrometric_kpa_c(double pressure_kpa) {
    return within(pressure_kpa, 30.0, 120.0) ? equation_psychrometric_kpa_c(pressure_kpa) : (double)NAN;
}

double air_saturation_kpa(double t_c) {
    return within(t_c, -100.0, 100.0) ? equation_saturation_kpa(t_c) : (double)NAN;
}

double air_mean_saturation_kpa(double tmax_c, double tmin_c) {
    return equation_mean_saturation_kpa(air_saturation_kpa(tmax_c), air_saturation_kpa(tmin_c));
}

double air_saturation_slope_kpa_c(double t_c) {
    return equation_saturation_slope_kpa_c(t_c, air_saturation_kpa(t_c));
}

double air_ea_dewpoint_kpa(double tdew_c) {
    return air_saturation_kpa(tdew_c);
}

double air_ea_psychrometer_kpa(double tdry_c, double twet_c, double pressure_kpa, double coefficient) {
    if (!within(tdry_c, -100.0, 100.0) || !within(pressure_kpa, 30.0, 120.0) ||
        !within(coefficient, 0.0, 0.002))
        return (double)NAN;
    return air_saturation_kpa(twet_c) - coefficient * pressure_kpa * (tdry_c - twet_c);
}

double air_ea_rh_max_min_kpa(double tmax_c, double tmin_c, double rh_max_pct, double rh_min_pct) {
    if (!within(rh_max_pct, 0.0, 100.0) || !within(rh_min_pct, 0.0, 100.0))
        return (double)NAN;
    return equation_ea_rh_max_min_kpa(air_saturation_kpa(tmax_c), air_saturation_kpa(tmin_c), rh_max_pct,
                                      rh_min_pct);
}

double air_ea_rh_max_kpa(double tmin_c, double rh_max_pct) {
    return within(rh_max_pct, 0.0, 100.0) ? equation_ea_rh_max_kpa(air_saturation_kpa(tmin_c), rh_max_pct)
                                          : (double)NAN;
}

double air_ea_rh_mean_kpa(double tmax_c, double tmin_c, double rh_mean_pct) {
    if (!within(rh_mean_pct, 0.0, 100.0))
        return (double)NAN;
    return equation_ea_rh_mean_kpa(air_mean_saturation_kpa(tmax_c, tmin_c), rh_mean_pct);
}

double air_dew_point_c(double ea_kpa) {
    if (!within(ea_kpa, 1e-6, 100.0))
        return (double)NAN;
    double logarithm = log(ea_kpa / 0.6108);
    return 237.3 * logarithm / (17.27 - logarithm);
}

double air_wind_2m_m_s(double wind_m_s, double height_m) {
    if (!within(height_m, 0.5, 100.0) || !within(wind_m_s, 0.0, 200.0))
        return (double)NAN;
    /* The log profile gives 0.9997 for 2 m; a wind measured there needs no profile. */
    if (height_m == 2.0)
        return wind_m_s;
    return wind_m_s * 4.87 / log(67.8 * height_m - 5.42);
}
