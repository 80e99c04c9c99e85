/* The calendar against the C library's (gmtime, timegm: POSIX), and dates from ISO 8601. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "core/base/calendar.h"

static int32_t date_of(int year, int month, int day) {
    int32_t date = CALENDAR_NONE;
    assert_int_equal(calendar_from_civil(year, month, day, &date), STATUS_OK);
    return date;
}

static void every_day_of_fourteen_centuries_agrees_with_the_c_library(void **state) {
    (void)state;
    for (int32_t date = CALENDAR_FIRST; date <= CALENDAR_LAST; date++) {
        time_t seconds = (time_t)date * 86400;
        struct tm tm;
        assert_non_null(gmtime_r(&seconds, &tm));
        struct calendar_civil civil = calendar_to_civil(date);
        assert_int_equal(civil.year, tm.tm_year + 1900);
        assert_int_equal(civil.month, tm.tm_mon + 1);
        assert_int_equal(civil.day, tm.tm_mday);
        assert_int_equal(calendar_day_of_year(date), tm.tm_yday + 1);
        assert_int_equal(calendar_weekday(date), (tm.tm_wday + 6) % 7);
        assert_int_equal(date_of(civil.year, civil.month, civil.day), date);
    }
}

static void written_dates_are_read_back(void **state) {
    (void)state;
    for (int32_t date = CALENDAR_FIRST; date <= CALENDAR_LAST; date += 13) {
        char text[CALENDAR_ISO_SIZE];
        int32_t back = CALENDAR_NONE;
        assert_int_equal(calendar_parse_iso(calendar_format_iso(date, text), &back), STATUS_OK);
        assert_int_equal(back, date);
    }
}

/* Day 1 of ISO 8601's example week: 1985-04-12 was a Friday. */
static void known_days_are_right(void **state) {
    (void)state;
    char text[CALENDAR_ISO_SIZE];
    assert_int_equal(date_of(1970, 1, 1), 0);
    assert_int_equal(calendar_weekday(date_of(1985, 4, 12)), 4);
    assert_int_equal(calendar_weekday(date_of(1600, 1, 1)), 5); /* a Saturday */
    assert_string_equal(calendar_format_iso(date_of(2000, 2, 29), text), "2000-02-29");
    assert_int_equal(calendar_day_of_year(date_of(2024, 12, 31)), 366);
    assert_int_equal(calendar_day_of_year(date_of(2023, 12, 31)), 365);
}

static void days_that_do_not_exist_are_refused(void **state) {
    (void)state;
    static const int wrong[][3] = {{2023, 2, 29},  {1900, 2, 29}, {2023, 2, 30}, {2023, 4, 31},
                                   {2023, 0, 1},   {2023, 13, 1}, {2023, 1, 0},  {2023, 12, 32},
                                   {1599, 12, 31}, {3000, 1, 1},  {2023, -1, 1}, {2023, 1, -1}};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        int32_t date = 7;
        assert_int_equal(calendar_from_civil(wrong[i][0], wrong[i][1], wrong[i][2], &date),
                         STATUS_OUT_OF_RANGE);
        assert_int_equal(date, 7);
    }
}

static void day_numbers_outside_the_range_are_refused(void **state) {
    (void)state;
    static const int32_t wrong[] = {CALENDAR_FIRST - 1, CALENDAR_LAST + 1, CALENDAR_NONE, INT32_MAX};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        char text[CALENDAR_ISO_SIZE];
        assert_false(calendar_valid(wrong[i]));
        assert_int_equal(calendar_to_civil(wrong[i]).year, 0);
        assert_int_equal(calendar_day_of_year(wrong[i]), 0);
        assert_string_equal(calendar_format_iso(wrong[i], text), "----------");
    }
    assert_true(calendar_valid(CALENDAR_FIRST));
    assert_true(calendar_valid(CALENDAR_LAST));
}

static void text_that_is_not_a_date_is_refused(void **state) {
    (void)state;
    static const char *const wrong[] = {
        "",           "2023-1-1",   "2023-01-1",  "2023/01/01",  "2023-01/01", "20230101",   "2023-01-011",
        "2O23-01-01", "2023-0x-01", "2023-01-0:", " 2023-01-01", "2023-02-29", "+023-01-01", "2023--1-01"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        int32_t date = 7;
        assert_int_equal(calendar_parse_iso(wrong[i], &date), STATUS_OUT_OF_RANGE);
        assert_int_equal(date, 7);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_day_of_fourteen_centuries_agrees_with_the_c_library),
        cmocka_unit_test(written_dates_are_read_back),
        cmocka_unit_test(known_days_are_right),
        cmocka_unit_test(days_that_do_not_exist_are_refused),
        cmocka_unit_test(day_numbers_outside_the_range_are_refused),
        cmocka_unit_test(text_that_is_not_a_date_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
