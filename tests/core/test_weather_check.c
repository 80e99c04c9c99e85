/* What weather_check() finds. Limits: core/weather/weather.h, after FAO-56 Annex 5 and the WMO archive (from
 * memory) where they stand beside them, else common practice. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/sun.h"
#include "core/weather/weather.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

#define DATE 20270 /* 2025-07-01 */

/* A day about which nothing is to be said. */
static struct weather_day good_day(void) {
    static const double value[WEATHER_ELEMENT_COUNT] = {30.0, 16.0, 22.5, 14.0, 28.0, 20.0, 90.0, 40.0,
                                                        62.0, 1.6,  97.0, 2.5,  25.0, 11.0, 0.0};
    struct weather_day day = weather_day_empty(DATE);
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        day.value[i] = value[i];
        day.origin[i] = ORIGIN_MEASURED;
    }
    return day;
}

static struct weather_findings check(const struct weather_day *day, const struct weather_day *before,
                                     const struct weather_day *after) {
    struct weather_site site = weather_site_default(40.0, 300.0);
    struct weather_findings findings;
    assert_int_equal(weather_check(day, before, after, NULL, 0, &site, &findings), STATUS_OK);
    return findings;
}

/* Puts one value on a good day and expects this one finding, or none (FINDING_KIND_COUNT). */
static void expect(enum weather_element element, double value, enum weather_finding_kind kind, double limit,
                   bool suspect) {
    struct weather_day day = good_day();
    day.value[element] = value;
    struct weather_findings findings = check(&day, NULL, NULL);
    if (kind == FINDING_KIND_COUNT) {
        assert_int_equal(findings.count, 0);
        return;
    }
    assert_int_equal(findings.count, 1);
    assert_int_equal(findings.finding[0].kind, kind);
    assert_int_equal(findings.finding[0].element, element);
    assert_int_equal(findings.finding[0].suspect, suspect);
    assert_true(findings.finding[0].value == value);
    assert_near(findings.finding[0].limit, limit, 1e-9);
}

static void nothing_is_said_of_a_good_day_or_of_an_empty_one(void **state) {
    (void)state;
    struct weather_day day = good_day(), empty = weather_day_empty(DATE);
    assert_int_equal(check(&day, &day, &day).count, 0);
    assert_int_equal(check(&empty, NULL, NULL).count, 0);
    assert_int_equal(check(&empty, &empty, &empty).count, 0);
    assert_int_equal(check(&day, &empty, &day).count, 0);
    assert_int_equal(check(&day, &day, &empty).count, 0);
    assert_int_equal(check(&day, &day, NULL).count, 0);
}

static void single_values_are_found_just_past_their_limits(void **state) {
    (void)state;
    const enum weather_finding_kind none = FINDING_KIND_COUNT;
    expect(WEATHER_TMEAN_C, 30.5, none, 0.0, false);
    expect(WEATHER_TMEAN_C, 15.5, none, 0.0, false);
    expect(WEATHER_TDEW_C, 19.0, none, 0.0, false);
    expect(WEATHER_TWET_C, 28.0, none, 0.0, false);
    expect(WEATHER_EA_KPA, 0.0, none, 0.0, false);
    expect(WEATHER_RH_MEAN_PCT, 0.0, none, 0.0, false);
    expect(WEATHER_RH_MEAN_PCT, -0.001, FINDING_RH_OUT_OF_BOUNDS, 0.0, true);
    expect(WEATHER_RH_MAX_PCT, 100.0, none, 0.0, false);
    expect(WEATHER_RH_MAX_PCT, 100.001, FINDING_RH_OUT_OF_BOUNDS, 100.0, false);
    expect(WEATHER_RH_MAX_PCT, 105.0, FINDING_RH_OUT_OF_BOUNDS, 100.0, false);
    expect(WEATHER_RH_MAX_PCT, 40.0, none, 0.0, false);
    expect(WEATHER_WIND_M_S, 40.0, none, 0.0, false);
    expect(WEATHER_SUN_H, 0.0, none, 0.0, false);
    expect(WEATHER_TMEAN_C, 30.4, none, 0.0, false);
    expect(WEATHER_TMEAN_C, 30.6, FINDING_TMEAN_OUTSIDE_RANGE, 30.0, true);
    expect(WEATHER_TMEAN_C, 15.4, FINDING_TMEAN_OUTSIDE_RANGE, 16.0, true);
    expect(WEATHER_TMEAN_C, 58.0, FINDING_TEMPERATURE_IMPLAUSIBLE, 57.0, true);
    expect(WEATHER_TMAX_C, INFINITY, FINDING_TEMPERATURE_IMPLAUSIBLE, 57.0, true);
    expect(WEATHER_TMIN_C, -99.9, FINDING_TEMPERATURE_IMPLAUSIBLE, -90.0, true);
    expect(WEATHER_TDEW_C, 18.9, none, 0.0, false);
    expect(WEATHER_TDEW_C, 19.1, FINDING_DEWPOINT_ABOVE_TMIN, 16.0, false);
    expect(WEATHER_TDEW_C, 30.1, FINDING_EA_ABOVE_SATURATION, 30.0, true);
    expect(WEATHER_TWET_C, 28.1, FINDING_EA_ABOVE_SATURATION, 28.0, true);
    expect(WEATHER_TWET_C, 1.0, FINDING_RH_OUT_OF_BOUNDS, 28.0, true);
    expect(WEATHER_EA_KPA, 4.2, none, 0.0, false); /* e0(30) is 4.243 kPa, FAO-56 Table 2.3 */
    expect(WEATHER_EA_KPA, 4.3, FINDING_EA_ABOVE_SATURATION, air_saturation_kpa(30.0), true);
    expect(WEATHER_EA_KPA, -0.1, FINDING_RH_OUT_OF_BOUNDS, 0.0, true);
    expect(WEATHER_RH_MAX_PCT, 103.0, FINDING_RH_OUT_OF_BOUNDS, 100.0, false);
    expect(WEATHER_RH_MAX_PCT, 105.1, FINDING_RH_OUT_OF_BOUNDS, 100.0, true);
    expect(WEATHER_RH_MEAN_PCT, -1.0, FINDING_RH_OUT_OF_BOUNDS, 0.0, true);
    expect(WEATHER_WIND_M_S, 40.1, FINDING_WIND_IMPLAUSIBLE, 40.0, true);
    expect(WEATHER_WIND_M_S, -0.1, FINDING_WIND_IMPLAUSIBLE, 0.0, true);
    expect(WEATHER_WIND_M_S, 0.04, FINDING_WIND_STUCK, 0.05, true);
    expect(WEATHER_WIND_M_S, 0.0, FINDING_WIND_STUCK, 0.05, true);
    expect(WEATHER_WIND_M_S, 0.05, none, 0.0, false);
    expect(WEATHER_RAIN_MM, 1900.0, none, 0.0, false);
    expect(WEATHER_RAIN_MM, 1901.0, FINDING_RAIN_IMPLAUSIBLE, 1900.0, true);
    expect(WEATHER_RAIN_MM, -0.1, FINDING_RAIN_IMPLAUSIBLE, 0.0, true);
    expect(WEATHER_PRESSURE_KPA, 90.0, none, 0.0, false);
    expect(WEATHER_PRESSURE_KPA, 110.0, FINDING_PRESSURE_IMPLAUSIBLE, air_pressure_kpa(300.0), true);
    expect(WEATHER_PRESSURE_KPA, 80.0, FINDING_PRESSURE_IMPLAUSIBLE, air_pressure_kpa(300.0), true);
}

static void radiation_is_held_against_the_clear_sky_and_the_top_of_the_air(void **state) {
    (void)state;
    struct sun_day sun;
    assert_int_equal(sun_of_day(40.0, calendar_day_of_year(DATE), &sun), STATUS_OK);
    double rso = sun_clear_sky_mj_m2(sun.ra_mj_m2, 300.0);
    expect(WEATHER_RS_MJ_M2, rso, FINDING_KIND_COUNT, 0.0, false);
    expect(WEATHER_RS_MJ_M2, 1.10 * rso + 0.2, FINDING_RS_ABOVE_CLEAR_SKY, rso, false);
    expect(WEATHER_RS_MJ_M2, sun.ra_mj_m2 + 0.2, FINDING_RS_ABOVE_TOP_OF_AIR, sun.ra_mj_m2, true);
    expect(WEATHER_RS_MJ_M2, 0.031 * sun.ra_mj_m2, FINDING_KIND_COUNT, 0.0, false);
    expect(WEATHER_RS_MJ_M2, 0.029 * sun.ra_mj_m2, FINDING_RS_TOO_LOW, 0.03 * sun.ra_mj_m2, true);
    expect(WEATHER_RS_MJ_M2, -0.1, FINDING_RS_TOO_LOW, 0.03 * sun.ra_mj_m2, true);
    expect(WEATHER_SUN_H, sun.daylight_h + 0.4, FINDING_KIND_COUNT, 0.0, false);
    expect(WEATHER_SUN_H, sun.daylight_h + 0.6, FINDING_SUN_LONGER_THAN_DAY, sun.daylight_h, true);
    expect(WEATHER_SUN_H, -0.1, FINDING_SUN_LONGER_THAN_DAY, 0.0, true);
}

static void no_radiation_is_right_in_the_polar_night(void **state) {
    (void)state;
    struct weather_site north = weather_site_default(80.0, 10.0);
    struct weather_day day = weather_day_empty(20440); /* 2025-12-18 */
    struct weather_findings findings;
    day.value[WEATHER_RS_MJ_M2] = 0.0;
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &north, &findings), STATUS_OK);
    assert_int_equal(findings.count, 0);
    day.value[WEATHER_RS_MJ_M2] = -0.01;
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &north, &findings), STATUS_OK);
    assert_int_equal(findings.finding[0].kind, FINDING_RS_TOO_LOW);
}

static void contradictions_are_found(void **state) {
    (void)state;
    struct weather_day day = weather_day_empty(DATE);
    day.value[WEATHER_TMAX_C] = 10.0;
    day.value[WEATHER_TMIN_C] = 12.0;
    struct weather_findings findings = check(&day, NULL, NULL);
    assert_int_equal(findings.count, 1);
    assert_int_equal(findings.finding[0].kind, FINDING_TMAX_BELOW_TMIN);
    assert_near(findings.finding[0].limit, 12.0, 0.0);

    day.value[WEATHER_TMAX_C] = 12.0;
    assert_int_equal(check(&day, NULL, NULL).count, 0);

    day = good_day();
    day.value[WEATHER_RH_MAX_PCT] = 30.0;
    findings = check(&day, NULL, NULL);
    assert_int_equal(findings.count, 2);
    assert_int_equal(findings.finding[0].kind, FINDING_RH_ORDER);
    assert_int_equal(findings.finding[0].element, WEATHER_RH_MAX_PCT);
    assert_int_equal(findings.finding[1].element, WEATHER_RH_MIN_PCT);
    assert_true(findings.finding[0].suspect && findings.finding[1].suspect);
}

static void vapour_is_held_against_the_hottest_air_when_tmax_is_missing(void **state) {
    (void)state;
    struct weather_day day = weather_day_empty(DATE);
    day.value[WEATHER_TMAX_C] = 57.0; /* the ends of the range are plausible */
    day.value[WEATHER_TMIN_C] = -90.0;
    assert_int_equal(check(&day, NULL, NULL).count, 0);
    day = weather_day_empty(DATE);
    day.value[WEATHER_EA_KPA] = 17.0; /* e0(57) is 17.3 kPa, eq. 11 */
    assert_int_equal(check(&day, NULL, NULL).count, 0);
    day.value[WEATHER_EA_KPA] = 18.0;
    assert_int_equal(check(&day, NULL, NULL).finding[0].kind, FINDING_EA_ABOVE_SATURATION);
}

static void a_temperature_far_from_both_neighbours_is_a_spike(void **state) {
    (void)state;
    struct weather_day day = good_day(), before = good_day(), after = good_day();
    before.value[WEATHER_TMAX_C] = 12.0;
    assert_int_equal(check(&day, &before, &after).count, 0); /* a front came through */
    after.value[WEATHER_TMAX_C] = 15.0;
    assert_int_equal(check(&day, &before, &after).count, 0);
    after.value[WEATHER_TMAX_C] = 14.0;
    struct weather_findings findings = check(&day, &before, &after);
    assert_int_equal(findings.count, 1);
    assert_int_equal(findings.finding[0].kind, FINDING_TEMPERATURE_SPIKE);
    assert_near(findings.finding[0].limit, 14.0, 0.0);
    assert_false(findings.finding[0].suspect);
    before.value[WEATHER_TMAX_C] = 45.0;
    after.value[WEATHER_TMAX_C] = 47.0;
    assert_int_equal(check(&day, &before, &after).count, 0);
    before.value[WEATHER_TMAX_C] = 45.5;
    after.value[WEATHER_TMAX_C] = 47.0;
    findings = check(&day, &before, &after);
    assert_int_equal(findings.finding[0].kind, FINDING_TEMPERATURE_SPIKE);
    assert_near(findings.finding[0].limit, 45.5, 0.0);
    before.value[WEATHER_TMAX_C] = -99.9; /* a fill value is no neighbour */
    assert_int_equal(check(&day, &before, &after).count, 0);
    before.value[WEATHER_TMAX_C] = 12.0;
    after.value[WEATHER_TMAX_C] = -99.9;
    assert_int_equal(check(&day, &before, &after).count, 0);
}

static struct weather_findings check_run(const struct weather_day *days, int count) {
    struct weather_site site = weather_site_default(40.0, 300.0);
    struct weather_findings findings;
    assert_int_equal(weather_check(&days[count - 1], NULL, NULL, days, count, &site, &findings), STATUS_OK);
    return findings;
}

static void a_value_that_stays_for_five_days_is_found(void **state) {
    (void)state;
    struct weather_day days[6];
    for (int i = 0; i < 6; i++) {
        days[i] = good_day();
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++)
            if (e != WEATHER_WIND_M_S)
                days[i].value[e] += 0.01 * i;
        days[i].value[WEATHER_SUN_H] = 11.0;
        days[i].value[WEATHER_RAIN_MM] = 2.0;
        days[i].value[WEATHER_RH_MAX_PCT] = 100.0;
    }
    struct weather_findings findings = check_run(days, 6);
    assert_int_equal(findings.count, 1);
    assert_int_equal(findings.finding[0].kind, FINDING_REPEATED_VALUE);
    assert_int_equal(findings.finding[0].element, WEATHER_WIND_M_S);
    assert_false(findings.finding[0].suspect);
    assert_int_equal(check_run(days, 4).count, 0);
    struct weather_site site = weather_site_default(40.0, 300.0);
    assert_int_equal(weather_check(&days[5], NULL, NULL, NULL, 6, &site, &findings), STATUS_OK);
    assert_int_equal(findings.count, 0); /* without the days there is nothing to compare */
    days[2].value[WEATHER_WIND_M_S] = 2.6;
    assert_int_equal(check_run(days, 6).count, 0);
    days[2].value[WEATHER_WIND_M_S] = NAN;
    assert_int_equal(check_run(days, 6).count, 0);
    for (int i = 0; i < 6; i++)
        days[i].value[WEATHER_RH_MAX_PCT] = 99.0;
    assert_int_equal(check_run(days, 6).finding[0].element, WEATHER_RH_MAX_PCT);
}

/* Every element wrong, far from both neighbours and the same for days. */
static void more_findings_than_there_is_room_for_are_said_to_be_too_many(void **state) {
    (void)state;
    static const double bad[WEATHER_ELEMENT_COUNT] = {20.0,  21.0, 22.0, 25.0,  20.0, 21.0, 103.0, 104.0,
                                                      104.5, 5.0,  10.0, 500.0, 99.0, 99.0, -1.0};
    struct weather_day days[5], before = weather_day_empty(DATE - 1), after = weather_day_empty(DATE + 1);
    for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
        for (int i = 0; i < 5; i++) {
            days[i].date = DATE;
            days[i].value[e] = bad[e];
        }
        before.value[e] = after.value[e] = -40.0;
    }
    struct weather_site site = weather_site_default(40.0, 300.0);
    struct weather_findings findings;
    assert_int_equal(weather_check(&days[4], &before, &after, days, 5, &site, &findings), STATUS_NO_ROOM);
    assert_int_equal(findings.count, WEATHER_FINDINGS_MAX);
}

static void an_impossible_place_or_date_finds_nothing(void **state) {
    (void)state;
    struct weather_site site = weather_site_default(40.0, 300.0);
    struct weather_day day = good_day();
    struct weather_findings findings = {.count = 5};
    day.date = CALENDAR_NONE;
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &site, &findings), STATUS_OUT_OF_RANGE);
    assert_int_equal(findings.count, 0);
    site.latitude_deg = NAN;
    assert_int_equal(weather_check(&day, NULL, NULL, NULL, 0, &site, &findings), STATUS_NOT_FINITE);
}

static void the_day_is_never_changed_and_findings_are_finite(void **state) {
    (void)state;
    struct hostile source = hostile_seed(5);
    struct weather_site site = weather_site_default(40.0, 300.0);
    struct weather_day days[7];
    for (int i = 0; i < 7; i++)
        days[i] = good_day();
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        struct weather_day *day = &days[i % 7];
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++)
            day->value[e] = hostile_number(&source, -10.0, 60.0);
        struct weather_day kept = *day;
        struct weather_findings findings;
        enum status status =
            weather_check(day, &days[(i + 6) % 7], &days[(i + 1) % 7], days, i % 7 + 1, &site, &findings);
        assert_true(status == STATUS_OK || status == STATUS_NO_ROOM);
        assert_memory_equal(day, &kept, sizeof kept);
        for (int f = 0; f < findings.count; f++)
            assert_true(!isnan(findings.finding[f].value) && !isnan(findings.finding[f].limit));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_said_of_a_good_day_or_of_an_empty_one),
        cmocka_unit_test(single_values_are_found_just_past_their_limits),
        cmocka_unit_test(radiation_is_held_against_the_clear_sky_and_the_top_of_the_air),
        cmocka_unit_test(no_radiation_is_right_in_the_polar_night),
        cmocka_unit_test(contradictions_are_found),
        cmocka_unit_test(vapour_is_held_against_the_hottest_air_when_tmax_is_missing),
        cmocka_unit_test(a_temperature_far_from_both_neighbours_is_a_spike),
        cmocka_unit_test(a_value_that_stays_for_five_days_is_found),
        cmocka_unit_test(more_findings_than_there_is_room_for_are_said_to_be_too_many),
        cmocka_unit_test(an_impossible_place_or_date_finds_nothing),
        cmocka_unit_test(the_day_is_never_changed_and_findings_are_finite),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
