/* When mornings are run, over days on which clocks are changed, and which clocks are believed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/morning/keep_backups.h"

#define HALF_PAST_TWO (2 * 60 + 30)

static int32_t day(int year, int month, int of_month) {
    int32_t out = CALENDAR_NONE;
    assert_int_equal(calendar_from_civil(year, month, of_month, &out), STATUS_OK);
    return out;
}

/* How often the morning is run when the clock is looked at every 20 s from one instant to another. */
static int runs_between(int64_t from, int64_t until, int32_t newest, int minute, int *first_minute) {
    int runs = 0;
    for (int64_t at = from; at < until; at += 20) {
        struct morning_time now = wall_clock_of(at);
        if (!schedule_due(&now, newest, minute))
            continue;
        if (runs == 0)
            *first_minute = now.minute;
        runs++;
        newest = now.today;
    }
    return runs;
}

static int64_t noon_utc(int32_t of) {
    return (int64_t)of * 86400 + 43200;
}

/* Chicago's clocks went from 02:00 to 03:00 on 2026-03-08, and go from 02:00 back to 01:00 on 2026-11-01
 * (IANA time zone database). */
static void a_morning_is_run_once_on_days_on_which_clocks_are_changed(void **state) {
    (void)state;
    wall_clock_zone("America/Chicago");
    static const struct {
        int month, of_month, minute, first;
    } cases[] = {{3, 8, HALF_PAST_TWO, 3 * 60}, /* the time that does not come: at the first one after it */
                 {3, 8, 60, 60},                /* before the gap */
                 {11, 1, 90, 90},               /* the time that comes twice: at its first */
                 {11, 1, HALF_PAST_TWO, HALF_PAST_TWO}, /* after it */
                 {7, 14, HALF_PAST_TWO, HALF_PAST_TWO}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int32_t of = day(2026, cases[i].month, cases[i].of_month);
        int first = -1;
        int runs = runs_between(noon_utc(of - 1), noon_utc(of) + 43200, of - 1, cases[i].minute, &first);
        assert_int_equal(runs, 1);
        assert_int_equal(first, cases[i].first);
    }
}

static void a_year_has_as_many_mornings_as_days(void **state) {
    (void)state;
    static const char *const zones[] = {"America/Chicago", "Europe/Madrid", "Australia/Lord_Howe", "UTC"};
    for (size_t i = 0; i < sizeof zones / sizeof *zones; i++) {
        wall_clock_zone(zones[i]);
        int first;
        assert_int_equal(runs_between(noon_utc(day(2026, 1, 1)), noon_utc(day(2027, 1, 1)), day(2026, 1, 1),
                                      HALF_PAST_TWO, &first),
                         365);
    }
}

static void a_missed_morning_is_caught_up_with_at_any_hour(void **state) {
    (void)state;
    wall_clock_zone("UTC");
    struct morning_time now = {day(2026, 7, 14), noon_utc(day(2026, 7, 14)), 12 * 60};
    assert_true(schedule_due(&now, day(2026, 7, 10), 4 * 60 + 30));
    assert_false(schedule_due(&now, day(2026, 7, 14), 4 * 60 + 30));
    now.minute = 4 * 60;
    assert_false(schedule_due(&now, day(2026, 7, 13), 4 * 60 + 30));
    assert_true(schedule_due(&now, CALENDAR_NONE, 4 * 60 + 30));
}

static void a_clock_that_cannot_be_right_computes_nothing(void **state) {
    (void)state;
    const struct {
        int32_t today, newest;
        enum clock_judgement judgement;
    } cases[] = {
        {day(1970, 1, 1), CALENDAR_NONE, CLOCK_BEHIND},     {day(2025, 12, 31), CALENDAR_NONE, CLOCK_BEHIND},
        {day(2026, 7, 13), day(2026, 7, 14), CLOCK_BEHIND}, {CALENDAR_NONE, CALENDAR_NONE, CLOCK_BEHIND},
        {day(2026, 7, 14), day(2026, 7, 14), CLOCK_GOOD},   {day(2027, 4, 1), day(2026, 7, 14), CLOCK_GOOD},
        {day(2036, 2, 7), day(2026, 7, 14), CLOCK_AHEAD},   {day(2026, 1, 1), CALENDAR_NONE, CLOCK_GOOD},
        {day(2050, 1, 1), CALENDAR_NONE, CLOCK_GOOD},       {day(2099, 1, 1), CALENDAR_NONE, CLOCK_AHEAD}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct morning_time now = {cases[i].today, 0, 12 * 60};
        enum clock_judgement judgement = schedule_judge(&now, cases[i].newest);
        assert_int_equal(judgement, cases[i].judgement);
        assert_int_equal(schedule_advice(judgement) == NULL, judgement == CLOCK_GOOD);
        if (judgement != CLOCK_GOOD)
            assert_false(schedule_due(&now, cases[i].newest, 0));
    }
}

static void quiet_hours_go_past_midnight(void **state) {
    (void)state;
    wall_clock_zone("America/Chicago");
    assert_true(schedule_quiet(23 * 60, 21 * 60, 330));
    assert_true(schedule_quiet(0, 21 * 60, 330));
    assert_false(schedule_quiet(330, 21 * 60, 330));
    assert_true(schedule_quiet(13 * 60, 12 * 60, 14 * 60));
    assert_false(schedule_quiet(0, -1, -1));
    assert_false(schedule_quiet(60, 60, 60));
    int64_t evening = noon_utc(day(2026, 7, 14)) + 15 * 3600; /* 22:00 in Chicago */
    assert_int_equal(wall_clock_of(schedule_after_quiet(evening, 21 * 60, 330)).minute, 330);
    assert_int_equal(schedule_after_quiet(evening, -1, -1), evening);
    /* The night on which clocks go back is an hour longer. */
    int64_t autumn = noon_utc(day(2026, 10, 31)) + 15 * 3600;
    assert_int_equal(schedule_after_quiet(autumn, 21 * 60, 330) - autumn, 9 * 3600 - 1800);
}

static void backups_are_kept_by_days_and_months(void **state) {
    (void)state;
    int32_t days[400];
    for (int i = 0; i < 400; i++)
        days[i] = day(2025, 6, 15) + i; /* to 2026-07-19 */
    int kept = 0, months = 0;
    for (size_t i = 0; i < 400; i++) {
        bool keeps = keep_backups_keeps(days, 400, i, 14, 6);
        kept += keeps;
        if (keeps && i < 386)
            assert_int_equal(calendar_to_civil(days[i]).day, 1);
        months += keeps && i < 386;
    }
    assert_true(keep_backups_keeps(days, 400, 399, 1, 0));
    assert_false(keep_backups_keeps(days, 400, 398, 1, 0));
    assert_int_equal(months, 6);
    assert_int_equal(kept, 14 + 6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_morning_is_run_once_on_days_on_which_clocks_are_changed),
        cmocka_unit_test(a_year_has_as_many_mornings_as_days),
        cmocka_unit_test(a_missed_morning_is_caught_up_with_at_any_hour),
        cmocka_unit_test(a_clock_that_cannot_be_right_computes_nothing),
        cmocka_unit_test(quiet_hours_go_past_midnight),
        cmocka_unit_test(backups_are_kept_by_days_and_months),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
