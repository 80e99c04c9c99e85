/* Plans of turns on ten thousand seeded instances: every limit is verified hour by hour by a checker that
 * shares no code with the planner, and no simple rule does better. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/support/turns_checker.h"
#include "tests/support/turns_one.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define INSTANCES 10000
#define FULL      20 /* every so many get the default effort */

static double gain[TURNS_RULE_COUNT][INSTANCES], gap[INSTANCES];

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_spread(const char *name, double *value, int count) {
    qsort(value, (size_t)count, sizeof *value, by_size);
    double sum = 0;
    for (int i = 0; i < count; i++)
        sum += value[i];
    printf("# measured: turns, %s: least %.2f %%, 10th %.2f %%, median %.2f %%, 90th %.2f %%, most %.2f %%, "
           "mean %.2f %% (%d plans)\n",
           name, value[0], value[count / 10], value[count / 2], value[count - 1 - count / 10],
           value[count - 1], sum / count, count);
}

/* The gain over a rule of the checker's own, in percent of the rule's cost. The rules know no pins. */
static double gain_over(const struct turns_case *it, enum turns_rule rule, double cost) {
    double simple = checker_rule(&it->problem, rule);
    if (cost > simple + 1e-6 * (1 + fabs(simple)))
        fail_msg("costs %.9g, rule %d costs %.9g", cost, (int)rule, simple);
    return simple > 0 ? 100 * (simple - cost) / simple : 0;
}

/* The bound as prices gave it, before turns_plan() cuts it to the plan's cost: cut, a wrong one would not
 * show. Tolerance: rounding. */
static void bound_is_below(const struct turns_case *it, int supply, double cost, const char *what,
                           int index) {
    double bound = it->supply_use[supply].priced_bound;
    if (!(bound <= cost + 1e-9 * (1 + fabs(cost))))
        fail_msg("%s %d, supply %d: bound %.12g, cost %.12g", what, index, supply, bound, cost);
}

/* The ten thousand, or the first of them: the instrumented build, whose lines are counted, is slow. */
static int instance_count(void) {
    const char *told = getenv("TURNS_INSTANCES");
    int count = told != NULL ? atoi(told) : INSTANCES;
    assert_in_range(count, 1, INSTANCES);
    return count;
}

static void every_limit_holds_in_ten_thousand_instances_and_no_simple_rule_costs_less(void **state) {
    (void)state;
    int compared = 0, gaps = 0, proven = 0, supplies = 0, count = instance_count();
    for (int i = 0; i < count; i++) {
        char what[CHECKER_TEXT];
        case_any(one, (uint64_t)i);
        if (i % FULL != 0)
            one->problem.effort = (struct turns_effort){.tries = 1000, .rounds = 3, .nodes = 2000};
        assert_int_equal(case_plan(one), STATUS_OK);
        if (!checker_accepts(&one->problem, &one->plan, what))
            fail_msg("instance %d: %s", i, what);
        double cost = one->plan.cost.total;
        assert_true(one->plan.bound <= cost + 1e-9 * fabs(cost));
        for (int s = 0; s < one->problem.supply_count; s++)
            bound_is_below(one, s, one->supply_use[s].cost.total, "instance", i);
        if (i % FULL == 0) {
            gap[gaps++] = isnan(one->plan.gap) ? 0 : 100 * one->plan.gap;
            for (int s = 0; s < one->problem.supply_count; s++, supplies++)
                proven += one->supply_use[s].proven;
        }
        if (one->problem.pin_count > 0)
            continue;
        for (int rule = 0; rule < TURNS_RULE_COUNT; rule++)
            gain[rule][compared] = gain_over(one, (enum turns_rule)rule, cost);
        compared++;
    }
    print_spread("gain over first come first served", gain[TURNS_FIRST_COME], compared);
    print_spread("gain over earliest dry first", gain[TURNS_EARLIEST_DRY], compared);
    print_spread("gap between plan and bound", gap, gaps);
    printf("# measured: turns, plans proven to be the best: %d of %d supplies\n", proven, supplies);
}

static void the_planners_own_rules_are_those_of_the_header(void **state) {
    (void)state;
    for (int i = 0; i < 1000; i++) {
        char what[CHECKER_TEXT];
        case_any(one, (uint64_t)(20000 + i));
        one->problem.pin_count = 0;
        for (int rule = 0; rule < TURNS_RULE_COUNT; rule++) {
            assert_int_equal(case_rule(one, (enum turns_rule)rule), STATUS_OK);
            if (!checker_accepts(&one->problem, &one->plan, what))
                fail_msg("instance %d, rule %d: %s", i, rule, what);
            double simple = checker_rule(&one->problem, (enum turns_rule)rule);
            if (fabs(one->plan.cost.total - simple) > 1e-6 * (1 + fabs(simple)))
                fail_msg("instance %d, rule %d: %.9g, checker %.9g", i, rule, one->plan.cost.total, simple);
        }
    }
}

static void small_cases_equal_exhaustive_search(void **state) {
    (void)state;
    long plans = 0, most = 0;
    int cases = 0;
    for (int i = 0; i < 300; i++) {
        long tried;
        case_tiny(one, (uint64_t)i);
        one->problem.effort.nodes = 2000000;
        double best = checker_best(&one->problem, &tried);
        assert_int_equal(case_plan(one), STATUS_OK);
        assert_true(one->supply_use[0].proven);
        if (fabs(one->plan.cost.total - best) > 1e-7 * (1 + fabs(best)))
            fail_msg("case %d: %.9g, all %ld plans %.9g", i, one->plan.cost.total, tried, best);
        assert_true(fabs(one->plan.bound - best) <= 1e-7 * (1 + fabs(best)));
        bound_is_below(one, 0, best, "case", i);
        /* Without the proof, the bound must still not pass the best. */
        one->problem.effort.nodes = 0;
        assert_int_equal(case_plan(one), STATUS_OK);
        bound_is_below(one, 0, best, "case", i);
        plans += tried;
        most = tried > most ? tried : most;
        cases++;
    }
    printf("# measured: turns, exhaustive search agrees in %d cases, %ld plans tried, up to %ld in one\n",
           cases, plans, most);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(small_cases_equal_exhaustive_search),
        cmocka_unit_test(the_planners_own_rules_are_those_of_the_header),
        cmocka_unit_test(every_limit_holds_in_ten_thousand_instances_and_no_simple_rule_costs_less),
    };
    return cmocka_run_group_tests(tests, one_begin, one_end);
}
