/* The call after something was recorded for today. Values by hand; depletion counts from field capacity. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/decide/call.h"
#include "tests/support/near.h"

#define TODAY 20100
#define DAYS  5

struct field {
    struct season_day path[DAYS];
    struct system system;
    struct call_input input;
};

/* 60 mm gone this morning of 50 allowed; 5 mm used a day; `settled_mm` recorded for today. */
static void make_field(struct field *field, double settled_mm) {
    double depletion_mm = 60;
    for (int i = 0; i < DAYS; i++) {
        double evening_mm = fmax(depletion_mm - (i == 0 ? settled_mm : 0), 0) + 5;
        field->path[i] = (struct season_day){.date = TODAY + i,
                                             .stage = STAGE_MID,
                                             .taw_mm = 100,
                                             .allowed_mm = 50,
                                             .depletion_start_mm = depletion_mm,
                                             .depletion_mm = evening_mm};
        depletion_mm = evening_mm;
    }
    field->system = system_default(SYSTEM_CENTRE_PIVOT);
    field->system.area_m2 = 10000;
    field->input = (struct call_input){.today = TODAY,
                                       .days = DAYS,
                                       .with_rain = field->path,
                                       .without_rain = field->path,
                                       .system = &field->system,
                                       .settled_mm = settled_mm,
                                       .missing = CALL_REASON_COUNT};
}

static struct call call_of(const struct field *field) {
    struct call call;
    assert_int_equal(call_make(&field->input, &call), STATUS_OK);
    return call;
}

static void without_a_record_the_field_is_to_be_watered_today(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 0);
    assert_int_equal(call_of(&field).kind, CALL_WATER_TODAY);
    assert_near(call_of(&field).application.net_mm, 60, 0);
}

static void what_was_watered_today_counts_at_once(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 60);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_HOLD);
    assert_near(call.depletion_mm, 0, 0);
}

static void a_part_of_it_leaves_the_rest_to_water(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 8);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PAST_ALLOWED);
    assert_near(call.depletion_mm, 52, 0);
    assert_near(call.application.net_mm, 52, 0);
    make_field(&field, 12);
    call = call_of(&field);
    assert_int_equal(call.reason, CALL_REASON_PASSES_TODAY); /* 48 now, 53 this evening */
    assert_near(call.application.net_mm, 48, 0);
}

static void a_reading_that_finds_the_soil_drier_makes_it_due(void **state) {
    (void)state;
    struct field field;
    make_field(&field, -20);
    assert_near(call_of(&field).depletion_mm, 80, 0);
    assert_near(call_of(&field).application.net_mm, 80, 0);
}

static void rain_in_the_gauge_today_is_not_counted_twice(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 9);
    field.path[0].rain_mm = 9;
    field.input.rain_settled = true;
    struct call call = call_of(&field);
    assert_near(call.application.net_mm, 51, 0);
    assert_near(call.rain_expected_mm, 0, 0);
}

static void a_record_that_is_no_number_is_refused(void **state) {
    (void)state;
    struct field field;
    struct call call;
    make_field(&field, 0);
    field.input.settled_mm = NAN;
    assert_int_equal(call_make(&field.input, &call), STATUS_NOT_FINITE);
    field.input.settled_mm = INFINITY;
    assert_int_equal(call_make(&field.input, &call), STATUS_NOT_FINITE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_record_the_field_is_to_be_watered_today),
        cmocka_unit_test(what_was_watered_today_counts_at_once),
        cmocka_unit_test(a_part_of_it_leaves_the_rest_to_water),
        cmocka_unit_test(a_reading_that_finds_the_soil_drier_makes_it_due),
        cmocka_unit_test(rain_in_the_gauge_today_is_not_counted_twice),
        cmocka_unit_test(a_record_that_is_no_number_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
