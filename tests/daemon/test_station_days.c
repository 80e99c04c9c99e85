/* What fills a gap, in which order, and what never does. The order is that of the headers: neighbours, the
 * forecast, FAO-56's rules, the station's own past. Common practice, no source, but for the rules themselves.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/station_transfer.h"
#include "daemon/morning/station_days.h"
#include "support/near.h"

#define TODAY 20600 /* 2026-05-27 */
#define FIRST (TODAY - 10)
#define LAST  (TODAY + 5)

static struct farm_station yard, ridge, hill;
static struct weather_days observed, forecast, on_ridge, on_hill;
static struct station_days built;

static void put(struct weather_days *days, int32_t date, enum weather_element element, double value,
                enum weather_origin origin) {
    enum status status;
    struct weather_day *day = weather_days_at(days, date, &status);
    assert_non_null(day);
    day->value[element] = value;
    day->origin[element] = (uint8_t)origin;
}

/* A day with all that a good station has; `tmax` tells the days of different files apart. */
static void put_day(struct weather_days *days, int32_t date, double tmax, enum weather_origin origin) {
    put(days, date, WEATHER_TMAX_C, tmax, origin);
    put(days, date, WEATHER_TMIN_C, tmax - 14.0, origin);
    put(days, date, WEATHER_RH_MAX_PCT, 85.0, origin);
    put(days, date, WEATHER_RH_MIN_PCT, 40.0, origin);
    put(days, date, WEATHER_WIND_M_S, 2.5, origin);
    put(days, date, WEATHER_RS_MJ_M2, 22.0, origin);
    put(days, date, WEATHER_RAIN_MM, tmax / 10.0, origin);
}

static void lose(struct weather_days *days, int32_t date, enum weather_element element) {
    struct weather_day *day = weather_days_find(days, date);
    day->value[element] = (double)NAN;
    day->origin[element] = ORIGIN_MISSING;
}

static void lose_day(struct weather_days *days, int32_t date) {
    for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++)
        lose(days, date, (enum weather_element)e);
}

static int start(void **state) {
    (void)state;
    yard = ridge = hill = (struct farm_station){.lapse_c_km = STATION_LAPSE_C_KM, .longitude_deg = -98.0};
    yard.site = weather_site_default(38.0, 500.0);
    ridge.site = weather_site_default(38.0, 1500.0);
    hill.site = weather_site_default(38.0, 700.0);
    weather_days_init(&observed);
    weather_days_init(&forecast);
    weather_days_init(&on_ridge);
    weather_days_init(&on_hill);
    for (int32_t date = FIRST; date < TODAY; date++) {
        put_day(&observed, date, 30.0, ORIGIN_MEASURED);
        put_day(&on_ridge, date, 20.0, ORIGIN_MEASURED);
        put_day(&on_hill, date, 26.0, ORIGIN_MEASURED);
    }
    for (int32_t date = TODAY - 3; date <= LAST; date++)
        put_day(&forecast, date, 33.0, ORIGIN_FORECAST);
    return 0;
}

static int stop(void **state) {
    (void)state;
    weather_days_free(&observed);
    weather_days_free(&forecast);
    weather_days_free(&on_ridge);
    weather_days_free(&on_hill);
    station_days_free(&built);
    return 0;
}

/* Builds with that many of the two neighbours, the ridge first; returns a day. */
static const struct station_day *build(int neighbours, int32_t date) {
    const struct station_input input = {.station = &yard,
                                        .observed = &observed,
                                        .forecast = &forecast,
                                        .neighbour = {{&ridge, &on_ridge}, {&hill, &on_hill}},
                                        .neighbour_count = neighbours};
    station_days_free(&built);
    assert_int_equal(station_days_build(&input, FIRST, TODAY, LAST, &built), STATUS_OK);
    return station_days_at(&built, date);
}

static void what_the_station_measured_goes_before_all(void **state) {
    (void)state;
    const struct station_day *day = build(2, TODAY - 2);
    assert_near(day->full.tmax_c.value, 30.0, 0.0);
    assert_int_equal(day->full.tmax_c.origin, ORIGIN_MEASURED);
    assert_int_equal(built.observed_until, TODAY - 1);
    /* From today on there is the forecast alone. */
    day = build(2, TODAY);
    assert_near(day->full.tmax_c.value, 33.0, 0.0);
    assert_int_equal(day->full.rain_mm.origin, ORIGIN_FORECAST);
}

static void the_first_neighbour_fills_a_gap_at_the_stations_elevation(void **state) {
    (void)state;
    lose_day(&observed, TODAY - 2);
    const struct station_day *day = build(2, TODAY - 2);
    /* 1000 m lower, 6.5 degC warmer: ICAO standard atmosphere. */
    assert_near(day->full.tmax_c.value, 26.5, 1e-9);
    assert_near(day->full.rain_mm.value, 2.0, 0.0);
    assert_int_equal(day->full.tmax_c.origin, ORIGIN_NEIGHBOUR);
    assert_int_equal(day->full.rs_mj_m2.origin, ORIGIN_NEIGHBOUR);
    assert_int_equal(day->full.ea_kpa.origin, ORIGIN_NEIGHBOUR);
    assert_int_equal(built.observed_until, TODAY - 1);
    yard.lapse_c_km = 10.0;
    assert_near(build(2, TODAY - 2)->full.tmax_c.value, 30.0, 1e-9);
}

static void each_variable_goes_down_the_list_on_its_own(void **state) {
    (void)state;
    lose_day(&observed, TODAY - 2);
    lose(&on_ridge, TODAY - 2, WEATHER_RAIN_MM);
    lose(&on_ridge, TODAY - 2, WEATHER_RS_MJ_M2);
    lose(&on_hill, TODAY - 2, WEATHER_RS_MJ_M2);
    const struct station_day *day = build(2, TODAY - 2);
    assert_near(day->full.tmax_c.value, 26.5, 1e-9); /* the ridge */
    assert_near(day->full.rain_mm.value, 2.6, 0.0);  /* the hill */
    assert_int_equal(day->full.rs_mj_m2.origin, ORIGIN_FORECAST);
}

static void without_neighbours_the_forecast_fills_the_gap(void **state) {
    (void)state;
    lose_day(&observed, TODAY - 1);
    const struct station_day *day = build(0, TODAY - 1);
    assert_near(day->full.tmax_c.value, 33.0, 0.0);
    assert_int_equal(day->full.tmax_c.origin, ORIGIN_FORECAST);
    assert_int_equal(built.observed_until, TODAY - 2);
}

static void a_group_comes_from_one_place_only(void **state) {
    (void)state;
    lose(&observed, TODAY - 2, WEATHER_TMIN_C);
    const struct station_day *day = build(1, TODAY - 2);
    assert_near(day->full.tmax_c.value, 26.5, 1e-9);
    assert_near(day->full.tmin_c.value, 12.5, 1e-9);
    assert_int_equal(day->full.ea_kpa.origin, ORIGIN_NEIGHBOUR);
    assert_int_equal(day->full.rain_mm.origin, ORIGIN_MEASURED);
}

static void a_suspect_value_is_a_gap(void **state) {
    (void)state;
    put(&observed, TODAY - 2, WEATHER_RAIN_MM, -5.0, ORIGIN_MEASURED);
    put(&observed, TODAY - 4, WEATHER_TMAX_C, 99.0, ORIGIN_MEASURED);
    const struct station_day *day = build(1, TODAY - 2);
    assert_near(day->full.rain_mm.value, 2.0, 0.0);
    assert_int_equal(day->suspect, 1);
    day = build(1, TODAY - 4);
    assert_near(day->full.tmax_c.value, 26.5, 1e-9);
    /* With nothing else, it is no rain and says that it was not believed. */
    put(&observed, TODAY - 5, WEATHER_RAIN_MM, -5.0, ORIGIN_MEASURED);
    day = build(0, TODAY - 5);
    assert_true(isnan(day->full.rain_mm.value));
    assert_int_equal(day->full.rain_mm.rule, WEATHER_RULE_SUSPECT_REPLACED);
}

static void the_rules_stand_in_where_nothing_was_told(void **state) {
    (void)state;
    lose(&observed, TODAY - 5, WEATHER_RH_MAX_PCT);
    lose(&observed, TODAY - 5, WEATHER_RH_MIN_PCT);
    lose(&observed, TODAY - 5, WEATHER_WIND_M_S);
    const struct station_day *day = build(0, TODAY - 5);
    assert_int_equal(day->full.ea_kpa.rule, WEATHER_RULE_EA_TMIN);
    assert_int_equal(day->full.wind_2m_m_s.rule, WEATHER_RULE_WIND_DEFAULT);
    assert_int_equal(day->full.tmax_c.origin, ORIGIN_MEASURED);
}

static void the_newest_days_stand_in_for_temperatures_and_rain_stays_missing(void **state) {
    (void)state;
    for (int32_t date = FIRST; date < TODAY - 5; date++)
        put_day(&observed, date, 20.0 + (date - FIRST), ORIGIN_MEASURED);
    lose_day(&observed, TODAY - 5);
    lose(&observed, TODAY - 4, WEATHER_TMAX_C);
    const struct station_day *day = build(0, TODAY - 5);
    /* Five days before it, of 20..24 degC. */
    assert_near(day->full.tmax_c.value, 22.0, 1e-9);
    assert_int_equal(day->full.tmax_c.origin, ORIGIN_CLIMATOLOGY);
    assert_int_equal(day->full.rs_mj_m2.origin, ORIGIN_CLIMATOLOGY);
    assert_true(isnan(day->full.rain_mm.value));
    assert_int_equal(day->full.rain_mm.origin, ORIGIN_MISSING);
    /* What was measured of a day whose temperatures are made up stays. */
    day = station_days_at(&built, TODAY - 4);
    assert_int_equal(day->full.tmax_c.origin, ORIGIN_CLIMATOLOGY);
    assert_int_equal(day->full.rs_mj_m2.origin, ORIGIN_MEASURED);
    assert_near(day->full.rain_mm.value, 3.0, 0.0);
}

static void past_years_go_before_the_newest_days(void **state) {
    (void)state;
    for (int year = 1; year <= 6; year++) {
        for (int k = -20; k <= 20; k++)
            put_day(&observed, TODAY - 5 - (int32_t)(year * 365.25) + k, 18.0, ORIGIN_MEASURED);
    }
    lose_day(&observed, TODAY - 5);
    const struct station_day *day = build(0, TODAY - 5);
    assert_near(day->full.tmax_c.value, 18.0, 1e-9);
    assert_near(day->full.wind_2m_m_s.value, 2.5, 1e-9);
    assert_true(isnan(day->full.rain_mm.value));
}

static void a_day_depends_on_nothing_later_than_itself(void **state) {
    (void)state;
    lose_day(&observed, TODAY - 7);
    struct station_day before = *build(1, TODAY - 7), made_up;
    lose_day(&on_ridge, TODAY - 7);
    made_up = *build(1, TODAY - 7);
    for (int32_t date = TODAY - 6; date < TODAY; date++)
        put_day(&observed, date, 12.0, ORIGIN_MEASURED);
    assert_memory_equal(build(1, TODAY - 7)->et0_mm, made_up.et0_mm, sizeof made_up.et0_mm);
    put_day(&on_ridge, TODAY - 7, 20.0, ORIGIN_MEASURED);
    assert_memory_equal(build(1, TODAY - 7)->et0_mm, before.et0_mm, sizeof before.et0_mm);
}

static void a_station_of_which_nothing_is_known_has_empty_days(void **state) {
    (void)state;
    weather_days_free(&observed);
    weather_days_free(&forecast);
    const struct station_day *day = build(0, TODAY - 3);
    assert_int_equal(day->full.date, TODAY - 3);
    assert_true(isnan(day->full.tmax_c.value) && isnan(day->et0_mm[0]) && isnan(day->full.rain_mm.value));
    assert_int_equal(built.observed_until, CALENDAR_NONE);
    assert_null(station_days_at(&built, LAST + 1));
}

#define DAYS_TEST(test) cmocka_unit_test_setup_teardown(test, start, stop)

static void put_hours(int32_t date) {
    struct weather_hours hours = {.date = date, .start_utc_h = 6.0};
    for (int h = 0; h < REFERENCE_HOURS; h++)
        hours.hour[h] = (struct weather_hour){23.0, 1.6, 2.5, h > 5 && h < 20 ? 22.0 / 14 : 0.0};
    assert_int_equal(weather_days_put_hours(&observed, &hours), STATUS_OK);
}

static void et0_is_summed_from_hours_that_are_the_stations_own(void **state) {
    (void)state;
    put_hours(TODAY - 3);
    put_hours(TODAY - 2);
    double of_day = build(0, TODAY - 4)->et0_mm[REFERENCE_FAO56_GRASS];
    const struct station_day *day = build(0, TODAY - 2);
    assert_int_equal(day->hours, 0); /* the station was not told to */
    yard.hourly_et0 = true;
    day = build(0, TODAY - 2);
    assert_int_equal(day->hours, 2);
    assert_true(fabs(day->et0_mm[REFERENCE_FAO56_GRASS] - of_day) > 0.01);
    assert_int_equal(build(0, TODAY - 4)->hours, 0);
    /* The day before had hours: the night takes its evening's Rs/Rso. The first of them takes its own day's.
     */
    struct reference_hours_sum sum;
    const struct station_hours *hours = &built.hours[1];
    assert_int_equal(reference_et_hours_summed(&hours->hours, &hours->place, calendar_day_of_year(TODAY - 2),
                                               hours->clearness_before, REFERENCE_FAO56_GRASS, &sum),
                     STATUS_OK);
    assert_near(build(0, TODAY - 2)->et0_mm[REFERENCE_FAO56_GRASS], sum.et_mm, 0.0);
    hours = &built.hours[1];
    assert_near(
        hours->clearness_before,
        reference_evening_clearness(&built.hours[0].hours, &hours->place, calendar_day_of_year(TODAY - 3)),
        0.0);
    const struct station_day *first = station_days_at(&built, TODAY - 3);
    assert_near(built.hours[0].clearness_before, sun_clearness(22.0, first->full.rso_mj_m2), 1e-12);
}

static void et0_is_of_the_day_where_a_part_of_it_is_not_the_stations_own(void **state) {
    (void)state;
    put_hours(TODAY - 2);
    yard.hourly_et0 = true;
    double longitude_deg = yard.longitude_deg;
    yard.longitude_deg = (double)NAN;
    assert_int_equal(build(0, TODAY - 2)->hours, 0);
    yard.longitude_deg = longitude_deg;
    assert_int_equal(build(0, TODAY - 2)->hours, 1);
    lose(&observed, TODAY - 2, WEATHER_RAIN_MM); /* of no matter to it */
    assert_int_equal(build(0, TODAY - 2)->hours, 1);
    put(&observed, TODAY - 2, WEATHER_WIND_M_S, 60.0, ORIGIN_MEASURED); /* suspect */
    assert_int_equal(build(0, TODAY - 2)->hours, 0);
    lose(&observed, TODAY - 2, WEATHER_WIND_M_S);
    assert_int_equal(build(2, TODAY - 2)->hours, 0);
    put(&observed, TODAY - 2, WEATHER_WIND_M_S, 2.5, ORIGIN_MEASURED);
    weather_days_hours(&observed, TODAY - 2)->hour[4].ea_kpa = (double)NAN;
    assert_int_equal(build(0, TODAY - 2)->hours, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        DAYS_TEST(what_the_station_measured_goes_before_all),
        DAYS_TEST(the_first_neighbour_fills_a_gap_at_the_stations_elevation),
        DAYS_TEST(each_variable_goes_down_the_list_on_its_own),
        DAYS_TEST(without_neighbours_the_forecast_fills_the_gap),
        DAYS_TEST(a_group_comes_from_one_place_only),
        DAYS_TEST(a_suspect_value_is_a_gap),
        DAYS_TEST(the_rules_stand_in_where_nothing_was_told),
        DAYS_TEST(et0_is_summed_from_hours_that_are_the_stations_own),
        DAYS_TEST(et0_is_of_the_day_where_a_part_of_it_is_not_the_stations_own),
        DAYS_TEST(the_newest_days_stand_in_for_temperatures_and_rain_stays_missing),
        DAYS_TEST(past_years_go_before_the_newest_days),
        DAYS_TEST(a_day_depends_on_nothing_later_than_itself),
        DAYS_TEST(a_station_of_which_nothing_is_known_has_empty_days),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
