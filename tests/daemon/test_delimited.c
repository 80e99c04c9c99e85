/* Tables with a separator, by the plain layout and by layouts made up here. All weather is invented; a value
 * is read exactly as written (tolerance 1e-12) or converted by exact unit definitions (tolerance 1e-9). */
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
#include "support/near.h"
#include "support/reading.h"

#define HEAD "date,tmax_c,tmin_c,rain_mm\n"

static void assert_refused_text(const char *text, const char *words) {
    struct reading_of *reading = reading_by("plain", text);
    assert_reading_refused(reading, words);
    reading_done(reading);
}

static void a_plain_table_is_read_as_it_stands(void **state) {
    (void)state;
    struct reading_of *reading =
        reading_by("plain", HEAD "2021-06-01,28.25,14.5,0\n2021-06-02,30,15.1,12.7\n");
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 28.25, 1e-12);
    assert_near(reading_value(reading, "2021-06-02", "tmin_c"), 15.1, 1e-12);
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 12.7, 1e-12);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 0.0, 1e-12);
    assert_int_equal(reading->days.day[0].origin[WEATHER_TMAX_C], ORIGIN_MEASURED);
    assert_int_equal(reading->days.day[0].origin[WEATHER_WIND_M_S], ORIGIN_MISSING);
    reading_done(reading);
}

static void missing_is_never_zero(void **state) {
    (void)state;
    struct reading_of *reading =
        reading_by("plain", HEAD "2021-06-01,28,14,\n2021-06-02,29,NA,nan\n2021-06-03,29, ,1\n");
    assert_reading_days(reading, 3);
    assert_true(isnan(reading_value(reading, "2021-06-01", "rain_mm")));
    assert_true(isnan(reading_value(reading, "2021-06-02", "rain_mm")));
    assert_true(isnan(reading_value(reading, "2021-06-02", "tmin_c")));
    assert_true(isnan(reading_value(reading, "2021-06-03", "tmin_c")));
    reading_done(reading);
}

static void marks_line_ends_remarks_and_quotes_do_not_matter(void **state) {
    (void)state;
    struct reading_of *reading = reading_by(
        "plain", "\xef\xbb\xbf# a remark with a \"quote\r\n\r\n\"Date\", TMAX_C ,\"tmin_c\",rain_mm\r\n"
                 "2021-06-01,\"28\",14,0\r\n# another\r\n\r\n 2021-06-02 ,29,15,1\r\n\r\n");
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 28.0, 1e-12);
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 1.0, 1e-12);
    reading_done(reading);
    reading = reading_by("plain", "date,tmax_c,tmin_c\r2021-06-01,28,14\r2021-06-02,29,15\r");
    assert_reading_days(reading, 2);
    reading_done(reading);
}

static void unsorted_days_are_sorted_and_leap_days_are_days(void **state) {
    (void)state;
    struct reading_of *reading = reading_by(
        "plain", HEAD "2024-03-01,9,1,0\n2024-02-28,8,0,0\n2024-02-29,7,-1,3\n2023-12-31,2,-4,0\n");
    assert_reading_days(reading, 4);
    for (size_t i = 1; i < reading->days.count; i++)
        assert_true(reading->days.day[i - 1].date < reading->days.day[i].date);
    assert_near(reading_value(reading, "2024-02-29", "rain_mm"), 3.0, 1e-12);
    reading_done(reading);
    assert_refused_text(HEAD "2023-02-29,8,0,0\n",
                        "days.csv:2:1: date: found \"2023-02-29\", expected a date");
}

static void the_same_day_twice_is_taken_only_when_both_agree(void **state) {
    (void)state;
    struct reading_of *reading =
        reading_by("plain", HEAD "2021-06-01,28,14,0\n2021-06-01,28,14,\n2021-06-01,28,14,0\n");
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 0.0, 1e-12);
    reading_done(reading);
    assert_refused_text(HEAD "2021-06-01,28,14,0\n2021-06-02,28,14,0\n2021-06-01,28,14,5\n",
                        "days.csv:4:4: rain_mm: found rain_mm = 5 for 2021-06-01, which stands before as 0");
}

static void a_file_cut_short_is_refused_wherever_the_cut_falls(void **state) {
    (void)state;
    const char *whole = HEAD "2021-06-01,28.0,14.0,0.0\n2021-06-02,29.5,15.0,12.5\n";
    size_t first = strlen(HEAD) + strlen("2021-06-01,28.0,14.0,0.0\n");
    for (size_t cut = 1; cut < strlen(whole); cut++) {
        if (cut == first)
            continue; /* a cut between two rows leaves a shorter file that is whole */
        struct reading_of *reading = reading_by_bytes("plain", whole, cut);
        if (reading->status != STATUS_REFUSED || reading->days.count != 0)
            fail_msg("cut at %zu: status %s, %zu days", cut, status_name(reading->status),
                     reading->days.count);
        reading_done(reading);
    }
    assert_refused_text(HEAD "2021-06-01,28.0,14.0,0.0\n2021-06-02,29.5,15",
                        "days.csv:3: found 3 fields, expected 4");
    assert_refused_text(HEAD "2021-06-01,28.0,14.0,12", "found a last line without a line end");
    assert_refused_text(HEAD "2021-06-01,28.0,14.0,\"12\n", "never closed");
}

static void what_is_no_number_is_named_with_its_place(void **state) {
    (void)state;
    assert_refused_text(HEAD "2021-06-01,28,14,0\n2021-06-02,warm,14,0\n",
                        "days.csv:3:2: tmax_c: found \"warm\", expected a number (tmax_c in °C) or nothing");
    assert_refused_text(HEAD "2021-06-01,0x1A,14,0\n", "\"0x1A\"");
    assert_refused_text(HEAD "2021-06-01,inf,14,0\n", "\"inf\"");
    assert_refused_text(HEAD "2021-06-01,1e999,14,0\n", "\"1e999\"");
    assert_refused_text(HEAD "2021-06-01,28.0.1,14,0\n", "\"28.0.1\"");
    assert_refused_text(HEAD "2021-06-01,\"28,5\",14,0\n", "\"28,5\"");
    assert_refused_text(HEAD "2021-06-01,28 C,14,0\n", "\"28 C\"");
}

static void all_errors_are_told_at_once(void **state) {
    (void)state;
    struct reading_of *reading =
        reading_by("plain", HEAD "2021-06-01,a,14,0\n2021-06-02,28,b,0\n6/3/2021,28,14,0\n");
    assert_reading_refused(reading, "days.csv:2:2");
    assert_reading_refused(reading, "days.csv:3:3");
    assert_reading_refused(reading, "days.csv:4:1: date: found \"6/3/2021\", expected a date as 2021-06-30");
    assert_int_equal(reading->problems.count, 3);
    reading_done(reading);
}

static void unknown_columns_are_refused_with_the_nearest_name(void **state) {
    (void)state;
    assert_refused_text("date,tmax_c,tmim_c\n2021-06-01,28,14\n",
                        "days.csv:1:3: found the column \"tmim_c\", expected perhaps \"tmin_c\"");
    assert_refused_text("date,tmax_c,soil moisture\n2021-06-01,28,14\n", "does not know");
    assert_refused_text("date,tmax_c,tmax_c\n2021-06-01,28,14\n", "found the column \"tmax_c\" twice");
    assert_refused_text("day,tmax_c\n2021-06-01,28\n", "found no column \"date\"");
    assert_refused_text("date,station\n2021-06-01,x\n", "found no column with a value");
    assert_refused_text(HEAD, "found no value");
}

static void a_table_that_another_sign_parts_is_told_so(void **state) {
    (void)state;
    assert_refused_text("date;tmax_c;tmin_c\n2021-06-01;28,5;14\n",
                        "days.csv:1:1: found columns parted by semicolons, expected commas between them");
    assert_refused_text("date\ttmax_c\n2021-06-01\t28\n", "parted by tabs, expected commas");
    assert_refused_text("date|tmax_c\n2021-06-01|28\n", "parted by bars, expected commas");
    assert_refused_text("date\n2021-06-01\n", "found no column with a value");
    assert_refused_text("date,tmax (C),tmin (C)\n2021-06-01,28,14\n",
                        "but 3: \"date\", \"tmax (C)\", \"tmin (C)\"; expected some of \"");
    /* Among commas it is part of a name. */
    assert_refused_text("date,tmax;c\n2021-06-01,28\n", "found no column with a value");
}

static void a_row_too_long_is_refused(void **state) {
    (void)state;
    assert_refused_text(HEAD "2021-06-01,28,14,0,5\n",
                        "days.csv:2: found 5 fields, expected 4 as in the header");
}

static void what_is_no_text_is_refused_by_name(void **state) {
    (void)state;
    const struct {
        const char *bytes;
        size_t size;
        const char *words;
    } foreign[] = {
        {"\x1f\x8b\x08\x00\x00\x00\x00\x00", 8, "found a gzip file"},
        {"PK\x03\x04\x14\x00", 6, "Excel workbook"},
        {"\xff\xfe"
         "d\0a\0t\0e\0",
         10, "UTF-16"},
        {"d\0a\0t\0e\0", 8, "UTF-16"},
        {"\0d\0a\0t\0e", 8, "UTF-16"},
        {"date,tmax_c\n2021-06-01,2\0008\n", 27, "days.csv:2:13: found the byte 0x00"},
        {"date,tmax_c\n2021-06-01,28\n# caf\xe9\n", 33, "days.csv:3:6: found the byte 0xE9, expected UTF-8"},
        {"\n<!DOCTYPE html>\n<html></html>\n", 31, "found a web page"},
        {"<html>\n", 7, "found a web page"},
        {"<?xml version=\"1.0\"?>\n", 22, "found a web page"},
        {"", 0, "found an empty file"},
        {" \r\n\n", 4, "found an empty file"},
        {"\xef\xbb\xbf", 3, "found an empty file"},
    };
    for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++) {
        struct reading_of *reading = reading_by_bytes("plain", foreign[i].bytes, foreign[i].size);
        assert_reading_refused(reading, foreign[i].words);
        reading_done(reading);
    }
}

static void columns_swapped_in_the_header_are_noticed(void **state) {
    (void)state;
    assert_refused_text("date,tmin_c,tmax_c\n2021-06-01,28,14\n2021-06-02,29,15\n2021-06-03,27,16\n",
                        "found tmax_c below tmin_c on 3 of 3 days, first on 2021-06-01");
    /* One odd day is for the checks of core/weather to find: the file is taken. */
    struct reading_of *reading =
        reading_by("plain", HEAD "2021-06-01,28,14,0\n2021-06-02,14,28,0\n2021-06-03,27,16,0\n");
    assert_reading_days(reading, 3);
    reading_done(reading);
}

static void units_mixed_up_are_refused_with_a_hint(void **state) {
    (void)state;
    assert_refused_text(HEAD "2021-06-01,84,58,0\n2021-06-02,86,60,0\n",
                        "tmax_c: found 2 of 2 days outside -90 to 57");
    assert_refused_text(HEAD "2021-06-01,84,58,0\n2021-06-02,86,60,0\n", "degrees Fahrenheit");
    assert_refused_text("date,rs_mj_m2\n2021-06-01,250\n2021-06-02,270\n", "W/m2");
    assert_refused_text("date,pressure_kpa\n2021-06-01,1002\n", "hPa");
    assert_refused_text("date,rh_mean_pct\n2021-06-01,0.61\n2021-06-02,0.55\n2021-06-03,0.8\n",
                        "shares of 1");
    assert_refused_text("date,sun_h\n2021-06-01,612\n", "minutes");
}

static void a_single_odd_value_is_left_to_the_checks_of_the_day(void **state) {
    (void)state;
    struct reading_of *reading =
        reading_by("plain", HEAD "2021-06-01,28,14,0\n2021-06-02,61,14,0\n2021-06-03,27,16,-0.1\n");
    assert_reading_days(reading, 3);
    assert_near(reading_value(reading, "2021-06-02", "tmax_c"), 61.0, 0.0);
    assert_near(reading_value(reading, "2021-06-03", "rain_mm"), -0.1, 0.0);
    reading_done(reading);
}

static void missing_codes_that_nobody_named_are_refused(void **state) {
    (void)state;
    assert_refused_text(HEAD "2021-06-01,28,14,0\n2021-06-02,-9999,14,0\n",
                        "tmax_c: found -9999 on 2021-06-02, expected a number from -90 to 57");
    assert_refused_text(HEAD "2021-06-01,28,14,0\n2021-06-02,28,14,9999.9\n", "a code for \"missing\"");
    assert_refused_text("date,wind_m_s\n2021-06-01,999.9\n", "a code for \"missing\"");
}

static void the_layout_rules_separator_quote_decimal_units_and_codes(void **state) {
    (void)state;
    static const char json[] =
        "{\"title\": \"made up\", \"kind\": \"delimited\", \"separator\": \";\", \"quote\": \"'\", "
        "\"decimal\": \",\","
        " \"skip_rows\": 1, \"unit_rows\": 1, \"others\": \"ignore\", \"last_line\": \"any\", \"missing\": "
        "[-9999, \"---\"],"
        " \"time\": {\"column\": \"Tag\", \"format\": \"day/month/year\"},"
        " \"values\": {\"tmax_c\": {\"columns\": [\"TX\", \"T max\"], \"unit\": \"degF\"},"
        " \"wind_m_s\": {\"column\": 3, \"unit\": \"km/h\", \"missing\": [99.9]},"
        " \"rain_mm\": {\"column\": \"R\", \"unit\": \"in\", \"scale\": 0.01}}}";
    static const char text[] = "Station 7; made up\nTag;T max;Wind;R;Bemerkung\nd;F;km/h;in;-\n"
                               "1.6.2021;86,0;18,0;50;'a;b'\n02.06.2021;---;99,9;-9999;";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 1);
    /* 86 degF = 30 degC; 18 km/h = 5 m/s; 0.5 in = 12.7 mm: by definition of the units. */
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 30.0, 1e-9);
    assert_near(reading_value(reading, "2021-06-01", "wind_m_s"), 5.0, 1e-9);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 12.7, 1e-9);
    reading_done(reading);
}

static void tabs_part_fields_and_empty_ones_stay_empty(void **state) {
    (void)state;
    static const char json[] =
        "{\"title\": \"t\", \"separator\": \"tab\", \"time\": {\"column\": \"date\"}, \"values\":"
        " {\"tmax_c\": {\"column\": \"t\"}, \"tmin_c\": {\"column\": \"n\"}, \"rain_mm\": {\"column\": "
        "\"r\"}}}";
    static const char text[] =
        "date\tt\tn\tr\n2021-06-01\t 21.5 \t\t3\n2021-06-02\t\t\t4\n2021-06-03\t20\t10\t\n";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 3);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 21.5, 0.0);
    assert_true(isnan(reading_value(reading, "2021-06-01", "tmin_c")));
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 4.0, 0.0);
    assert_true(isnan(reading_value(reading, "2021-06-03", "rain_mm")));
    reading_done(reading);
}

static void dates_are_read_in_every_format(void **state) {
    (void)state;
    static const struct {
        const char *columns, *format, *text;
    } dates[] = {
        {"1", "iso", "2020-12-31"},
        {"1", "iso", "2020-12-31T00:00"},
        {"1", "iso", "2020-12-31 23:59:59.5"},
        {"1", "yyyymmdd", "20201231"},
        {"1,2", "year, day of year", "2020,366"},
        {"1,2,3", "year, month, day", "2020,12,31"},
        {"1", "month/day/year", "12/31/2020"},
        {"1", "day/month/year", "31.12.2020"},
        {"1", "epoch", "1609372800"}, /* 2020-12-31T00:00Z: 18627 days of 86400 s */
    };
    for (size_t i = 0; i < sizeof dates / sizeof dates[0]; i++) {
        char json[512], text[64];
        int column = (int)(strlen(dates[i].columns) + 1) / 2 + 1;
        (void)snprintf(
            json, sizeof json,
            "{\"title\": \"t\", \"kind\": \"delimited\", \"header\": false, \"time\": {\"columns\": [%s], "
            "\"format\": \"%s\"}, \"values\": {\"tmax_c\": {\"column\": %d}}}",
            dates[i].columns, dates[i].format, column);
        int size = snprintf(text, sizeof text, "%s,21.5\n", dates[i].text);
        struct reading_of *reading = reading_by_json(json, text, (size_t)size);
        assert_reading_days(reading, 1);
        assert_near(reading_value(reading, "2020-12-31", "tmax_c"), 21.5, 1e-12);
        reading_done(reading);
    }
}

static void a_date_in_pieces_is_shown_whole_when_it_is_none(void **state) {
    (void)state;
    static const char json[] =
        "{\"title\": \"t\", \"others\": \"ignore\", \"time\": {\"columns\": [\"y\", \"m\", \"d\"],"
        " \"format\": \"year, month, day\"}, \"values\": {\"tmax_c\": {\"column\": \"t\"}}}";
    static const char text[] = "y,m,d,t\n2021,2,30,21\n";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_refused(reading, "days:2:1: y: found \"2021 2 30\", expected a year, a month and a day");
    reading_done(reading);
}

static void the_sum_of_many_days_is_right(void **state) {
    (void)state;
    /* 30 years; each day's rain is its day number of the row modulo 7: any slip of a row or column shows. */
    struct text text;
    text_init(&text, 0);
    text_puts(&text, HEAD);
    double sum = 0.0, read = 0.0;
    for (int32_t i = 0; i < 10957; i++) {
        char iso[CALENDAR_ISO_SIZE];
        text_printf(&text, "%s,20,10,%d\n", calendar_format_iso(i, iso), i % 7);
        sum += i % 7;
    }
    struct reading_of *reading = reading_by_bytes("plain", text_string(&text), text.size);
    assert_reading_days(reading, 10957);
    for (size_t i = 0; i < reading->days.count; i++)
        read += reading->days.day[i].value[WEATHER_RAIN_MM];
    assert_near(read, sum, 1e-9);
    reading_done(reading);
    text_free(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plain_table_is_read_as_it_stands),
        cmocka_unit_test(missing_is_never_zero),
        cmocka_unit_test(marks_line_ends_remarks_and_quotes_do_not_matter),
        cmocka_unit_test(unsorted_days_are_sorted_and_leap_days_are_days),
        cmocka_unit_test(the_same_day_twice_is_taken_only_when_both_agree),
        cmocka_unit_test(a_file_cut_short_is_refused_wherever_the_cut_falls),
        cmocka_unit_test(what_is_no_number_is_named_with_its_place),
        cmocka_unit_test(all_errors_are_told_at_once),
        cmocka_unit_test(unknown_columns_are_refused_with_the_nearest_name),
        cmocka_unit_test(a_table_that_another_sign_parts_is_told_so),
        cmocka_unit_test(a_row_too_long_is_refused),
        cmocka_unit_test(what_is_no_text_is_refused_by_name),
        cmocka_unit_test(columns_swapped_in_the_header_are_noticed),
        cmocka_unit_test(units_mixed_up_are_refused_with_a_hint),
        cmocka_unit_test(a_single_odd_value_is_left_to_the_checks_of_the_day),
        cmocka_unit_test(missing_codes_that_nobody_named_are_refused),
        cmocka_unit_test(the_layout_rules_separator_quote_decimal_units_and_codes),
        cmocka_unit_test(tabs_part_fields_and_empty_ones_stay_empty),
        cmocka_unit_test(dates_are_read_in_every_format),
        cmocka_unit_test(a_date_in_pieces_is_shown_whole_when_it_is_none),
        cmocka_unit_test(the_sum_of_many_days_is_right),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
