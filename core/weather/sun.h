/* The sun on a level surface: extraterrestrial radiation, day length, radiation balance and soil heat
 * (FAO-56 chapter 3).
 *
 * Value functions give NaN for an argument that is NaN, infinite or negative where that has no sense. */
#ifndef WATERTURN_SUN_H
#define WATERTURN_SUN_H

#include "core/base/status.h"

#define SUN_CONSTANT_MJ_M2_MIN 0.0820    /* Gsc */
#define SUN_STEFAN_BOLTZMANN   4.903e-9  /* sigma, MJ K-4 m-2 day-1 */
#define SUN_STEFAN_BOLTZMANN_H 2.043e-10 /* the same for an hour */
#define SUN_ALBEDO             0.23      /* of the reference grass */

/* Rs/Rso in eq. 39 is held between these. The upper limit is FAO-56's; it gives no lower one, and its cloud
 * term turns negative below 0.26: that of ASCE-EWRI 2005 is taken (0.3 <= Rs/Rso <= 1.0, eq. 18). */
#define SUN_CLEARNESS_MIN 0.3
#define SUN_CLEARNESS_MAX 1.0
/* Rs/Rso for a day on which the sun does not rise: middle of the 0.4..0.6 that chapter 4 gives for hours
 * without sun in humid climates. */
#define SUN_CLEARNESS_DARK 0.5

enum sun_day_kind {
    SUN_RISES_AND_SETS,
    SUN_NEVER_SETS, /* polar day: the sunset hour angle is pi, 24 h of daylight */
    SUN_NEVER_RISES /* polar night: 0 and 0 h; Ra is 0 */
};

struct sun_day {
    enum sun_day_kind kind;
    double distance_factor;  /* dr, eq. 23 */
    double declination_rad;  /* delta, eq. 24 */
    double sunset_angle_rad; /* omega s, eq. 25 */
    double ra_mj_m2;         /* Ra, eq. 21, MJ m-2 day-1 */
    double daylight_h;       /* N, eq. 34 */
};

/* latitude_deg -90..90, north positive; day_of_year 1..366. STATUS_NOT_FINITE or STATUS_OUT_OF_RANGE
 * otherwise. FAO-56 counts a year of 365 days in eqs 23 and 24 also when J is 366. */
enum status sun_of_day(double latitude_deg, int day_of_year, struct sun_day *out);

/* The same in two parts, for many days of one place: what the latitude alone decides, and the day, both
 * inside their ranges. */
struct sun_latitude {
    double sine, cosine;
};
struct sun_latitude sun_latitude_of(double latitude_deg);
struct sun_day sun_of_day_at(struct sun_latitude latitude, int day_of_year);

/* A place and its clock: longitude of the place and of the meridian of its standard time, degrees, EAST
 * positive (FAO-56's Lm and Lz are west positive), -180..180. */
struct sun_place {
    double latitude_deg;
    double longitude_deg;
    double zone_meridian_deg;
};

struct sun_period {
    double hour_angle_rad; /* omega at the midpoint, eq. 31, in -pi..pi */
    double elevation_rad;  /* of the sun at the midpoint, below 0 under the horizon */
    double ra_mj_m2;       /* over the period */
};

/* Eqs 28..33: a period of length_h (more than 0, at most 24) whose midpoint is midpoint_h (0..24) on the
 * clock of standard time. Where the sun rises or sets within the period, eq. 28 is taken over the part with
 * sun (FAO-56 drops or keeps such a period whole), so that the periods of a day add up to eq. 21. */
enum status sun_of_period(const struct sun_place *place, int day_of_year, double midpoint_h, double length_h,
                          struct sun_period *out);

/* Eq. 35: Rs from sunshine of sunshine_h in a day of daylight_h; Angstrom coefficients as, bs. Sunshine
 * longer than the day counts as the whole day. A day without sun (daylight_h 0) has 0. */
double sun_rs_sunshine_mj_m2(double ra_mj_m2, double sunshine_h, double daylight_h, double as, double bs);

/* Eq. 50: Rs from the range of temperature. NaN when tmin is above tmax. */
double sun_rs_temperature_mj_m2(double ra_mj_m2, double tmax_c, double tmin_c, double krs);

/* Eq. 37: clear-sky radiation at an elevation of -430..9000 m. (Eq. 36 is Ra times as + bs.) */
double sun_clear_sky_mj_m2(double ra_mj_m2, double elevation_m);

/* Eq. 38: net short-wave radiation. */
double sun_net_short_mj_m2(double rs_mj_m2);

/* Rs/Rso as eq. 39 takes it: held between the limits above; SUN_CLEARNESS_DARK where Rso is 0. */
double sun_clearness(double rs_mj_m2, double rso_mj_m2);

/* Eq. 39: net long-wave radiation of a day, outgoing positive. Temperatures -100..100 degC, ea 0 or more,
 * clearness from sun_clearness(). */
double sun_net_long_mj_m2(double tmax_c, double tmin_c, double ea_kpa, double clearness);

/* Soil heat flux, MJ m-2 day-1 into the soil. For a day or ten days it is 0 (eq. 42).
 * Eq. 41, with the minus sign that the errata put in: heat capacity of the soil MJ m-3 degC-1, air
 * temperatures at the end and the start of the interval, its length in days, effective depth in m. */
double sun_soil_heat_mj_m2(double capacity_mj_m3_c, double t_end_c, double t_start_c, double days,
                           double depth_m);
/* Eq. 43: month i, from the mean temperatures of the months before and after. */
double sun_soil_heat_month_mj_m2(double t_before_c, double t_after_c);
/* Eq. 44: when the month after is not known. */
double sun_soil_heat_month_known_mj_m2(double t_before_c, double t_month_c);
/* Eqs 45, 46: an hour of daylight, an hour of night; of the net radiation of that hour. */
double sun_soil_heat_daylight_mj_m2(double rn_mj_m2);
double sun_soil_heat_night_mj_m2(double rn_mj_m2);

#endif
