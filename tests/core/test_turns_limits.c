/* Limits that cannot be met, what would cure them, and what is refused. The expected values
 * follow from the words of core/decide/turns.h; "common practice, no source" for the numbers of the farm. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/support/turns_one.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void pin(int index, int field, int start, int hours) {
    one->pin[index] = (struct turns_pin){.field = field, .start = start, .hours = hours};
    one->problem.pin_count = index + 1;
}

/* ---- limits that cannot be met */
static void a_short_supply_is_named_with_hours_flow_or_a_field_to_leave_dry(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[1].depletion_mm = 58;
    one->field[1].value_m2 = 0.1; /* the cheaper one to lose */
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8);
    one_plan();
    const struct turns_limit *limit = one_limit(TURNS_LIMIT_SUPPLY_SHORT);
    assert_non_null(limit);
    assert_true(limit->over > 0 && limit->more_flow_m3_h > 0);
    double hours = limit->more_hours_per_day;
    assert_true(hours > 0 && hours <= 16);
    /* With that much more, and not before, the limit is not named any more. */
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8 + (int)ceil(hours - 1e-9));
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_SUPPLY_SHORT));
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 7 + (int)ceil(hours - 1e-9));
    one_plan();
    assert_non_null(one_limit(TURNS_LIMIT_SUPPLY_SHORT));
}

static void more_flow_as_named_cures_a_short_supply(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[1].depletion_mm = 58;
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8);
    one_plan();
    const struct turns_limit *limit = one_limit(TURNS_LIMIT_SUPPLY_SHORT);
    assert_non_null(limit);
    double share = 1 + limit->more_flow_m3_h / 100;
    assert_true(share > 1);
    for (int side = 0; side < 2; side++) {
        double flow = 100 * share * (side == 0 ? 0.99 : 1.0001);
        one->supply[0].flow_m3_h = one->field[0].flow_m3_h = one->field[1].flow_m3_h = flow;
        one_plan();
        assert_int_equal(one_limit(TURNS_LIMIT_SUPPLY_SHORT) == NULL, side);
    }
}

static void a_field_to_leave_dry_is_the_one_that_costs_least(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[1].depletion_mm = 58;
    one->field[1].value_m2 = 0.1;
    for (int d = 0; d < 5; d++)
        one->supply[0].open[d] = turns_open_hours(0, 8);
    one_plan();
    const struct turns_limit *limit = one_limit(TURNS_LIMIT_SUPPLY_SHORT);
    assert_non_null(limit);
    assert_int_equal(limit->dry_field, 1);
    double without = one->field_use[1].cost.total + limit->dry_cost;
    one->field[1].dry_days = 0x1F;
    one_plan();
    assert_true(fabs(one->field_use[1].cost.total - without) < 1e-6 * without);
    assert_null(one_limit(TURNS_LIMIT_SUPPLY_SHORT));
}

static void a_short_allotment_is_named_and_cured_by_what_it_lacks(void **state) {
    (void)state;
    case_two_fields(one);
    one->supply[0].season_left_m3 = 1000;
    one_plan();
    const struct turns_limit *limit = one_limit(TURNS_LIMIT_ALLOTMENT_SHORT);
    assert_non_null(limit);
    assert_int_equal(limit->period, -1);
    assert_true(limit->more_m3 > 0 && limit->over == limit->more_m3);
    one->supply[0].season_left_m3 += limit->more_m3;
    one_plan();
    assert_null(one_limit(TURNS_LIMIT_ALLOTMENT_SHORT));
    one->supply[0].season_left_m3 = NAN;
    one->supply[0].period[0] = (struct turns_period){.first_day = 0, .last_day = 9, .left_m3 = 500};
    one->supply[0].period_count = 1;
    one_plan();
    limit = one_limit(TURNS_LIMIT_ALLOTMENT_SHORT);
    assert_non_null(limit);
    assert_int_equal(limit->period, 0);
    assert_int_equal(limit->day, 4);
}

static void a_field_that_cannot_be_kept_or_watered_at_all_is_named(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[0].depletion_mm = 100;
    one_plan();
    assert_non_null(one_limit(TURNS_LIMIT_FIELD_SHORT));
    assert_int_equal(one_limit(TURNS_LIMIT_FIELD_SHORT)->field, 0);
    assert_int_equal(one_limit(TURNS_LIMIT_FIELD_SHORT)->day, 0);
    case_two_fields(one);
    one->field[0].net_min_mm = 8.2; /* 0.8 mm an hour: nothing between 8.2 and 8.6 */
    one->field[0].net_max_mm = 8.6;
    one_plan();
    assert_non_null(one_limit(TURNS_LIMIT_NO_RUN));
    assert_int_equal(one->field_use[0].turns, 0);
    case_two_fields(one);
    one->field[0].flow_m3_h = 130;
    one_plan();
    assert_non_null(one_limit(TURNS_LIMIT_FIELD_FLOW));
    assert_true(fabs(one_limit(TURNS_LIMIT_FIELD_FLOW)->more_flow_m3_h - 30) < 1e-9);
}

static void limits_that_find_no_room_are_counted(void **state) {
    (void)state;
    case_two_fields(one);
    one->field[0].depletion_mm = one->field[1].depletion_mm = 100;
    one_plan();
    int all = one->plan.limit_count;
    assert_true(all >= 2);
    one->plan.limit_room = 1;
    one_plan();
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
    case_two_fields(one);
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
    case_two_fields(one);
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
    case_two_fields(one);
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
    case_two_fields(one);
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
    case_two_fields(one);
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

int main(void) {
    const struct CMUnitTest tests[] = {
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
    return cmocka_run_group_tests(tests, one_begin, one_end);
}
