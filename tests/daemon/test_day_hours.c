/* Hours, minutes and intervals made into days. The days are invented; sums and means follow by hand
 * arithmetic that stands beside each check. Tolerance 1e-9 unless it says otherwise. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/source/layout_rules.h"
#include "support/near.h"
#include "support/reading.h"

/* A layout of hourly rows "time,t,r" with the given words in its time. */
static struct layout *hourly(const char *time, const char *values) {
    char json[2048];
    struct layout *layout = NULL;
    struct problems problems;
    struct text said;
    problems_init(&problems);
    text_init(&said, 0);
    (void)snprintf(json, sizeof json,
                   "{\"title\": \"hours\", \"others\": \"ignore\", \"time\": {\"column\": \"time\", "
                   "\"step\": \"1 h\"%s%s},"
                   " \"values\": {%s}}",
                   time[0] != '\0' ? ", " : "", time, values);
    enum status status = layout_parse("hours", json, strlen(json), &layout, &problems);
    problems_print(&problems, &said);
    if (status != STATUS_OK)
        fail_msg("%s", text_string(&said));
    problems_free(&problems);
    text_free(&said);
    return layout;
}

#define MEAN_AND_SUM                                                                                         \
    "\"tmean_c\": {\"column\": \"t\", \"how\": \"mean\"}, \"tmax_c\": {\"column\": \"t\", \"how\": "         \
    "\"max\"},"                                                                                              \
    "\"tmin_c\": {\"column\": \"t\", \"how\": \"min\"}, \"rain_mm\": {\"column\": \"r\", \"how\": \"sum\"}"

/* Rows of `count` hours from a moment on; temperature is the hour of the day, rain 1 mm an hour. */
static void add_hours(struct text *text, const char *date, int first, int count) {
    int32_t day = CALENDAR_NONE;
    char iso[CALENDAR_ISO_SIZE];
    assert_int_equal(calendar_parse_iso(date, &day), STATUS_OK);
    if (text->size == 0)
        text_puts(text, "time,t,r\n");
    for (int i = first; i < first + count; i++)
        text_printf(text, "%sT%02d:00,%d,1\n", calendar_format_iso(day + i / 24, iso), i % 24, i % 24);
}

static struct reading_of *read_and_free(struct layout *layout, struct text *text) {
    struct reading_of *reading = reading_with(layout, text_string(text), text->size);
    layout_free(layout);
    text_free(text);
    return reading;
}

static void hours_become_mean_sum_and_extremes(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 0, 48);
    struct reading_of *reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "tmean_c"), 11.5, 1e-9); /* (0 + ... + 23) / 24 */
    assert_near(reading_value(reading, "2021-06-02", "tmax_c"), 23.0, 1e-9);
    assert_near(reading_value(reading, "2021-06-02", "tmin_c"), 0.0, 1e-9);
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
}

static void a_time_may_mark_the_end_of_its_hour(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 1, 24); /* 01:00 to 24:00, as 00:00 of the next day */
    struct reading_of *reading = read_and_free(hourly("\"marks\": \"end\"", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
    text_init(&text, 0);
    text_puts(&text, "time,t,r\n");
    for (int i = 1; i <= 24; i++)
        text_printf(&text, "2021-06-01T%02d:00,20,1\n", i); /* 24:00 is the end of the same day, ISO 8601 */
    reading = read_and_free(hourly("\"marks\": \"end\"", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    reading_done(reading);
}

static void a_day_may_begin_in_the_morning_and_be_named_by_its_end(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 9, 24); /* 09:00 to 09:00 of 2 June */
    struct reading_of *reading = read_and_free(hourly("\"day_begins\": 9", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 9, 24);
    reading = read_and_free(hourly("\"day_begins\": 9, \"day_named\": \"end\"", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
}

static void a_day_with_too_few_hours_is_missing_and_not_zero(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 0, 22); /* 22 of 24 hours are 91.7 per cent */
    add_hours(&text, "2021-06-02", 0, 21); /* 87.5 per cent */
    struct reading_of *reading = read_and_free(hourly("\"complete\": 0.9", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 21.0, 1e-9);
    assert_true(isnan(reading_value(reading, "2021-06-02", "rain_mm")));
    reading_done(reading);
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 0, 23);
    struct layout *layout =
        hourly("\"complete\": 0.9", "\"tmax_c\": {\"column\": \"t\", \"how\": \"max\"},"
                                    "\"rain_mm\": {\"column\": \"r\", \"how\": \"sum\", \"complete\": 1}");
    reading = read_and_free(layout, &text);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 22.0, 1e-9);
    assert_true(isnan(reading_value(reading, "2021-06-01", "rain_mm")));
    reading_done(reading);
}

static void the_same_hour_twice_counts_once_and_contradictions_are_refused(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 0, 24);
    add_hours(&text, "2021-06-01", 5, 3);
    struct reading_of *reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 0, 24);
    text_puts(&text, "2021-06-01T05:00,5,9\n2021-06-01T06:00,6,9\n");
    reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_refused(reading, "found 9 for 2021-06-01 06:00, for which 1 stands before");
    reading_done(reading);
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 0, 24);
    text_puts(&text, "2021-06-01T05:30,5,1\n");
    reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_refused(reading, "do not overlap");
    reading_done(reading);
}

static void hours_with_an_offset_are_no_hours_of_the_places_own_clock(void **state) {
    (void)state;
    static const char *const offsets[] = {"Z", "-06:00", "+00:00"};
    struct text text;
    struct reading_of *reading;
    for (size_t i = 0; i < sizeof offsets / sizeof *offsets; i++) {
        text_init(&text, 0);
        text_printf(&text, "time,t,r\n2021-06-01T00:00%s,5,1\n", offsets[i]);
        reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
        assert_reading_refused(reading, "expected a time as 2021-06-30T14:00, on the place's own clock and "
                                        "without an offset");
        reading_done(reading);
        /* Where the layout says that times are moved, the text's own offset says from where. */
        text_init(&text, 0);
        text_printf(&text, "time,t,r\n2021-06-01T12:00%s,5,1\n", offsets[i]);
        reading = read_and_free(hourly("\"offset\": \"utc\", \"complete\": 0.01", MEAN_AND_SUM), &text);
        assert_reading_days(reading, 1);
        reading_done(reading);
    }
}

static void where_the_clock_is_set_back_an_hour_stands_twice(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-11-07", 0, 2); /* 00:00, 01:00 */
    text_puts(&text, "2021-11-07T01:00,1,3\n");
    add_hours(&text, "2021-11-07", 2, 46);
    struct reading_of *reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-11-07", "rain_mm"), 27.0,
                1e-9); /* 24 hours of 1 mm and one of 3 mm */
    reading_done(reading);
    text_init(&text, 0);
    add_hours(&text, "2021-11-07", 0, 48);
    text_puts(&text, "2021-11-07T01:00,1,3\n2021-11-08T01:00,1,3\n"); /* not on two days running */
    reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_refused(reading, "2021-11-08 01:00");
    reading_done(reading);
}

static void where_the_clock_is_set_forward_a_day_has_23_hours(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-03-14", 0, 2); /* 00:00, 01:00, then 03:00 */
    add_hours(&text, "2021-03-14", 3, 21);
    struct reading_of *reading = read_and_free(hourly("", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-03-14", "rain_mm"), 23.0, 1e-9);
    reading_done(reading);
}

/* A place that sets its clock: UTC-6, from 2021-03-14T08:00Z on UTC-5, from 2021-11-07T07:00Z on UTC-6 again,
 * as the zone America/Chicago of the IANA time zone database has it (from memory). */
static int32_t chicago_2021(void *context, int64_t utc) {
    (void)context;
    return utc >= INT64_C(1615708800) && utc < INT64_C(1636268400) ? -5 * 3600 : -6 * 3600;
}

/* A day of all the hours that such a clock shows is whole, one that lacks another hour is not. */
static void a_clock_that_is_set_forward_leaves_a_whole_day_of_23_hours(void **state) {
    (void)state;
    for (int summer_time = 0; summer_time <= 1; summer_time++)
        for (int lacking = 0; lacking <= 1; lacking++) {
            struct text text;
            struct layout *layout = hourly(
                summer_time ? "\"summer_time\": true, \"complete\": 1" : "\"complete\": 1", MEAN_AND_SUM);
            layout_set_zone(layout, chicago_2021, NULL);
            text_init(&text, 0);
            add_hours(&text, "2021-03-13", 0, 24 + 2);
            add_hours(&text, "2021-03-14", 3 + lacking, 21 - lacking + 24);
            struct reading_of *reading = read_and_free(layout, &text);
            assert_near(reading_value(reading, "2021-03-13", "rain_mm"), 24.0, 1e-9);
            assert_near(reading_value(reading, "2021-03-15", "rain_mm"), 24.0, 1e-9);
            if (summer_time && !lacking)
                assert_near(reading_value(reading, "2021-03-14", "rain_mm"), 23.0, 1e-9);
            else
                assert_reading_days(reading, 2);
            reading_done(reading);
        }
}

static void hours_of_utc_become_days_of_the_place_across_a_change_of_the_clock(void **state) {
    (void)state;
    struct text text;
    struct layout *layout = hourly("\"offset\": \"utc\", \"complete\": 1", MEAN_AND_SUM);
    layout_set_zone(layout, chicago_2021, NULL);
    text_init(&text, 0);
    add_hours(&text, "2021-03-13", 6,
              24 + 23 + 24); /* local 13, 14 (23 hours) and 15 March, and not an hour more */
    struct reading_of *reading = read_and_free(layout, &text);
    assert_reading_days(reading, 3);
    assert_near(reading_value(reading, "2021-03-13", "rain_mm"), 24.0, 1e-9);
    assert_near(reading_value(reading, "2021-03-14", "rain_mm"), 23.0, 1e-9);
    assert_near(reading_value(reading, "2021-03-15", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
    layout = hourly("\"offset\": \"utc\", \"complete\": 1", MEAN_AND_SUM);
    layout_set_zone(layout, chicago_2021, NULL);
    text_init(&text, 0);
    add_hours(&text, "2021-11-06", 5, 24 + 25 + 24); /* 7 November has 25 hours */
    reading = read_and_free(layout, &text);
    assert_reading_days(reading, 3);
    assert_near(reading_value(reading, "2021-11-07", "rain_mm"), 25.0, 1e-9);
    assert_near(reading_value(reading, "2021-11-08", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
}

static void without_a_zone_days_are_those_of_utc(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    add_hours(&text, "2021-06-01", 2, 24); /* written at UTC+02:00: exactly 1 June of UTC */
    struct reading_of *reading =
        read_and_free(hourly("\"offset\": \"+02:00\", \"complete\": 1", MEAN_AND_SUM), &text);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 24.0, 1e-9);
    reading_done(reading);
}

static void a_counter_gives_its_growth_and_may_start_again(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    text_puts(&text, "time,t,r\n");
    /* 0 at midnight, 2 mm more every hour, and from noon on again from 0. */
    for (int i = 0; i <= 24; i++)
        text_printf(&text, "2021-06-%02dT%02d:00,20,%d\n", 1 + i / 24, i % 24, i < 12 ? 2 * i : 2 * (i - 12));
    struct reading_of *reading =
        read_and_free(hourly("", "\"rain_mm\": {\"column\": \"r\", \"how\": \"running\"}"), &text);
    assert_reading_days(reading, 1);
    /* 11 steps of 2 to 11:00, a restart that reads 0 at 12:00, 12 steps of 2 to midnight: 22 + 0 + 24. */
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 46.0, 1e-9);
    reading_done(reading);
}

static void a_counter_with_a_long_gap_leaves_the_day_missing(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    text_puts(&text, "time,t,r\n");
    for (int i = 0; i <= 24; i++) {
        if (i < 5 || i > 12)
            text_printf(&text, "2021-06-%02dT%02d:00,20,%d\n", 1 + i / 24, i % 24, i);
    }
    struct reading_of *reading =
        read_and_free(hourly("", "\"rain_mm\": {\"column\": \"r\", \"how\": \"running\"}"), &text);
    assert_reading_refused(reading, "found no day that is complete enough");
    reading_done(reading);
}

static void an_interval_is_shared_out_over_the_days_that_it_meets(void **state) {
    (void)state;
    static const char json[] = "{\"title\": \"t\", \"kind\": \"json\", \"form\": \"intervals\", \"time\": "
                               "{\"column\": \"when\", \"format\": \"iso\","
                               " \"offset\": \"utc\", \"complete\": 0.2}, \"values\": {\"rain_mm\": "
                               "{\"column\": \"/rain\", \"how\": \"sum\"},"
                               " \"tmean_c\": {\"column\": \"/t\", \"how\": \"mean\"}}}";
    static const char text[] = "{\"rain\": [{\"when\": \"2021-06-01T18:00Z/PT12H\", \"value\": 9.0}],"
                               " \"t\": [{\"when\": \"2021-06-01T00:00+00:00/P1DT12H\", \"value\": 12},"
                               "         {\"when\": \"2021-06-02T12:00+00:00/PT12H\", \"value\": 18}]}";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 4.5, 1e-9); /* 6 of the 12 hours */
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 4.5, 1e-9);
    assert_near(reading_value(reading, "2021-06-01", "tmean_c"), 12.0, 1e-9);
    assert_near(reading_value(reading, "2021-06-02", "tmean_c"), 15.0, 1e-9); /* half at 12, half at 18 */
    reading_done(reading);
}

static void five_minute_rows_are_read_like_hours(void **state) {
    (void)state;
    static const char json[] = "{\"title\": \"t\", \"time\": {\"column\": \"time\", \"step\": \"5 min\", "
                               "\"complete\": 1}, \"values\": {"
                               "\"rain_mm\": {\"column\": \"r\", \"how\": \"sum\"}, \"rs_mj_m2\": "
                               "{\"column\": \"s\", \"unit\": \"W/m2\", \"how\": \"mean\"}}}";
    struct text text;
    text_init(&text, 0);
    text_puts(&text, "time,r,s\n");
    for (int i = 0; i < 288; i++)
        text_printf(&text, "2021-06-01 %02d:%02d:00,0.05,%d\n", i / 12, i % 12 * 5, i < 144 ? 400 : 0);
    struct reading_of *reading = reading_by_json(json, text_string(&text), text.size);
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 14.4, 1e-9);   /* 288 * 0.05 */
    assert_near(reading_value(reading, "2021-06-01", "rs_mj_m2"), 17.28, 1e-9); /* 200 W/m2 * 86400 s */
    reading_done(reading);
    text_free(&text);
}

/* ---- hours of days, for hourly reference ET */

#define ALL_FOUR                                                                                             \
    "\"tmax_c\": {\"column\": \"t\", \"how\": \"max\"}, \"tmin_c\": {\"column\": \"t\", \"how\": \"min\"},"  \
    "\"wind_m_s\": {\"column\": \"u\", \"how\": \"mean\"}, "
#define HUMIDITY  "\"rh_mean_pct\": {\"column\": \"h\", \"how\": \"mean\"}, "
#define RADIATION "\"rs_mj_m2\": {\"column\": \"s\", \"unit\": \"W/m2\", \"how\": \"mean\"}"

/* Rows of ten minutes over one day and, before it, the last hour of another: temperature is the number of the
 * row. */
static void add_minutes(struct text *text, int skipped) {
    text_puts(text, "time,t,h,u,s\n");
    for (int i = -6; i < 144; i++) {
        if (i == skipped)
            continue;
        int minute = (i + 144) % 144 * 10;
        text_printf(text, "2021-06-%02dT%02d:%02d,%g,%d,%g,%d\n", i < 0 ? 1 : 2, minute / 60, minute % 60,
                    i / 10.0, i == 20 ? 103 : 50, 1.0 + i % 6, 100 + i % 6);
    }
}

static struct reading_of *read_minutes(int skipped, const char *time, const char *values) {
    struct text text;
    text_init(&text, 0);
    add_minutes(&text, skipped);
    char json[512];
    (void)snprintf(json, sizeof json, "\"complete\": 0.9%s%s", time[0] != '\0' ? ", " : "", time);
    struct layout *layout = hourly(json, values);
    layout->time.step_s = 600;
    return read_and_free(layout, &text);
}

static void rows_of_ten_minutes_give_the_hours_of_a_day(void **state) {
    (void)state;
    struct reading_of *reading = read_minutes(-100, "", ALL_FOUR HUMIDITY RADIATION);
    assert_int_equal(reading->days.hours_count, 1); /* of the other day one hour is there */
    const struct weather_hours *hours = &reading->days.hours[0];
    assert_near(hours->start_utc_h, 0.0, 0.0);
    assert_near(hours->hour[10].t_c, (60 + 2.5) / 10, 1e-9); /* rows 60 to 65 */
    assert_near(hours->hour[10].wind_m_s, 3.5, 1e-9);        /* 1 to 6 */
    assert_near(hours->hour[10].rs_mj_m2, 102.5 * 3600 / 1e6, 1e-12);
    /* FAO-56 eq. 54: ea = e0(T) RH / 100; eq. 11. */
    double t = hours->hour[10].t_c;
    assert_near(hours->hour[10].ea_kpa, 0.5 * 0.6108 * exp(17.27 * t / (t + 237.3)), 1e-12);
    reading_done(reading);
}

static void a_day_that_lacks_a_part_of_an_hour_has_no_hours_but_its_values(void **state) {
    (void)state;
    struct reading_of *reading = read_minutes(77, "", ALL_FOUR HUMIDITY RADIATION);
    assert_int_equal(reading->days.hours_count, 0);
    assert_near(reading_value(reading, "2021-06-02", "tmax_c"), 14.3, 1e-9);
    reading_done(reading);
}

static void a_layout_without_one_of_the_four_gives_no_hours(void **state) {
    (void)state;
    struct reading_of *reading = read_minutes(-100, "", ALL_FOUR RADIATION);
    assert_int_equal(reading->days.hours_count, 0);
    reading_done(reading);
    /* Nor does a forecast, nor rows that hold longer than an hour. */
    struct text text;
    text_init(&text, 0);
    text_puts(&text, "time,t,h,u,s\n");
    for (int i = 0; i < 12; i++)
        text_printf(&text, "2021-06-01T%02d:00,20,50,2,100\n", 2 * i);
    struct layout *layout = hourly("", ALL_FOUR HUMIDITY RADIATION);
    layout->time.step_s = 7200;
    reading = read_and_free(layout, &text);
    assert_reading_days(reading, 1);
    assert_int_equal(reading->days.hours_count, 0);
    reading_done(reading);
}

static void humidity_of_hours_is_the_best_that_is_there(void **state) {
    (void)state;
    /* The dewpoint goes before relative humidity: eq. 14 with Tdew = h / 10. */
    struct reading_of *reading = read_minutes(
        -100, "",
        ALL_FOUR HUMIDITY RADIATION ", \"tdew_c\": {\"column\": \"h\", \"scale\": 0.1, \"how\": \"mean\"}");
    assert_int_equal(reading->days.hours_count, 1);
    assert_near(reading->days.hours[0].hour[10].ea_kpa, 0.6108 * exp(17.27 * 5.0 / (5.0 + 237.3)), 1e-12);
    reading_done(reading);
    /* Vapour pressure itself before both, and a sum of radiation is that of the hour. */
    reading = read_minutes(-100, "",
                           ALL_FOUR HUMIDITY
                           "\"ea_kpa\": {\"column\": \"h\", \"scale\": 0.01, \"how\": \"mean\"}, "
                           "\"rs_mj_m2\": {\"column\": \"s\", \"scale\": 0.001, \"how\": \"sum\"}");
    assert_int_equal(reading->days.hours_count, 1);
    assert_near(reading->days.hours[0].hour[10].ea_kpa, 0.5, 1e-12);
    assert_near(reading->days.hours[0].hour[10].rs_mj_m2, 0.615, 1e-12); /* 0.100 + ... + 0.105 */
    reading_done(reading);
    /* Midway between highest and lowest where there is nothing else. */
    reading = read_minutes(-100, "",
                           ALL_FOUR RADIATION
                           ", \"rh_max_pct\": {\"column\": \"h\", \"how\": \"max\"}, \"rh_min_pct\": "
                           "{\"column\": \"h\", \"how\": \"min\"}");
    assert_int_equal(reading->days.hours_count, 1);
    double t = reading->days.hours[0].hour[10].t_c;
    assert_near(reading->days.hours[0].hour[10].ea_kpa, 0.5 * 0.6108 * exp(17.27 * t / (t + 237.3)), 1e-12);
    reading_done(reading);
}

/* 13 March 2021 has 24 hours, 14 March 23 (the clock is set forward), 15 March 24 again, an hour nearer to
 * UTC. */
static void a_day_on_which_the_clock_is_set_has_no_hours(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    text_puts(&text, "time,t,h,u,s\n");
    for (int i = 6; i < 6 + 72; i++)
        text_printf(&text, "2021-03-%02dT%02d:00,20,50,2,100\n", 13 + i / 24, i % 24);
    struct layout *layout = hourly("\"offset\": \"utc\"", ALL_FOUR HUMIDITY RADIATION);
    layout_set_zone(layout, chicago_2021, NULL);
    struct reading_of *reading = read_and_free(layout, &text);
    assert_int_equal(reading->days.hours_count, 2);
    assert_int_equal(reading->days.hours[1].date - reading->days.hours[0].date, 2);
    assert_near(reading->days.hours[0].start_utc_h, 6.0, 0.0);
    assert_near(reading->days.hours[1].start_utc_h, 5.0, 0.0);
    /* 100 W/m2 are 0.36 MJ/m2 an hour. By hand. */
    for (int i = 0; i < 3; i++)
        assert_near(reading->days.day[i].value[WEATHER_RS_MJ_M2], 0.36 * (i == 1 ? 23 : 24), 1e-12);
    reading_done(reading);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hours_become_mean_sum_and_extremes),
        cmocka_unit_test(a_time_may_mark_the_end_of_its_hour),
        cmocka_unit_test(a_day_may_begin_in_the_morning_and_be_named_by_its_end),
        cmocka_unit_test(a_day_with_too_few_hours_is_missing_and_not_zero),
        cmocka_unit_test(the_same_hour_twice_counts_once_and_contradictions_are_refused),
        cmocka_unit_test(hours_with_an_offset_are_no_hours_of_the_places_own_clock),
        cmocka_unit_test(where_the_clock_is_set_back_an_hour_stands_twice),
        cmocka_unit_test(where_the_clock_is_set_forward_a_day_has_23_hours),
        cmocka_unit_test(a_clock_that_is_set_forward_leaves_a_whole_day_of_23_hours),
        cmocka_unit_test(hours_of_utc_become_days_of_the_place_across_a_change_of_the_clock),
        cmocka_unit_test(without_a_zone_days_are_those_of_utc),
        cmocka_unit_test(a_counter_gives_its_growth_and_may_start_again),
        cmocka_unit_test(a_counter_with_a_long_gap_leaves_the_day_missing),
        cmocka_unit_test(an_interval_is_shared_out_over_the_days_that_it_meets),
        cmocka_unit_test(five_minute_rows_are_read_like_hours),
        cmocka_unit_test(rows_of_ten_minutes_give_the_hours_of_a_day),
        cmocka_unit_test(a_day_that_lacks_a_part_of_an_hour_has_no_hours_but_its_values),
        cmocka_unit_test(a_layout_without_one_of_the_four_gives_no_hours),
        cmocka_unit_test(a_day_on_which_the_clock_is_set_has_no_hours),
        cmocka_unit_test(humidity_of_hours_is_the_best_that_is_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
