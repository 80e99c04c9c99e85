/* Air: what the equations must obey, and what lies outside their ranges. Published values: tests/published.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/weather/air.h"
#include "tests/support/edges.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

/* Tolerance: central difference over 0.002 degC; its error is of the order 1e-9. Eq. 13 has 4098 for 17.27 x
 * 237.3 = 4098.17, 0.004 %. */
static void slope_is_the_derivative_of_the_saturation_curve(void **state) {
    (void)state;
    for (double t = -40.0; t <= 55.0; t += 2.5) {
        double difference = (air_saturation_kpa(t + 0.001) - air_saturation_kpa(t - 0.001)) / 0.002;
        assert_near(air_saturation_slope_kpa_c(t) / difference, 1.0, 5e-5);
    }
}

static void dew_point_undoes_saturation(void **state) {
    (void)state;
    for (double t = -60.0; t <= 60.0; t += 1.5)
        assert_near(air_dew_point_c(air_ea_dewpoint_kpa(t)), t, 1e-10);
}

static void saturated_air_is_saturated_whichever_way_it_is_measured(void **state) {
    (void)state;
    double es = air_mean_saturation_kpa(30.0, 14.0);
    assert_near(air_ea_rh_max_min_kpa(30.0, 14.0, 100.0, 100.0), es, 1e-12);
    assert_near(air_ea_rh_mean_kpa(30.0, 14.0, 100.0), es, 1e-12);
    assert_near(air_ea_rh_max_kpa(14.0, 100.0), air_saturation_kpa(14.0), 1e-12);
    assert_near(air_ea_psychrometer_kpa(20.0, 20.0, 100.0, AIR_PSYCHROMETER_NATURAL),
                air_saturation_kpa(20.0), 0.0);
}

static void wind_at_two_metres_is_left_as_it_is(void **state) {
    (void)state;
    assert_true(air_wind_2m_m_s(3.7, 2.0) == 3.7);
    assert_true(air_wind_2m_m_s(0.0, 10.0) == 0.0);
    assert_true(air_wind_2m_m_s(3.7, 1.0) > 3.7 && air_wind_2m_m_s(3.7, 10.0) < 3.7);
}

static void a_wet_bulb_too_far_below_the_dry_one_gives_less_than_nothing(void **state) {
    (void)state;
    assert_true(air_ea_psychrometer_kpa(30.0, 2.0, 101.3, AIR_PSYCHROMETER_VENTILATED) < 0.0);
}

static double dry_bulb(double x) {
    return air_ea_psychrometer_kpa(x, 15.0, 100.0, 0.0008);
}

static double wet_bulb(double x) {
    return air_ea_psychrometer_kpa(20.0, x, 100.0, 0.0008);
}

static double psychrometer_pressure(double x) {
    return air_ea_psychrometer_kpa(20.0, 15.0, x, 0.0008);
}

static double psychrometer_coefficient(double x) {
    return air_ea_psychrometer_kpa(20.0, 15.0, 100.0, x);
}

static double highest_humidity(double x) {
    return air_ea_rh_max_min_kpa(20.0, 10.0, x, 50.0);
}

static double lowest_humidity(double x) {
    return air_ea_rh_max_min_kpa(20.0, 10.0, 90.0, x);
}

static double highest_humidity_alone(double x) {
    return air_ea_rh_max_kpa(10.0, x);
}

static double mean_humidity(double x) {
    return air_ea_rh_mean_kpa(20.0, 10.0, x);
}

static double wind_speed(double x) {
    return air_wind_2m_m_s(x, 10.0);
}

static double wind_height(double x) {
    return air_wind_2m_m_s(3.0, x);
}

static void the_ends_of_the_stated_ranges_are_inside(void **state) {
    (void)state;
    static const struct edge edge[] = {{air_pressure_kpa, -430.0, 9000.0},
                                       {air_psychrometric_kpa_c, 30.0, 120.0},
                                       {air_saturation_kpa, -100.0, 100.0},
                                       {air_dew_point_c, 1e-6, 100.0},
                                       {dry_bulb, -100.0, 100.0},
                                       {wet_bulb, -100.0, 100.0},
                                       {psychrometer_pressure, 30.0, 120.0},
                                       {psychrometer_coefficient, 0.0, 0.002},
                                       {highest_humidity, 0.0, 100.0},
                                       {lowest_humidity, 0.0, 100.0},
                                       {highest_humidity_alone, 0.0, 100.0},
                                       {mean_humidity, 0.0, 100.0},
                                       {wind_speed, 0.0, 200.0},
                                       {wind_height, 0.5, 100.0}};
    check_edges(edge, sizeof edge / sizeof edge[0]);
}

static bool finite_or_nan(double value) {
    return isnan(value) || isfinite(value);
}

static void any_numbers_give_a_finite_value_or_nan(void **state) {
    (void)state;
    struct hostile source = hostile_seed(1);
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        double a = hostile_number(&source, -60.0, 60.0), b = hostile_number(&source, -60.0, 60.0);
        double c = hostile_number(&source, 0.0, 100.0), d = hostile_number(&source, 0.0, 100.0);
        double z = hostile_number(&source, -400.0, 6000.0);
        assert_true(finite_or_nan(air_pressure_kpa(z)) && finite_or_nan(air_psychrometric_kpa_c(c)));
        assert_true(finite_or_nan(air_saturation_kpa(a)) && finite_or_nan(air_saturation_slope_kpa_c(a)));
        assert_true(finite_or_nan(air_mean_saturation_kpa(a, b)) && finite_or_nan(air_ea_dewpoint_kpa(a)));
        assert_true(finite_or_nan(air_ea_psychrometer_kpa(a, b, c, d / 1e5)));
        assert_true(finite_or_nan(air_ea_rh_max_min_kpa(a, b, c, d)));
        assert_true(finite_or_nan(air_ea_rh_max_kpa(a, c)) && finite_or_nan(air_ea_rh_mean_kpa(a, b, c)));
        assert_true(finite_or_nan(air_dew_point_c(c)) && finite_or_nan(air_wind_2m_m_s(c, d)));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slope_is_the_derivative_of_the_saturation_curve),
        cmocka_unit_test(dew_point_undoes_saturation),
        cmocka_unit_test(saturated_air_is_saturated_whichever_way_it_is_measured),
        cmocka_unit_test(wind_at_two_metres_is_left_as_it_is),
        cmocka_unit_test(a_wet_bulb_too_far_below_the_dry_one_gives_less_than_nothing),
        cmocka_unit_test(the_ends_of_the_stated_ranges_are_inside),
        cmocka_unit_test(any_numbers_give_a_finite_value_or_nan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
