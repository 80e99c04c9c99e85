#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "tests/support/near.h"
#include "tests/support/watering_bench.h"

static void rain_on(struct bench *bench, int day, double mm) {
    bench->input[day].rain_mm = mm;
}

static void recorded_watering_is_the_plain_season_to_the_last_bit(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    rain_on(&bench, 20, 35);
    bench.input[30].irrigation_gross_mm = 25;
    bench.input[30].irrigation_net_mm = 20;
    assert_int_equal(run(&bench), STATUS_OK);
    struct season_prepared prepared = prepare(&bench.setup);
    struct season_state plain = begin(&bench.setup);
    struct season_day day;
    for (int i = 0; i < bench.days; i++) {
        assert_int_equal(season_step(&prepared, &plain, &bench.input[i], &day), STATUS_OK);
        assert_memory_equal(&day.depletion_mm, &bench.day[i].depletion_mm, sizeof day.depletion_mm);
        assert_memory_equal(&day.eta_mm, &bench.day[i].eta_mm, sizeof day.eta_mm);
    }
    assert_int_equal(bench.days, 75); /* 5 bare, 70 of crop; the first day after belongs to no season */
    assert_int_equal(bench.budget.season.days, 75);
    assert_int_equal(bench.budget.season.irrigations, 1);
}

static void rainfed_gets_no_water_but_rain(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    rain_on(&bench, 20, 35);
    bench.input[30].irrigation_gross_mm = 25;
    bench.input[30].irrigation_net_mm = 20;
    bench.rule.kind = WATERING_NONE;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_true(bench.budget.season.irrigation_gross_mm == 0);
    assert_near(bench.budget.season.rain_mm, 35, 0);
    assert_true(bench.budget.season.stress_days > 20);
}

static void left_to_itself_the_field_is_watered_when_the_allowed_depletion_is_reached(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_true(bench.budget.season.irrigations > 3);
    for (int i = 1; i < bench.days; i++) {
        const struct season_day *before = &bench.day[i - 1], *day = &bench.day[i];
        bool due = crop_growing(before->stage) && before->depletion_mm >= before->allowed_mm;
        assert_true((day->irrigation_net_mm > 0) == due);
        /* All of the depletion, net; through an efficiency of 0.8 (the bench's). */
        assert_near(day->irrigation_net_mm, due ? before->depletion_mm : 0, 1e-12);
        assert_near(day->irrigation_gross_mm, day->irrigation_net_mm / 0.8, 1e-12);
    }
}

static void trigger_and_refill_scale_what_is_waited_for_and_given(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.rule.trigger = 0.5;
    bench.rule.refill = 0.6;
    assert_int_equal(run(&bench), STATUS_OK);
    for (int i = 1; i < bench.days; i++) {
        const struct season_day *before = &bench.day[i - 1], *day = &bench.day[i];
        bool due = crop_growing(before->stage) && before->depletion_mm > 0 &&
                   before->depletion_mm >= 0.5 * before->allowed_mm;
        assert_near(day->irrigation_net_mm, due ? 0.6 * before->depletion_mm : 0, 1e-12);
    }
}

static void a_share_scales_recorded_depths(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.input[30].irrigation_gross_mm = 25;
    bench.input[30].irrigation_net_mm = 20;
    bench.rule.share = 0.5;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_near(bench.budget.season.irrigation_gross_mm, 12.5, 0);
    assert_near(bench.budget.season.irrigation_net_mm, 10, 0);
}

static void a_limit_cuts_the_last_depth_and_those_after_it(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    for (int i = 20; i < 50; i += 10) {
        bench.input[i].irrigation_gross_mm = 25;
        bench.input[i].irrigation_net_mm = 20;
    }
    bench.rule.limit_gross_mm = 30;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_near(bench.day[20].irrigation_gross_mm, 25, 0);
    assert_near(bench.day[30].irrigation_gross_mm, 5, 1e-12);
    assert_near(bench.day[30].irrigation_net_mm, 4, 1e-12);
    assert_true(bench.day[40].irrigation_gross_mm == 0);
}

static void what_runs_longer_than_a_day_allows_is_cut_to_the_day(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.system.hours_per_day = 1; /* 10 mm gross, 8 net */
    assert_int_equal(run(&bench), STATUS_OK);
    double most = 0;
    for (int i = 0; i < bench.days; i++)
        most = fmax(most, bench.day[i].irrigation_net_mm);
    assert_near(most, 8, 1e-12);
}

static void no_water_is_given_from_a_stage_on(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.rule.stop_stage = STAGE_MID;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_true(bench.budget.stage[STAGE_DEVELOPMENT].irrigations > 0);
    assert_int_equal(bench.budget.stage[STAGE_MID].irrigations, 0);
    assert_int_equal(bench.budget.stage[STAGE_LATE].irrigations, 0);
}

static void no_water_is_given_from_a_date_on(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.rule.stop_date = FIRST + 40;
    assert_int_equal(run(&bench), STATUS_OK);
    for (int i = 0; i < bench.days; i++)
        assert_true(i < 40 || bench.day[i].irrigation_gross_mm == 0);
    assert_true(bench.budget.season.irrigations > 0);
}

static void rows_are_optional(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    assert_int_equal(watering_run(&bench.season, NULL, &bench.days, &bench.budget, NULL), STATUS_OK);
    assert_int_equal(bench.days, 75);
}

static void a_season_that_is_not_over_stands_at_its_last_day(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.season.count = 40;
    assert_int_equal(run(&bench), STATUS_OK);
    assert_int_equal(bench.days, 40);
    assert_int_equal(bench.budget.last, FIRST + 39);
}

static void a_day_at_fault_is_named(void **state) {
    (void)state;
    struct bench bench;
    int32_t failed;
    lay(&bench);
    bench.input[12].et0_mm = NAN;
    assert_int_equal(watering_run(&bench.season, bench.day, &bench.days, &bench.budget, &failed),
                     STATUS_MISSING);
    assert_int_equal(failed, FIRST + 12);
    assert_int_equal(bench.days, 12);
    assert_int_equal(run(&bench), STATUS_MISSING);
    bench.rule.stop_stage = STAGE_LATE; /* the stage of the day is asked for first */
    assert_int_equal(watering_run(&bench.season, bench.day, &bench.days, &bench.budget, &failed),
                     STATUS_MISSING);
    assert_int_equal(failed, FIRST + 12);
    lay(&bench);
    bench.setup.planting_date = FIRST - 1;
    assert_int_equal(watering_run(&bench.season, bench.day, &bench.days, &bench.budget, &failed),
                     STATUS_ORDER);
    assert_int_equal(failed, CALENDAR_NONE);
    lay(&bench);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.system.kind = SYSTEM_NONE;
    assert_int_equal(run(&bench), STATUS_MISSING);
}

static void a_rule_outside_its_ranges_is_refused_by_name(void **state) {
    (void)state;
    struct bench bench;
    const char *member = NULL;
    lay(&bench);
    const struct {
        const char *name;
        size_t offset;
        double value;
    } bad[] = {{"share", offsetof(struct watering_rule, share), -0.1},
               {"share", offsetof(struct watering_rule, share), NAN},
               {"share", offsetof(struct watering_rule, share), 6},
               {"trigger", offsetof(struct watering_rule, trigger), 0},
               {"refill", offsetof(struct watering_rule, refill), 1.1},
               {"limit_gross_mm", offsetof(struct watering_rule, limit_gross_mm), -1}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct watering_rule rule = watering_rule_default();
        memcpy((char *)&rule + bad[i].offset, &bad[i].value, sizeof bad[i].value);
        assert_int_equal(watering_rule_check(&rule, &member), STATUS_OUT_OF_RANGE);
        assert_string_equal(member, bad[i].name);
        assert_int_equal(watering_rule_check(&rule, NULL), STATUS_OUT_OF_RANGE);
    }
    struct watering_rule rule = watering_rule_default();
    rule.kind = WATERING_KIND_COUNT;
    assert_int_equal(watering_rule_check(&rule, &member), STATUS_OUT_OF_RANGE);
    assert_string_equal(member, "kind");
    rule = watering_rule_default();
    rule.stop_stage = STAGE_BARE;
    assert_int_equal(watering_rule_check(&rule, &member), STATUS_OUT_OF_RANGE);
    assert_string_equal(member, "stop_stage");
    rule = watering_rule_default();
    rule.stop_date = CALENDAR_LAST + 1;
    assert_int_equal(watering_rule_check(&rule, &member), STATUS_OUT_OF_RANGE);
    assert_string_equal(member, "stop_date");
    bench.rule = rule;
    assert_int_equal(run(&bench), STATUS_OUT_OF_RANGE);
}

static void kinds_have_names(void **state) {
    (void)state;
    assert_string_equal(watering_kind_name(WATERING_AUTOMATIC), "automatic");
    assert_null(watering_kind_name(WATERING_KIND_COUNT));
}

/* ---- the budget ---- */

static void the_parts_of_a_budget_are_its_days_summed(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.setup.soil.curve_number = 80;
    rain_on(&bench, 3, 10);
    rain_on(&bench, 20, 60);
    rain_on(&bench, 50, 30);
    bench.rule.kind = WATERING_AUTOMATIC;
    bench.rule.stop_stage = STAGE_LATE;
    assert_int_equal(run(&bench), STATUS_OK);
    const struct budget *budget = &bench.budget;
    double rain = 0, eta = 0, stage_eta = 0, percolation = 0, runoff = 0;
    for (int i = 0; i < bench.days; i++) {
        rain += bench.day[i].rain_mm;
        eta += bench.day[i].eta_mm;
        percolation += bench.day[i].percolation_mm;
        runoff += bench.day[i].runoff_mm;
    }
    for (int stage = 0; stage < STAGE_ENDED; stage++)
        stage_eta += budget->stage[stage].eta_mm;
    assert_near(budget->season.rain_mm, rain, 1e-12);
    assert_near(budget->season.eta_mm, eta, 1e-12);
    assert_near(stage_eta, eta, 1e-9);
    assert_true(runoff > 0 && percolation > 0);
    /* All percolation is of rain here but what fell together with irrigation. */
    assert_true(budget->season.effective_rain_mm <= rain - runoff);
    assert_true(budget->season.effective_rain_mm >= rain - runoff - percolation);
    assert_int_equal(budget->first, FIRST);
    assert_int_equal(budget->last, FIRST + 74);
    assert_int_equal(budget->stage_first[STAGE_INITIAL], FIRST + 5);
    assert_int_equal(budget->stage_first[STAGE_MID], FIRST + 35);
    assert_int_equal(budget->stage[STAGE_DEVELOPMENT].days, 20);
}

/* Equation 85 over the season: what came in less what went out is the change in storage. */
static void a_budget_closes(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.setup.drainage_days = 3;
    rain_on(&bench, 20, 120);
    bench.rule.kind = WATERING_AUTOMATIC;
    assert_int_equal(run(&bench), STATUS_OK);
    const struct budget_part *season = &bench.budget.season;
    double in = season->rain_mm - season->runoff_mm + season->irrigation_net_mm + season->capillary_mm;
    double out = season->eta_mm + season->percolation_mm + season->new_soil_mm + season->reading_shift_mm;
    assert_near(season->storage_change_mm, in - out, 1e-9);
    assert_near(season->closure_mm, 0, 1e-9);
    assert_true(bench.budget.closure_max_mm < 1e-9);
}

static void stress_is_counted_by_stage_with_its_depth(void **state) {
    (void)state;
    struct bench bench;
    lay(&bench);
    bench.rule.kind = WATERING_NONE;
    assert_int_equal(run(&bench), STATUS_OK);
    const struct budget_part *mid = &bench.budget.stage[STAGE_MID];
    double deepest = 0, least = 1, lacking = 0;
    int days = 0;
    for (int i = 35; i < 65; i++) {
        const struct season_day *day = &bench.day[i];
        deepest = fmax(deepest, day->depletion_mm - day->raw_mm);
        least = fmin(least, day->ks);
        lacking += day->etc_mm - day->eta_mm;
        days += day->ks < 1;
    }
    assert_true(days > 0);
    assert_int_equal(mid->stress_days, days);
    assert_near(mid->stress_deepest_mm, deepest, 0);
    assert_near(mid->ks_least, least, 0);
    assert_near(mid->stress_mm, lacking, 1e-12);
    assert_int_equal(bench.budget.stage[STAGE_BARE].stress_days, 0);
}

static void a_day_of_no_stage_is_not_added(void **state) {
    (void)state;
    struct budget budget = budget_empty();
    struct season_day day = {.stage = STAGE_ENDED};
    assert_int_equal(budget_add(&budget, &day), STATUS_OUT_OF_RANGE);
    day.stage = (enum crop_stage)(-1);
    assert_int_equal(budget_add(&budget, &day), STATUS_OUT_OF_RANGE);
    assert_int_equal(budget.season.days, 0);
    assert_int_equal(budget.first, CALENDAR_NONE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(recorded_watering_is_the_plain_season_to_the_last_bit),
        cmocka_unit_test(rainfed_gets_no_water_but_rain),
        cmocka_unit_test(left_to_itself_the_field_is_watered_when_the_allowed_depletion_is_reached),
        cmocka_unit_test(trigger_and_refill_scale_what_is_waited_for_and_given),
        cmocka_unit_test(a_share_scales_recorded_depths),
        cmocka_unit_test(a_limit_cuts_the_last_depth_and_those_after_it),
        cmocka_unit_test(what_runs_longer_than_a_day_allows_is_cut_to_the_day),
        cmocka_unit_test(no_water_is_given_from_a_stage_on),
        cmocka_unit_test(no_water_is_given_from_a_date_on),
        cmocka_unit_test(rows_are_optional),
        cmocka_unit_test(a_season_that_is_not_over_stands_at_its_last_day),
        cmocka_unit_test(a_day_at_fault_is_named),
        cmocka_unit_test(a_rule_outside_its_ranges_is_refused_by_name),
        cmocka_unit_test(kinds_have_names),
        cmocka_unit_test(the_parts_of_a_budget_are_its_days_summed),
        cmocka_unit_test(a_budget_closes),
        cmocka_unit_test(stress_is_counted_by_stage_with_its_depth),
        cmocka_unit_test(a_day_of_no_stage_is_not_added),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
