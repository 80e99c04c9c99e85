#include "core/weather/sun.h"

#include <math.h>
#include <stdbool.h>

#include "core/weather/equations.h"

#define PI 3.14159265358979323846

/* False for NaN too. */
static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

static enum status check_angle(double degrees, double limit) {
    if (!isfinite(degrees))
        return STATUS_NOT_FINITE;
    return within(degrees, -limit, limit) ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

/* sin(phi) sin(delta) and cos(phi) cos(delta): the sine of the sun's elevation is high + swing cos(omega). */
struct path {
    double high, swing;
};

static struct path path_of(struct sun_latitude latitude, double declination_rad) {
    return (struct path){latitude.sine * sin(declination_rad), latitude.cosine * cos(declination_rad)};
}

struct sun_latitude sun_latitude_of(double latitude_deg) {
    double phi = latitude_deg * (PI / 180.0); /* eq. 22 */
    return (struct sun_latitude){sin(phi), cos(phi)};
}

struct sun_day sun_of_day_at(struct sun_latitude latitude, int day_of_year) {
    double year_angle = 2.0 * PI / 365.0 * day_of_year;
    struct sun_day out = {.distance_factor = 1.0 + 0.033 * cos(year_angle),
                          .declination_rad = 0.409 * sin(year_angle - 1.39)};
    struct path path = path_of(latitude, out.declination_rad);

    /* cos(omega s) = -tan(phi) tan(delta) = -high / swing; beyond -1..1 the sun stays up or down. */
    double sine = 0.0; /* sin(omega s) */
    if (path.high >= path.swing) {
        out.kind = SUN_NEVER_SETS;
        out.sunset_angle_rad = PI;
    } else if (path.high <= -path.swing) {
        out.kind = SUN_NEVER_RISES;
        out.sunset_angle_rad = 0.0;
    } else {
        double cosine = -path.high / path.swing;
        out.kind = SUN_RISES_AND_SETS;
        out.sunset_angle_rad = acos(cosine);
        sine = sqrt(1.0 - cosine * cosine);
    }
    out.ra_mj_m2 = 24.0 * 60.0 / PI * SUN_CONSTANT_MJ_M2_MIN * out.distance_factor *
                   (out.sunset_angle_rad * path.high + path.swing * sine);
    out.daylight_h = 24.0 / PI * out.sunset_angle_rad;
    return out;
}

enum status sun_of_day(double latitude_deg, int day_of_year, struct sun_day *out) {
    enum status status = check_angle(latitude_deg, 90.0);
    if (status != STATUS_OK)
        return status;
    if (day_of_year < 1 || day_of_year > 366)
        return STATUS_OUT_OF_RANGE;
    *out = sun_of_day_at(sun_latitude_of(latitude_deg), day_of_year);
    return STATUS_OK;
}

/* Eqs 32, 33: what the sun is ahead of the mean sun, hours. */
static double seasonal_correction_h(int day_of_year) {
    double b = 2.0 * PI * (day_of_year - 81) / 364.0;
    return 0.1645 * sin(2.0 * b) - 0.1255 * cos(b) - 0.025 * sin(b);
}

/* The integral of the sine of the sun's elevation from hour angle `from` to `to`, over the part with sun. The
 * sun is up in -omega s .. omega s, and again a turn before and after. */
static double lit(const struct path *path, double sunset_angle, double from, double to) {
    double sum = 0.0;
    for (int turn = -1; turn <= 1; turn++) {
        double start = fmax(from, 2.0 * PI * turn - sunset_angle);
        double end = fmin(to, 2.0 * PI * turn + sunset_angle);
        if (start < end)
            sum += (end - start) * path->high + path->swing * (sin(end) - sin(start));
    }
    return sum;
}

enum status sun_of_period(const struct sun_place *place, int day_of_year, double midpoint_h, double length_h,
                          struct sun_period *out) {
    struct sun_day day;
    enum status status = sun_of_day(place->latitude_deg, day_of_year, &day);
    if (status == STATUS_OK)
        status = check_angle(place->longitude_deg, 180.0);
    if (status == STATUS_OK)
        status = check_angle(place->zone_meridian_deg, 180.0);
    if (status != STATUS_OK)
        return status;
    if (!isfinite(midpoint_h) || !isfinite(length_h))
        return STATUS_NOT_FINITE;
    if (!within(midpoint_h, 0.0, 24.0) || !within(length_h, 1e-6, 24.0))
        return STATUS_OUT_OF_RANGE;

    /* Eq. 31; its 0.06667 is 1/15 h for a degree. */
    double solar_h = midpoint_h + (place->longitude_deg - place->zone_meridian_deg) / 15.0 +
                     seasonal_correction_h(day_of_year);
    double omega = remainder(PI / 12.0 * (solar_h - 12.0), 2.0 * PI);
    double half = PI * length_h / 24.0; /* eqs 29, 30 */
    struct path path = path_of(sun_latitude_of(place->latitude_deg), day.declination_rad);
    out->hour_angle_rad = omega;
    out->elevation_rad = asin(fmin(1.0, fmax(-1.0, path.high + path.swing * cos(omega))));
    out->ra_mj_m2 = 12.0 * 60.0 / PI * SUN_CONSTANT_MJ_M2_MIN * day.distance_factor *
                    lit(&path, day.sunset_angle_rad, omega - half, omega + half);
    return STATUS_OK;
}

double sun_rs_sunshine_mj_m2(double ra_mj_m2, double sunshine_h, double daylight_h, double as, double bs) {
    if (!within(ra_mj_m2, 0.0, 100.0) || !within(sunshine_h, 0.0, 24.5) || !within(daylight_h, 0.0, 24.0) ||
        !within(as, 0.0, 1.0) || !within(bs, 0.0, 1.0))
        return (double)NAN;
    if (daylight_h == 0.0)
        return 0.0;
    return (as + bs * fmin(sunshine_h / daylight_h, 1.0)) * ra_mj_m2;
}

double sun_rs_temperature_mj_m2(double ra_mj_m2, double tmax_c, double tmin_c, double krs) {
    if (!within(ra_mj_m2, 0.0, 100.0) || !within(tmax_c - tmin_c, 0.0, 200.0) || !within(krs, 0.0, 1.0))
        return (double)NAN;
    return krs * sqrt(tmax_c - tmin_c) * ra_mj_m2;
}

double sun_clear_sky_mj_m2(double ra_mj_m2, double elevation_m) {
    if (!within(ra_mj_m2, 0.0, 100.0) || !within(elevation_m, -430.0, 9000.0))
        return (double)NAN;
    return equation_clear_sky_mj_m2(ra_mj_m2, elevation_m);
}

double sun_net_short_mj_m2(double rs_mj_m2) {
    return within(rs_mj_m2, 0.0, 100.0) ? equation_net_short_mj_m2(rs_mj_m2) : (double)NAN;
}

double sun_clearness(double rs_mj_m2, double rso_mj_m2) {
    if (!within(rs_mj_m2, 0.0, 100.0) || !within(rso_mj_m2, 0.0, 100.0))
        return (double)NAN;
    return equation_clearness(rs_mj_m2, rso_mj_m2);
}

double sun_net_long_mj_m2(double tmax_c, double tmin_c, double ea_kpa, double clearness) {
    if (!within(tmax_c, -100.0, 100.0) || !within(tmin_c, -100.0, 100.0) || !within(ea_kpa, 0.0, 110.0) ||
        !within(clearness, SUN_CLEARNESS_MIN, SUN_CLEARNESS_MAX))
        return (double)NAN;
    return equation_net_long_mj_m2(tmax_c, tmin_c, ea_kpa, clearness);
}

static double finite_or_nan(double value) {
    return isfinite(value) ? value : (double)NAN;
}

double sun_soil_heat_mj_m2(double capacity_mj_m3_c, double t_end_c, double t_start_c, double days,
                           double depth_m) {
    if (!within(capacity_mj_m3_c, 0.0, 10.0) || !within(days, 0.01, 366.0) || !within(depth_m, 0.0, 10.0))
        return (double)NAN;
    return finite_or_nan(capacity_mj_m3_c * (t_end_c - t_start_c) / days * depth_m);
}

double sun_soil_heat_month_mj_m2(double t_before_c, double t_after_c) {
    return finite_or_nan(0.07 * (t_after_c - t_before_c));
}

double sun_soil_heat_month_known_mj_m2(double t_before_c, double t_month_c) {
    return finite_or_nan(0.14 * (t_month_c - t_before_c));
}

double sun_soil_heat_daylight_mj_m2(double rn_mj_m2) {
    return finite_or_nan(0.1 * rn_mj_m2);
}

double sun_soil_heat_night_mj_m2(double rn_mj_m2) {
    return finite_or_nan(0.5 * rn_mj_m2);
}
