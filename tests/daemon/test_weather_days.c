/* The list of days that a reader fills. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/source/weather_days.h"
#include "support/near.h"

static struct weather_day day_with(int32_t date, enum weather_element element, double value) {
    struct weather_day day = weather_day_empty(date);
    day.value[element] = value;
    day.origin[element] = ORIGIN_MEASURED;
    return day;
}

static void days_are_kept_in_order_however_they_come(void **state) {
    (void)state;
    struct weather_days days;
    weather_days_init(&days);
    for (int32_t i = 0; i < 500; i++) {
        struct weather_day day =
            day_with(i * 263 % 500, WEATHER_RAIN_MM, i); /* 263 and 500 have no common divisor */
        assert_int_equal(weather_days_add(&days, &day, NULL), STATUS_OK);
    }
    assert_int_equal(days.count, 500);
    for (int32_t i = 0; i < 500; i++)
        assert_int_equal(days.day[i].date, i);
    assert_null(weather_days_find(&days, 500));
    assert_int_equal(weather_days_find(&days, 263)->date, 263);
    assert_near(weather_days_find(&days, 263)->value[WEATHER_RAIN_MM], 1.0, 0.0);
    weather_days_free(&days);
}

static void a_day_is_filled_up_and_never_written_over(void **state) {
    (void)state;
    struct weather_days days;
    enum weather_element element = WEATHER_ELEMENT_COUNT;
    struct weather_day warm = day_with(10, WEATHER_TMAX_C, 21.0), wet = day_with(10, WEATHER_RAIN_MM, 3.0);
    struct weather_day warmer = day_with(10, WEATHER_TMAX_C, 22.0);
    warmer.value[WEATHER_SUN_H] = 5.0;
    weather_days_init(&days);
    assert_int_equal(weather_days_add(&days, &warm, NULL), STATUS_OK);
    assert_int_equal(weather_days_add(&days, &wet, NULL), STATUS_OK);
    assert_int_equal(weather_days_add(&days, &warm, NULL), STATUS_OK);
    assert_int_equal(weather_days_add(&days, &warmer, &element), STATUS_ORDER);
    assert_int_equal(element, WEATHER_TMAX_C);
    assert_int_equal(days.count, 1);
    assert_near(days.day[0].value[WEATHER_TMAX_C], 21.0, 0.0);
    assert_near(days.day[0].value[WEATHER_RAIN_MM], 3.0, 0.0);
    assert_true(isnan(days.day[0].value[WEATHER_SUN_H]));
    weather_days_free(&days);
}

static void dates_that_are_none_are_refused(void **state) {
    (void)state;
    struct weather_days days;
    struct weather_day day = weather_day_empty(CALENDAR_NONE);
    weather_days_init(&days);
    assert_int_equal(weather_days_add(&days, &day, NULL), STATUS_OUT_OF_RANGE);
    day.date = CALENDAR_LAST + 1;
    assert_int_equal(weather_days_add(&days, &day, NULL), STATUS_OUT_OF_RANGE);
    assert_int_equal(days.count, 0);
    weather_days_free(&days);
}

static struct weather_hours hours_of(int32_t date, double t_c) {
    struct weather_hours hours = {.date = date, .start_utc_h = 6.0};
    for (int h = 0; h < REFERENCE_HOURS; h++)
        hours.hour[h] = (struct weather_hour){t_c, 1.0, 3.2, 0.5};
    return hours;
}

static void hours_are_found_by_their_date_whatever_the_order_they_came_in(void **state) {
    (void)state;
    static const int32_t dates[] = {105, 101, 103, 102, 104, 103};
    struct weather_days days;
    weather_days_init(&days);
    assert_null(weather_days_hours(&days, 101));
    for (size_t i = 0; i < sizeof dates / sizeof dates[0]; i++) {
        struct weather_hours hours = hours_of(dates[i], (double)i);
        assert_int_equal(weather_days_put_hours(&days, &hours), STATUS_OK);
    }
    assert_int_equal(days.hours_count, 5);
    for (size_t i = 1; i < days.hours_count; i++)
        assert_true(days.hours[i - 1].date < days.hours[i].date);
    assert_true(weather_days_hours(&days, 103)->hour[0].t_c > 4.5); /* the last that came */
    assert_null(weather_days_hours(&days, 100));
    assert_null(weather_days_hours(&days, 106));
    struct weather_hours never = hours_of(CALENDAR_NONE, 0.0);
    assert_int_equal(weather_days_put_hours(&days, &never), STATUS_OUT_OF_RANGE);
    /* FAO-56 example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m; half a unit of its last digit. */
    weather_days_move_wind(&days, 10.0, 2.0);
    assert_true(fabs(weather_days_hours(&days, 104)->hour[23].wind_m_s - 2.4) < 0.05);
    weather_days_free(&days);
    assert_int_equal(days.hours_count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hours_are_found_by_their_date_whatever_the_order_they_came_in),
        cmocka_unit_test(days_are_kept_in_order_however_they_come),
        cmocka_unit_test(a_day_is_filled_up_and_never_written_over),
        cmocka_unit_test(dates_that_are_none_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
