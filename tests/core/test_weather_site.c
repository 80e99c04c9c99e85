/* Names of elements, rules, origins and findings; an empty day; the checks of a site. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/weather/weather.h"
#include "tests/support/near.h"

#define DATE 20270 /* 2025-07-01 */

static void names_lead_back_to_their_elements(void **state) {
    (void)state;
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++)
        assert_int_equal(weather_element_of(weather_element_name((enum weather_element)i)), i);
    assert_int_equal(weather_element_of("tmax"), WEATHER_ELEMENT_COUNT);
    assert_null(weather_element_name(WEATHER_ELEMENT_COUNT));
}

static void every_name_is_there_and_is_used_once(void **state) {
    (void)state;
    for (int a = 0; a < WEATHER_RULE_COUNT; a++) {
        assert_true(strlen(weather_rule_text((enum weather_rule)a)) > 3);
        for (int b = 0; b < a; b++)
            assert_string_not_equal(weather_rule_key((enum weather_rule)a),
                                    weather_rule_key((enum weather_rule)b));
    }
    for (int a = 0; a < FINDING_KIND_COUNT; a++)
        for (int b = 0; b < a; b++)
            assert_string_not_equal(weather_finding_key((enum weather_finding_kind)a),
                                    weather_finding_key((enum weather_finding_kind)b));
    for (int a = 0; a < ORIGIN_COUNT; a++)
        for (int b = 0; b < a; b++)
            assert_string_not_equal(weather_origin_name((enum weather_origin)a),
                                    weather_origin_name((enum weather_origin)b));
    assert_null(weather_rule_text(WEATHER_RULE_COUNT));
    assert_null(weather_rule_key(WEATHER_RULE_COUNT));
    assert_null(weather_finding_key(FINDING_KIND_COUNT));
    assert_null(weather_origin_name(ORIGIN_COUNT));
}

static void an_empty_day_has_nothing(void **state) {
    (void)state;
    struct weather_day day = weather_day_empty(DATE);
    assert_int_equal(day.date, DATE);
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        assert_true(isnan(day.value[i]));
        assert_int_equal(day.origin[i], ORIGIN_MISSING);
    }
}

/* FAO-56: as 0.25, bs 0.50 (eq. 35), wind 2 m/s and at 2 m. */
static void a_site_has_the_defaults_of_fao_56(void **state) {
    (void)state;
    struct weather_site at = weather_site_default(-33.0, 50.0);
    assert_int_equal(weather_site_check(&at), STATUS_OK);
    assert_true(at.latitude_deg == -33.0 && at.elevation_m == 50.0 && at.wind_height_m == 2.0 && !at.coastal);
    assert_true(isnan(at.krs) && at.angstrom_as == 0.25 && at.angstrom_bs == 0.50);
    assert_true(at.aridity_c == 0.0 && at.wind_default_m_s == 2.0);
}

static void a_site_is_checked_member_by_member(void **state) {
    (void)state;
    struct weather_site at = weather_site_default(-33.0, 50.0);
    const struct {
        double *member, low, high;
    } row[] = {{&at.latitude_deg, -90.0, 90.0}, {&at.elevation_m, -430.0, 6000.0},
               {&at.wind_height_m, 0.5, 100.0}, {&at.krs, 0.05, 0.3},
               {&at.aridity_c, 0.0, 5.0},       {&at.wind_default_m_s, 0.5, 10.0}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double kept = *row[i].member;
        const double end[] = {row[i].low, row[i].high};
        for (int e = 0; e < 2; e++) {
            *row[i].member = end[e];
            assert_int_equal(weather_site_check(&at), STATUS_OK);
            *row[i].member = nextafter(end[e], e == 0 ? -INFINITY : INFINITY);
            assert_int_equal(weather_site_check(&at), STATUS_OUT_OF_RANGE);
            *row[i].member = e == 0 ? -INFINITY : INFINITY;
            assert_int_equal(weather_site_check(&at), STATUS_NOT_FINITE);
        }
        *row[i].member = kept;
    }
    at.elevation_m = NAN;
    assert_int_equal(weather_site_check(&at), STATUS_NOT_FINITE);
}

/* Each 0..1, together 0.2..1: more than all of Ra does not reach the ground. */
static void the_angstrom_coefficients_are_checked_with_their_sum(void **state) {
    (void)state;
    static const struct {
        double as, bs;
        enum status status;
    } row[] = {{0.0, 1.0, STATUS_OK},
               {1.0, 0.0, STATUS_OK},
               {0.1, 0.1, STATUS_OK},
               {0.1, 0.09, STATUS_OUT_OF_RANGE},
               {0.5, 0.51, STATUS_OUT_OF_RANGE},
               {-0.01, 0.5, STATUS_OUT_OF_RANGE},
               {0.5, -0.01, STATUS_OUT_OF_RANGE},
               {1.01, -0.3, STATUS_OUT_OF_RANGE},
               {NAN, 0.5, STATUS_NOT_FINITE}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct weather_site at = weather_site_default(40.0, 300.0);
        at.angstrom_as = row[i].as;
        at.angstrom_bs = row[i].bs;
        assert_int_equal(weather_site_check(&at), row[i].status);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_lead_back_to_their_elements),
        cmocka_unit_test(every_name_is_there_and_is_used_once),
        cmocka_unit_test(an_empty_day_has_nothing),
        cmocka_unit_test(a_site_has_the_defaults_of_fao_56),
        cmocka_unit_test(a_site_is_checked_member_by_member),
        cmocka_unit_test(the_angstrom_coefficients_are_checked_with_their_sum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
