/* Addresses with holes. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/source/address_template.h"

static void expect(const char *address, const char *filled) {
    int32_t start, end, today;
    struct text text;
    assert_int_equal(calendar_from_civil(2026, 2, 9, &start), STATUS_OK);
    assert_int_equal(calendar_from_civil(2026, 12, 31, &end), STATUS_OK);
    assert_int_equal(calendar_from_civil(2027, 1, 1, &today), STATUS_OK);
    const struct address_values values = {38.2, -98.625, today, start, end, "a b/c"};
    text_init(&text, 0);
    assert_int_equal(address_template_fill(address, &values, &text), STATUS_OK);
    assert_string_equal(text_string(&text), filled);
    text_free(&text);
}

static void each_hole_is_filled(void **state) {
    (void)state;
    expect("http://a.example/{lat}/{lon}", "http://a.example/38.2000/-98.6250");
    expect("http://a.example/?d={date}&s={start}&e={end}",
           "http://a.example/?d=2027-01-01&s=2026-02-09&e=2026-12-31");
    expect("http://a.example/{year}.csv", "http://a.example/2026.csv");
    expect("http://a.example/plain.csv", "http://a.example/plain.csv");
}

static void dates_take_the_form_that_follows(void **state) {
    (void)state;
    expect("x{start:YYYYMMDD}", "x20260209");
    expect("x{start:MM/DD/YYYY}x", "x02/09/2026x");
    expect("{start:YYYYDDD}-{end:YYYY-DDD}", "2026040-2026-365");
    expect("{date:YYYY-MM-DDT00:00}", "2027-01-01T00:00");
}

static void a_key_is_percent_encoded(void **state) {
    (void)state;
    expect("http://a.example/?appid={key}&x=1", "http://a.example/?appid=a%20b%2Fc&x=1");
}

static void without_a_key_its_hole_stays_for_showing(void **state) {
    (void)state;
    struct text text;
    const struct address_values values = {38.2, (double)NAN, 0, 0, 0, NULL};
    text_init(&text, 0);
    assert_int_equal(address_template_fill("http://a.example/?appid={key}", &values, &text), STATUS_OK);
    assert_string_equal(text_string(&text), "http://a.example/?appid={key}");
    text_clear(&text);
    assert_int_equal(address_template_fill("http://a.example/{lon}", &values, &text), STATUS_MISSING);
    text_free(&text);
}

static void what_nothing_fills_is_named(void **state) {
    (void)state;
    static const struct {
        const char *address, *wrong;
    } cases[] = {{"http://a.example/{latt}", "{latt}"},
                 {"http://a.example/{lat}/{", "{"},
                 {"http://a.example/{lat:YYYY}", "{lat:YYYY}"},
                 {"http://a.example/{start", "{start"},
                 {"{}", "{}"},
                 {"{{lat}}", "{{lat}"}};
    char wrong[ADDRESS_TEMPLATE_WORD_SIZE];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_false(address_template_check(cases[i].address, wrong));
        assert_string_equal(wrong, cases[i].wrong);
    }
    assert_true(
        address_template_check("http://a.example/{lat}{lon}{date}{start}{end:YYYY}{year}{key}", wrong));
    char longest[500];
    memset(longest, 'x', sizeof longest);
    longest[0] = '{';
    longest[sizeof longest - 1] = '\0';
    assert_false(address_template_check(longest, wrong));
    assert_int_equal(strlen(wrong), ADDRESS_TEMPLATE_WORD_SIZE - 1);
}

static void the_holes_tell_which_days_an_address_stands_for(void **state) {
    (void)state;
    assert_int_equal(address_template_span("http://a.example/all.csv"), ADDRESS_WHOLE);
    assert_int_equal(address_template_span("http://a.example/{date}"), ADDRESS_WHOLE);
    assert_int_equal(address_template_span("http://a.example/{lat}?s={start}"), ADDRESS_DAYS);
    assert_int_equal(address_template_span("http://a.example/{year}?s={start}"), ADDRESS_YEAR);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_hole_is_filled),
        cmocka_unit_test(dates_take_the_form_that_follows),
        cmocka_unit_test(a_key_is_percent_encoded),
        cmocka_unit_test(without_a_key_its_hole_stays_for_showing),
        cmocka_unit_test(what_nothing_fills_is_named),
        cmocka_unit_test(the_holes_tell_which_days_an_address_stands_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
