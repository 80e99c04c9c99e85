/* A neighbour's day brought to another station. Sources: ICAO standard atmosphere (lapse rate), FAO-56
 * chapter 2 Table 2.1 and eqs 7, 47, 49 (pressure, wind, radiation). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/station_transfer.h"
#include "core/weather/sun.h"
#include "support/near.h"

static const struct weather_site low = {.latitude_deg = 38.0, .elevation_m = 200.0};

static struct weather_site site(double latitude_deg, double elevation_m) {
    return weather_site_default(latitude_deg, elevation_m);
}

static struct weather_day measured_day(void) {
    struct weather_day day = weather_day_empty(18445); /* 2020-07-02 */
    const struct {
        enum weather_element element;
        double value;
    } values[] = {{WEATHER_TMAX_C, 30.0},     {WEATHER_TMIN_C, 16.0},       {WEATHER_RH_MAX_PCT, 90.0},
                  {WEATHER_RH_MIN_PCT, 40.0}, {WEATHER_PRESSURE_KPA, 99.0}, {WEATHER_WIND_M_S, 3.0},
                  {WEATHER_RS_MJ_M2, 25.0},   {WEATHER_RAIN_MM, 4.5}};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        day.value[values[i].element] = values[i].value;
        day.origin[values[i].element] = ORIGIN_MEASURED;
    }
    return day;
}

static void a_thousand_metres_higher_it_is_six_and_a_half_degrees_colder(void **state) {
    (void)state;
    /* ICAO standard atmosphere: -6.5 K/km; exact but for rounding. */
    assert_near(station_temperature_c(20.0, 0.0, 1000.0, STATION_LAPSE_C_KM), 13.5, 1e-12);
    assert_near(station_temperature_c(13.5, 1000.0, 0.0, STATION_LAPSE_C_KM), 20.0, 1e-12);
    assert_near(station_temperature_c(20.0, 500.0, 500.0, STATION_LAPSE_C_KM), 20.0, 0.0);
}

static void pressure_changes_with_height_as_table_2_1_says(void **state) {
    (void)state;
    /* FAO-56 Annex 2 Table 2.1: 101.3 kPa at 0 m, 90.0 at 1000 m, 79.8 at 2000 m; tolerance half a unit of
     * its last digit and that of the first value's. */
    assert_near(station_pressure_kpa(101.3, 0.0, 1000.0), 90.0, 0.1);
    assert_near(station_pressure_kpa(101.3, 0.0, 2000.0), 79.8, 0.1);
}

static void air_that_rises_keeps_its_mixing_ratio(void **state) {
    (void)state;
    double at_1000 = station_vapour_kpa(1.5, 0.0, 1000.0);
    /* w = 0.622 e / (P - e): the definition; with e proportional to P it is the same, to rounding. */
    double below = 1.5 / (air_pressure_kpa(0.0) - 1.5);
    double above = at_1000 / (air_pressure_kpa(1000.0) - at_1000);
    assert_near(above, below, 1e-12);
    /* The dew point of rising air falls by some 1.8 degC/km (textbook value, from memory). */
    assert_near(air_dew_point_c(1.5) - air_dew_point_c(at_1000), 1.8, 0.2);
}

static void wind_at_ten_metres_becomes_that_of_two_by_equation_47(void **state) {
    (void)state;
    /* FAO-56 example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m; tolerance half a unit of its last digit. */
    assert_near(station_wind_m_s(3.2, 10.0, 2.0), 2.4, 0.05);
    assert_near(station_wind_m_s(station_wind_m_s(3.2, 10.0, 3.0), 3.0, 10.0), 3.2, 1e-12);
}

static void radiation_goes_by_the_ratio_of_the_extraterrestrial_ones(void **state) {
    (void)state;
    /* FAO-56 eq. 49: Rs = Rs,reg / Ra,reg Ra. */
    struct sun_day north, south;
    assert_int_equal(sun_of_day(45.0, 20, &north), STATUS_OK);
    assert_int_equal(sun_of_day(43.0, 20, &south), STATUS_OK);
    assert_near(station_radiation_mj_m2(6.0, 45.0, 43.0, 20), 6.0 * south.ra_mj_m2 / north.ra_mj_m2, 1e-12);
    assert_true(station_radiation_mj_m2(6.0, 45.0, 43.0, 20) > 6.0);
    /* In the polar night there is no ratio. */
    assert_near(station_radiation_mj_m2(0.0, 80.0, 79.0, 355), 0.0, 0.0);
}

static void distances_are_those_along_the_great_circle(void **state) {
    (void)state;
    /* A quarter of a meridian is 10 001.966 km on the ellipsoid of GRS 80 (published length); the sphere's
     * own quarter is 0.06 % longer: tolerance 0.6 %. */
    assert_near(station_distance_km(0.0, 0.0, 90.0, 0.0), 10001.966, 60.0);
    assert_near(station_distance_km(38.2, -98.6, 38.2, -98.6), 0.0, 1e-9);
    /* Los Angeles (33 57 N, 118 24 W) to New York (40 38 N, 73 47 W): 0.623585 radians (E. Williams, Aviation
     * Formulary, worked examples; from memory); half a unit of its last digit. */
    double flight_km =
        station_distance_km(33 + 57 / 60.0, -(118 + 24 / 60.0), 40 + 38 / 60.0, -(73 + 47 / 60.0));
    assert_near(flight_km / 6371.0088, 0.623585, 5e-7);
    /* Half around the sphere, exactly pi times its radius. */
    assert_near(station_distance_km(0.0, -90.0, 0.0, 90.0), 3.14159265358979 * 6371.0088, 1e-6);
    assert_near(station_distance_km(10.0, 179.5, 10.0, -179.5), station_distance_km(10.0, -0.5, 10.0, 0.5),
                1e-9);
}

static void a_day_comes_over_whole_and_marked(void **state) {
    (void)state;
    struct weather_day from = measured_day(), out;
    struct weather_site here = site(38.0, 200.0), there = site(38.3, 700.0);
    assert_int_equal(station_transfer(&from, &here, &there, 6.5, &out), STATUS_OK);
    assert_near(out.value[WEATHER_TMAX_C], 30.0 - 3.25, 1e-12);
    assert_near(out.value[WEATHER_TMIN_C], 16.0 - 3.25, 1e-12);
    /* Eq. 17 at the neighbour, then the mixing ratio. */
    double ea =
        air_ea_rh_max_min_kpa(30.0, 16.0, 90.0, 40.0) * air_pressure_kpa(700.0) / air_pressure_kpa(200.0);
    assert_near(out.value[WEATHER_EA_KPA], ea, 1e-12);
    assert_near(out.value[WEATHER_RAIN_MM], 4.5, 0.0);
    assert_near(out.value[WEATHER_WIND_M_S], 3.0, 1e-12);
    assert_true(isnan(out.value[WEATHER_RH_MAX_PCT]));
    for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++)
        assert_int_equal(out.origin[e], isnan(out.value[e]) ? ORIGIN_MISSING : ORIGIN_NEIGHBOUR);
}

static void what_would_be_estimated_at_the_neighbour_stays_missing(void **state) {
    (void)state;
    struct weather_day from = measured_day(), out;
    struct weather_site here = site(38.0, 200.0);
    static const enum weather_element gone[] = {WEATHER_RH_MAX_PCT, WEATHER_RH_MIN_PCT, WEATHER_RS_MJ_M2,
                                                WEATHER_WIND_M_S, WEATHER_RAIN_MM};
    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++)
        from.value[gone[i]] = (double)NAN;
    assert_int_equal(station_transfer(&from, &here, &here, 6.5, &out), STATUS_OK);
    assert_true(isnan(out.value[WEATHER_EA_KPA]) && isnan(out.value[WEATHER_RS_MJ_M2]));
    assert_true(isnan(out.value[WEATHER_WIND_M_S]) && isnan(out.value[WEATHER_RAIN_MM]));
    assert_near(out.value[WEATHER_TMAX_C], 30.0, 0.0);
}

static void a_suspect_value_does_not_come_over(void **state) {
    (void)state;
    struct weather_day from = measured_day(), out;
    struct weather_site here = site(38.0, 200.0);
    from.value[WEATHER_RAIN_MM] = -3.0;
    from.value[WEATHER_TMAX_C] = 10.0; /* below tmin */
    from.value[WEATHER_WIND_M_S] = (double)INFINITY;
    assert_int_equal(station_transfer(&from, &here, &here, 6.5, &out), STATUS_OK);
    assert_true(isnan(out.value[WEATHER_RAIN_MM]) && isnan(out.value[WEATHER_WIND_M_S]));
    assert_true(isnan(out.value[WEATHER_TMAX_C]) && isnan(out.value[WEATHER_TMIN_C]));
    assert_near(out.value[WEATHER_RS_MJ_M2], 25.0, 0.0);
}

static void sunshine_hours_come_over_as_radiation(void **state) {
    (void)state;
    struct weather_day from = measured_day(), out;
    struct weather_site here = site(38.0, 200.0);
    struct sun_day sun;
    from.value[WEATHER_RS_MJ_M2] = (double)NAN;
    from.value[WEATHER_SUN_H] = 8.0;
    from.origin[WEATHER_SUN_H] = ORIGIN_MEASURED;
    assert_int_equal(sun_of_day(38.0, calendar_day_of_year(from.date), &sun), STATUS_OK);
    assert_int_equal(station_transfer(&from, &here, &here, 6.5, &out), STATUS_OK);
    /* Eq. 35 with its own coefficients. */
    assert_near(out.value[WEATHER_RS_MJ_M2], (0.25 + 0.5 * 8.0 / sun.daylight_h) * sun.ra_mj_m2, 1e-9);
    assert_true(isnan(out.value[WEATHER_SUN_H]));
}

/* A dew point's humidity is derived, not measured: it comes over all the same. A finding that is only odd
 * sets nothing aside. */
static void what_follows_from_measured_values_and_what_is_only_odd_come_over(void **state) {
    (void)state;
    struct weather_day from = measured_day(), out;
    struct weather_site here = site(38.0, 200.0);
    from.value[WEATHER_RH_MAX_PCT] = from.value[WEATHER_RH_MIN_PCT] = (double)NAN;
    from.value[WEATHER_TDEW_C] = 19.5; /* more than 3 degC above tmin: found, and not suspect */
    from.origin[WEATHER_TDEW_C] = ORIGIN_MEASURED;
    assert_int_equal(station_transfer(&from, &here, &here, 6.5, &out), STATUS_OK);
    assert_near(out.value[WEATHER_EA_KPA], air_saturation_kpa(19.5), 1e-12);
    assert_near(out.value[WEATHER_TMAX_C], 30.0, 0.0);
}

static void arguments_outside_their_range_give_nothing(void **state) {
    (void)state;
    struct weather_day from = measured_day(), out;
    struct weather_site here = site(38.0, 200.0);
    assert_true(isnan(station_temperature_c((double)NAN, 0.0, 0.0, 6.5)));
    assert_true(isnan(station_temperature_c(20.0, 0.0, 7000.0, 6.5)));
    assert_true(isnan(station_temperature_c(20.0, 0.0, 0.0, 16.0)));
    assert_true(isnan(station_pressure_kpa(130.0, 0.0, 0.0)) && isnan(station_vapour_kpa(-1.0, 0.0, 0.0)));
    assert_true(isnan(station_wind_m_s(-1.0, 2.0, 2.0)) && isnan(station_wind_m_s(1.0, 2.0, 0.0)));
    assert_true(isnan(station_temperature_c(20.0, -500.0, 0.0, 6.5)));
    assert_true(isnan(station_pressure_kpa(99.0, -500.0, 0.0)) &&
                isnan(station_vapour_kpa(1.0, 0.0, 7000.0)));
    assert_true(isnan(station_radiation_mj_m2(61.0, 0.0, 0.0, 1)));
    assert_true(isnan(station_radiation_mj_m2(20.0, 91.0, 0.0, 1)) &&
                isnan(station_radiation_mj_m2(20.0, 0.0, 91.0, 1)));
    assert_true(isnan(station_distance_km(0.0, 0.0, -91.0, 0.0)) &&
                isnan(station_distance_km(0.0, 0.0, 0.0, 181.0)));
    assert_true(isnan(station_distance_km(91.0, 0.0, 0.0, 0.0)) &&
                isnan(station_distance_km(0.0, (double)NAN, 0.0, 0.0)));
    assert_int_equal(station_transfer(&from, &here, &here, -11.0, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(station_transfer(&from, &here, &low, 6.5, &out), STATUS_OUT_OF_RANGE);
    assert_true(isnan(out.value[WEATHER_TMAX_C]));
    from.date = CALENDAR_NONE;
    assert_int_equal(station_transfer(&from, &here, &here, 6.5, &out), STATUS_OUT_OF_RANGE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_thousand_metres_higher_it_is_six_and_a_half_degrees_colder),
        cmocka_unit_test(pressure_changes_with_height_as_table_2_1_says),
        cmocka_unit_test(air_that_rises_keeps_its_mixing_ratio),
        cmocka_unit_test(wind_at_ten_metres_becomes_that_of_two_by_equation_47),
        cmocka_unit_test(radiation_goes_by_the_ratio_of_the_extraterrestrial_ones),
        cmocka_unit_test(distances_are_those_along_the_great_circle),
        cmocka_unit_test(a_day_comes_over_whole_and_marked),
        cmocka_unit_test(what_would_be_estimated_at_the_neighbour_stays_missing),
        cmocka_unit_test(a_suspect_value_does_not_come_over),
        cmocka_unit_test(sunshine_hours_come_over_as_radiation),
        cmocka_unit_test(what_follows_from_measured_values_and_what_is_only_odd_come_over),
        cmocka_unit_test(arguments_outside_their_range_give_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
