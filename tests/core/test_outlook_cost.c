/* Watering now against waiting, and the call that is made of it. Fields and weather are made so that the
 * better plan is plain. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "tests/support/cost_case.h"
#include "tests/support/near.h"

static struct outlook_cost cost_of(const struct cost_case *one) {
    struct outlook_cost cost;
    assert_int_equal(outlook_cost_run(&one->weigh, &cost_case_cost_room, &cost), STATUS_OK);
    return cost;
}

static struct call call_of(const struct cost_case *one) {
    struct call call;
    assert_int_equal(call_by_cost(&one->input, &one->outlook, &one->weigh, &cost_case_cost_room, &call, NULL),
                     STATUS_OK);
    return call;
}

static void a_dry_field_without_rain_in_sight_is_watered_today(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 60, -1, 0, 0);
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.now < cost.wait);
    assert_true(cost.stress_now_mm < cost.stress_wait_mm);
    struct call call = call_of(&one);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PAST_ALLOWED);
    assert_true(call.by_cost);
    assert_near(call.dry_chance, 1, 0);
    assert_true(call.application.net_mm >= 30 && call.application.net_mm <= 60);
}

static void sure_rain_tomorrow_is_waited_for(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 44, 1, 60, 1);
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.wait < cost.now);
    assert_true(cost.gross_wait_mm < cost.gross_now_mm);
    assert_near(cost.stress_wait_mm, 0, 1e-9);
    struct call call = call_of(&one);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_true(call.cover_chance >= 0.5);
    assert_true(call.spared_mm > 0);
    /* Dates of the path without rain: its second evening has 54 mm. */
    assert_int_equal(call.dry_date, COST_CASE_TODAY + 1);
}

/* FAO-56 counts Ks with the depletion after the day's water came in: a field that passes this evening loses
 * nothing when it is watered tomorrow morning. */
static void a_field_that_passes_this_evening_can_wait_a_morning_for_likely_rain(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 46, 0, 30, 0.6);
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.wait < cost.now);
    cost_case_make(&one, 46, -1, 0, 0);
    assert_int_equal(call_of(&one).kind == CALL_HOLD, 0);
}

static void the_dearer_the_water_the_longer_it_is_waited(void **state) {
    (void)state;
    struct cost_case one;
    int last = 0;
    cost_case_make(&one, 51, 2, 40, 0.5);
    for (int step = 0; step < 8; step++) {
        struct outlook_cost cost = cost_of(&one);
        int waits = cost.wait <= cost.now ? 1 : 0;
        assert_true(waits >= last);
        last = waits;
        one.prices.gross_per_mm *= 4;
        one.prices.leached_per_mm *= 4;
        one.prices.start *= 4;
    }
    assert_int_equal(last, 1);
}

static void a_field_that_stays_moist_without_rain_is_held_whatever_the_costs(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 0, -1, 0, 0);
    one.field.days = one.input.days = one.outlook.days = 8;
    struct call call = call_of(&one);
    assert_int_equal(call.kind, CALL_HOLD);
    assert_int_equal(call.reason, CALL_REASON_ENOUGH);
    assert_near(call.dry_chance, 0, 0);
    assert_false(isfinite(call.cover_chance) || isfinite(call.spared_mm));
}

static void a_field_that_dries_later_is_watered_by_a_later_day(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 30, -1, 0, 0);
    struct call call = call_of(&one);
    assert_int_equal(call.kind, CALL_WATER_BY);
    assert_int_equal(call.reason, CALL_REASON_PASSES_LATER);
    /* Evenings 35, 40, 45, 50: dry on the fourth day. */
    assert_int_equal(call.dry_date, COST_CASE_TODAY + 3);
    assert_true(call.start_by > COST_CASE_TODAY && call.start_by <= COST_CASE_TODAY + 3);
    assert_true(call.application.net_mm > 30);
}

static void water_that_the_season_needs_no_more_is_not_given(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 48, -1, 0, 0);
    /* Two days to the harvest, and stress costs nothing any more. */
    one.field.days = one.input.days = 2;
    one.weigh.later.etc_mm = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        one.prices.yield_per_mm[k] = 0;
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.wait < cost.now);
    assert_near(cost.gross_wait_mm, 0, 0);
}

static void a_field_watered_today_is_not_watered_again(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 52, -1, 0, 0);
    one.field.settled_mm = one.field.day[0].irrigation_net_mm = 50;
    one.input.settled_mm = 50;
    for (int i = 0; i < COST_CASE_DAYS; i++) {
        one.with_rain[i].depletion_mm = one.without_rain[i].depletion_mm = 7 + 5 * i;
        if (i > 0)
            one.with_rain[i].depletion_start_mm = one.without_rain[i].depletion_start_mm = 2 + 5 * i;
    }
    assert_int_equal(outlook_run(&one.field, &one.weather, 0, &cost_case_room, &one.outlook), STATUS_OK);
    assert_near(one.outlook.passes[0], 0, 0);
    struct call call = call_of(&one);
    assert_true(call.kind == CALL_HOLD || call.kind == CALL_WATER_BY);
    assert_near(call.depletion_mm, 2, 1e-12);
}

static void rain_read_today_is_every_members_rain(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 48, 0, 60, 1);
    one.field.day[0].rain_known = true;
    one.field.day[0].rain_mm = 0;
    assert_int_equal(outlook_run(&one.field, &one.weather, 0, &cost_case_room, &one.outlook), STATUS_OK);
    assert_near(one.outlook.passes[0], 1, 0);
}

static void rainfed_and_unknown_fields_get_the_same_call_as_without_an_outlook(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 60, -1, 0, 0);
    one.input.rainfed = true;
    struct call call = call_of(&one), plain;
    assert_int_equal(call_make(&one.input, &plain), STATUS_OK);
    assert_int_equal(call.kind, plain.kind);
    assert_int_equal(call.reason, CALL_REASON_RAINFED);
    assert_false(call.by_cost);
    one.input.rainfed = false;
    one.input.missing = CALL_REASON_RAIN_MISSING;
    assert_int_equal(call_of(&one).kind, CALL_CANNOT_SAY);
}

static void wrong_arguments_are_refused_and_nothing_is_written(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 60, -1, 0, 0);
    struct outlook_cost cost = {.wait_day = 77};
    one.prices.gross_per_mm = NAN;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_MISSING);
    one.prices.gross_per_mm = -1;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    one.prices.gross_per_mm = INFINITY;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_NOT_FINITE);
    one.prices = outlook_prices_default();
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost),
                     STATUS_MISSING); /* yield_per_mm */
    cost_case_make(&one, 60, -1, 0, 0);
    one.weigh.later.etc_mm = -1;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    one.weigh.later.etc_mm = 200;
    one.weigh.later.rain_mm = -1;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    one.weigh.later.rain_mm = 0;
    one.weigh.system = NULL;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_MISSING);
    one.weigh.system = &one.system;
    one.system.efficiency = 2;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    assert_int_equal(cost.wait_day, 77);
}

/* 60 mm depleted, 10 mm a day: 50 mm is the RAW at 5 mm a day and past that of a day 20 % hotter (p of Table
 * 22 falls by 0.04 for each mm). Where no later turn makes up for it, a due turn is not thought harmful for
 * what it evaporates on such a day. */
static void a_due_turn_near_the_end_is_weighed_without_hotter_days(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 60, -1, 0, 0);
    one.field.p_fixed = false;
    one.system.net_max_mm = 10;
    one.weigh.later.etc_mm = 0;
    double cautious_mm = cost_of(&one).stress_now_mm;
    one.weigh.plain = OUTLOOK_PLAIN_WAITS;
    assert_near(cost_of(&one).stress_now_mm, cautious_mm, 0);
    one.weigh.plain = OUTLOOK_PLAIN_WATERS;
    assert_true(cost_of(&one).stress_now_mm < cautious_mm);
    one.weigh.later.goes_on = true;
    assert_near(cost_of(&one).stress_now_mm, cautious_mm, 0);
    one.weigh.later.goes_on = false;
    one.weigh.later.etc_mm = 20;
    assert_near(cost_of(&one).stress_now_mm, cautious_mm, 0);
}

/* FAO-56 eq. 90: Ky over ETc. */
static void stress_costs_by_stage_where_a_stage_has_a_ky(void **state) {
    (void)state;
    assert_near(outlook_yield_per_mm(1.5, 150, 1.25, 500), 0.01, 1e-15);
    assert_near(outlook_yield_per_mm(NAN, 150, 1.25, 500), 0.0025, 1e-15);
    assert_near(outlook_yield_per_mm(NAN, 150, NAN, 500), 0.002, 1e-15);
    assert_near(outlook_yield_per_mm(NAN, 0, 1, 0), 0, 0);
}

/* Days after the outlook as the usual year has them; of its rain what FAO's dependable rain leaves of a
 * month: 0.6 P - 10 mm up to 70 mm, 0.8 P - 24 mm above (from memory). */
static void the_rest_of_the_season_is_that_of_the_usual_year(void **state) {
    (void)state;
    struct cost_case one;
    struct season_setup setup = season_setup_default();
    struct season_total total = season_total_empty();
    struct outlook_later later;
    static struct outlook_usual usual;
    cost_case_make(&one, 20, -1, 0, 0);
    setup.crop = (struct crop){.kcb_ini = 0.2, .kcb_mid = 1, .kcb_end = 0.4, .ky_season = 1};
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        setup.crop.stage_days[k] = 100;
    one.field.days_in_season = 380;
    /* The last of the 20 days lie after the outlook's ten. */
    for (int day = 0; day < OUTLOOK_USUAL_DAYS; day++) {
        usual.et0_mm[day] = day < 15 ? 2 : (double)NAN;
        usual.rain_mm[day] = day < 12 ? 2 : day < 14 ? 3 : 0.1;
    }
    outlook_prices_for(&setup, &total, &one.field, &usual, &one.prices, &later);
    assert_near(later.etc_mm, (5 * 2 + 5 * 5) * 0.75, 1e-9);
    assert_near(later.rain_mm, 2 * 26.0 / 30 + 2 * 48.0 / 30, 1e-9);
    assert_false(later.goes_on);
    /* The year is a ring. */
    one.field.days_in_season = 0;
    for (int day = 0; day < OUTLOOK_USUAL_DAYS; day++)
        usual.et0_mm[day] = day == 20 ? 4 : 3;
    outlook_prices_for(&setup, &total, &one.field, &usual, &one.prices, &later);
    double kc_mm = 3 * (90 * 0.4 + 100 * 0.7 + 100 * 1.05 + 100 * 0.75);
    assert_near(later.etc_mm, kc_mm + 0.4 + 0.75, 1e-9);
}

static void where_the_end_is_not_known_no_turn_is_cut_for_it(void **state) {
    (void)state;
    struct cost_case one;
    struct season_setup setup = season_setup_default();
    struct season_total total = season_total_empty();
    struct outlook_later later;
    cost_case_make(&one, 20, -1, 0, 0);
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        setup.crop.stage_days[k] = 20;
    one.field.days_in_season = 75;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_true(later.goes_on); /* five days are left, and it grows for ten */
    one.field.days_in_season = 60;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_false(later.goes_on);
    setup.crop.clock = CLOCK_DEGREE_DAYS;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_true(later.goes_on);
    one.field.day[COST_CASE_DAYS - 1].growing = false;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_false(later.goes_on);
    setup.crop.forage = true;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_true(later.goes_on);
    one.weigh.later = later;
    assert_true(isinf(outlook_harvest_need_mm(&one.weigh, 0, 20)));
    one.field.days = 0;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_near(later.etc_mm, 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_rest_of_the_season_is_that_of_the_usual_year),
        cmocka_unit_test(where_the_end_is_not_known_no_turn_is_cut_for_it),
        cmocka_unit_test(a_dry_field_without_rain_in_sight_is_watered_today),
        cmocka_unit_test(sure_rain_tomorrow_is_waited_for),
        cmocka_unit_test(a_field_that_passes_this_evening_can_wait_a_morning_for_likely_rain),
        cmocka_unit_test(the_dearer_the_water_the_longer_it_is_waited),
        cmocka_unit_test(a_field_that_stays_moist_without_rain_is_held_whatever_the_costs),
        cmocka_unit_test(a_field_that_dries_later_is_watered_by_a_later_day),
        cmocka_unit_test(water_that_the_season_needs_no_more_is_not_given),
        cmocka_unit_test(a_field_watered_today_is_not_watered_again),
        cmocka_unit_test(rain_read_today_is_every_members_rain),
        cmocka_unit_test(rainfed_and_unknown_fields_get_the_same_call_as_without_an_outlook),
        cmocka_unit_test(wrong_arguments_are_refused_and_nothing_is_written),
        cmocka_unit_test(a_due_turn_near_the_end_is_weighed_without_hotter_days),
        cmocka_unit_test(stress_costs_by_stage_where_a_stage_has_a_ky),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
