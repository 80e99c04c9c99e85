/* Pins, forbidden hours, limits that cannot be met and their cures, and what is refused. The expected values
 * follow from the words of core/decide/turns.h; "common practice, no source" for the numbers of the farm. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/support/turns_cases.h"
#include "tests/support/turns_checker.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static struct turns_case *one;

/* Two fields of 10 ha on a well of 100 m3/h that serves one at a time, five days without rain: an hour leaves
 * 0.8 mm. Field 0 is dry, field 1 is not. */
static void two_fields(void) {
    memset(one, 0, sizeof *one);
    one->problem = (struct turns_problem){.days = 5,
                                          .courses = 1,
                                          .weight = {1},
                                          .supply = one->supply,
                                          .supply_count = 1,
                                          .field = one->field,
                                          .field_count = 2,
                                          .pin = one->pin,
                                          .forbid = one->forbid,
                                          .effort = turns_effort_default()};
    one->supply[0] = (struct turns_supply){.flow_m3_h = 100,
                                           .users = 1,
                                           .hours_per_day = 24,
                                           .season_left_m3 = NAN,
                                           .water_cost_m3 = 0.1,
                                           .hour_cost = 5};
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = 0xFFFFFF;
    for (int i = 0; i < 2; i++) {
        one->field[i] = (struct turns_field){.area_m2 = 1e5,
                                             .efficiency = 0.8,
                                             .flow_m3_h = 100,
                                             .net_min_mm = 8,
                                             .net_max_mm = 32,
                                             .run_min_hours = 1,
                                             .run_max_hours = 100,
                                             .may_pause = true,
                                             .depletion_mm = i == 0 ? 58 : 10,
                                             .value_m2 = 0.3,
                                             .end_worth_m3 = NAN,
                                             .day = &one->day[5 * i]};
        for (int d = 0; d < 5; d++)
            one->day[5 * i + d] = (struct turns_day){
                .etc_mm = 6, .taw_mm = 120, .raw_mm = 60, .allowed_mm = 60, .ky = 1.25, .etc_stage_mm = 500};
    }
    one->plan = (struct turns_plan){.turn = one->turn,
                                    .turn_room = (int)(sizeof one->turn / sizeof *one->turn),
                                    .supply_use = one->supply_use,
                                    .field_use = one->field_use,
                                    .limit = one->limit,
                                    .limit_room = (int)(sizeof one->limit / sizeof *one->limit)};
}

static void plan_it(void) {
    char what[CHECKER_TEXT];
    assert_int_equal(case_plan(one), STATUS_OK);
    if (!checker_accepts(&one->problem, &one->plan, what))
        fail_msg("%s", what);
}

static const struct turns_limit *limit_of(enum turns_limit_kind kind) {
    for (int i = 0; i < one->plan.limit_count; i++)
        if (one->limit[i].kind == kind)
            return &one->limit[i];
    return NULL;
}

static void pin(int index, int field, int start, int hours) {
    one->pin[index] = (struct turns_pin){.field = field, .start = start, .hours = hours};
    one->problem.pin_count = index + 1;
}

/* ---- the plan itself */
static void the_dry_field_is_watered_and_the_other_is_left(void **state) {
    (void)state;
    two_fields();
    one->field[0].end_worth_m3 = one->field[1].end_worth_m3 = 0;
    plan_it();
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
        plan_it();
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
    two_fields();
    plan_it();
    double alone = one->plan.cost.total;
    one->supply[1] = one->supply[0];
    one->problem.supply_count = 2;
    for (int i = 0; i < 2; i++) {
        one->field[2 + i] = one->field[i];
        one->field[2 + i].supply = 1;
    }
    one->problem.field_count = 4;
    plan_it();
    assert_true(one->supply_use[0].cost.total == alone && one->supply_use[1].cost.total == alone);
    assert_true(fabs(one->plan.cost.total - 2 * alone) <= 1e-9 * alone);
}

static void a_supply_without_fields_costs_nothing_and_is_proven(void **state) {
    (void)state;
    two_fields();
    one->supply[1] = one->supply[0];
    one->problem.supply_count = 2;
    plan_it();
    assert_true(one->supply_use[1].proven);
    assert_true(one->supply_use[1].cost.total == 0 && one->supply_use[1].bound == 0);
    assert_int_equal(one->supply_use[1].hours_open, 120);
}

static void water_that_is_worth_nothing_stays_in_the_well(void **state) {
    (void)state;
    two_fields();
    for (int i = 0; i < 2; i++)
        one->field[i].value_m2 = one->field[i].end_worth_m3 = 0;
    plan_it();
    assert_int_equal(one->plan.turn_count, 0);
    assert_true(one->plan.cost.total == 0 && one->plan.bound == 0 && one->plan.gap == 0);
}

/* ---- pins and forbidden hours */
static void a_pinned_turn_stays_and_the_others_are_laid_around_it(void **state) {
    (void)state;
    two_fields();
    pin(0, 1, 3, 12);
    plan_it();
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
    two_fields();
    plan_it();
    double best_bound = one->plan.bound;
    pin(0, 1, 0, 40);
    plan_it();
    assert_true(one->plan.cost.total >= best_bound);
}

static void forbidden_hours_stay_dry(void **state) {
    (void)state;
    two_fields();
    one->forbid[0] = (struct turns_forbid){.field = 0, .first = 0, .last = 48};
    one->problem.forbid_count = 1;
    plan_it();
    for (int i = 0; i < one->plan.turn_count; i++)
        assert_true(one->turn[i].field != 0 || one->turn[i].start >= 48);
    one->field[0].dry_days = 0x1F;
    plan_it();
    assert_int_equal(one->field_use[0].turns, 0);
}

static void the_rest_of_a_pass_under_way_needs_no_set_up_and_no_least_depth(void **state) {
    (void)state;
    two_fields();
    one->field[0].setup_hours = 4;
    pin(0, 0, 0, 3);
    one->pin[0].under_way = true;
    plan_it();
    assert_true(limit_of(TURNS_LIMIT_PIN_RANGE) == NULL);
    assert_int_equal(one->turn[0].pin, 0);
    one->pin[0].under_way = false;
    plan_it();
    assert_true(limit_of(TURNS_LIMIT_PIN_RANGE) != NULL);
}

/* Plans with one pin that must be left out, and returns why. */
static const struct turns_limit *refused(enum turns_limit_kind kind) {
    plan_it();
    const struct turns_limit *limit = limit_of(kind);
    assert_non_null(limit);
    assert_int_equal(limit->pin, one->problem.pin_count - 1);
    return limit;
}

static void a_pin_that_breaks_a_limit_is_left_out_and_named(void **state) {
    (void)state;
    two_fields();
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
    assert_int_equal(limit_of(TURNS_LIMIT_PIN_FORBIDDEN)->start, 12);
}

static void pins_that_are_in_each_others_way_are_named_with_a_start_that_fits(void **state) {
    (void)state;
    two_fields();
    pin(0, 0, 10, 20);
    pin(1, 1, 25, 20);
    const struct turns_limit *limit = refused(TURNS_LIMIT_PIN_PLACES);
    assert_int_equal(limit->hour, 25);
    assert_int_equal(limit->start, 30);
    one->supply[0].users = 2;
    limit = refused(TURNS_LIMIT_PIN_FLOW);
    assert_true(fabs(limit->over - 100) < 1e-9 && fabs(limit->more_flow_m3_h - 100) < 1e-9);
    one->supply[0].flow_m3_h = 200;
    plan_it();
    assert_null(limit_of(TURNS_LIMIT_PIN_FLOW));
    pin(1, 0, 25, 20);
    limit = refused(TURNS_LIMIT_PIN_OVERLAP);
    assert_int_equal(limit->start, 30);
}

static void a_pin_past_the_hours_of_a_day_or_an_allotment_is_named_with_what_it_lacks(void **state) {
    (void)state;
    two_fields();
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

/* ---- limits that cannot be met */
static void a_short_supply_is_named_with_hours_flow_or_a_field_to_leave_dry(void **state) {
    (void)state;
    two_fields();
    one->field[1].depletion_mm = 58;
    one->field[1].value_m2 = 0.1; /* the cheaper one to lose */
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8);
    plan_it();
    const struct turns_limit *limit = limit_of(TURNS_LIMIT_SUPPLY_SHORT);
    assert_non_null(limit);
    assert_true(limit->over > 0 && limit->more_flow_m3_h > 0);
    double hours = limit->more_hours_per_day;
    assert_true(hours > 0 && hours <= 16);
    /* With that much more, and not before, the limit is not named any more. */
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8 + (int)ceil(hours - 1e-9));
    plan_it();
    assert_null(limit_of(TURNS_LIMIT_SUPPLY_SHORT));
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 7 + (int)ceil(hours - 1e-9));
    plan_it();
    assert_non_null(limit_of(TURNS_LIMIT_SUPPLY_SHORT));
}

static void more_flow_as_named_cures_a_short_supply(void **state) {
    (void)state;
    two_fields();
    one->field[1].depletion_mm = 58;
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8);
    plan_it();
    const struct turns_limit *limit = limit_of(TURNS_LIMIT_SUPPLY_SHORT);
    assert_non_null(limit);
    double share = 1 + limit->more_flow_m3_h / 100;
    assert_true(share > 1);
    for (int side = 0; side < 2; side++) {
        double flow = 100 * share * (side == 0 ? 0.99 : 1.0001);
        one->supply[0].flow_m3_h = one->field[0].flow_m3_h = one->field[1].flow_m3_h = flow;
        plan_it();
        assert_int_equal(limit_of(TURNS_LIMIT_SUPPLY_SHORT) == NULL, side);
    }
}

static void a_field_to_leave_dry_is_the_one_that_costs_least(void **state) {
    (void)state;
    two_fields();
    one->field[1].depletion_mm = 58;
    one->field[1].value_m2 = 0.1;
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8);
    plan_it();
    const struct turns_limit *limit = limit_of(TURNS_LIMIT_SUPPLY_SHORT);
    assert_non_null(limit);
    assert_int_equal(limit->dry_field, 1);
    double without = one->field_use[1].cost.total + limit->dry_cost;
    one->field[1].dry_days = 0x1F;
    plan_it();
    assert_true(fabs(one->field_use[1].cost.total - without) < 1e-6 * without);
    assert_null(limit_of(TURNS_LIMIT_SUPPLY_SHORT));
}

static void a_short_allotment_is_named_and_cured_by_what_it_lacks(void **state) {
    (void)state;
    two_fields();
    one->supply[0].season_left_m3 = 1000;
    plan_it();
    const struct turns_limit *limit = limit_of(TURNS_LIMIT_ALLOTMENT_SHORT);
    assert_non_null(limit);
    assert_int_equal(limit->period, -1);
    assert_true(limit->more_m3 > 0 && limit->over == limit->more_m3);
    one->supply[0].season_left_m3 += limit->more_m3;
    plan_it();
    assert_null(limit_of(TURNS_LIMIT_ALLOTMENT_SHORT));
    one->supply[0].season_left_m3 = NAN;
    one->supply[0].period[0] = (struct turns_period){.first_day = 0, .last_day = 9, .left_m3 = 500};
    one->supply[0].period_count = 1;
    plan_it();
    limit = limit_of(TURNS_LIMIT_ALLOTMENT_SHORT);
    assert_non_null(limit);
    assert_int_equal(limit->period, 0);
    assert_int_equal(limit->day, 4);
}

static void a_field_that_cannot_be_kept_or_watered_at_all_is_named(void **state) {
    (void)state;
    two_fields();
    one->field[0].depletion_mm = 100;
    plan_it();
    assert_non_null(limit_of(TURNS_LIMIT_FIELD_SHORT));
    assert_int_equal(limit_of(TURNS_LIMIT_FIELD_SHORT)->field, 0);
    assert_int_equal(limit_of(TURNS_LIMIT_FIELD_SHORT)->day, 0);
    two_fields();
    one->field[0].net_min_mm = 8.2; /* 0.8 mm an hour: nothing between 8.2 and 8.6 */
    one->field[0].net_max_mm = 8.6;
    plan_it();
    assert_non_null(limit_of(TURNS_LIMIT_NO_RUN));
    assert_int_equal(one->field_use[0].turns, 0);
    two_fields();
    one->field[0].flow_m3_h = 130;
    plan_it();
    assert_non_null(limit_of(TURNS_LIMIT_FIELD_FLOW));
    assert_true(fabs(limit_of(TURNS_LIMIT_FIELD_FLOW)->more_flow_m3_h - 30) < 1e-9);
}

static void limits_that_find_no_room_are_counted(void **state) {
    (void)state;
    two_fields();
    one->field[0].depletion_mm = one->field[1].depletion_mm = 100;
    plan_it();
    int all = one->plan.limit_count;
    assert_true(all >= 2);
    one->plan.limit_room = 1;
    plan_it();
    assert_int_equal(one->plan.limit_count, all);
    one->plan.limit_room = 0;
    one->plan.limit = NULL;
    assert_int_equal(case_plan(one), STATUS_OK);
    assert_int_equal(one->plan.limit_count, all);
}

/* ---- small functions */
static void open_hours_go_round_midnight(void **state) {
    (void)state;
    assert_int_equal(turns_open_hours(0, 24), 0xFFFFFF);
    assert_int_equal(turns_open_hours(22, 8), 0xC0003F);
    assert_int_equal(turns_open_hours(5, 0), 0);
    assert_int_equal(turns_open_hours(-1, 5), 0);
    assert_int_equal(turns_open_hours(24, 5), 0);
    assert_int_equal(turns_open_hours(5, 25), 0);
    assert_int_equal(turns_open_hours(5, -1), 0);
}

static void hours_of_a_field_keep_to_its_depths(void **state) {
    (void)state;
    int least = -1, most = -1;
    two_fields();
    assert_true(fabs(turns_field_hours(&one->field[0], &least, &most) - 0.8) < 1e-12);
    assert_int_equal(least, 10);
    assert_int_equal(most, 40);
    one->field[0].net_min_mm = one->field[0].net_max_mm = NAN;
    turns_field_hours(&one->field[0], &least, &most);
    assert_int_equal(least, 1);
    assert_int_equal(most, 100);
    one->field[0].flow_m3_h = NAN;
    assert_true(isnan(turns_field_hours(&one->field[0], &least, &most)));
    assert_int_equal(most, 100);
}

static void bringing_a_cubic_metre_costs_water_and_pumping(void **state) {
    (void)state;
    two_fields();
    /* (0.1 + 5 / 100) / 0.8 */
    assert_true(fabs(turns_end_worth_m3(&one->supply[0], &one->field[0]) - 0.1875) < 1e-12);
    one->field[0].efficiency = 0;
    assert_true(isnan(turns_end_worth_m3(&one->supply[0], &one->field[0])));
    one->field[0].efficiency = 0.8;
    one->supply[0].hour_cost = -1;
    assert_true(isnan(turns_end_worth_m3(&one->supply[0], &one->field[0])));
}

/* ---- what is refused */
static void room_that_is_too_small_is_refused(void **state) {
    (void)state;
    two_fields();
    size_t size = turns_workspace_size(&one->problem);
    void *workspace = malloc(size);
    assert_non_null(workspace);
    assert_int_equal(turns_plan(&one->problem, workspace, size - 1, &one->plan), STATUS_NO_ROOM);
    one->plan.turn_room = turns_room(&one->problem) - 1;
    assert_int_equal(turns_plan(&one->problem, workspace, size, &one->plan), STATUS_NO_ROOM);
    one->plan.turn_room++;
    assert_int_equal(turns_plan(&one->problem, workspace, size, &one->plan), STATUS_OK);
    assert_int_equal(turns_plan(&one->problem, NULL, size, &one->plan), STATUS_MISSING);
    assert_int_equal(turns_by_rule(&one->problem, TURNS_RULE_COUNT, workspace, size, &one->plan),
                     STATUS_OUT_OF_RANGE);
    assert_int_equal(turns_by_rule(&one->problem, (enum turns_rule) - 1, workspace, size, &one->plan),
                     STATUS_OUT_OF_RANGE);
    one->plan.turn = NULL;
    assert_int_equal(turns_plan(&one->problem, workspace, size, &one->plan), STATUS_MISSING);
    free(workspace);
    one->problem.days = 0;
    assert_int_equal((int)turns_workspace_size(&one->problem), 0);
    assert_int_equal(turns_room(&one->problem), 0);
    assert_int_equal(turns_check(NULL, NULL), STATUS_MISSING);
}

/* Sets a number to each bad value and expects a fault that names it. */
static void expect_fault(double *number, const char *list, const char *member, bool may_be_none) {
    static const double bad[] = {NAN, INFINITY, -INFINITY, -1, 1e300};
    double good = *number;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct turns_fault fault = {0};
        *number = bad[i];
        enum status status = turns_check(&one->problem, &fault);
        if (may_be_none && isnan(bad[i])) {
            assert_int_equal(status, STATUS_OK);
            continue;
        }
        assert_int_equal(status, isnan(bad[i])   ? STATUS_MISSING
                                 : isinf(bad[i]) ? STATUS_NOT_FINITE
                                                 : STATUS_OUT_OF_RANGE);
        assert_string_equal(fault.list, list);
        assert_string_equal(fault.member, member);
        assert_int_equal(case_plan(one), status);
        assert_int_equal(one->plan.turn_count, 0);
    }
    *number = good;
}

static void numbers_out_of_range_are_named(void **state) {
    (void)state;
    two_fields();
    struct turns_supply *supply = &one->supply[0];
    struct turns_field *field = &one->field[1];
    struct turns_day *day = &one->day[7];
    expect_fault(&one->problem.weight[0], "problem", "weight", false);
    expect_fault(&one->problem.percolation_cost_m3, "problem", "percolation_cost_m3", false);
    expect_fault(&supply->flow_m3_h, "supply", "flow_m3_h", false);
    expect_fault(&supply->season_left_m3, "supply", "season_left_m3", true);
    expect_fault(&supply->water_cost_m3, "supply", "water_cost_m3", false);
    expect_fault(&supply->hour_cost, "supply", "hour_cost", false);
    expect_fault(&field->area_m2, "field", "area_m2", false);
    expect_fault(&field->efficiency, "field", "efficiency", false);
    expect_fault(&field->flow_m3_h, "field", "flow_m3_h", false);
    expect_fault(&field->net_min_mm, "field", "net_min_mm", true);
    expect_fault(&field->net_max_mm, "field", "net_max_mm", true);
    expect_fault(&field->depletion_mm, "field", "depletion_mm", false);
    expect_fault(&field->value_m2, "field", "value_m2", false);
    expect_fault(&field->end_worth_m3, "field", "end_worth_m3", true);
    expect_fault(&day->etc_mm, "field", "etc_mm", false);
    expect_fault(&day->taw_mm, "field", "taw_mm", false);
    expect_fault(&day->raw_mm, "field", "raw_mm", false);
    expect_fault(&day->allowed_mm, "field", "allowed_mm", false);
    expect_fault(&day->ky, "field", "ky", false);
    expect_fault(&day->etc_stage_mm, "field", "etc_stage_mm", false);
    struct turns_fault fault = {0};
    day->inflow_mm = NAN;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_MISSING);
    assert_int_equal(fault.index, 1);
    assert_int_equal(fault.day, 2);
}

static void expect_whole(int *number, int bad, enum status status, const char *list, const char *member) {
    struct turns_fault fault = {0};
    int good = *number;
    *number = bad;
    assert_int_equal(turns_check(&one->problem, &fault), status);
    assert_string_equal(fault.list, list);
    assert_string_equal(fault.member, member);
    *number = good;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_OK);
}

static void whole_numbers_and_lists_out_of_range_are_named(void **state) {
    (void)state;
    two_fields();
    pin(0, 0, 10, 20);
    one->forbid[0] = (struct turns_forbid){.field = 1, .first = 5, .last = 6};
    one->problem.forbid_count = 1;
    one->supply[0].period[0] = (struct turns_period){.first_day = 1, .last_day = 3, .left_m3 = 9};
    one->supply[0].period_count = 1;
    expect_whole(&one->problem.days, TURNS_DAYS_MAX + 1, STATUS_OUT_OF_RANGE, "problem", "days");
    expect_whole(&one->problem.first_hour, 24, STATUS_OUT_OF_RANGE, "problem", "first_hour");
    expect_whole(&one->problem.courses, 0, STATUS_OUT_OF_RANGE, "problem", "courses");
    expect_whole(&one->problem.supply_count, 0, STATUS_OUT_OF_RANGE, "problem", "supply_count");
    expect_whole(&one->problem.field_count, TURNS_FIELDS_MAX + 1, STATUS_OUT_OF_RANGE, "problem",
                 "field_count");
    expect_whole(&one->problem.effort.rounds, -1, STATUS_OUT_OF_RANGE, "problem", "effort.rounds");
    expect_whole(&one->supply[0].users, 0, STATUS_OUT_OF_RANGE, "supply", "users");
    expect_whole(&one->supply[0].hours_per_day, 25, STATUS_OUT_OF_RANGE, "supply", "hours_per_day");
    expect_whole(&one->supply[0].period_count, TURNS_PERIODS_MAX + 1, STATUS_OUT_OF_RANGE, "supply",
                 "period_count");
    expect_whole(&one->supply[0].period[0].first_day, 4, STATUS_ORDER, "supply", "period");
    expect_whole(&one->field[0].supply, 1, STATUS_OUT_OF_RANGE, "field", "supply");
    expect_whole(&one->field[0].run_min_hours, 101, STATUS_ORDER, "field", "run_min_hours");
    expect_whole(&one->field[0].setup_hours, 25, STATUS_OUT_OF_RANGE, "field", "setup_hours");
    expect_whole(&one->pin[0].field, 2, STATUS_OUT_OF_RANGE, "pin", "field");
    expect_whole(&one->pin[0].start, 120, STATUS_OUT_OF_RANGE, "pin", "start");
    expect_whole(&one->pin[0].hours, 0, STATUS_OUT_OF_RANGE, "pin", "hours");
    expect_whole(&one->forbid[0].last, 5, STATUS_ORDER, "forbid", "last");
    expect_whole(&one->forbid[0].field, -1, STATUS_OUT_OF_RANGE, "forbid", "field");
    struct turns_fault fault = {0};
    one->field[0].net_min_mm = 40;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_ORDER);
    one->field[0].net_min_mm = 8;
    one->field[0].day = NULL;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_MISSING);
    assert_string_equal(fault.member, "day");
    one->problem.pin = NULL;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_MISSING);
    assert_string_equal(fault.member, "pin");
    one->supply[0].open[4] = 0x1000000;
    one->problem.pin = one->pin;
    assert_int_equal(turns_check(&one->problem, &fault), STATUS_OUT_OF_RANGE);
    assert_string_equal(fault.member, "open");
    assert_int_equal(fault.day, 4);
}

static int begin(void **state) {
    (void)state;
    one = malloc(sizeof *one);
    return one == NULL;
}

static int end(void **state) {
    (void)state;
    free(one);
    return 0;
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
        cmocka_unit_test(a_pin_past_the_hours_of_a_day_or_an_allotment_is_named_with_what_it_lacks),
        cmocka_unit_test(a_short_supply_is_named_with_hours_flow_or_a_field_to_leave_dry),
        cmocka_unit_test(more_flow_as_named_cures_a_short_supply),
        cmocka_unit_test(a_field_to_leave_dry_is_the_one_that_costs_least),
        cmocka_unit_test(a_short_allotment_is_named_and_cured_by_what_it_lacks),
        cmocka_unit_test(a_field_that_cannot_be_kept_or_watered_at_all_is_named),
        cmocka_unit_test(limits_that_find_no_room_are_counted),
        cmocka_unit_test(open_hours_go_round_midnight),
        cmocka_unit_test(hours_of_a_field_keep_to_its_depths),
        cmocka_unit_test(bringing_a_cubic_metre_costs_water_and_pumping),
        cmocka_unit_test(room_that_is_too_small_is_refused),
        cmocka_unit_test(numbers_out_of_range_are_named),
        cmocka_unit_test(whole_numbers_and_lists_out_of_range_are_named),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
