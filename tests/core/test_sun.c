/* The sun: polar days and nights, hours that add up to the day, and what lies outside the ranges. Published
 * values: tests/published; the true sun: tests/published/sun.test.mjs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/weather/sun.h"
#include "tests/support/edges.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

#define PI 3.14159265358979323846

static struct sun_day sun_on(double latitude_deg, int day_of_year) {
    struct sun_day sun;
    assert_int_equal(sun_of_day(latitude_deg, day_of_year, &sun), STATUS_OK);
    return sun;
}

static struct sun_period period_at(const struct sun_place *place, int day_of_year, double midpoint,
                                   double length) {
    struct sun_period period;
    assert_int_equal(sun_of_period(place, day_of_year, midpoint, length, &period), STATUS_OK);
    return period;
}

static void the_polar_sun_never_sets_in_summer_and_never_rises_in_winter(void **state) {
    (void)state;
    static const struct {
        double latitude;
        int day;
        enum sun_day_kind kind;
    } row[] = {
        {80.0, 172, SUN_NEVER_SETS},     {80.0, 355, SUN_NEVER_RISES},  {-80.0, 172, SUN_NEVER_RISES},
        {-80.0, 355, SUN_NEVER_SETS},    {90.0, 172, SUN_NEVER_SETS},   {90.0, 355, SUN_NEVER_RISES},
        {-90.0, 355, SUN_NEVER_SETS},    {-90.0, 172, SUN_NEVER_RISES}, {60.0, 172, SUN_RISES_AND_SETS},
        {60.0, 355, SUN_RISES_AND_SETS}, {0.0, 80, SUN_RISES_AND_SETS}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct sun_day sun = sun_on(row[i].latitude, row[i].day);
        assert_int_equal(sun.kind, row[i].kind);
        if (sun.kind == SUN_NEVER_SETS)
            assert_true(sun.daylight_h == 24.0 && sun.ra_mj_m2 > 30.0);
        if (sun.kind == SUN_NEVER_RISES)
            assert_true(sun.daylight_h == 0.0 && sun.ra_mj_m2 == 0.0);
    }
}

/* At the pole the sun stands at the declination all day: Ra = Gsc dr 1440 sin(delta), eq. 21 with omega s =
 * pi. */
static void at_the_pole_radiation_is_that_of_the_declination(void **state) {
    (void)state;
    struct sun_day sun = sun_on(90.0, 172);
    assert_near(sun.ra_mj_m2, 0.0820 * 1440.0 * sun.distance_factor * sin(sun.declination_rad), 1e-9);
}

/* At the circle cos(omega s) reaches -1 or 1, where omega s moves as the square root: a step of x in latitude
 * moves it by at most sqrt(2 x / (sin(phi) cos(phi))). */
static void nothing_jumps_at_the_polar_circle(void **state) {
    (void)state;
    for (int day = 1; day <= 365; day += 7)
        for (int thousandth = 60000; thousandth < 89000; thousandth++) {
            struct sun_day a = sun_on(thousandth / 1e3, day), b = sun_on((thousandth + 1) / 1e3, day);
            double phi = (thousandth + 1) / 1e3 * PI / 180.0, step = 0.001 * PI / 180.0;
            assert_near(b.ra_mj_m2, a.ra_mj_m2, 0.01);
            assert_near(b.daylight_h, a.daylight_h,
                        1.01 * 24.0 / PI * sqrt(2.0 * step / (sin(phi) * cos(phi))));
        }
}

static void seasons_of_the_hemispheres_mirror_each_other(void **state) {
    (void)state;
    /* omega s(-phi) = pi - omega s(phi), from eq. 25. */
    for (int day = 1; day <= 365; day += 13)
        assert_near(sun_on(40.0, day).daylight_h + sun_on(-40.0, day).daylight_h, 24.0, 1e-12);
}

static void the_hours_of_a_day_add_up_to_the_day(void **state) {
    (void)state;
    for (double latitude = -90.0; latitude <= 90.0; latitude += 7.5)
        for (int day = 1; day <= 366; day += 30) {
            const struct sun_place place = {latitude, 37.0, 30.0};
            double hours = 0.0, quarters = 0.0;
            for (int i = 0; i < 24; i++)
                hours += period_at(&place, day, i + 0.5, 1.0).ra_mj_m2;
            for (int i = 0; i < 96; i++)
                quarters += period_at(&place, day, (i + 0.5) / 4.0, 0.25).ra_mj_m2;
            double whole = sun_on(latitude, day).ra_mj_m2;
            assert_near(hours, whole, 1e-9);
            assert_near(quarters, whole, 1e-9);
            assert_near(period_at(&place, day, 12.0, 24.0).ra_mj_m2, whole, 1e-9);
        }
}

static void the_sun_is_highest_at_solar_noon(void **state) {
    (void)state;
    const struct sun_place place = {45.0, 0.0, 0.0};
    double highest = -1.0, when = 0.0;
    for (double t = 10.0; t <= 14.0; t += 0.01) {
        struct sun_period period = period_at(&place, 105, t, 0.01);
        if (period.elevation_rad > highest) {
            highest = period.elevation_rad;
            when = period.hour_angle_rad;
        }
    }
    assert_near(when, 0.0, 0.01 * PI / 12.0);
    assert_near(highest, PI / 4.0 + sun_on(45.0, 105).declination_rad, 1e-5);
}

static void a_clock_east_of_the_meridian_is_ahead_of_the_sun(void **state) {
    (void)state;
    const struct sun_place east = {0.0, 45.0, 30.0}, west = {0.0, 15.0, 30.0};
    double ahead = period_at(&east, 105, 12.0, 1.0).hour_angle_rad;
    double behind = period_at(&west, 105, 12.0, 1.0).hour_angle_rad;
    assert_near(ahead - behind, 2.0 * PI / 12.0, 1e-12); /* 15 degrees are an hour, eq. 31 */
}

static void sunshine_longer_than_the_day_counts_as_the_day(void **state) {
    (void)state;
    assert_near(sun_rs_sunshine_mj_m2(30.0, 12.0, 12.0, 0.25, 0.5), 22.5, 1e-12);
    assert_near(sun_rs_sunshine_mj_m2(30.0, 12.4, 12.0, 0.25, 0.5), 22.5, 1e-12);
    assert_near(sun_rs_sunshine_mj_m2(30.0, 0.0, 12.0, 0.25, 0.5), 7.5, 1e-12);
    assert_true(sun_rs_sunshine_mj_m2(0.0, 0.0, 0.0, 0.25, 0.5) == 0.0);
}

static void clearness_is_held_between_its_limits(void **state) {
    (void)state;
    assert_near(sun_clearness(15.0, 20.0), 0.75, 1e-12);
    assert_near(sun_clearness(25.0, 20.0), SUN_CLEARNESS_MAX, 0.0);
    assert_near(sun_clearness(1.0, 20.0), SUN_CLEARNESS_MIN, 0.0);
    assert_near(sun_clearness(0.0, 0.0), SUN_CLEARNESS_DARK, 0.0);
}

static void soil_takes_up_heat_when_the_air_warms(void **state) {
    (void)state;
    assert_true(sun_soil_heat_mj_m2(2.1, 20.0, 15.0, 30.0, 1.0) >
                0.0); /* the minus sign of the errata to eq. 41 */
    assert_true(sun_soil_heat_mj_m2(2.1, 15.0, 20.0, 30.0, 1.0) < 0.0);
    assert_near(sun_soil_heat_daylight_mj_m2(1.5), 0.15, 1e-12); /* eq. 45 */
    assert_near(sun_soil_heat_night_mj_m2(-0.1), -0.05, 1e-12);  /* eq. 46 */
}

static void days_and_places_outside_the_ranges_are_refused(void **state) {
    (void)state;
    struct sun_day day;
    assert_int_equal(
        sun_of_period(&(struct sun_place){90.0, 180.0, -180.0}, 366, 0.0, 24.0, &(struct sun_period){0}),
        STATUS_OK);
    assert_int_equal(sun_of_day(90.001, 1, &day), STATUS_OUT_OF_RANGE);
    assert_int_equal(sun_of_day(-90.001, 1, &day), STATUS_OUT_OF_RANGE);
    assert_int_equal(sun_of_day(NAN, 1, &day), STATUS_NOT_FINITE);
    assert_int_equal(sun_of_day(-INFINITY, 1, &day), STATUS_NOT_FINITE);
    assert_int_equal(sun_of_day(45.0, 0, &day), STATUS_OUT_OF_RANGE);
    assert_int_equal(sun_of_day(45.0, 367, &day), STATUS_OUT_OF_RANGE);
    static const struct {
        struct sun_place place;
        double midpoint, length;
        enum status status;
    } row[] = {{{91.0, 0.0, 0.0}, 12.0, 1.0, STATUS_OUT_OF_RANGE},
               {{45.0, 181.0, 0.0}, 12.0, 1.0, STATUS_OUT_OF_RANGE},
               {{45.0, NAN, 0.0}, 12.0, 1.0, STATUS_NOT_FINITE},
               {{45.0, 0.0, -181.0}, 12.0, 1.0, STATUS_OUT_OF_RANGE},
               {{45.0, 0.0, INFINITY}, 12.0, 1.0, STATUS_NOT_FINITE},
               {{45.0, 0.0, 0.0}, -0.1, 1.0, STATUS_OUT_OF_RANGE},
               {{45.0, 0.0, 0.0}, 24.1, 1.0, STATUS_OUT_OF_RANGE},
               {{45.0, 0.0, 0.0}, 12.0, 0.0, STATUS_OUT_OF_RANGE},
               {{45.0, 0.0, 0.0}, 12.0, 24.1, STATUS_OUT_OF_RANGE},
               {{45.0, 0.0, 0.0}, NAN, 1.0, STATUS_NOT_FINITE},
               {{45.0, 0.0, 0.0}, 12.0, INFINITY, STATUS_NOT_FINITE}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct sun_period period;
        assert_int_equal(sun_of_period(&row[i].place, 100, row[i].midpoint, row[i].length, &period),
                         row[i].status);
    }
}

static double sunshine_ra(double x) {
    return sun_rs_sunshine_mj_m2(x, 5.0, 12.0, 0.25, 0.5);
}

static double sunshine_hours(double x) {
    return sun_rs_sunshine_mj_m2(30.0, x, 12.0, 0.25, 0.5);
}

static double sunshine_daylight(double x) {
    return sun_rs_sunshine_mj_m2(30.0, 5.0, x, 0.25, 0.5);
}

static double angstrom_a(double x) {
    return sun_rs_sunshine_mj_m2(30.0, 5.0, 12.0, x, 0.5);
}

static double angstrom_b(double x) {
    return sun_rs_sunshine_mj_m2(30.0, 5.0, 12.0, 0.25, x);
}

static double range_ra(double x) {
    return sun_rs_temperature_mj_m2(x, 20.0, 10.0, 0.16);
}

static double range(double x) {
    return sun_rs_temperature_mj_m2(30.0, x, 0.0, 0.16);
}

static double range_krs(double x) {
    return sun_rs_temperature_mj_m2(30.0, 20.0, 10.0, x);
}

static double clear_ra(double x) {
    return sun_clear_sky_mj_m2(x, 100.0);
}

static double clear_elevation(double x) {
    return sun_clear_sky_mj_m2(30.0, x);
}

static double clearness_rs(double x) {
    return sun_clearness(x, 20.0);
}

static double clearness_rso(double x) {
    return sun_clearness(20.0, x);
}

static double long_tmax(double x) {
    return sun_net_long_mj_m2(x, 10.0, 1.0, 0.7);
}

static double long_tmin(double x) {
    return sun_net_long_mj_m2(20.0, x, 1.0, 0.7);
}

static double long_ea(double x) {
    return sun_net_long_mj_m2(20.0, 10.0, x, 0.7);
}

static double long_clearness(double x) {
    return sun_net_long_mj_m2(20.0, 10.0, 1.0, x);
}

static double soil_capacity(double x) {
    return sun_soil_heat_mj_m2(x, 20.0, 10.0, 30.0, 1.0);
}

static double soil_days(double x) {
    return sun_soil_heat_mj_m2(2.1, 20.0, 10.0, x, 1.0);
}

static double soil_depth(double x) {
    return sun_soil_heat_mj_m2(2.1, 20.0, 10.0, 30.0, x);
}

static void the_ends_of_the_stated_ranges_are_inside(void **state) {
    (void)state;
    static const struct edge edge[] = {{sun_net_short_mj_m2, 0.0, 100.0},
                                       {sunshine_ra, 0.0, 100.0},
                                       {sunshine_hours, 0.0, 24.5},
                                       {sunshine_daylight, 0.0, 24.0},
                                       {angstrom_a, 0.0, 1.0},
                                       {angstrom_b, 0.0, 1.0},
                                       {range_ra, 0.0, 100.0},
                                       {range, 0.0, 200.0},
                                       {range_krs, 0.0, 1.0},
                                       {clear_ra, 0.0, 100.0},
                                       {clear_elevation, -430.0, 9000.0},
                                       {clearness_rs, 0.0, 100.0},
                                       {clearness_rso, 0.0, 100.0},
                                       {long_tmax, -100.0, 100.0},
                                       {long_tmin, -100.0, 100.0},
                                       {long_ea, 0.0, 110.0},
                                       {long_clearness, 0.3, 1.0},
                                       {soil_capacity, 0.0, 10.0},
                                       {soil_days, 0.01, 366.0},
                                       {soil_depth, 0.0, 10.0}};
    check_edges(edge, sizeof edge / sizeof edge[0]);
}

static void infinite_temperatures_give_no_soil_heat(void **state) {
    (void)state;
    assert_true(isnan(sun_soil_heat_mj_m2(2.1, INFINITY, 10.0, 30.0, 1.0)));
    assert_true(isnan(sun_soil_heat_month_mj_m2(INFINITY, 10.0)) &&
                isnan(sun_soil_heat_night_mj_m2(INFINITY)));
}

static bool finite_or_nan(double value) {
    return isnan(value) || isfinite(value);
}

static void any_numbers_give_finite_values_or_a_named_status(void **state) {
    (void)state;
    struct hostile source = hostile_seed(2);
    int good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        struct sun_day day = {.daylight_h = 12.0};
        struct sun_period period;
        struct sun_place place = {hostile_number(&source, -90.0, 90.0),
                                  hostile_number(&source, -180.0, 180.0),
                                  hostile_number(&source, -180.0, 180.0)};
        int j = (int)hostile_between(&source, -5.0, 372.0);
        if (sun_of_day(place.latitude_deg, j, &day) == STATUS_OK)
            assert_true(isfinite(day.ra_mj_m2) && day.ra_mj_m2 >= 0.0 && day.ra_mj_m2 < 50.0 &&
                        day.daylight_h >= 0.0 && day.daylight_h <= 24.0);
        double midpoint = hostile_number(&source, 0.0, 24.0), length = hostile_number(&source, 0.0, 2.0);
        if (sun_of_period(&place, j, midpoint, length, &period) == STATUS_OK) {
            good++;
            assert_true(isfinite(period.ra_mj_m2) && period.ra_mj_m2 >= -1e-12 && period.ra_mj_m2 < 50.0);
            assert_true(fabs(period.hour_angle_rad) <= PI && fabs(period.elevation_rad) <= PI / 2.0);
        }
        double a = hostile_number(&source, 0.0, 45.0), b = hostile_number(&source, -40.0, 50.0);
        double c = hostile_number(&source, -40.0, 50.0), d = hostile_number(&source, 0.0, 1.0);
        assert_true(finite_or_nan(sun_rs_sunshine_mj_m2(a, midpoint, day.daylight_h, d, d)));
        assert_true(finite_or_nan(sun_rs_temperature_mj_m2(a, b, c, d)) &&
                    finite_or_nan(sun_clear_sky_mj_m2(a, b)));
        assert_true(finite_or_nan(sun_net_short_mj_m2(a)) && finite_or_nan(sun_clearness(a, c)));
        assert_true(finite_or_nan(sun_net_long_mj_m2(b, c, d, d)));
        assert_true(finite_or_nan(sun_soil_heat_mj_m2(d, b, c, a, d)) &&
                    finite_or_nan(sun_soil_heat_month_mj_m2(b, c)));
        assert_true(finite_or_nan(sun_soil_heat_month_known_mj_m2(b, c)) &&
                    finite_or_nan(sun_soil_heat_daylight_mj_m2(b)));
    }
    assert_true(good > HOSTILE_ROUNDS / 20);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_polar_sun_never_sets_in_summer_and_never_rises_in_winter),
        cmocka_unit_test(at_the_pole_radiation_is_that_of_the_declination),
        cmocka_unit_test(nothing_jumps_at_the_polar_circle),
        cmocka_unit_test(seasons_of_the_hemispheres_mirror_each_other),
        cmocka_unit_test(the_hours_of_a_day_add_up_to_the_day),
        cmocka_unit_test(the_sun_is_highest_at_solar_noon),
        cmocka_unit_test(a_clock_east_of_the_meridian_is_ahead_of_the_sun),
        cmocka_unit_test(sunshine_longer_than_the_day_counts_as_the_day),
        cmocka_unit_test(clearness_is_held_between_its_limits),
        cmocka_unit_test(soil_takes_up_heat_when_the_air_warms),
        cmocka_unit_test(days_and_places_outside_the_ranges_are_refused),
        cmocka_unit_test(the_ends_of_the_stated_ranges_are_inside),
        cmocka_unit_test(infinite_temperatures_give_no_soil_heat),
        cmocka_unit_test(any_numbers_give_finite_values_or_a_named_status),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
