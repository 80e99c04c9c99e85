/* What one station measured, brought to another: the formulas by which a neighbour stands in where a station
 * lacks a value.
 *
 * Value functions give NaN for an argument that is NaN, infinite or outside the range stated. */
#ifndef WATERTURN_STATION_TRANSFER_H
#define WATERTURN_STATION_TRANSFER_H

#include "core/weather/weather.h"

/* Fall of air temperature with height, degC km-1: ICAO standard atmosphere, troposphere. */
#define STATION_LAPSE_C_KM 6.5

/* Distance of two places along the great circle, km; latitudes -90..90, longitudes -180..180, degrees. The
 * haversine formula on a sphere of 6371.0088 km (mean radius R1 of the GRS 80 ellipsoid; within 0.6 % of the
 * distance on it). */
double station_distance_km(double latitude_a_deg, double longitude_a_deg, double latitude_b_deg,
                           double longitude_b_deg);

/* Temperature (-100..100 degC) measured at one elevation (-430..6000 m), at another:
 * T + lapse (from - to) / 1000, lapse -10..15 degC km-1. */
double station_temperature_c(double t_c, double from_m, double to_m, double lapse_c_km);

/* Pressure (30..120 kPa) measured at one elevation (-430..6000 m), at another: times the ratio of FAO-56
 * eq. 7 at both. */
double station_pressure_kpa(double pressure_kpa, double from_m, double to_m);

/* Vapour pressure (0..20 kPa) measured at one elevation, at another: air that rises or sinks keeps its mixing
 * ratio, and its vapour pressure falls with the total one (FAO-56 eq. 7 at both). */
double station_vapour_kpa(double ea_kpa, double from_m, double to_m);

/* Solar radiation (0..60 MJ m-2) of a station nearby, by the ratio of the extraterrestrial radiations at both
 * latitudes on day 1..366 of the year: FAO-56 eq. 49, without its limit of 50 km. Where the sun does not rise
 * at the neighbour's: as it stands. */
double station_radiation_mj_m2(double rs_mj_m2, double from_latitude_deg, double to_latitude_deg,
                               int day_of_year);

/* Wind (0..200 m s-1) measured at one height above the ground (0.5..100 m), at another: FAO-56 eq. 47 down to
 * 2 m and up again. */
double station_wind_m_s(double wind_m_s, double from_height_m, double to_height_m);

/* A day of a neighbour as it would stand at the station, every value of it ORIGIN_NEIGHBOUR: tmax, tmin, ea
 * (from whatever measure of humidity the neighbour has), pressure, wind (at the station's height), radiation
 * (also out of sunshine hours) and rain (as it stands). Only what was measured is brought over: what FAO-56
 * would estimate at the neighbour, and what weather_check() finds suspect there, stays NaN; both temperatures
 * come over, or neither. lapse_c_km as above.
 * STATUS_OUT_OF_RANGE or STATUS_NOT_FINITE for a site that weather_site_check() refuses, an invalid date, or
 * a lapse outside its range; `out` is then an empty day. */
enum status station_transfer(const struct weather_day *from, const struct weather_site *from_site,
                             const struct weather_site *to_site, double lapse_c_km, struct weather_day *out);

#endif
