/* The turns where hours, roots and allotments come to an end. The expected values follow from the words of
 * core/decide/turns.h; "common practice, no source" for the numbers of the farm. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/support/turns_checker.h"
#include "tests/support/turns_farms.h"
#include "tests/support/turns_one.h"

#include <math.h>
#include <stdlib.h>

static void a_supply_without_hours_gives_no_turn_and_its_pin_lacks_one_hour(void **state) {
    (void)state;
    case_two_fields(one);
    one->supply[0].hours_per_day = 0;
    one->pin[0] = (struct turns_pin){.field = 0, .start = 5, .hours = 12};
    one->problem.pin_count = 1;
    one_plan();
    assert_int_equal(one->plan.turn_count, 0);
    assert_int_equal(one->limit[0].kind, TURNS_LIMIT_PIN_HOURS);
    assert_true(one->limit[0].over == 1);
    assert_int_equal(one->limit[0].start, -1);
}

static void an_allotment_of_days_beyond_the_plan_limits_nothing(void **state) {
    (void)state;
    case_two_fields(one);
    one_plan();
    double cost = one->plan.cost.total;
    one->supply[0].period[0] = (struct turns_period){.first_day = 5, .last_day = 9, .left_m3 = 0};
    one->supply[0].period_count = 1;
    one_plan();
    assert_true(one->plan.cost.total == cost);
    assert_int_equal(one->plan.limit_count, 0);
    assert_true(one->supply_use[0].period_left_m3[0] == 0);
}

static void a_rules_turn_ends_where_a_pinned_one_of_the_field_begins(void **state) {
    (void)state;
    case_two_fields(one);
    one->supply[0].users = 2;
    one->supply[0].flow_m3_h = 200;
    one->pin[0] = (struct turns_pin){.field = 0, .start = 26, .hours = 12};
    one->problem.pin_count = 1;
    assert_int_equal(case_rule(one, TURNS_FIRST_COME), STATUS_OK);
    assert_int_equal(one->turn[0].field, 0);
    assert_int_equal(one->turn[0].start, 0);
    assert_int_equal(one->turn[0].hours, 26);
    assert_int_equal(one->turn[1].pin, 0);
}

static void a_day_that_asks_for_more_than_the_roots_hold_takes_what_there_is(void **state) {
    (void)state;
    case_two_fields(one);
    one->problem.field_count = 1;
    one->supply[0].hours_per_day = 0;
    one->field[0].depletion_mm = 0;
    one->field[0].end_worth_m3 = 0;
    for (int d = 0; d < 5; d++)
        one->day[d] = (struct turns_day){
            .etc_mm = 8, .taw_mm = 10, .raw_mm = 9, .allowed_mm = 9, .ky = 1, .etc_stage_mm = 400};
    one_plan();
    /* 8 of 10 mm go on the first day. Then Ks is 1 (8 mm are gone, stress begins at 9) but 2 mm are left;
     * after that none. Missed: 6 + 3 x 8 mm of 400, of 0.3 money on 100,000 m2. */
    double missed = 6 + 3 * 8;
    assert_true(fabs(one->plan.cost.loss - 1e5 * 0.3 * missed / 400) < 1e-6);
    assert_true(one->field_use[0].depletion_mm[1] == 10);
}

static void a_turn_that_was_moved_split_or_forbidden_stays_so_and_costs_no_less_than_the_best(void **state) {
    (void)state;
    case_two_fields(one);
    one->problem.effort.nodes = 0;
    one_plan();
    struct turn turn = one->turn[0];
    double bound = one->plan.bound;
    /* moved by half a day */
    one->pin[0] = (struct turns_pin){.field = turn.field, .start = turn.start + 12, .hours = turn.hours};
    one->problem.pin_count = 1;
    one_plan();
    assert_int_equal(one->field_use[turn.field].turns >= 1, 1);
    assert_true(one->plan.cost.total >= bound * (1 - 1e-9));
    /* split in two, a day between them */
    one->pin[0] = (struct turns_pin){.field = turn.field, .start = 0, .hours = 12};
    one->pin[1] = (struct turns_pin){.field = turn.field, .start = 36, .hours = 12};
    one->problem.pin_count = 2;
    one_plan();
    int pinned = 0;
    for (int i = 0; i < one->plan.turn_count; i++)
        pinned += one->turn[i].pin >= 0 && one->turn[i].hours == 12;
    assert_int_equal(pinned, 2);
    assert_true(one->plan.cost.total >= bound * (1 - 1e-9));
    /* forbidden for two days */
    one->problem.pin_count = 0;
    one->forbid[0] = (struct turns_forbid){.field = turn.field, .first = 0, .last = 48};
    one->problem.forbid_count = 1;
    one_plan();
    for (int i = 0; i < one->plan.turn_count; i++)
        assert_true(one->turn[i].field != turn.field || one->turn[i].start >= 48);
    assert_true(one->plan.cost.total >= bound * (1 - 1e-9));
}

static void what_a_cubic_metre_is_worth_wants_numbers_in_range(void **state) {
    (void)state;
    case_two_fields(one);
    struct turns_supply supply = one->supply[0];
    struct turns_field field = one->field[0];
    assert_true(fabs(turns_end_worth_m3(&supply, &field) - (0.1 + 5.0 / 100) / 0.8) < 1e-12);
    double *const member[] = {&supply.flow_m3_h, &supply.water_cost_m3, &supply.hour_cost,
                              &field.efficiency, &field.flow_m3_h,      &field.area_m2};
    for (size_t i = 0; i < sizeof member / sizeof *member; i++) {
        double kept = *member[i];
        static const double bad[] = {-1, 1e13, NAN, INFINITY};
        for (int k = 0; k < 4; k++) {
            int shortest = -5, longest = -5;
            *member[i] = bad[k];
            if (i < 4)
                assert_true(isnan(turns_end_worth_m3(&supply, &field)));
            if (i >= 3) {
                assert_true(isnan(turns_field_hours(&field, &shortest, &longest)));
                assert_int_equal(shortest, -5);
            }
        }
        *member[i] = kept;
    }
}

static void a_plan_without_room_for_its_parts_is_refused(void **state) {
    (void)state;
    case_two_fields(one);
    struct turns_plan whole = one->plan;
    one->plan.supply_use = NULL;
    assert_int_equal(case_plan(one), STATUS_MISSING);
    one->plan = whole;
    one->plan.field_use = NULL;
    assert_int_equal(case_plan(one), STATUS_MISSING);
    one->plan = whole;
    one->plan.limit = NULL;
    assert_int_equal(case_plan(one), STATUS_MISSING);
    one->plan.limit_room = 0;
    assert_int_equal(case_plan(one), STATUS_OK);
    one->plan = whole;
    size_t size = turns_workspace_size(&one->problem);
    void *workspace = malloc(size);
    assert_non_null(workspace);
    assert_int_equal(turns_by_rule(&one->problem, (enum turns_rule) - 1, workspace, size, &one->plan),
                     STATUS_OUT_OF_RANGE);
    free(workspace);
    one->problem.days = 0;
    assert_int_equal(case_rule(one, TURNS_FIRST_COME), STATUS_OUT_OF_RANGE);
}

static void the_proving_search_finds_the_best_plan_by_itself(void **state) {
    (void)state;
    int proven = 0, given_up = 0;
    for (int i = 0; i < 40; i++) {
        long tried;
        case_tiny(one, (uint64_t)i);
        if (i % 4 == 0) {
            /* 5 to 6 mm are no whole number of hours: no turn for this field */
            one->field[0].area_m2 = one->field[0].flow_m3_h * one->field[0].efficiency * 1000 / 4;
            one->field[0].net_min_mm = 5;
            one->field[0].net_max_mm = 6;
        }
        double best = checker_best(&one->problem, &tried);
        for (long nodes = 30; nodes <= 3000000; nodes *= 100) {
            one->problem.effort = (struct turns_effort){.tries = 0, .rounds = 0, .nodes = nodes};
            assert_int_equal(case_plan(one), STATUS_OK);
            assert_true(one->plan.cost.total >= best - 1e-7 * (1 + fabs(best)));
            given_up += !one->supply_use[0].proven;
            if (!one->supply_use[0].proven)
                continue;
            proven++;
            assert_true(fabs(one->plan.cost.total - best) <= 1e-7 * (1 + fabs(best)));
        }
    }
    assert_true(proven >= 40 && given_up > 0);
}

static void a_supply_of_many_fields_is_not_gone_through(void **state) {
    (void)state;
    struct farm farm = {.seed = 1, .share = 0.6};
    farm_pivots(one, &farm, 1, 9);
    one->problem.effort.tries = 100;
    one->problem.effort.rounds = 2;
    one_plan();
    assert_false(one->supply_use[0].proven);
}

static void an_end_that_is_worth_nothing_is_planned_like_any_other(void **state) {
    (void)state;
    for (uint64_t seed = 0; seed < 60; seed++) {
        case_any(one, 50000 + seed);
        for (int i = 0; i < one->problem.field_count; i++)
            one->field[i].end_worth_m3 = 0;
        one_plan();
        assert_true(one->plan.bound <= one->plan.cost.total);
    }
}

/* Pivots in showers, with so many courses of turns worth a look that the bound has to take several as one. */
static void a_bound_that_takes_many_courses_as_one_stays_below_the_plan(void **state) {
    (void)state;
    const struct farm farm = {.seed = 1, .share = 0.4, .weather = FARM_SHOWERS, .rules = FARM_FREE};
    farm_pivots(one, &farm, 3, 5);
    one->problem.effort.tries = 1000;
    one_plan();
    for (int s = 0; s < 3; s++)
        assert_true(one->supply_use[s].priced_bound < one->supply_use[s].cost.total);
    assert_true(one->plan.gap > 0 && one->plan.gap < 0.1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_supply_without_hours_gives_no_turn_and_its_pin_lacks_one_hour),
        cmocka_unit_test(an_allotment_of_days_beyond_the_plan_limits_nothing),
        cmocka_unit_test(a_rules_turn_ends_where_a_pinned_one_of_the_field_begins),
        cmocka_unit_test(a_day_that_asks_for_more_than_the_roots_hold_takes_what_there_is),
        cmocka_unit_test(a_turn_that_was_moved_split_or_forbidden_stays_so_and_costs_no_less_than_the_best),
        cmocka_unit_test(what_a_cubic_metre_is_worth_wants_numbers_in_range),
        cmocka_unit_test(the_proving_search_finds_the_best_plan_by_itself),
        cmocka_unit_test(a_supply_of_many_fields_is_not_gone_through),
        cmocka_unit_test(a_plan_without_room_for_its_parts_is_refused),
        cmocka_unit_test(an_end_that_is_worth_nothing_is_planned_like_any_other),
        cmocka_unit_test(a_bound_that_takes_many_courses_as_one_stays_below_the_plan),
    };
    return cmocka_run_group_tests(tests, one_begin, one_end);
}
