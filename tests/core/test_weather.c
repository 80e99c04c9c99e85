/* A day made complete: FAO-56's order of preference, origins, refusals. The figures themselves:
 * tests/published. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/reference_et.h"
#include "core/weather/sun.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

#define DATE 20270 /* 2025-07-01 */

static const struct weather_site site = {.latitude_deg = 40.0,
                                         .elevation_m = 300.0,
                                         .wind_height_m = 2.0,
                                         .krs = NAN,
                                         .angstrom_as = 0.25,
                                         .angstrom_bs = 0.5,
                                         .wind_default_m_s = 2.0};

static void put(struct weather_day *day, enum weather_element element, double value,
                enum weather_origin origin) {
    day->value[element] = value;
    day->origin[element] = (uint8_t)origin;
}

static void report(struct weather_day *day, enum weather_element element, double value) {
    put(day, element, value, ORIGIN_MEASURED);
}

/* Temperatures alone, 30 and 16 degC. */
static struct weather_day bare_day(void) {
    struct weather_day day = weather_day_empty(DATE);
    report(&day, WEATHER_TMAX_C, 30.0);
    report(&day, WEATHER_TMIN_C, 16.0);
    return day;
}

static struct weather_full complete(const struct weather_day *day, const struct weather_findings *findings) {
    struct weather_full full;
    assert_int_equal(weather_complete(day, &site, findings, &full), STATUS_OK);
    return full;
}

static enum status status_of(const struct weather_day *day) {
    struct weather_full full;
    memset(&full, 0x5a, sizeof full);
    struct weather_full before = full;
    enum status status = weather_complete(day, &site, NULL, &full);
    if (status != STATUS_OK)
        assert_memory_equal(&full, &before, sizeof full);
    return status;
}

static void check_humidity(const struct weather_day *day, double ea_kpa, enum weather_rule rule) {
    struct weather_value ea = complete(day, NULL).ea_kpa;
    assert_near(ea.value, ea_kpa, 1e-12);
    assert_int_equal(ea.rule, rule);
}

/* From the last resort to the first choice: each one added goes before those that are there. */
static void humidity_is_taken_in_the_order_of_preference(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    check_humidity(&day, air_saturation_kpa(16.0), WEATHER_RULE_EA_TMIN);
    assert_int_equal(complete(&day, NULL).ea_kpa.origin, ORIGIN_ESTIMATED);
    report(&day, WEATHER_RH_MIN_PCT, 40.0);
    check_humidity(&day, air_saturation_kpa(16.0), WEATHER_RULE_EA_TMIN); /* alone it is of no use */
    report(&day, WEATHER_RH_MEAN_PCT, 60.0);
    check_humidity(&day, air_ea_rh_mean_kpa(30.0, 16.0, 60.0), WEATHER_RULE_EA_RH_MEAN);
    report(&day, WEATHER_RH_MAX_PCT, 90.0);
    check_humidity(&day, air_ea_rh_max_min_kpa(30.0, 16.0, 90.0, 40.0), WEATHER_RULE_EA_RH_MAX_MIN);
    report(&day, WEATHER_TDRY_C, 24.0);
    check_humidity(&day, air_ea_rh_max_min_kpa(30.0, 16.0, 90.0, 40.0), WEATHER_RULE_EA_RH_MAX_MIN);
    report(&day, WEATHER_TWET_C, 18.0);
    check_humidity(&day,
                   air_ea_psychrometer_kpa(24.0, 18.0, air_pressure_kpa(300.0), AIR_PSYCHROMETER_VENTILATED),
                   WEATHER_RULE_EA_PSYCHROMETER);
    report(&day, WEATHER_TDEW_C, 14.0);
    check_humidity(&day, air_saturation_kpa(14.0), WEATHER_RULE_EA_DEWPOINT);
    assert_int_equal(complete(&day, NULL).ea_kpa.origin, ORIGIN_DERIVED);
    report(&day, WEATHER_EA_KPA, 1.7);
    check_humidity(&day, 1.7, WEATHER_RULE_AS_REPORTED);
    assert_int_equal(complete(&day, NULL).ea_kpa.origin, ORIGIN_MEASURED);
}

static void the_highest_humidity_alone_gives_eq_18(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    report(&day, WEATHER_RH_MAX_PCT, 90.0);
    report(&day, WEATHER_RH_MEAN_PCT, 60.0);
    check_humidity(&day, air_ea_rh_max_kpa(16.0, 90.0), WEATHER_RULE_EA_RH_MAX);
    report(&day, WEATHER_RH_MAX_PCT, 104.0); /* drift of the sensor: taken as 100 */
    check_humidity(&day, air_saturation_kpa(16.0), WEATHER_RULE_EA_RH_MAX);
}

static void a_psychrometer_below_nothing_is_passed_over(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    report(&day, WEATHER_TDRY_C, 30.0);
    report(&day, WEATHER_TWET_C, 2.0);
    check_humidity(&day, air_saturation_kpa(16.0), WEATHER_RULE_EA_TMIN);
}

static void an_arid_site_is_drier_than_its_tmin(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    struct weather_site arid = site;
    arid.aridity_c = 2.5;
    struct weather_full full;
    assert_int_equal(weather_complete(&day, &arid, NULL, &full), STATUS_OK);
    assert_near(full.ea_kpa.value, air_saturation_kpa(13.5),
                1e-12); /* FAO-56 chapter 3: tmin less 2 to 3 degC */
}

static void radiation_is_taken_in_the_order_of_preference(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    struct weather_full full = complete(&day, NULL);
    assert_near(full.rs_mj_m2.value, 0.16 * sqrt(14.0) * full.ra_mj_m2, 1e-12);
    assert_int_equal(full.rs_mj_m2.rule, WEATHER_RULE_RS_TEMPERATURE);
    assert_int_equal(full.rs_mj_m2.origin, ORIGIN_ESTIMATED);
    report(&day, WEATHER_SUN_H, 8.0);
    full = complete(&day, NULL);
    assert_near(full.rs_mj_m2.value, (0.25 + 0.5 * 8.0 / full.daylight_h) * full.ra_mj_m2, 1e-12);
    assert_int_equal(full.rs_mj_m2.rule, WEATHER_RULE_RS_SUNSHINE);
    assert_int_equal(full.rs_mj_m2.origin, ORIGIN_DERIVED);
    report(&day, WEATHER_RS_MJ_M2, 22.0);
    full = complete(&day, NULL);
    assert_near(full.rs_mj_m2.value, 22.0, 0.0);
    assert_int_equal(full.rs_mj_m2.rule, WEATHER_RULE_AS_REPORTED);
}

static void radiation_from_temperature_knows_the_coast_and_the_clear_sky(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    struct weather_site at = site;
    struct weather_full full;
    at.coastal = true;
    assert_int_equal(weather_complete(&day, &at, NULL, &full), STATUS_OK);
    assert_near(full.rs_mj_m2.value, 0.19 * sqrt(14.0) * full.ra_mj_m2, 1e-12);
    at.krs = 0.10;
    assert_int_equal(weather_complete(&day, &at, NULL, &full), STATUS_OK);
    assert_near(full.rs_mj_m2.value, 0.10 * sqrt(14.0) * full.ra_mj_m2, 1e-12);
    report(&day, WEATHER_TMIN_C, 2.0); /* 28 degC of range: 0.85 Ra, brighter than a clear sky */
    full = complete(&day, NULL);
    assert_true(full.rs_mj_m2.value == full.rso_mj_m2);
}

static void wind_is_brought_to_two_metres_or_taken_from_the_site(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    struct weather_site high = site;
    high.wind_height_m = 10.0;
    struct weather_full full = complete(&day, NULL);
    assert_near(full.wind_2m_m_s.value, 2.0, 0.0);
    assert_int_equal(full.wind_2m_m_s.rule, WEATHER_RULE_WIND_DEFAULT);
    assert_int_equal(full.wind_2m_m_s.origin, ORIGIN_ESTIMATED);
    report(&day, WEATHER_WIND_M_S, 3.2);
    full = complete(&day, NULL);
    assert_near(full.wind_2m_m_s.value, 3.2, 0.0);
    assert_int_equal(full.wind_2m_m_s.rule, WEATHER_RULE_AS_REPORTED);
    assert_int_equal(weather_complete(&day, &high, NULL, &full), STATUS_OK);
    assert_near(full.wind_2m_m_s.value, air_wind_2m_m_s(3.2, 10.0), 0.0);
    assert_int_equal(full.wind_2m_m_s.rule, WEATHER_RULE_WIND_LOG_PROFILE);
    assert_int_equal(full.wind_2m_m_s.origin, ORIGIN_DERIVED);
    report(&day, WEATHER_WIND_M_S, 0.5);
    assert_int_equal(complete(&day, NULL).wind_2m_m_s.rule, WEATHER_RULE_AS_REPORTED);
    report(&day, WEATHER_WIND_M_S, 0.6);
    assert_int_equal(weather_complete(&day, &high, NULL, &full), STATUS_OK);
    assert_near(full.wind_2m_m_s.value, 0.5,
                0.0); /* FAO-56 chapter 3, "wind speed": at least 0.5 (from memory) */
    assert_int_equal(full.wind_2m_m_s.rule, WEATHER_RULE_WIND_LEAST);
}

static void pressure_and_mean_temperature_say_how_they_came_to_be(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    report(&day, WEATHER_TMEAN_C, 21.0); /* not used: eq. 9 "for standardization" */
    struct weather_full full = complete(&day, NULL);
    assert_near(full.tmean_c.value, 23.0, 0.0);
    assert_int_equal(full.tmean_c.rule, WEATHER_RULE_TMEAN_HALF_SUM);
    assert_near(full.pressure_kpa.value, air_pressure_kpa(300.0), 0.0);
    assert_int_equal(full.pressure_kpa.rule, WEATHER_RULE_PRESSURE_ALTITUDE);
    report(&day, WEATHER_PRESSURE_KPA, 98.1);
    full = complete(&day, NULL);
    assert_near(full.pressure_kpa.value, 98.1, 0.0);
    assert_int_equal(full.pressure_kpa.rule, WEATHER_RULE_AS_REPORTED);
}

static void missing_rain_stays_missing_and_is_never_zero(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    struct weather_full full = complete(&day, NULL);
    assert_true(isnan(full.rain_mm.value));
    assert_int_equal(full.rain_mm.origin, ORIGIN_MISSING);
    assert_int_equal(full.rain_mm.rule, WEATHER_RULE_NONE);
    report(&day, WEATHER_RAIN_MM, 0.0);
    full = complete(&day, NULL);
    assert_true(full.rain_mm.value == 0.0);
    assert_int_equal(full.rain_mm.origin, ORIGIN_MEASURED);
}

static void the_least_trusted_origin_is_carried(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    put(&day, WEATHER_RH_MAX_PCT, 90.0, ORIGIN_NEIGHBOUR);
    put(&day, WEATHER_RH_MIN_PCT, 40.0, ORIGIN_MEASURED);
    assert_int_equal(complete(&day, NULL).ea_kpa.origin, ORIGIN_NEIGHBOUR);
    put(&day, WEATHER_TMAX_C, 30.0, ORIGIN_FORECAST);
    struct weather_full full = complete(&day, NULL);
    assert_int_equal(full.ea_kpa.origin, ORIGIN_FORECAST);
    assert_int_equal(full.tmean_c.origin, ORIGIN_FORECAST);
    assert_int_equal(full.tmax_c.origin, ORIGIN_FORECAST);
    assert_int_equal(full.tmin_c.origin, ORIGIN_MEASURED);
    assert_int_equal(full.rs_mj_m2.origin, ORIGIN_ESTIMATED);
    put(&day, WEATHER_SUN_H, 8.0, ORIGIN_FORECAST);
    assert_int_equal(complete(&day, NULL).rs_mj_m2.origin, ORIGIN_FORECAST);
    put(&day, WEATHER_TMIN_C, 16.0, ORIGIN_CLIMATOLOGY);
    assert_int_equal(complete(&day, NULL).tmean_c.origin, ORIGIN_CLIMATOLOGY);
}

static void suspect_values_are_set_aside_and_the_next_rule_stands_in(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    report(&day, WEATHER_RS_MJ_M2, 60.0);
    report(&day, WEATHER_SUN_H, 8.0);
    report(&day, WEATHER_RAIN_MM, -3.0);
    report(&day, WEATHER_WIND_M_S, 3.0);
    struct weather_findings findings;
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &site, &findings), STATUS_OK);
    struct weather_full full = complete(&day, &findings);
    assert_int_equal(full.rs_mj_m2.rule, WEATHER_RULE_RS_SUNSHINE);
    assert_true(isnan(full.rain_mm.value));
    assert_int_equal(full.rain_mm.rule, WEATHER_RULE_SUSPECT_REPLACED);
    assert_int_equal(full.set_aside, 1 << WEATHER_RS_MJ_M2 | 1 << WEATHER_RAIN_MM);
    assert_int_equal(full.wind_2m_m_s.rule, WEATHER_RULE_AS_REPORTED);
}

static void temperatures_cannot_be_done_without(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    day.value[WEATHER_TMIN_C] = NAN;
    assert_int_equal(status_of(&day), STATUS_MISSING);
    day = bare_day();
    day.value[WEATHER_TMAX_C] = NAN;
    assert_int_equal(status_of(&day), STATUS_MISSING);
    day = bare_day();
    report(&day, WEATHER_TMAX_C, 15.9);
    assert_int_equal(status_of(&day), STATUS_ORDER);
    struct weather_findings findings;
    struct weather_full full;
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &site, &findings), STATUS_OK);
    assert_int_equal(weather_complete(&day, &site, &findings, &full), STATUS_ORDER);
    report(&day, WEATHER_TMAX_C, -99.9); /* a fill value */
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &site, &findings), STATUS_OK);
    assert_int_equal(weather_complete(&day, &site, &findings, &full), STATUS_MISSING);
}

/* The ranges that core/weather/weather.h states: their ends are inside, what is next to them is not. */
static void the_ends_of_the_stated_ranges_are_inside(void **state) {
    (void)state;
    static const double low[WEATHER_ELEMENT_COUNT] = {-90.0, -90.0, -90.0, -90.0, -90.0, -90.0, 0.0, 0.0,
                                                      0.0,   0.0,   30.0,  0.0,   0.0,   0.0,   0.0};
    static const double high[WEATHER_ELEMENT_COUNT] = {57.0,  57.0, 57.0,  57.0,  57.0, 57.0, 105.0, 105.0,
                                                       105.0, 20.0, 120.0, 100.0, 60.0, 24.5, 3000.0};
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        struct weather_day day = bare_day();
        report(&day, WEATHER_TMAX_C, 57.0);
        report(&day, WEATHER_TMIN_C, -90.0);
        const double inside[] = {low[i], high[i]};
        const double outside[] = {nextafter(low[i], -INFINITY), nextafter(high[i], INFINITY)};
        for (int end = 0; end < 2; end++) {
            report(&day, (enum weather_element)i, inside[end]);
            assert_int_equal(status_of(&day), STATUS_OK);
            report(&day, (enum weather_element)i, outside[end]);
            assert_int_equal(status_of(&day), STATUS_OUT_OF_RANGE);
        }
    }
}

static void wrong_input_is_refused_by_name(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    report(&day, WEATHER_RAIN_MM, INFINITY);
    assert_int_equal(status_of(&day), STATUS_NOT_FINITE);
    report(&day, WEATHER_RAIN_MM, -0.1);
    assert_int_equal(status_of(&day), STATUS_OUT_OF_RANGE);
    report(&day, WEATHER_RAIN_MM, 3000.1);
    assert_int_equal(status_of(&day), STATUS_OUT_OF_RANGE);
    put(&day, WEATHER_RAIN_MM, 3.0, ORIGIN_COUNT);
    assert_int_equal(status_of(&day), STATUS_OUT_OF_RANGE);
    put(&day, WEATHER_RAIN_MM, 3.0, ORIGIN_MISSING);
    assert_int_equal(status_of(&day), STATUS_ORDER);
    day = bare_day();
    day.date = CALENDAR_NONE;
    assert_int_equal(status_of(&day), STATUS_OUT_OF_RANGE);
    struct weather_site nowhere = weather_site_default(NAN, 0.0);
    struct weather_full full;
    day = bare_day();
    assert_int_equal(weather_complete(&day, &nowhere, NULL, &full), STATUS_NOT_FINITE);
}

static void a_polar_night_has_a_balance_of_radiation(void **state) {
    (void)state;
    struct weather_site north = weather_site_default(78.0, 10.0);
    struct weather_full full;
    struct weather_day day = weather_day_empty(20440); /* 2025-12-18 */
    report(&day, WEATHER_TMAX_C, -8.0);
    report(&day, WEATHER_TMIN_C, -16.0);
    assert_int_equal(weather_complete(&day, &north, NULL, &full), STATUS_OK);
    assert_true(full.ra_mj_m2 == 0.0 && full.daylight_h == 0.0 && full.rs_mj_m2.value == 0.0);
    assert_near(full.rn_mj_m2, -sun_net_long_mj_m2(-8.0, -16.0, full.ea_kpa.value, SUN_CLEARNESS_DARK),
                1e-12);
    report(&day, WEATHER_SUN_H, 0.0);
    assert_int_equal(weather_complete(&day, &north, NULL, &full), STATUS_OK);
    assert_true(full.rs_mj_m2.value == 0.0);
}

static void lowest_humidity_of_the_day_is_at_most_saturation(void **state) {
    (void)state;
    struct weather_day day = bare_day();
    assert_near(complete(&day, NULL).rh_min_pct, 100.0 * air_saturation_kpa(16.0) / air_saturation_kpa(30.0),
                1e-12);
    report(&day, WEATHER_EA_KPA, 19.0);
    assert_near(complete(&day, NULL).rh_min_pct, 100.0, 0.0);
}

static struct weather_day hostile_day(struct hostile *source) {
    static const double low[WEATHER_ELEMENT_COUNT] = {5.0,  -20.0, -10.0, -20.0, 0.0, -5.0, 40.0, 5.0,
                                                      20.0, 0.0,   90.0,  0.0,   0.0, 0.0,  0.0};
    static const double high[WEATHER_ELEMENT_COUNT] = {45.0,  10.0, 35.0,  25.0, 40.0, 25.0, 100.0, 70.0,
                                                       100.0, 4.0,  103.0, 12.0, 30.0, 14.0, 80.0};
    struct weather_day day = weather_day_empty((int32_t)hostile_between(source, 0.0, 30000.0));
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++)
        if (hostile_between(source, 0.0, 1.0) < 0.6) {
            double value = hostile_number(source, low[i], high[i]);
            put(&day, (enum weather_element)i, value,
                (enum weather_origin)(1 + (i * 7 + day.date) % (ORIGIN_COUNT - 1)));
        }
    return day;
}

static bool finite_full(const struct weather_full *full) {
    const double value[] = {full->tmax_c.value,       full->tmin_c.value, full->tmean_c.value,
                            full->pressure_kpa.value, full->ea_kpa.value, full->wind_2m_m_s.value,
                            full->rh_min_pct,         full->ra_mj_m2,     full->rs_mj_m2.value,
                            full->rso_mj_m2,          full->rn_mj_m2,     full->daylight_h};
    bool finite = true;
    for (size_t i = 0; i < sizeof value / sizeof value[0]; i++)
        finite = finite && isfinite(value[i]);
    return finite && (isnan(full->rain_mm.value) || isfinite(full->rain_mm.value));
}

/* What weather_check() lets through is never outside the ranges of weather_complete(), and what that
 * completes always has a reference ET. */
static void whatever_is_reported_is_completed_with_finite_values_or_refused_by_name(void **state) {
    (void)state;
    struct hostile source = hostile_seed(4);
    int good = 0, checked_good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        struct weather_day day = hostile_day(&source);
        struct weather_site at = weather_site_default(hostile_number(&source, -90.0, 90.0),
                                                      hostile_number(&source, -430.0, 6000.0));
        struct weather_full full;
        struct weather_findings findings;
        double et = NAN;
        if (weather_complete(&day, &at, NULL, &full) == STATUS_OK) {
            good++;
            assert_true(finite_full(&full));
        }
        if (weather_check(&day, NULL, NULL, NULL, 0, &at, &findings) != STATUS_OK)
            continue;
        enum status status = weather_complete(&day, &at, &findings, &full);
        assert_true(status == STATUS_OK || status == STATUS_MISSING || status == STATUS_ORDER);
        if (status != STATUS_OK)
            continue;
        checked_good++;
        assert_true(finite_full(&full));
        for (int kind = 0; kind < 3; kind++) {
            assert_int_equal(reference_et_day(&full, &at, (enum reference_kind)kind, NULL, &et), STATUS_OK);
            assert_true(isfinite(et));
        }
    }
    assert_true(good > 100 && checked_good > HOSTILE_ROUNDS / 20);
}

static void a_place_completes_its_days_as_its_site_does_to_the_last_bit(void **state) {
    struct weather_place place;
    (void)state;
    assert_int_equal(weather_place_open(&site, &place), STATUS_OK);
    for (int round = 0; round < 2; round++) /* the second time what the days have in common is at hand */
        for (int32_t date = DATE; date < DATE + 800; date += 5) {
            struct weather_day day = bare_day();
            struct weather_full one, other;
            memset(&one, 0, sizeof one);
            memset(&other, 0, sizeof other);
            day.date = date;
            if (date % 2 == 0)
                report(&day, WEATHER_SUN_H, 4.0);
            if (date % 3 == 0)
                report(&day, WEATHER_PRESSURE_KPA, 97.0);
            assert_int_equal(weather_complete(&day, &site, NULL, &one), STATUS_OK);
            assert_int_equal(weather_complete_at(&day, &place, NULL, &other), STATUS_OK);
            assert_memory_equal(&one, &other, sizeof one);
        }
    struct weather_day empty = weather_day_empty(DATE), dateless = bare_day();
    struct weather_full full;
    dateless.date = CALENDAR_NONE;
    assert_int_equal(weather_complete_at(&empty, &place, NULL, &full), STATUS_MISSING);
    assert_int_equal(weather_complete_at(&dateless, &place, NULL, &full), STATUS_OUT_OF_RANGE);
    struct weather_site nowhere = site;
    nowhere.latitude_deg = NAN;
    assert_int_equal(weather_place_open(&nowhere, &place), STATUS_NOT_FINITE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_place_completes_its_days_as_its_site_does_to_the_last_bit),
        cmocka_unit_test(humidity_is_taken_in_the_order_of_preference),
        cmocka_unit_test(the_highest_humidity_alone_gives_eq_18),
        cmocka_unit_test(a_psychrometer_below_nothing_is_passed_over),
        cmocka_unit_test(an_arid_site_is_drier_than_its_tmin),
        cmocka_unit_test(radiation_is_taken_in_the_order_of_preference),
        cmocka_unit_test(radiation_from_temperature_knows_the_coast_and_the_clear_sky),
        cmocka_unit_test(wind_is_brought_to_two_metres_or_taken_from_the_site),
        cmocka_unit_test(pressure_and_mean_temperature_say_how_they_came_to_be),
        cmocka_unit_test(missing_rain_stays_missing_and_is_never_zero),
        cmocka_unit_test(the_least_trusted_origin_is_carried),
        cmocka_unit_test(suspect_values_are_set_aside_and_the_next_rule_stands_in),
        cmocka_unit_test(temperatures_cannot_be_done_without),
        cmocka_unit_test(the_ends_of_the_stated_ranges_are_inside),
        cmocka_unit_test(wrong_input_is_refused_by_name),
        cmocka_unit_test(a_polar_night_has_a_balance_of_radiation),
        cmocka_unit_test(lowest_humidity_of_the_day_is_at_most_saturation),
        cmocka_unit_test(whatever_is_reported_is_completed_with_finite_values_or_refused_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
