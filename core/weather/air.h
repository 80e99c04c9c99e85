/* Air: pressure, vapour pressure and wind (FAO-56 chapter 3).
 *
 * These are plain value functions for one equation each. An argument that is NaN, infinite or outside the
 * range stated gives NaN. Temperatures are -100..100 degC, relative humidities 0..100 %, elevations
 * -430..9000 m. */
#ifndef WATERTURN_AIR_H
#define WATERTURN_AIR_H

/* Coefficients of psychrometers, degC-1 (eq. 16). */
#define AIR_PSYCHROMETER_VENTILATED 0.000662 /* Asmann type, some 5 m/s past the bulbs */
#define AIR_PSYCHROMETER_NATURAL    0.000800 /* naturally ventilated, about 1 m/s */
#define AIR_PSYCHROMETER_INDOOR     0.001200 /* not ventilated, indoors */

/* Eq. 7: pressure at an elevation, kPa. */
double air_pressure_kpa(double elevation_m);

/* Eq. 8: psychrometric constant, kPa/degC, of a pressure of 30..120 kPa. */
double air_psychrometric_kpa_c(double pressure_kpa);

/* Eq. 11: saturation vapour pressure e0(T), kPa. */
double air_saturation_kpa(double t_c);

/* Eq. 12: mean saturation vapour pressure of a day, kPa. */
double air_mean_saturation_kpa(double tmax_c, double tmin_c);

/* Eq. 13: slope of the saturation curve at T, kPa/degC. */
double air_saturation_slope_kpa_c(double t_c);

/* Eq. 14: actual vapour pressure of a dew point, kPa. Eq. 48 is the same with tmin for the dew point. */
double air_ea_dewpoint_kpa(double tdew_c);

/* Eqs 15, 16: from a psychrometer; coefficient of the instrument 0..0.002 degC-1, pressure 30..120 kPa. A wet
 * bulb impossibly far below the dry one gives a value below zero. */
double air_ea_psychrometer_kpa(double tdry_c, double twet_c, double pressure_kpa, double coefficient);

/* Eq. 17: from the day's extremes of relative humidity, kPa. */
double air_ea_rh_max_min_kpa(double tmax_c, double tmin_c, double rh_max_pct, double rh_min_pct);

/* Eq. 18: from the largest relative humidity alone, kPa. */
double air_ea_rh_max_kpa(double tmin_c, double rh_max_pct);

/* Eq. 19: from the mean relative humidity, kPa. */
double air_ea_rh_mean_kpa(double tmax_c, double tmin_c, double rh_mean_pct);

/* Dew point of a vapour pressure of 0.000001..100 kPa, degC: eq. 11 solved for T (Annex 3, eq. 3-11,
 * unrounded). */
double air_dew_point_c(double ea_kpa);

/* Eq. 47: wind speed (0..200 m/s) measured at 0.5..100 m above the ground, brought to 2 m, m/s. At a height
 * of exactly 2 m the speed itself. */
double air_wind_2m_m_s(double wind_m_s, double height_m);

#endif
