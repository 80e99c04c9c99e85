/* Rows of columns: parted by blanks, or by characters, a month in a row. All weather is invented. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/near.h"
#include "support/reading.h"

#define BLANKS                                                                                               \
    "{\"title\": \"t\", \"kind\": \"columns\", \"fields\": 3, \"comment\": \"#\", \"missing\": [-99],"       \
    " \"time\": {\"column\": 1, \"format\": \"yyyymmdd\"}, \"values\": {\"tmax_c\": {\"column\": 2},"        \
    " \"rain_mm\": {\"column\": 3}}}"

static struct reading_of *read_text(const char *json, const char *text) {
    return reading_by_json(json, text, strlen(text));
}

static void fields_parted_by_blanks_are_read(void **state) {
    (void)state;
    struct reading_of *reading =
        read_text(BLANKS, "# made up\r\n20210601   21.5  \t0.0\r\n  20210602 -99 4\r\n\r\n");
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 21.5, 0.0);
    assert_true(isnan(reading_value(reading, "2021-06-02", "tmax_c")));
    assert_near(reading_value(reading, "2021-06-02", "rain_mm"), 4.0, 0.0);
    reading_done(reading);
}

static void rows_with_other_fields_are_refused(void **state) {
    (void)state;
    struct reading_of *reading =
        read_text(BLANKS, "20210601 21.5\n20210602 20 4 7\n20210603 x 4\n20210604 20 4");
    assert_reading_refused(reading, "days:1: found 2 fields, expected 3; the row is cut short");
    assert_reading_refused(reading, "days:2: found 4 fields, expected 3");
    assert_reading_refused(reading, "days:3:2: tmax_c: found \"x\"");
    assert_reading_refused(reading, "days:4: found a last line without a line end");
    assert_int_equal(reading->problems.count, 4);
    reading_done(reading);
}

#define CHARACTERS                                                                                           \
    "{\"title\": \"t\", \"kind\": \"columns\", \"length\": 16, \"missing\": [-9999], \"element\": \"7-10\"," \
    " \"time\": {\"columns\": [\"1-4\", \"5-6\"], \"format\": \"year, month\"},"                             \
    " \"repeat\": {\"first\": 11, \"width\": 6, \"count\": 31}, \"values\": {\"tmax_c\": {\"key\": "         \
    "\"TMAX\","                                                                                              \
    " \"column\": \"11-15\", \"scale\": 0.1, \"flag\": {\"column\": \"16-16\", \"keep\": [\"\"]}}}}"

static void a_row_may_hold_a_month(void **state) {
    (void)state;
    char row[256];
    size_t used = (size_t)snprintf(row, sizeof row, "202302TMAX");
    for (int day = 1; day <= 31; day++)
        used += (size_t)snprintf(row + used, sizeof row - used, "%5d%c", day <= 28 ? 100 + day : -9999,
                                 day == 5 ? 'X' : ' ');
    (void)snprintf(row + used, sizeof row - used, "\n");
    struct reading_of *reading = read_text(CHARACTERS, row);
    assert_reading_days(reading, 27);
    assert_near(reading_value(reading, "2023-02-01", "tmax_c"), 10.1, 1e-9);
    assert_near(reading_value(reading, "2023-02-28", "tmax_c"), 12.8, 1e-9);
    assert_true(isnan(reading_value(reading, "2023-02-05", "tmax_c"))); /* its flag says so */
    reading_done(reading);
}

static void a_day_that_does_not_exist_must_be_empty(void **state) {
    (void)state;
    char row[256];
    size_t used = (size_t)snprintf(row, sizeof row, "202302TMAX");
    for (int day = 1; day <= 31; day++)
        used += (size_t)snprintf(row + used, sizeof row - used, "%5d ", 100 + day);
    (void)snprintf(row + used, sizeof row - used, "\n");
    struct reading_of *reading = read_text(CHARACTERS, row);
    assert_reading_refused(reading,
                           "days:1:179: tmax_c: found a value for day 29 of a month that has no such day");
    assert_int_equal(reading->problems.count, 3); /* 29, 30 and 31 February */
    reading_done(reading);
}

static void rows_that_are_too_short_are_refused(void **state) {
    (void)state;
    struct reading_of *reading = read_text(CHARACTERS, "202302TMAX  10\n");
    assert_reading_refused(reading, "days:1: found 14 characters, expected 16; the row is cut short");
    reading_done(reading);
}

static void columns_that_are_none_are_refused_in_the_layout(void **state) {
    (void)state;
    static const char *const places[] = {"0", "\"5-3\"", "\"0-3\"", "\"a-b\"", "\"3\"", "2000", "\"3-5x\""};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        char json[512];
        (void)snprintf(
            json, sizeof json,
            "{\"title\": \"t\", \"kind\": \"columns\", \"time\": {\"column\": 1, \"format\": \"yyyymmdd\"},"
            " \"values\": {\"tmax_c\": {\"column\": %s}}}",
            places[i]);
        struct reading_of *reading = read_text(json, "20210601 21\n");
        assert_reading_refused(
            reading, "values.tmax_c.column: expected a column's number, or its characters as \"1-11\"");
        reading_done(reading);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fields_parted_by_blanks_are_read),
        cmocka_unit_test(rows_with_other_fields_are_refused),
        cmocka_unit_test(a_row_may_hold_a_month),
        cmocka_unit_test(a_day_that_does_not_exist_must_be_empty),
        cmocka_unit_test(rows_that_are_too_short_are_refused),
        cmocka_unit_test(columns_that_are_none_are_refused_in_the_layout),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
