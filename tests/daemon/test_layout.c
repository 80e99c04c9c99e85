/* Layout files: what is read from them and how mistakes in them are told. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/source/layout.h"
#include "support/near.h"
#include "support/reading.h"

#define TIME   "\"time\": {\"column\": \"date\"}"
#define VALUES "\"values\": {\"tmax_c\": {\"column\": \"t\"}}"

static void assert_layout_refused(const char *json, const char *words) {
    struct layout *layout = NULL;
    struct problems problems;
    struct text said;
    problems_init(&problems);
    text_init(&said, 0);
    enum status status = layout_parse("my.json", json, strlen(json), &layout, &problems);
    problems_print(&problems, &said);
    if (status != STATUS_REFUSED || layout != NULL || strstr(text_string(&said), words) == NULL)
        fail_msg("status %s, said: %s", status_name(status), text_string(&said));
    text_free(&said);
    problems_free(&problems);
}

static void every_layout_that_ships_can_be_read(void **state) {
    (void)state;
    char room[LAYOUT_NAME_SIZE];
    size_t count = 0;
    for (; layout_builtin_name(count, room) != NULL; count++) {
        struct layout *layout = NULL;
        struct problems problems;
        struct text said;
        problems_init(&problems);
        text_init(&said, 0);
        enum status status = layout_builtin(room, &layout, &problems);
        problems_print(&problems, &said);
        if (status != STATUS_OK || problems.count != 0)
            fail_msg("%s: %s", room, text_string(&said));
        assert_string_equal(layout_name(layout), room);
        assert_true(strlen(layout_title(layout)) > 10);
        layout_free(layout);
        text_free(&said);
        problems_free(&problems);
    }
    assert_true(count >= 1);
}

static void a_layout_that_does_not_ship_is_answered_with_the_nearest(void **state) {
    (void)state;
    struct layout *layout = NULL;
    struct problems problems;
    problems_init(&problems);
    assert_int_equal(layout_builtin("plane", &layout, &problems), STATUS_NOT_FOUND);
    assert_int_equal(problems.count, 1);
    assert_string_equal(problems.problem[0].message,
                        "found no layout named \"plane\", expected perhaps \"plain\"");
    problems_free(&problems);
    problems_init(&problems);
    assert_int_equal(layout_builtin("../crops", &layout, &problems), STATUS_NOT_FOUND);
    problems_free(&problems);
}

static void what_is_wrong_in_a_layout_is_named_by_its_path(void **state) {
    (void)state;
    assert_layout_refused("{\"title\": ", "my.json:1:");
    assert_layout_refused("[]", "expected a layout");
    assert_layout_refused("{" TIME "}", "values: expected an object with at least one value");
    assert_layout_refused("{" VALUES "}", "time: expected an object");
    assert_layout_refused("{" TIME ", " VALUES ", \"seperator\": \";\"}",
                          "seperator: found an unknown key, expected perhaps \"separator\"");
    assert_layout_refused("{" TIME ", " VALUES ", \"kind\": \"table\"}",
                          "kind: found \"table\", expected one of \"delimited\"");
    assert_layout_refused("{" TIME ", " VALUES ", \"separator\": \";;\"}",
                          "separator: found \";;\", expected one sign");
    assert_layout_refused("{" TIME ", " VALUES ", \"decimal\": \",\"}",
                          "separator: expected three different signs");
    assert_layout_refused("{" TIME ", " VALUES ", \"skip_rows\": -1}", "skip_rows: expected a number from 0");
    assert_layout_refused("{" TIME ", " VALUES ", \"skip_rows\": 1.5}",
                          "skip_rows: found 1.5, expected a whole number");
    assert_layout_refused("{" TIME ", " VALUES ", \"header\": 1}", "header: expected true or false");
    assert_layout_refused("{" TIME ", " VALUES ", \"missing\": -99}", "missing: expected a list");
    assert_layout_refused("{\"time\": {\"column\": \"d\", \"format\": \"yymmdd\"}, " VALUES "}",
                          "time.format: found \"yymmdd\"");
    assert_layout_refused("{\"time\": {\"column\": \"d\", \"format\": \"year, day of year\"}, " VALUES "}",
                          "time.columns: found 1 columns, expected 2");
}

static void what_is_wrong_in_a_value_is_named_by_its_path(void **state) {
    (void)state;
    assert_layout_refused("{" TIME ", \"values\": {\"tmx_c\": {\"column\": \"t\"}}}",
                          "values.tmx_c: found a value that weather");
    assert_layout_refused("{" TIME ", \"values\": {\"tmx_c\": {\"column\": \"t\"}}}", "tmax_c");
    assert_layout_refused("{" TIME ", \"values\": {\"tmax_c\": {\"column\": \"t\", \"unit\": \"km/h\"}}}",
                          "values.tmax_c.unit: found \"km/h\", expected a unit of temperature");
    assert_layout_refused("{" TIME ", \"values\": {\"tmax_c\": {}}}",
                          "values.tmax_c.column: expected a column");
    assert_layout_refused("{" TIME ", \"values\": {\"tmax_c\": {\"column\": 0}}}",
                          "values.tmax_c.column: expected a column");
    assert_layout_refused("{" TIME
                          ", \"values\": {\"tmax_c\": {\"column\": \"t\", \"flag\": {\"column\": \"q\"}}}}",
                          "values.tmax_c.flag: expected either keep or drop");
    assert_layout_refused("{" TIME ", \"element\": \"e\", \"values\": {\"tmax_c\": {\"column\": \"t\"}}}",
                          "values.tmax_c.key");
}

static void a_list_of_rules_is_for_readings_made_into_days(void **state) {
    (void)state;
    assert_layout_refused("{" TIME ", \"values\": {\"tmax_c\": [{\"column\": \"a\"}, {\"column\": \"b\"}]}}",
                          "values.tmax_c: found a list, expected one object");
    static const char json[] =
        "{\"title\": \"t\", \"time\": {\"column\": \"time\", \"step\": \"6 h\"}, \"values\": {\"tmax_c\":"
        " [{\"column\": \"a\", \"how\": \"max\"}, {\"column\": \"b\", \"how\": \"max\"}]}}";
    static const char text[] =
        "time,a,b\n2021-06-01T00:00,10,1\n2021-06-01T06:00,20,2\n2021-06-01T12:00,30,3\n"
        "2021-06-01T18:00,20,4\n2021-06-02T00:00,,5\n2021-06-02T06:00,7,6\n2021-06-02T12:00,7,7\n"
        "2021-06-02T18:00,7,8\n";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 30.0, 0.0);
    assert_near(reading_value(reading, "2021-06-02", "tmax_c"), 8.0,
                0.0); /* column a lacks a quarter of that day */
    reading_done(reading);
}

static void a_quality_flag_takes_a_value_out(void **state) {
    (void)state;
    static const char json[] =
        "{\"title\": \"t\", " TIME ", \"others\": \"ignore\", \"values\": {\"tmax_c\": {\"column\": \"t\","
        " \"flag\": {\"column\": \"q\", \"part\": 2, \"keep\": [\"\"]}}, \"rain_mm\": {\"column\": \"r\","
        " \"flag\": {\"column\": \"q\", \"part\": 3, \"drop\": [\"X\", 7]}}}}";
    static const char text[] =
        "date,t,r,q\n2021-06-01,20,1,\"a,,W\"\n2021-06-02,21,2,\"a,G,X\"\n2021-06-03,22,3,\",,7\"\n"
        "2021-06-04,23,4,\n";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 3); /* on 2 June nothing is left */
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 20.0, 0.0);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 1.0, 0.0);
    assert_true(isnan(reading_value(reading, "2021-06-02", "tmax_c")));
    assert_true(isnan(reading_value(reading, "2021-06-02", "rain_mm")));
    assert_near(reading_value(reading, "2021-06-03", "tmax_c"), 22.0, 0.0);
    assert_true(isnan(reading_value(reading, "2021-06-03", "rain_mm")));
    assert_near(reading_value(reading, "2021-06-04", "rain_mm"), 4.0, 0.0);
    reading_done(reading);
}

static void the_long_form_puts_each_element_where_it_belongs(void **state) {
    (void)state;
    static const char json[] = "{\"title\": \"t\", \"time\": {\"column\": 1, \"format\": \"yyyymmdd\"}, "
                               "\"element\": 2, \"header\": false,"
                               " \"values\": {\"tmax_c\": {\"key\": \"TMAX\", \"column\": 3, \"scale\": 0.1},"
                               " \"rain_mm\": {\"key\": \"PRCP\", \"column\": 3, \"scale\": 0.1}}}";
    static const char text[] = "20210601,TMAX,281\n20210601,PRCP,127\n20210602,PRCP,0\n99999999,SNOW,x\n";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 28.1, 1e-9);
    assert_near(reading_value(reading, "2021-06-01", "rain_mm"), 12.7, 1e-9);
    assert_true(isnan(reading_value(reading, "2021-06-02", "tmax_c")));
    reading_done(reading);
}

static void the_test_layout_for_seattle_reads_its_own_shape(void **state) {
    (void)state;
    size_t size = 0;
    char *json = reading_file("fixtures/layouts/seattle.json", &size);
    assert_non_null(json);
    static const char text[] =
        "date,precipitation,temp_max,temp_min,wind,weather\n2031-01-01,0.0,12.0,5.0,4.0,drizzle\n"
        "2031-01-02,10.5,10.0,2.5,4.5,rain\n";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2031-01-02", "rain_mm"), 10.5, 0.0);
    assert_near(reading_value(reading, "2031-01-02", "wind_m_s"), 4.5, 0.0);
    reading_done(reading);
    free(json);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_layout_that_ships_can_be_read),
        cmocka_unit_test(a_layout_that_does_not_ship_is_answered_with_the_nearest),
        cmocka_unit_test(what_is_wrong_in_a_layout_is_named_by_its_path),
        cmocka_unit_test(what_is_wrong_in_a_value_is_named_by_its_path),
        cmocka_unit_test(a_list_of_rules_is_for_readings_made_into_days),
        cmocka_unit_test(a_quality_flag_takes_a_value_out),
        cmocka_unit_test(the_long_form_puts_each_element_where_it_belongs),
        cmocka_unit_test(the_test_layout_for_seattle_reads_its_own_shape),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
