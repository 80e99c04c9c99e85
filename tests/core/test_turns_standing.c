/* Plans of turns that set out from a plan that stood, without prices, and what is pinned laid alone. Every
 * limit is verified by the checker. Tolerances: rounding. */
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

static struct turns_pin stand[CASE_FIELDS * TURNS_DAYS_MAX];

static void begin_any(uint64_t seed) {
    case_any(one, seed);
    one->problem.effort = (struct turns_effort){.tries = 1000, .rounds = 3, .nodes = 2000};
}

/* The planner's own turns of the plan; how many. */
static int take_plan(struct turns_pin *out) {
    int count = 0;
    for (int i = 0; i < one->plan.turn_count; i++)
        if (one->turn[i].pin < 0)
            out[count++] = (struct turns_pin){
                .field = one->turn[i].field, .start = one->turn[i].start, .hours = one->turn[i].hours};
    return count;
}

/* A supply without fields has the best plan there is. */
static void expect_no_bound(void) {
    assert_true(isnan(one->plan.bound) && isnan(one->plan.gap));
    for (int i = 0; i < one->problem.field_count; i++) {
        const struct turns_supply_use *use = &one->supply_use[one->field[i].supply];
        assert_true(isnan(use->bound) && isnan(use->priced_bound) && !use->proven);
    }
}

static void expect_accepted(int index) {
    char what[CHECKER_TEXT];
    if (!checker_accepts(&one->problem, &one->plan, what))
        fail_msg("instance %d: %s", index, what);
}

static void expect_no_dearer(double than, int index) {
    double cost = one->plan.cost.total;
    if (cost > than + 1e-9 * (1 + fabs(than)))
        fail_msg("instance %d: costs %.12g, not %.12g", index, cost, than);
}

static void a_plan_that_stands_is_found_again_without_prices(void **state) {
    (void)state;
    int turns = 0;
    for (int i = 0; i < 400; i++) {
        begin_any((uint64_t)(70000 + i));
        assert_int_equal(case_plan(one), STATUS_OK);
        double cost = one->plan.cost.total;
        one->problem.stand = stand;
        one->problem.stand_count = take_plan(stand);
        one->problem.effort = (struct turns_effort){.quick = true};
        turns += one->problem.stand_count;
        assert_int_equal(case_plan(one), STATUS_OK);
        expect_accepted(i);
        expect_no_dearer(cost, i);
        expect_no_bound();
    }
    assert_true(turns > 300);
}

static void turns_that_stood_and_fit_nowhere_break_no_limit(void **state) {
    (void)state;
    for (int i = 0; i < 400; i++) {
        begin_any((uint64_t)(80000 + i));
        struct turns_problem *problem = &one->problem;
        if (i % 5 == 0) /* no whole number of hours gives the field from 5 to 6 mm: it gets no turn */
            one->field[0].net_min_mm = 5, one->field[0].net_max_mm = 6,
            one->field[0].area_m2 = one->field[0].flow_m3_h * one->field[0].efficiency * 1000 / 4;
        problem->stand = stand;
        problem->stand_count = case_whole(one, 1, problem->field_count * problem->days);
        for (int k = 0; k < problem->stand_count; k++)
            stand[k] = (struct turns_pin){.field = case_whole(one, 0, problem->field_count - 1),
                                          .start = case_whole(one, 0, 24 * problem->days - 1),
                                          .hours = case_whole(one, 1, 24 * problem->days)};
        problem->effort = (struct turns_effort){.tries = i % 2 * 200, .quick = true};
        assert_int_equal(case_plan(one), STATUS_OK);
        expect_accepted(i);
        double cost = one->plan.cost.total;
        for (int rule = 0; rule < TURNS_RULE_COUNT; rule++) {
            assert_int_equal(case_rule(one, (enum turns_rule)rule), STATUS_OK);
            assert_true(cost <= one->plan.cost.total + 1e-9 * (1 + fabs(cost)));
        }
    }
}

static enum status lay_pins(size_t less) {
    size_t size = turns_workspace_size(&one->problem);
    void *workspace = malloc(size + 1);
    enum status status = turns_of_pins(&one->problem, workspace, size > less ? size - less : 0, &one->plan);
    free(workspace);
    return status;
}

static void what_is_pinned_is_laid_and_costs_no_more_than_with_a_rule(void **state) {
    (void)state;
    for (int i = 0; i < 400; i++) {
        begin_any((uint64_t)(90000 + i));
        assert_int_equal(lay_pins(0), STATUS_OK);
        expect_accepted(i);
        expect_no_bound();
        double cost = one->plan.cost.total;
        for (int rule = 0; rule < TURNS_RULE_COUNT; rule++) {
            assert_int_equal(case_rule(one, (enum turns_rule)rule), STATUS_OK);
            assert_true(cost <= one->plan.cost.total + 1e-9 * (1 + fabs(cost)));
        }
    }
}

static void a_whole_plan_that_is_pinned_costs_what_it_did(void **state) {
    (void)state;
    int pinned = 0;
    for (int i = 0; i < 200; i++) {
        begin_any((uint64_t)(95000 + i));
        one->problem.pin_count = 0;
        assert_int_equal(case_plan(one), STATUS_OK);
        double cost = one->plan.cost.total;
        one->problem.pin = stand;
        one->problem.pin_count = take_plan(stand);
        pinned += one->problem.pin_count;
        if (one->problem.pin_count > TURNS_PINS_MAX)
            continue;
        assert_int_equal(lay_pins(0), STATUS_OK);
        expect_accepted(i);
        expect_no_dearer(cost, i);
    }
    assert_true(pinned > 300);
}

static void a_field_of_pins_alone_gets_no_other_turn_and_the_rest_are_laid_around_it(void **state) {
    (void)state;
    int pinned = 0, free_turns = 0;
    for (int i = 0; i < 200; i++) {
        begin_any((uint64_t)(97000 + i));
        one->problem.pin_count = 0;
        assert_int_equal(case_plan(one), STATUS_OK);
        int count = take_plan(stand), kept = 0;
        /* What the others have stands; the field 0 is laid anew. */
        for (int k = 0; k < count; k++)
            if (stand[k].field != 0)
                stand[kept++] = stand[k];
        for (int k = 1; k < one->problem.field_count; k++)
            one->field[k].pins_only = true;
        one->problem.pin = stand;
        one->problem.pin_count = kept;
        one->problem.effort.quick = i % 2 == 0;
        assert_int_equal(case_plan(one), STATUS_OK);
        expect_accepted(i);
        for (int k = 0; k < one->plan.turn_count; k++) {
            assert_true(one->turn[k].field == 0 || one->turn[k].pin >= 0);
            pinned += one->turn[k].pin >= 0;
            free_turns += one->turn[k].pin < 0;
        }
        assert_null(one_limit(TURNS_LIMIT_PIN_FORBIDDEN));
    }
    assert_true(pinned > 100 && free_turns > 50);
}

static void what_stood_and_is_wrong_is_named(void **state) {
    (void)state;
    struct turns_fault fault = {0};
    case_two_fields(one);
    one->problem.stand_count = 1;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_MISSING);
    assert_string_equal(fault.member, "stand");
    one->problem.stand = stand;
    const struct turns_pin wrong[] = {{.field = 2, .start = 0, .hours = 10},
                                      {.field = -1, .start = 0, .hours = 10},
                                      {.field = 0, .start = 120, .hours = 10},
                                      {.field = 0, .start = 0, .hours = 0},
                                      {.field = 0, .start = 0, .hours = 121}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        stand[0] = wrong[i];
        assert_int_equal(turns_check(&one->problem, &fault), STATUS_OUT_OF_RANGE);
        assert_string_equal(fault.list, "stand");
        assert_int_equal(lay_pins(0), STATUS_OUT_OF_RANGE);
    }
    stand[0] = (struct turns_pin){.field = 0, .start = 0, .hours = 10};
    assert_int_equal(turns_check(&one->problem, NULL), STATUS_OK);
    assert_int_equal(lay_pins(1), STATUS_NO_ROOM);
    one->problem.stand_count = 2 * one->problem.days + 1;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_OUT_OF_RANGE);
    assert_string_equal(fault.member, "stand_count");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plan_that_stands_is_found_again_without_prices),
        cmocka_unit_test(turns_that_stood_and_fit_nowhere_break_no_limit),
        cmocka_unit_test(what_is_pinned_is_laid_and_costs_no_more_than_with_a_rule),
        cmocka_unit_test(a_whole_plan_that_is_pinned_costs_what_it_did),
        cmocka_unit_test(a_field_of_pins_alone_gets_no_other_turn_and_the_rest_are_laid_around_it),
        cmocka_unit_test(what_stood_and_is_wrong_is_named),
    };
    return cmocka_run_group_tests(tests, one_begin, one_end);
}
