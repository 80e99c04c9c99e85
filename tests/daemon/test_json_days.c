/* JSON Pointers (RFC 6901) and the forms in which JSON holds days. All weather is invented. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/source/json_pointer.h"
#include "support/near.h"
#include "support/reading.h"

static void pointers_point_as_the_standard_says(void **state) {
    (void)state;
    /* The document and the pointers of RFC 6901, section 5. */
    cJSON *root =
        cJSON_Parse("{\"foo\": [\"bar\", \"baz\"], \"\": 0, \"a/b\": 1, \"c%d\": 2, \"e^f\": 3, \"g|h\": 4,"
                    " \"i\\\\j\": 5, \"k\\\"l\": 6, \" \": 7, \"m~n\": 8}");
    assert_non_null(root);
    assert_ptr_equal(json_pointer_get(root, ""), root);
    assert_true(cJSON_IsArray(json_pointer_get(root, "/foo")));
    assert_string_equal(json_pointer_get(root, "/foo/0")->valuestring, "bar");
    static const char *const pointers[] = {"/",     "/a~1b", "/c%d", "/e^f", "/g|h",
                                           "/i\\j", "/k\"l", "/ ",   "/m~0n"};
    for (int i = 0; i < 9; i++) {
        const cJSON *item = json_pointer_get(root, pointers[i]);
        assert_non_null(item);
        assert_int_equal(item->valueint, i);
    }
    cJSON_Delete(root);
}

static void pointers_that_are_none_point_at_nothing(void **state) {
    (void)state;
    cJSON *root = cJSON_Parse("{\"foo\": [\"bar\", \"baz\"], \"m~n\": 8, \"s\": \"text\"}");
    static const char *const pointers[] = {
        "foo",    "/foo/2", "/foo/-", "/foo/01", "/foo/1x", "/foo/", "/foo/99999999999",
        "/foo/:", "/m~n",   "/m~",    "/m~2n",   "/s/0",    "/none", "/foo/0/0"};
    for (size_t i = 0; i < sizeof pointers / sizeof pointers[0]; i++)
        assert_null(json_pointer_get(root, pointers[i]));
    cJSON_Delete(root);
}

#define LIST                                                                                                 \
    "{\"title\": \"t\", \"kind\": \"json\", \"form\": \"list\", \"rows\": \"/data/0/days\", \"missing\": "   \
    "[-99, \"M\"],"                                                                                          \
    " \"time\": {\"column\": \"d\", \"format\": \"iso\"},"                                                   \
    " \"values\": {\"tmax_c\": {\"columns\": [\"hi\", \"/air/max\"]}, \"rain_mm\": {\"column\": \"/r\"}}}"

static void a_list_of_objects_is_read(void **state) {
    (void)state;
    static const char text[] = "{\"data\": [{\"days\": [{\"d\": \"2021-06-01\", \"hi\": 21.5, \"r\": null},"
                               "{\"d\": \"2021-06-02\", \"air\": {\"max\": \"22.25\"}, \"r\": \"M\"},"
                               "{\"d\": \"2021-06-03\", \"hi\": -99, \"r\": 4}]}]}";
    struct reading_of *reading = reading_by_json(LIST, text, sizeof text - 1);
    assert_reading_days(reading, 3);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 21.5, 0.0);
    assert_near(reading_value(reading, "2021-06-02", "tmax_c"), 22.25, 0.0);
    assert_true(isnan(reading_value(reading, "2021-06-01", "rain_mm")));
    assert_true(isnan(reading_value(reading, "2021-06-02", "rain_mm")));
    assert_true(isnan(reading_value(reading, "2021-06-03", "tmax_c")));
    assert_near(reading_value(reading, "2021-06-03", "rain_mm"), 4.0, 0.0);
    reading_done(reading);
}

static void what_is_wrong_in_json_is_named_by_its_pointer(void **state) {
    (void)state;
    static const struct {
        const char *text, *words;
    } wrong[] = {
        {"{\"data\": [{\"days\": [{\"d\": \"2021-06-01\", \"hi\": true}]}]}",
         "/data/0/days[0]: hi: found no number"},
        {"{\"data\": [{\"days\": [{\"d\": \"2021-06-01\", \"hi\": \"warm\"}]}]}",
         "/data/0/days[0]: hi: found \"warm\""},
        {"{\"data\": [{\"days\": [{\"d\": \"June\", \"hi\": 1}]}]}",
         "/data/0/days[0]: found \"June\", expected a date"},
        {"{\"data\": [{\"days\": [{\"hi\": 1}]}]}", "/data/0/days[0]: found \"\", expected a date"},
        {"{\"data\": [{\"days\": {}}]}", "/data/0/days: found no list"},
        {"{\"data\": []}", "/data/0/days: found nothing there"},
        {"{\"data\": [{\"days\": []}]}", "found no value that the layout"},
        {"{\"data\": [{\"days\": [7, null, []]}]}", "expected a date"},
        {"{\"data\": [{\"days\": [{\"d\": \"2021-06-01\", \"hi\": 1}, {\"d\": \"2021-06-01\", \"hi\": 2}]}]}",
         "stands before as 1"},
        {"{\"data\": [{\"days\": []}]} x", "days:1:25: found no JSON"},
        {"{\"data\":\n[{\"days\": nil}]}", "days:2:11: found no JSON"},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct reading_of *reading = reading_by_json(LIST, wrong[i].text, strlen(wrong[i].text));
        assert_reading_refused(reading, wrong[i].words);
        reading_done(reading);
    }
}

static void epochs_may_be_numbers(void **state) {
    (void)state;
    static const char json[] = "{\"title\": \"t\", \"kind\": \"json\", \"form\": \"side by side\","
                               " \"time\": {\"column\": \"time\", \"format\": \"epoch\"}, \"values\": "
                               "{\"tmax_c\": {\"column\": \"t\"}}}";
    /* 2021-06-01T00:00Z is day 18779: 18779 * 86400 s. */
    static const char text[] = "{\"time\": [1622505600, 1622592000], \"t\": [21, 22]}";
    struct reading_of *reading = reading_by_json(json, text, sizeof text - 1);
    assert_reading_days(reading, 2);
    assert_near(reading_value(reading, "2021-06-02", "tmax_c"), 22.0, 0.0);
    reading_done(reading);
}

static void a_unit_named_by_the_file_goes_before_the_layouts_own(void **state) {
    (void)state;
    struct reading_of *reading =
        reading_by("open-meteo", "{\"daily_units\": {\"temperature_2m_max\": \"°F\", \"windspeed_10m_mean\": "
                                 "\"kn\"}, \"daily\": {\"time\":"
                                 " [\"2021-06-01\"], \"temperature_2m_max\": [86], \"temperature_2m_min\": "
                                 "[15], \"windspeed_10m_mean\": [10]}}");
    assert_reading_days(reading, 1);
    assert_near(reading_value(reading, "2021-06-01", "tmax_c"), 30.0, 1e-9); /* 86 degF */
    assert_near(reading_value(reading, "2021-06-01", "tmin_c"), 15.0, 1e-9); /* no unit named: degC */
    assert_near(reading_value(reading, "2021-06-01", "wind_m_s"), 18520.0 / 3600.0, 1e-9); /* 10 knots */
    reading_done(reading);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pointers_point_as_the_standard_says),
        cmocka_unit_test(pointers_that_are_none_point_at_nothing),
        cmocka_unit_test(a_list_of_objects_is_read),
        cmocka_unit_test(what_is_wrong_in_json_is_named_by_its_pointer),
        cmocka_unit_test(epochs_may_be_numbers),
        cmocka_unit_test(a_unit_named_by_the_file_goes_before_the_layouts_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
