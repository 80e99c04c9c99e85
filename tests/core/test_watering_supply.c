/* The automatic rule of watering when it draws on a supply. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "tests/support/near.h"
#include "tests/support/watering_bench.h"

/* Whether the automatic rule asks for water on day i: the crop stands and the allowed depletion was reached
 * on the evening before. */
static bool due(const struct bench *bench, int i) {
    const struct season_day *before = &bench->day[i - 1];
    return crop_growing(before->stage) && before->depletion_mm >= before->allowed_mm;
}

static void a_supply_that_is_large_enough_changes_no_bit(void **state) {
    (void)state;
    struct bench bench, plain;
    lay(&plain);
    plain.rule.kind = WATERING_AUTOMATIC;
    plain.season.supply = NULL;
    assert_int_equal(run(&plain), STATUS_OK);
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.supply = (struct watering_supply){100, 24, 1e6};
    assert_int_equal(run(&bench), STATUS_OK);
    for (int i = 0; i < bench.days; i++)
        assert_memory_equal(&bench.day[i].depletion_mm, &plain.day[i].depletion_mm, sizeof(double));
    assert_true(bench.denied.gross_mm == 0 && bench.denied.days == 0);
    assert_int_equal(bench.denied.spent_date, CALENDAR_NONE);
}

/* By hand: 100 m3/h for 1.5 hours on 1 ha are 150 m3 = 15 mm; 60 m3/h, less than the system's 100, for 2
 * hours are 120 m3 = 12 mm. Of either 80 % is net. */
static void a_turn_takes_the_hours_and_the_flow_of_the_supply(void **state) {
    (void)state;
    static const struct {
        struct watering_supply supply;
        double most_gross_mm;
    } cases[] = {{{NAN, 1.5, NAN}, 15}, {{60, 2, NAN}, 12}, {{400, 1.5, NAN}, 15}};
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct bench bench;
        int cut = 0;
        lay(&bench);
        bench.rule.kind = WATERING_AUTOMATIC;
        bench.supply = cases[k].supply;
        assert_int_equal(run(&bench), STATUS_OK);
        for (int i = 1; i < bench.days; i++) {
            double asked_mm = due(&bench, i) ? bench.day[i - 1].depletion_mm / 0.8 : 0;
            assert_near(bench.day[i].irrigation_gross_mm, fmin(asked_mm, cases[k].most_gross_mm), 1e-9);
            assert_near(bench.day[i].irrigation_net_mm, 0.8 * bench.day[i].irrigation_gross_mm, 1e-9);
            cut += asked_mm > cases[k].most_gross_mm + 1e-9;
        }
        assert_true(cut > 0);
        assert_int_equal(bench.denied.days, cut);
    }
}

/* The system's flow is not known: the supply's is. 40 m3/h for 5 hours on 1 ha are 20 mm. */
static void a_flow_that_only_the_supply_has_bounds_as_well(void **state) {
    (void)state;
    struct bench bench;
    double most = 0;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.system.flow_m3_h = NAN;
    bench.supply = (struct watering_supply){40, 5, NAN};
    assert_int_equal(run(&bench), STATUS_OK);
    for (int i = 0; i < bench.days; i++)
        most = fmax(most, bench.day[i].irrigation_gross_mm);
    assert_near(most, 20, 1e-9);
}

/* By hand: 500 m3 on 1 ha are 50 mm gross, 40 mm net. It never rains, so what was denied in the end is what
 * would have filled the soil on the last morning that asked. */
static void the_allotment_ends_watering_when_it_is_used(void **state) {
    (void)state;
    struct bench bench;
    double given_mm = 0, asked_mm = 0;
    int32_t spent = CALENDAR_NONE;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.supply.allotment_m3 = 500;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_near(bench.budget.season.irrigation_gross_mm, 50, 1e-9);
    assert_near(bench.budget.season.irrigation_net_mm, 40, 1e-9);
    for (int i = 1; i < bench.days; i++) {
        if (!due(&bench, i))
            continue;
        asked_mm = bench.day[i - 1].depletion_mm / 0.8;
        given_mm += bench.day[i].irrigation_gross_mm;
        if (spent == CALENDAR_NONE && given_mm > 50 - 1e-9)
            spent = bench.day[i].date;
    }
    assert_int_equal(bench.denied.spent_date, spent);
    assert_true(spent > FIRST + 10);
    assert_near(bench.denied.gross_mm, asked_mm, 1e-9);
}

static void without_an_allotment_nothing_is_given_and_all_that_was_asked_for_is_denied_once(void **state) {
    (void)state;
    struct bench bench;
    int first = 0, asked = 0;
    double last_mm = 0;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.supply.allotment_m3 = 0;
    assert_int_equal(run(&bench), STATUS_OK);
    for (int i = 1; i < bench.days; i++) {
        if (!due(&bench, i))
            continue;
        first = first == 0 ? i : first;
        last_mm = bench.day[i - 1].depletion_mm / 0.8;
        asked++;
    }
    assert_true(bench.budget.season.irrigation_gross_mm == 0);
    assert_int_equal(bench.denied.days, asked);
    assert_int_equal(bench.denied.spent_date, FIRST + first);
    assert_near(bench.denied.gross_mm, last_mm, 1e-9);
}

/* A day that brings half of what is asked for, and the next the rest with that day's ET: the same half is
 * denied once, though it was asked for twice. */
static void water_that_comes_a_day_late_is_denied_once(void **state) {
    (void)state;
    struct bench bench;
    int first = 0;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.rule.trigger = 0.2; /* still asks after half a refill */
    bench.season.count = 40;
    assert_int_equal(run(&bench), STATUS_OK);
    while (!(bench.day[first].irrigation_gross_mm > 0))
        first++;
    double asked_mm = bench.day[first].irrigation_gross_mm;
    bench.season.count = first + 2;
    bench.supply.hours_per_day = asked_mm / 2 / 10; /* the system's flow is 10 mm/h */
    assert_int_equal(run(&bench), STATUS_OK);
    assert_near(bench.day[first].irrigation_gross_mm, asked_mm / 2, 1e-9);
    double second_mm = bench.day[first].depletion_mm / 0.8, late_mm = second_mm - asked_mm / 2;
    assert_true(bench.day[first + 1].irrigation_gross_mm > 0 && late_mm > 0 && late_mm < asked_mm / 2);
    assert_near(bench.denied.gross_mm, asked_mm / 2, 1e-9);
    assert_int_equal(bench.denied.days, 2);
}

static void records_and_rainfed_seasons_draw_on_no_supply(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.supply = (struct watering_supply){1, 1, 0};
    bench.input[30].irrigation_gross_mm = 25;
    bench.input[30].irrigation_net_mm = 20;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_near(bench.budget.season.irrigation_gross_mm, 25, 0);
    assert_int_equal(bench.denied.days, 0);
}

static void a_supply_outside_its_ranges_is_refused_by_name(void **state) {
    (void)state;
    static const struct {
        struct watering_supply supply;
        const char *name;
    } bad[] = {{{0, 10, 10}, "flow_m3_h"},
               {{-INFINITY, 10, 10}, "flow_m3_h"},
               {{10, -1, 10}, "hours_per_day"},
               {{10, 24.5, 10}, "hours_per_day"},
               {{10, INFINITY, 10}, "hours_per_day"},
               {{10, 10, -1}, "allotment_m3"}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        const char *member = NULL;
        struct bench bench;
        assert_int_equal(watering_supply_check(&bad[i].supply, &member), STATUS_OUT_OF_RANGE);
        assert_string_equal(member, bad[i].name);
        lay(&bench);
        bench.supply = bad[i].supply;
        assert_int_equal(run(&bench), STATUS_OUT_OF_RANGE);
    }
    const struct watering_supply good = watering_supply_unbounded();
    assert_int_equal(watering_supply_check(&good, NULL), STATUS_OK);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_supply_that_is_large_enough_changes_no_bit),
        cmocka_unit_test(a_turn_takes_the_hours_and_the_flow_of_the_supply),
        cmocka_unit_test(a_flow_that_only_the_supply_has_bounds_as_well),
        cmocka_unit_test(the_allotment_ends_watering_when_it_is_used),
        cmocka_unit_test(without_an_allotment_nothing_is_given_and_all_that_was_asked_for_is_denied_once),
        cmocka_unit_test(water_that_comes_a_day_late_is_denied_once),
        cmocka_unit_test(records_and_rainfed_seasons_draw_on_no_supply),
        cmocka_unit_test(a_supply_outside_its_ranges_is_refused_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
