/* The plan, pins and forbidden hours. The expected values
 * follow from the words of core/decide/turns.h; "common practice, no source" for the numbers of the farm. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/support/turns_checker.h"
#include "tests/support/turns_one.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void pin(int index, int field, int start, int hours) {
    one->pin[index] = (struct turns_pin){.field = field, .start = start, .hours = hours};
    one->problem.pin_count = index + 1;
}

/* ---- the plan itself */
static void the_dry_field_is_watered_and_the_other_is_left(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[0].end_worth_m3 = one->field[1].end_worth_m3 = 0;
    one_plan();
    assert_true(one->plan.turn_count > 0);
    assert_int_equal(one->turn[0].field, 0);
    assert_int_equal(one->field_use[1].turns, 0);
    assert_true(one->plan.cost.total < checker_cost(&one->problem, NULL, 0));
    assert_int_equal(one->plan.limit_count, 0);
}

static void a_plan_is_the_same_each_time(void **state) {
    (void)state;
    static struct turn first[CASE_FIELDS * TURNS_DAYS_MAX];
    for (uint64_t seed = 0; seed < 40; seed++) {
        case_any(one, seed);
        assert_int_equal(case_plan(one), STATUS_OK);
        int count = one->plan.turn_count;
        double cost = one->plan.cost.total, bound = one->plan.bound;
        memcpy(first, one->turn, (size_t)count * sizeof *first);
        assert_int_equal(case_plan(one), STATUS_OK);
        assert_int_equal(one->plan.turn_count, count);
        assert_true(one->plan.cost.total == cost && one->plan.bound == bound);
        for (int i = 0; i < count; i++) {
            assert_int_equal(one->turn[i].field, first[i].field);
            assert_int_equal(one->turn[i].start, first[i].start);
            assert_int_equal(one->turn[i].hours, first[i].hours);
        }
    }
}

static void no_effort_still_gives_a_plan_as_good_as_the_rules_and_a_true_bound(void **state) {
    (void)state;
    for (uint64_t seed = 0; seed < 200; seed++) {
        case_any(one, 30000 + seed);
        assert_int_equal(case_plan(one), STATUS_OK);
        double good = one->plan.cost.total, tight = one->plan.bound;
        one->problem.effort = (struct turns_effort){0};
        one_plan();
        assert_true(one->plan.bound <= good + 1e-9 * fabs(good));
        assert_true(one->plan.cost.total >= tight - 1e-9 * fabs(tight));
        double cost = one->plan.cost.total;
        for (int rule = 0; rule < TURNS_RULE_COUNT; rule++) {
            assert_int_equal(case_rule(one, (enum turns_rule)rule), STATUS_OK);
            assert_true(cost <= one->plan.cost.total + 1e-9 * fabs(cost));
            assert_true(isnan(one->plan.bound) && isnan(one->plan.gap));
        }
    }
}

static void supplies_do_not_change_each_others_plans(void **state) {
    (void)state;
    case_two_fields(one);
    one_plan();
    double alone = one->plan.cost.total;
    one->supply[1] = one->supply[0];
    one->problem.supply_count = 2;
    for (int i = 0; i < 2; i++) {
        one->field[2 + i] = one->field[i];
        one->field[2 + i].supply = 1;
    }
    one->problem.field_count = 4;
    one_plan();
    assert_true(one->supply_use[0].cost.total == alone && one->supply_use[1].cost.total == alone);
    assert_true(fabs(one->plan.cost.total - 2 * alone) <= 1e-9 * alone);
}

static void a_supply_without_fields_costs_nothing_and_is_proven(void **state) {
    (void)state;
    case_two_fields(one);
    one->supply[1] = one->supply[0];
    one->problem.supply_count = 2;
    one_plan();
    assert_true(one->supply_use[1].proven);
    assert_true(one->supply_use[1].cost.total == 0 && one->supply_use[1].bound == 0);
    assert_int_equal(one->supply_use[1].hours_open, 120);
}

static void water_that_is_worth_nothing_stays_in_the_well(void **state) {
    (void)state;
    case_two_fields(one);
    for (int i = 0; i < 2; i++)
        one->field[i].value_m2 = one->field[i].end_worth_m3 = 0;
    one_plan();
    assert_int_equal(one->plan.turn_count, 0);
    assert_true(one->plan.cost.total == 0 && one->plan.bound == 0 && one->plan.gap == 0);
}

/* ---- pins and forbidden hours */
static void a_pinned_turn_stays_and_the_others_are_laid_around_it(void **state) {
    (void)state;
    case_two_fields(one);
    pin(0, 1, 3, 12);
    one_plan();
    int found = -1;
    for (int i = 0; i < one->plan.turn_count; i++)
        if (one->turn[i].pin == 0)
            found = i;
    assert_true(found >= 0);
    assert_int_equal(one->turn[found].start, 3);
    assert_int_equal(one->turn[found].hours, 12);
    assert_int_equal(one->turn[found].end, 15);
}

static void a_pin_costs_what_it_takes_from_the_best_plan(void **state) {
    (void)state;
    case_two_fields(one);
    one_plan();
    double best_bound = one->plan.bound;
    pin(0, 1, 0, 40);
    one_plan();
    assert_true(one->plan.cost.total >= best_bound);
}

static void forbidden_hours_stay_dry(void **state) {
    (void)state;
    case_two_fields(one);
    one->forbid[0] = (struct turns_forbid){.field = 0, .first = 0, .last = 48};
    one->problem.forbid_count = 1;
    one_plan();
    for (int i = 0; i < one->plan.turn_count; i++)
        assert_true(one->turn[i].field != 0 || one->turn[i].start >= 48);
    one->field[0].dry_days = 0x1F;
    one_plan();
    assert_int_equal(one->field_use[0].turns, 0);
}

static void the_rest_of_a_pass_under_way_needs_no_set_up_and_no_least_depth(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[0].setup_hours = 4;
    pin(0, 0, 0, 3);
    one->pin[0].under_way = true;
    one_plan();
    assert_true(one_limit(TURNS_LIMIT_PIN_RANGE) == NULL);
    assert_int_equal(one->turn[0].pin, 0);
    one->pin[0].under_way = false;
    one_plan();
    assert_true(one_limit(TURNS_LIMIT_PIN_RANGE) != NULL);
}

/* Plans with one pin that must be left out, and returns why. */
static const struct turns_limit *refused(enum turns_limit_kind kind) {
    one_plan();
    const struct turns_limit *limit = one_limit(kind);
    assert_non_null(limit);
    assert_int_equal(limit->pin, one->problem.pin_count - 1);
    return limit;
}

static void a_pin_that_breaks_a_limit_is_left_out_and_named(void **state) {
    (void)state;
    case_two_fields(one);
    pin(0, 0, 10, 45); /* 40 hours leave the largest depth, 32 mm */
    assert_true(refused(TURNS_LIMIT_PIN_RANGE)->over == 5);
    pin(0, 0, 10, 4); /* 10 hours leave the smallest, 8 mm */
    assert_true(refused(TURNS_LIMIT_PIN_RANGE)->over == 6);
    pin(0, 0, 100, 30);
    assert_int_equal(refused(TURNS_LIMIT_PIN_HORIZON)->start, 90);
    one->field[0].setup_hours = 2;
    pin(0, 0, 1, 20);
    assert_int_equal(refused(TURNS_LIMIT_PIN_HORIZON)->start, 2);
    one->field[0].setup_hours = 0;
    one->supply[0].open[0] = turns_open_hours(6, 12);
    pin(0, 0, 3, 10);
    assert_int_equal(refused(TURNS_LIMIT_PIN_CLOSED)->start, 6);
    one->supply[0].open[0] = 0xFFFFFF;
    one->field[0].dry_days = 2;
    pin(0, 0, 20, 12);
    assert_int_equal(refused(TURNS_LIMIT_PIN_FORBIDDEN)->hour, 24);
    assert_int_equal(one_limit(TURNS_LIMIT_PIN_FORBIDDEN)->start, 12);
}

static void pins_that_are_in_each_others_way_are_named_with_a_start_that_fits(void **state) {
    (void)state;
    case_two_fields(one);
    pin(0, 0, 10, 20);
    pin(1, 1, 25, 20);
    const struct turns_limit *limit = refused(TURNS_LIMIT_PIN_PLACES);
    assert_int_equal(limit->hour, 25);
    assert_int_equal(limit->start, 30);
    one->supply[0].users = 2;
    limit = refused(TURNS_LIMIT_PIN_FLOW);
    assert_true(fabs(limit->over - 100) < 1e-9 && fabs(limit->more_flow_m3_h - 100) < 1e-9);
    one->supply[0].flow_m3_h = 200;
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_PIN_FLOW));
    pin(1, 0, 25, 20);
    limit = refused(TURNS_LIMIT_PIN_OVERLAP);
    assert_int_equal(limit->start, 30);
}

/* The clock goes from 2 to 3 on the second day: between 1:00 and 4:00 there are two hours, from 2:00 one. By
 * hand. */
static void a_set_up_over_the_hour_that_the_clock_leaves_out_has_all_its_hours(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[0].setup_hours = one->field[1].setup_hours = 2;
    one->supply[0].skipped[1] = 1u << 2;
    pin(0, 0, 24 + 1 - 12, 12);
    pin(1, 1, 24 + 4, 20);
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_PIN_PLACES));
    pin(0, 0, 24 + 1 - 12, 13); /* to 3:00, which is the hour after 2:00 */
    pin(1, 1, 24 + 4, 20);
    const struct turns_limit *limit = refused(TURNS_LIMIT_PIN_PLACES);
    assert_int_equal(limit->field, 1);
    assert_int_equal(limit->start, 24 + 5);
    one->supply[0].skipped[1] = 0; /* to 2:00 */
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_PIN_PLACES));
    /* Of one field, likewise; and never before the first hour. */
    one->supply[0].skipped[1] = 1u << 2;
    one->supply[0].users = 2;
    pin(0, 1, 24 + 1 - 12, 13);
    pin(1, 1, 24 + 4, 20);
    assert_int_equal(refused(TURNS_LIMIT_PIN_OVERLAP)->start, 24 + 5);
    one->problem.first_hour = 1;
    one->supply[0].skipped[0] = 1u << 2;
    pin(0, 1, 3, 12);
    assert_int_equal(refused(TURNS_LIMIT_PIN_HORIZON)->start, 4);
}

/* The clock goes from 3 back to 2 on the second day: from 1:00 to 4:00 there are four hours. By hand. */
static void a_set_up_over_the_hour_that_comes_twice_has_no_hour_too_many(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[0].setup_hours = one->field[1].setup_hours = 3;
    pin(0, 0, 24 + 2 - 12, 12); /* to 2:00, an hour too late for a set-up of three hours */
    pin(1, 1, 24 + 4, 20);
    assert_int_equal(refused(TURNS_LIMIT_PIN_PLACES)->start, 24 + 5);
    one->supply[0].twice[1] = 1u << 2;
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_PIN_PLACES));
    pin(0, 0, 24 + 2 - 12, 13); /* to 3:00: an hour is left */
    pin(1, 1, 24 + 4, 20);
    assert_int_equal(refused(TURNS_LIMIT_PIN_PLACES)->start, 24 + 6);
    /* An hour of the set-up is in the second of the two: the whole hour of the board is taken. */
    one->field[0].setup_hours = one->field[1].setup_hours = 2;
    pin(0, 0, 24 + 2 - 12, 12);
    pin(1, 1, 24 + 4, 20);
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_PIN_PLACES));
    /* And never before the first hour. */
    one->supply[0].twice[0] = 1u << 2;
    one->field[1].setup_hours = 3;
    one->problem.first_hour = 2;
    pin(0, 1, 3, 12);
    assert_int_equal(refused(TURNS_LIMIT_PIN_HORIZON)->start, 4);
}

static void a_pin_past_the_hours_of_a_day_or_an_allotment_is_named_with_what_it_lacks(void **state) {
    (void)state;
    case_two_fields(one);
    one->supply[0].hours_per_day = 15;
    pin(0, 0, 0, 10);
    pin(1, 1, 10, 10);
    const struct turns_limit *limit = refused(TURNS_LIMIT_PIN_HOURS);
    assert_int_equal(limit->hour, 15);
    assert_true(limit->more_hours_per_day == 1);
    one->supply[0].hours_per_day = 24;
    one->supply[0].season_left_m3 = 1500;
    limit = refused(TURNS_LIMIT_PIN_ALLOTMENT);
    assert_true(fabs(limit->more_m3 - 500) < 1e-6);
    assert_int_equal(limit->period, -1);
    assert_true(one->supply_use[0].season_left_m3 >= 0);
    one->supply[0].season_left_m3 = NAN;
    one->supply[0].period[0] = (struct turns_period){.first_day = 0, .last_day = 0, .left_m3 = 1800};
    one->supply[0].period_count = 1;
    limit = refused(TURNS_LIMIT_PIN_ALLOTMENT);
    assert_true(fabs(limit->more_m3 - 200) < 1e-6);
    assert_int_equal(limit->period, 0);
    assert_int_equal(limit->start, 16); /* 8 hours on the first day, 2 on the next */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_dry_field_is_watered_and_the_other_is_left),
        cmocka_unit_test(a_plan_is_the_same_each_time),
        cmocka_unit_test(no_effort_still_gives_a_plan_as_good_as_the_rules_and_a_true_bound),
        cmocka_unit_test(supplies_do_not_change_each_others_plans),
        cmocka_unit_test(a_supply_without_fields_costs_nothing_and_is_proven),
        cmocka_unit_test(water_that_is_worth_nothing_stays_in_the_well),
        cmocka_unit_test(a_pinned_turn_stays_and_the_others_are_laid_around_it),
        cmocka_unit_test(a_pin_costs_what_it_takes_from_the_best_plan),
        cmocka_unit_test(forbidden_hours_stay_dry),
        cmocka_unit_test(the_rest_of_a_pass_under_way_needs_no_set_up_and_no_least_depth),
        cmocka_unit_test(a_pin_that_breaks_a_limit_is_left_out_and_named),
        cmocka_unit_test(pins_that_are_in_each_others_way_are_named_with_a_start_that_fits),
        cmocka_unit_test(a_set_up_over_the_hour_that_the_clock_leaves_out_has_all_its_hours),
        cmocka_unit_test(a_set_up_over_the_hour_that_comes_twice_has_no_hour_too_many),
        cmocka_unit_test(a_pin_past_the_hours_of_a_day_or_an_allotment_is_named_with_what_it_lacks),
    };
    return cmocka_run_group_tests(tests, one_begin, one_end);
}
