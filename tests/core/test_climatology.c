/* What is usual at a station. The weights and the least number of years are the project's own: common
 * practice, no source; the means are checked against sums done here. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/climatology.h"
#include "support/near.h"

#define YEARS_MAX 12
#define DAYS_MAX  (YEARS_MAX * 366)

static struct weather_day days[DAYS_MAX];
static struct weather_site site;

static int32_t date_of(int year, int month, int day) {
    int32_t date = CALENDAR_NONE;
    assert_int_equal(calendar_from_civil(year, month, day, &date), STATUS_OK);
    return date;
}

static void put(struct weather_day *day, enum weather_element element, double value) {
    day->value[element] = value;
    day->origin[element] = ORIGIN_MEASURED;
}

/* Whole years of days: tmax is 20 degC and the year's last digit, and a slope over the year. */
static size_t make_years(int first, int last, double slope_c_day) {
    size_t count = 0;
    for (int32_t date = date_of(first, 1, 1); date <= date_of(last, 12, 31); date++) {
        struct weather_day *day = &days[count++];
        int year = calendar_to_civil(date).year;
        *day = weather_day_empty(date);
        put(day, WEATHER_TMAX_C, 20.0 + year % 10 + slope_c_day * (date - date_of(year, 7, 1)));
        put(day, WEATHER_TMIN_C, 8.0 + slope_c_day * (date - date_of(year, 7, 1)));
        put(day, WEATHER_RAIN_MM, 3.0);
    }
    return count;
}

static int prepare(void **state) {
    (void)state;
    site = weather_site_default(38.0, 200.0);
    return 0;
}

static void the_mean_is_that_of_the_same_season_of_all_past_years(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2011, 2016, 0.05);
    assert_int_equal(climatology_of(days, count, &site, date_of(2017, 7, 1), &out), STATUS_OK);
    /* Years end in 1..6: the mean is 3.5 above 20; the slope cancels in a window that is the same on both
     * sides. */
    assert_near(out.mean[CLIMATOLOGY_TMAX_C], 23.5, 1e-9);
    assert_near(out.mean[CLIMATOLOGY_TMIN_C], 8.0, 1e-9);
    assert_int_equal(out.years[CLIMATOLOGY_TMAX_C], 6);
}

static void days_nearer_to_the_day_of_the_year_weigh_more(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2011, 2015, 0.0);
    /* In one year, 2013, only the second half of the window is there, 1 degC a day warmer with each day. */
    int32_t centre = date_of(2013, 7, 1);
    double sum = 0.0, weights = 0.0;
    for (size_t i = 0; i < count; i++) {
        int32_t away = days[i].date - date_of(calendar_to_civil(days[i].date).year, 7, 1);
        double weight = 1.0 - fabs((double)away) / CLIMATOLOGY_REACH_D;
        if (days[i].date > centre - CLIMATOLOGY_REACH_D && days[i].date < centre + CLIMATOLOGY_REACH_D)
            days[i].value[WEATHER_TMAX_C] = away >= 0 ? 23.0 + away : (double)NAN;
        if (weight <= 0.0 || isnan(days[i].value[WEATHER_TMAX_C]))
            continue;
        sum += weight * days[i].value[WEATHER_TMAX_C];
        weights += weight;
    }
    assert_int_equal(climatology_of(days, count, &site, date_of(2016, 7, 1), &out), STATUS_OK);
    assert_near(out.mean[CLIMATOLOGY_TMAX_C], sum / weights, 1e-9);
}

static void fewer_than_five_years_tell_nothing(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2013, 2016, 0.0);
    assert_int_equal(climatology_of(days, count, &site, date_of(2017, 7, 1), &out), STATUS_OK);
    assert_true(isnan(out.mean[CLIMATOLOGY_TMAX_C]));
    assert_int_equal(out.years[CLIMATOLOGY_TMAX_C], 4);
}

/* Bit for bit, but for what stands between the members. */
static void same_bits(const struct climatology *a, const struct climatology *b) {
    assert_memory_equal(a->mean, b->mean, sizeof a->mean);
    assert_memory_equal(a->years, b->years, sizeof a->years);
}

static void later_days_and_this_years_own_change_nothing(void **state) {
    (void)state;
    struct climatology before, after;
    size_t count = make_years(2010, 2019, 0.0);
    size_t known = (size_t)(date_of(2017, 1, 1) - date_of(2010, 1, 1));
    assert_int_equal(climatology_of(days, known, &site, date_of(2017, 7, 1), &before), STATUS_OK);
    assert_int_equal(climatology_of(days, count, &site, date_of(2017, 7, 1), &after), STATUS_OK);
    same_bits(&before, &after);
    /* At New Year the window reaches over the end of the year, but not into this one. */
    assert_int_equal(climatology_of(days, known, &site, date_of(2016, 12, 30), &before), STATUS_OK);
    assert_int_equal(climatology_of(days, count, &site, date_of(2016, 12, 30), &after), STATUS_OK);
    same_bits(&before, &after);
}

static void what_was_only_estimated_or_suspect_does_not_count(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2011, 2016, 0.0);
    for (size_t i = 0; i < count; i++)
        put(&days[i], WEATHER_RS_MJ_M2, calendar_to_civil(days[i].date).year == 2016 ? 99.0 : 10.0);
    assert_int_equal(climatology_of(days, count, &site, date_of(2017, 7, 1), &out), STATUS_OK);
    assert_near(out.mean[CLIMATOLOGY_RS_MJ_M2], 10.0, 1e-12);
    assert_int_equal(out.years[CLIMATOLOGY_RS_MJ_M2], 5);
    /* Humidity would come from tmin (eq. 48), wind from the default of chapter 3. */
    assert_true(isnan(out.mean[CLIMATOLOGY_EA_KPA]) && isnan(out.mean[CLIMATOLOGY_WIND_2M_M_S]));
}

/* FAO-56 eq. 14: what a dew point says of humidity was measured too. */
static void humidity_out_of_measured_dew_points_counts(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2011, 2015, 0.0);
    for (size_t i = 0; i < count; i++)
        put(&days[i], WEATHER_TDEW_C, 6.0);
    assert_int_equal(climatology_of(days, count, &site, date_of(2016, 7, 1), &out), STATUS_OK);
    assert_near(out.mean[CLIMATOLOGY_EA_KPA], air_saturation_kpa(6.0), 1e-12);
    assert_int_equal(out.years[CLIMATOLOGY_EA_KPA], 5);
}

/* A record that breaks off within reach of the date gives what it has. */
static void a_year_that_breaks_off_within_reach_counts_with_its_days(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2011, 2016, 0.0);
    count -= (size_t)(date_of(2016, 12, 31) - date_of(2016, 7, 2));
    assert_int_equal(climatology_of(days, count, &site, date_of(2017, 7, 1), &out), STATUS_OK);
    assert_int_equal(out.years[CLIMATOLOGY_TMAX_C], 6);
    /* Weights of the window add up to CLIMATOLOGY_REACH_D; of the last year those of two days and more after
     * 1 July are gone: 13/15 down to 1/15, 91/15. */
    double whole = CLIMATOLOGY_REACH_D, part = whole - 91.0 / 15.0;
    assert_near(out.mean[CLIMATOLOGY_TMAX_C],
                (whole * (21 + 22 + 23 + 24 + 25) + part * 26) / (5 * whole + part), 1e-9);
}

/* The first days of the calendar have no year before them. */
static void years_before_the_calendar_are_passed_over(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(1600, 1605, 0.0);
    assert_int_equal(climatology_of(days, count, &site, date_of(1606, 1, 2), &out), STATUS_OK);
    /* Of six years of 0..5; 1600 lacks the part of the window that lies before it, the others have all. */
    double sum = 0.0, weights = 0.0;
    for (int year = 1600; year <= 1605; year++) {
        /* 19 to 31 December, two to fourteen days away, belong to the year before. */
        double before = year == 1600 ? 0.0 : 91.0 / 15.0, after = CLIMATOLOGY_REACH_D - 91.0 / 15.0;
        sum += before * (20.0 + (year - 1) % 10) + after * (20.0 + year % 10);
        weights += before + after;
    }
    assert_near(out.mean[CLIMATOLOGY_TMAX_C], sum / weights, 1e-9);
}

static void the_29th_of_february_is_usual_too(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2010, 2015, 0.0);
    assert_int_equal(climatology_of(days, count, &site, date_of(2016, 2, 29), &out), STATUS_OK);
    assert_near(out.mean[CLIMATOLOGY_TMAX_C], 20.0 + 2.5, 1e-9);
}

static void arguments_that_cannot_be_are_named(void **state) {
    (void)state;
    struct climatology out;
    size_t count = make_years(2011, 2016, 0.0);
    struct weather_site nowhere = weather_site_default(91.0, 0.0);
    assert_int_equal(climatology_of(days, count, &site, CALENDAR_NONE, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(climatology_of(days, count, &nowhere, date_of(2017, 7, 1), &out), STATUS_OUT_OF_RANGE);
    assert_true(isnan(out.mean[CLIMATOLOGY_TMAX_C]));
    assert_int_equal(climatology_of(days, 0, &site, date_of(2017, 7, 1), &out), STATUS_OK);
    assert_true(isnan(out.mean[CLIMATOLOGY_TMAX_C]));
    assert_int_equal(climatology_of(days, count, &site, CALENDAR_FIRST, &out), STATUS_OK);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_mean_is_that_of_the_same_season_of_all_past_years),
        cmocka_unit_test(days_nearer_to_the_day_of_the_year_weigh_more),
        cmocka_unit_test(fewer_than_five_years_tell_nothing),
        cmocka_unit_test(later_days_and_this_years_own_change_nothing),
        cmocka_unit_test(what_was_only_estimated_or_suspect_does_not_count),
        cmocka_unit_test(humidity_out_of_measured_dew_points_counts),
        cmocka_unit_test(a_year_that_breaks_off_within_reach_counts_with_its_days),
        cmocka_unit_test(years_before_the_calendar_are_passed_over),
        cmocka_unit_test(the_29th_of_february_is_usual_too),
        cmocka_unit_test(arguments_that_cannot_be_are_named),
    };
    return cmocka_run_group_tests(tests, prepare, NULL);
}
