#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/balance/runoff.h"
#include "tests/support/near.h"
#include "tests/support/plain_season.h"

static struct season_day step(const struct season_setup *setup, struct season_state *run,
                              const struct season_input *input) {
    struct season_day day;
    struct season_prepared prepared = prepare(setup);
    assert_int_equal(season_step(&prepared, run, input, &day), STATUS_OK);
    assert_true(fabs(season_closure_mm(&day)) < 1e-9);
    return day;
}

/* Plain days until `date` has been stepped; its row. */
static struct season_day go_to(const struct season_setup *setup, struct season_state *run, int32_t date) {
    struct season_day day = {.date = 0};
    while (run->next_date <= date) {
        struct season_input input = plain_day(run->next_date);
        day = step(setup, run, &input);
    }
    return day;
}

static void bare_soil_only_evaporates(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup);
    for (int i = 0; i < 5; i++) {
        struct season_input input = plain_day(FIRST + i);
        struct season_day day = step(&setup, &run, &input);
        assert_int_equal(day.stage, STAGE_BARE);
        assert_near(day.transpiration_mm, 0, 0);
        assert_near(day.eta_mm, day.evaporation_mm, 0);
        assert_near(day.root_m, 0.3, 0);
        /* What evaporated since the first morning is gone from both accounts. */
        assert_near(day.depletion_mm, day.surface_depletion_mm, 1e-9);
    }
    struct season_day ended = go_to(&setup, &run, FIRST + 5 + 75);
    assert_int_equal(ended.stage, STAGE_ENDED);
    assert_near(ended.transpiration_mm, 0, 0);
    assert_near(ended.root_m, 0.9, 1e-12);
}

static void dew_asks_for_no_water(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup);
    (void)go_to(&setup, &run, FIRST + 30);
    struct season_input input = plain_day(FIRST + 31);
    input.et0_mm = -0.3;
    struct season_day day = step(&setup, &run, &input);
    assert_near(day.et0_mm, -0.3, 0);
    assert_near(day.etc_mm, 0, 0);
    assert_near(day.depletion_mm, day.depletion_start_mm + day.new_soil_mm, 1e-12);
}

static void roots_reach_the_water_below_that_rain_left_there(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.start_depletion = 0.4;
    struct season_state run = begin(&setup);
    assert_near(run.root_zone.depletion_mm, 0.4 * 45, 1e-12);
    assert_near(run.root_zone.below_depletion_mm, 0.4 * 90, 1e-12);
    struct season_total total = season_total_empty();
    while (run.next_date <= FIRST + 40) {
        struct season_input input = plain_day(run.next_date);
        struct season_day day = step(&setup, &run, &input);
        season_total_add(&total, &day);
    }
    assert_near(total.new_soil_mm, 36, 1e-9); /* all that was below by mid-season */
    assert_near(run.root_zone.below_depletion_mm, 0, 1e-12);
    /* A soaking rain before roots come: they find field capacity. */
    run = begin(&setup);
    struct season_input soaking = plain_day(FIRST);
    soaking.rain_mm = 100;
    (void)step(&setup, &run, &soaking);
    assert_near(run.root_zone.below_depletion_mm, 0, 0);
}

static void runoff_follows_the_wetness_of_the_surface(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.soil.curve_number = 80;
    struct season_state run = begin(&setup);
    struct season_input rain = plain_day(FIRST);
    rain.rain_mm = 40;
    struct season_day wet = step(&setup, &run, &rain);
    double expected_mm;
    assert_int_equal(runoff_curve_number_mm(40, runoff_cn_wet(80), &expected_mm), STATUS_OK);
    assert_near(wet.runoff_mm, expected_mm, 1e-12);
    setup.start_surface = 1;
    run = begin(&setup);
    struct season_day dry = step(&setup, &run, &rain);
    assert_int_equal(runoff_curve_number_mm(40, runoff_cn_dry(80), &expected_mm), STATUS_OK);
    assert_near(dry.runoff_mm, expected_mm, 1e-12);
}

static void salt_lowers_transpiration_and_leaves_evaporation(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup);
    struct season_day fresh = go_to(&setup, &run, FIRST + 6);
    setup.ece_ds_m = 5; /* 3 dS/m above the threshold, 10 % each, Ky 1: Ks 0.7 (eq. 91) */
    run = begin(&setup);
    struct season_day salty = go_to(&setup, &run, FIRST + 6);
    assert_near(salty.ks, 0.7, 1e-12);
    assert_near(salty.transpiration_mm, 0.7 * fresh.transpiration_mm, 1e-12);
    assert_near(salty.evaporation_mm, fresh.evaporation_mm, 1e-12);
    setup.crop.ky_season = 1.5;
    run = begin(&setup);
    assert_near(go_to(&setup, &run, FIRST + 6).ks, 0.8, 1e-12);
}

static void an_observed_cover_holds_until_the_next_one_and_a_cutting(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.crop.forage = true;
    struct season_state run = begin(&setup), plain;
    (void)go_to(&setup, &run, FIRST + 30);
    plain = run;
    struct season_input input = plain_day(FIRST + 31);
    struct season_day expected = step(&setup, &plain, &input);
    input.observed_cover = expected.cover / 2;
    struct season_day seen = step(&setup, &run, &input);
    assert_near(seen.cover, expected.cover / 2, 1e-12);
    assert_true(seen.kcb < expected.kcb);
    assert_near(go_to(&setup, &run, FIRST + 40).cover / go_to(&setup, &plain, FIRST + 40).cover, 0.5, 1e-12);
    struct season_input cut = plain_day(FIRST + 41);
    cut.cutting = true;
    struct season_day after = step(&setup, &run, &cut);
    assert_near(after.kcb, setup.crop.kcb_ini, 1e-12);
    assert_int_equal(run.progress.cycles, 1);
    assert_near(run.density.cover_ratio, 1, 0);
}

static void a_reading_corrects_the_evening(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup);
    (void)go_to(&setup, &run, FIRST + 45);
    struct season_input input = plain_day(FIRST + 46);
    input.reading_m3_m3 = 0.18; /* 0.07 x 900 mm below field capacity */
    input.reading_sd_m3_m3 = NAN;
    struct season_day day = step(&setup, &run, &input);
    assert_near(day.depletion_mm, 63, 1e-9);
    assert_near(run.variance_mm2, 0, 0);
    /* An uncertain one moves it less. */
    input = plain_day(FIRST + 47);
    input.reading_m3_m3 = 0.10;
    input.reading_sd_m3_m3 = 0.05;
    double before_mm = day.depletion_mm;
    day = step(&setup, &run, &input);
    assert_true(day.reading_shift_mm > 0 && day.depletion_mm < before_mm + day.eta_mm + 1);
}

static void kc_ini_of_wetting_takes_the_place_of_the_table(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.method = COEFFICIENT_SINGLE;
    setup.wetting_interval_d = 3.5;
    setup.wetting_depth_mm = 20;
    setup.soil.tew_mm = 15; /* coarse: Example 7-1 */
    struct season_state run = begin(&setup);
    assert_near(go_to(&setup, &run, FIRST + 8).kc, 0.60528, 5e-6);
    setup.soil.tew_mm = 22;
    run = begin(&setup);
    double fine;
    assert_int_equal(crop_kc_ini(5, 3.5, 20, 1, false, &fine), STATUS_OK);
    assert_near(go_to(&setup, &run, FIRST + 8).kc, fine, 1e-12);
    assert_near(go_to(&setup, &run, FIRST + 40).kc, 1.2, 1e-12);
}

static void the_single_coefficient_sums_to_ks_kc_et0(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.method = COEFFICIENT_SINGLE;
    struct season_state run = begin(&setup);
    while (run.next_date < FIRST + 70) {
        struct season_input input = plain_day(run.next_date);
        struct season_day day = step(&setup, &run, &input);
        if (crop_growing(day.stage))
            assert_near(day.eta_mm + day.unmet_mm, day.ks * day.kc * 5, 1e-9); /* eq. 81 */
    }
    /* A crop with neither basal coefficient nor evaporation: all of it is transpiration. */
    setup.crop.kcb_ini = 0;
    setup.start_surface = 1;
    run = begin(&setup);
    struct season_day day = go_to(&setup, &run, FIRST + 5);
    assert_near(day.evaporation_mm, 0, 0);
    assert_near(day.transpiration_mm, day.ks * 0.4 * 5, 1e-12);
}

static void the_climate_of_the_setup_stands_in_for_the_days_own(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.climate_wind_m_s = 4;
    setup.climate_rh_min_pct = 30;
    struct season_state run = begin(&setup);
    /* 1.1 + 0.14 (0.9 / 3)^0.3, eq. 70 */
    assert_near(go_to(&setup, &run, FIRST + 45).kcb, 1.1 + 0.09756, 5e-6);
    /* One of the two alone: 0.08 and 0.06 times (0.9 / 3)^0.3, the other is the day's own (2 m/s, 45 %). */
    setup.climate_rh_min_pct = NAN;
    run = begin(&setup);
    assert_near(go_to(&setup, &run, FIRST + 45).kcb, 1.1 + 0.05575, 5e-6);
    setup.climate_wind_m_s = NAN;
    setup.climate_rh_min_pct = 30;
    run = begin(&setup);
    assert_near(go_to(&setup, &run, FIRST + 45).kcb, 1.1 + 0.04181, 5e-6);
}

static void shallow_roots_take_water_from_the_surface_layer(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state deep = begin(&setup);
    double deep_mm = go_to(&setup, &deep, FIRST + 10).surface_depletion_mm;
    setup.crop.root_ini_m = 0.3;
    setup.crop.root_max_m = 0.4;
    struct season_state shallow = begin(&setup);
    assert_true(go_to(&setup, &shallow, FIRST + 10).surface_depletion_mm > deep_mm);
    /* Roots thinner than the surface layer count as its depth. */
    setup.crop.root_ini_m = 0.05;
    shallow = begin(&setup);
    assert_true(go_to(&setup, &shallow, FIRST + 10).surface_depletion_mm <= setup.soil.tew_mm);
}

static void a_water_table_feeds_the_root_zone(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.water_table_m = 1.4;
    setup.capillary_max_mm = 2;
    struct season_state run = begin(&setup);
    assert_near(go_to(&setup, &run, FIRST + 2).capillary_mm, 0, 0);     /* 1.1 m below the roots */
    assert_near(go_to(&setup, &run, FIRST + 50).capillary_mm, 1, 1e-9); /* 0.5 m */
}

static void the_users_allowed_depletion_goes_by_stage(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.crop.allowed_depletion[2] = 0.8;
    setup.crop.depletion_fixed = true;
    struct season_state run = begin(&setup);
    struct season_day day = go_to(&setup, &run, FIRST + 20);
    assert_near(day.allowed_mm, day.raw_mm, 0);
    assert_near(day.p, 0.5, 0);
    day = go_to(&setup, &run, FIRST + 50);
    assert_near(day.allowed_mm, 0.8 * day.taw_mm, 1e-12);
    assert_near(day.raw_mm, 0.5 * day.taw_mm, 1e-12);
}

static void totals_count_stages_and_stress(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup);
    struct season_total total = season_total_empty();
    struct season_day last = {.date = 0};
    double etc_mm = 0, eta_mm = 0;
    int stressed = 0;
    for (int i = 0; i < 80; i++) {
        struct season_input input = plain_day(FIRST + i);
        last = step(&setup, &run, &input);
        season_total_add(&total, &last);
        if (crop_growing(last.stage)) {
            etc_mm += last.etc_mm;
            eta_mm += last.eta_mm;
            stressed += last.ks < 1;
        }
    }
    double stage_etc_mm = 0, stage_eta_mm = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        stage_etc_mm += total.etc_stage_mm[k];
        stage_eta_mm += total.eta_stage_mm[k];
    }
    assert_int_equal(total.days, 80);
    assert_int_equal(total.stress_days, stressed);
    assert_true(stressed > 10);
    assert_near(stage_etc_mm, etc_mm, 1e-9);
    assert_near(stage_eta_mm, eta_mm, 1e-9);
    assert_near(total.et0_mm, 400, 1e-9);
    assert_near(total.depletion_first_mm, 0, 0);
    assert_near(total.depletion_last_mm, last.depletion_mm, 0);
    /* A row that does not close, or is no number, shows. */
    last.depletion_mm += 0.5;
    season_total_add(&total, &last);
    assert_near(total.closure_max_mm, 0.5, 1e-9);
    last.depletion_mm = NAN;
    season_total_add(&total, &last);
    assert_true(isnan(total.closure_max_mm));
}

struct spent {
    double evaporation_mm, transpiration_mm, percolation_mm;
    struct season_day last;
};

/* Forty days of young plants on bare soil that are short of water, with rain on the second. */
static struct spent thirsty_days(double rain_mm) {
    struct season_setup setup = plain_setup();
    struct spent spent = {.percolation_mm = 0};
    setup.planting_date = FIRST;
    setup.crop.stage_days[0] = 60;
    setup.start_depletion = 0.8;
    setup.start_surface = 1;
    struct season_state run = begin(&setup);
    for (int i = 0; i < 40; i++) {
        struct season_input input = plain_day(FIRST + i);
        input.rain_mm = i == 1 ? rain_mm : 0;
        spent.last = step(&setup, &run, &input);
        spent.evaporation_mm += spent.last.evaporation_mm;
        spent.transpiration_mm += spent.last.transpiration_mm;
        spent.percolation_mm += spent.last.percolation_mm;
    }
    return spent;
}

/* Why more rain can make a drier soil with the dual coefficient, and no rule of percolation could mend it:
 * the water on the surface counts in Dr, so the plants take more (eq. 84), but what they take leaves the
 * surface layer as wet as it was (eq. 77 without Tew), and it evaporates all the same. */
static void rain_on_thirsty_plants_can_cost_more_than_itself_though_nothing_percolates(void **state) {
    (void)state;
    struct spent without = thirsty_days(0), with = thirsty_days(12);
    assert_true(without.percolation_mm <= 0 && with.percolation_mm <= 0);
    assert_near(with.last.surface_depletion_mm, without.last.surface_depletion_mm, 0.01);
    double evaporated_mm = with.evaporation_mm - without.evaporation_mm;
    double transpired_mm = with.transpiration_mm - without.transpiration_mm;
    assert_true(transpired_mm > 0.1 && evaporated_mm > 11.5 && evaporated_mm < 12);
    assert_near(with.last.depletion_mm - without.last.depletion_mm, evaporated_mm + transpired_mm - 12, 1e-9);
    assert_true(with.last.depletion_mm > without.last.depletion_mm);
}

/* What a day went through leads to its row, and looking on changes nothing. */
static void the_trace_of_a_day_leads_to_its_row(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup), seen;
    (void)go_to(&setup, &run, FIRST + 30);
    struct season_input input = plain_day(FIRST + 31);
    input.rain_mm = 12;
    input.reading_m3_m3 = 0.2;
    input.reading_sd_m3_m3 = 0.02;
    seen = run;
    struct season_day day = step(&setup, &run, &input), row;
    struct season_trace trace;
    struct season_prepared prepared = prepare(&setup);
    assert_int_equal(season_step_traced(&prepared, &seen, &input, &row, &trace), STATUS_OK);
    assert_near(row.depletion_mm, day.depletion_mm, 0);
    assert_near(row.surface_depletion_mm, day.surface_depletion_mm, 0);
    assert_near(trace.wet_depletion_mm, fmax(row.depletion_start_mm + row.new_soil_mm - 12, 0), 1e-12);
    assert_near(trace.asked_mm, row.eta_mm, 0);
    assert_near(trace.read_depletion_mm + row.reading_shift_mm, row.depletion_mm, 1e-12);
    assert_near(trace.surface.depletion_mm + row.evaporation_mm / trace.soil.exposed_fraction,
                row.surface_depletion_mm, 1e-12);
    assert_near(trace.expected.cover, trace.crop.cover, 0);
}

/* Half the cover was seen: the trace has the crop as it was expected beside the thin stand (eqs 97, 98). */
static void the_trace_of_a_thin_stand_keeps_what_was_expected(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_state run = begin(&setup), plain = run;
    struct season_input input = plain_day(FIRST + 30);
    (void)go_to(&setup, &run, FIRST + 29);
    (void)go_to(&setup, &plain, FIRST + 29);
    double expected_cover = step(&setup, &plain, &input).cover;
    struct season_day row;
    struct season_trace trace;
    input.observed_cover = expected_cover / 2;
    struct season_prepared prepared = prepare(&setup);
    assert_int_equal(season_step_traced(&prepared, &run, &input, &row, &trace), STATUS_OK);
    assert_near(trace.expected.cover, expected_cover, 1e-12);
    assert_near(trace.crop.cover, expected_cover / 2, 1e-12);
    assert_true(trace.crop.kcb < trace.expected.kcb);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bare_soil_only_evaporates),
        cmocka_unit_test(dew_asks_for_no_water),
        cmocka_unit_test(roots_reach_the_water_below_that_rain_left_there),
        cmocka_unit_test(runoff_follows_the_wetness_of_the_surface),
        cmocka_unit_test(salt_lowers_transpiration_and_leaves_evaporation),
        cmocka_unit_test(the_trace_of_a_thin_stand_keeps_what_was_expected),
        cmocka_unit_test(an_observed_cover_holds_until_the_next_one_and_a_cutting),
        cmocka_unit_test(a_reading_corrects_the_evening),
        cmocka_unit_test(kc_ini_of_wetting_takes_the_place_of_the_table),
        cmocka_unit_test(the_single_coefficient_sums_to_ks_kc_et0),
        cmocka_unit_test(the_climate_of_the_setup_stands_in_for_the_days_own),
        cmocka_unit_test(shallow_roots_take_water_from_the_surface_layer),
        cmocka_unit_test(a_water_table_feeds_the_root_zone),
        cmocka_unit_test(the_users_allowed_depletion_goes_by_stage),
        cmocka_unit_test(rain_on_thirsty_plants_can_cost_more_than_itself_though_nothing_percolates),
        cmocka_unit_test(the_trace_of_a_day_leads_to_its_row),
        cmocka_unit_test(totals_count_stages_and_stress),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
