/* The outlook at the ends of its ranges: histories with gaps, leads at the edge, arguments outside. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/decide/outlook_score.h"
#include "core/decide/outlook_weather.h"
#include "tests/support/near.h"

#define TODAY   20300
#define DAYS    5
#define MEMBERS 40
#define YEARS   5
#define PAST    (YEARS * 365)

static double et0_store[DAYS * MEMBERS], rain_store[DAYS * MEMBERS], past_et0[PAST], past_rain[PAST];

static struct outlook_weather weather_store(void) {
    return (struct outlook_weather){.et0_mm = et0_store, .rain_mm = rain_store};
}

/* Dry days of 1 mm that end on the day before `end`. */
static struct outlook_history dry_history(int32_t end, int count) {
    for (int i = 0; i < PAST; i++) {
        past_et0[i] = 1;
        past_rain[i] = 0;
    }
    return (struct outlook_history){end - count, count, past_et0, past_rain};
}

static struct outlook_weather_input usual(const struct outlook_history *history) {
    return (struct outlook_weather_input){.today = TODAY,
                                          .days = DAYS,
                                          .members = MEMBERS,
                                          .seed = 4,
                                          .issued = TODAY,
                                          .history = history,
                                          .skip_from = CALENDAR_NONE};
}

static struct outlook_errors usual_errors(void) {
    struct outlook_errors errors;
    assert_int_equal(outlook_errors_default(0.3, 8, &errors), STATUS_OK);
    return errors;
}

/* ---- histories */

static void the_one_whole_stretch_of_a_past_full_of_gaps_is_found(void **state) {
    (void)state;
    struct outlook_history history = dry_history(TODAY, PAST);
    struct outlook_weather weather = weather_store();
    for (int i = 0; i < PAST; i++)
        past_et0[i] = NAN;
    for (int i = 700; i < 700 + DAYS + 1; i++)
        past_et0[i] = 2 + i * 1e-3;
    struct outlook_weather_input input = usual(&history);
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_int_equal(weather.days, DAYS);
    for (int day = 0; day < DAYS; day++)
        for (int m = 0; m < MEMBERS; m++)
            assert_near(et0_store[day * MEMBERS + m], past_et0[701 + day], 0);
}

static void after_a_wet_day_the_first_block_follows_a_wet_day(void **state) {
    (void)state;
    struct outlook_history history = dry_history(TODAY, PAST);
    struct outlook_weather weather = weather_store();
    for (int i = 0; i < PAST; i++) {
        past_et0[i] = 1 + i * 1e-3;
        past_rain[i] = (PAST - i) % 4 == 1 ? 3 : 0; /* yesterday, and every fourth day before it */
    }
    struct outlook_weather_input input = usual(&history);
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    for (int m = 0; m < MEMBERS; m++) {
        int at = (int)((et0_store[m] - 1) * 1e3 + 0.5);
        assert_near(past_rain[at - 1], 3, 0);
    }
}

static void a_past_without_a_whole_block_gives_no_outlook(void **state) {
    (void)state;
    struct outlook_history history = dry_history(TODAY, PAST);
    struct outlook_weather weather = weather_store();
    /* Every third day has no rain figure, or one that cannot be. */
    for (int i = 0; i < PAST; i += 3)
        past_rain[i] = i % 2 == 0 ? (double)NAN : -1;
    struct outlook_weather_input input = usual(&history);
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_MISSING);
}

static void a_hindcast_draws_from_years_that_lie_wholly_after_or_before_it(void **state) {
    (void)state;
    struct outlook_history later = dry_history(TODAY + 400 + PAST, PAST);
    struct outlook_weather weather = weather_store();
    struct outlook_weather_input input = usual(&later);
    input.use_future = true;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_near(et0_store[0], 1, 0);
    struct outlook_history earlier = dry_history(TODAY - 400, PAST);
    input.history = &earlier;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_near(et0_store[0], 1, 0);
}

static void the_climate_is_not_known_of_no_past_a_short_one_or_a_dry_one(void **state) {
    (void)state;
    double share = 0, amount_mm = 0;
    struct outlook_weather_input input = usual(NULL);
    outlook_climate(&input, 30, &share, &amount_mm);
    assert_false(isfinite(share) || isfinite(amount_mm));
    struct outlook_history history = dry_history(TODAY, OUTLOOK_HISTORY_DAYS - 1);
    past_rain[3] = 6;
    input.history = &history;
    outlook_climate(&input, 30, &share, &amount_mm);
    assert_false(isfinite(share) || isfinite(amount_mm));
    history = dry_history(TODAY, OUTLOOK_HISTORY_DAYS);
    outlook_climate(&input, 30, &share, &amount_mm);
    assert_near(share, 0, 0);
    assert_true(isnan(amount_mm) != 0);
    past_rain[3] = 6;
    outlook_climate(&input, 30, &share, &amount_mm);
    assert_near(share, 1.0 / OUTLOOK_HISTORY_DAYS, 1e-15);
    assert_near(amount_mm, 6, 0);
}

/* ---- arguments */

static void each_figure_of_a_forecast_outside_its_range_has_its_status(void **state) {
    (void)state;
    static const struct {
        double et0_mm, rain_mm;
        enum status status;
    } cases[] = {{5, INFINITY, STATUS_NOT_FINITE},
                 {-INFINITY, 0, STATUS_NOT_FINITE},
                 {-5.1, 0, STATUS_OUT_OF_RANGE},
                 {30.1, 0, STATUS_OUT_OF_RANGE},
                 {5, -0.1, STATUS_OUT_OF_RANGE},
                 {5, 2000.1, STATUS_OUT_OF_RANGE},
                 {-5, 2000, STATUS_OK},
                 {30, 0, STATUS_OK},
                 {5, (double)NAN, STATUS_OK}};
    struct outlook_errors errors = usual_errors();
    struct outlook_weather weather = weather_store();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double et0_mm[DAYS] = {5, 5, cases[i].et0_mm, 5, 5}, rain_mm[DAYS] = {0, 0, cases[i].rain_mm, 0, 0};
        struct outlook_weather_input input = usual(NULL);
        input.et0_mm = et0_mm;
        input.rain_mm = rain_mm;
        input.errors = &errors;
        assert_int_equal(outlook_weather_make(&input, &weather), cases[i].status);
    }
}

static void as_many_days_and_members_as_there_may_be_and_no_more(void **state) {
    (void)state;
    struct outlook_history history = dry_history(TODAY, PAST);
    struct outlook_weather weather = weather_store();
    struct outlook_weather_input input = usual(&history);
    input.days = 0;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OUT_OF_RANGE);
    input.days = 1;
    input.members = OUTLOOK_MEMBERS_MAX + 1;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OUT_OF_RANGE);
    input.members = 1;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_near(weather.rain_mean_mm[0], 0, 0);
}

static void defaults_want_a_share_and_a_depth_that_can_be(void **state) {
    (void)state;
    struct outlook_errors errors;
    assert_int_equal(outlook_errors_default(0.3, NAN, &errors), STATUS_MISSING);
    assert_int_equal(outlook_errors_default(-0.1, 8, &errors), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook_errors_default(0.3, 200.1, &errors), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook_errors_default(0.3, INFINITY, &errors), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook_errors_default(1, 200, &errors), STATUS_OK);
}

/* ---- what is learnt */

static void the_last_lead_learns_and_lends_only_backwards(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors(), before = errors;
    struct outlook_pair pairs[60];
    for (int i = 0; i < 60; i++)
        pairs[i] = (struct outlook_pair){TODAY, TODAY + OUTLOOK_DAYS_MAX - 1, 5, 4, 10, 20};
    outlook_errors_learn(pairs, 60, &errors);
    int last = OUTLOOK_DAYS_MAX - 1;
    assert_true(errors.lead[last].judged);
    assert_true(errors.lead[last].et0_ratio < errors.lead[last - 1].et0_ratio);
    assert_true(errors.lead[last - 1].et0_ratio < 1);
    assert_near(errors.lead[last - 2].et0_ratio, before.lead[last - 2].et0_ratio, 0);
    assert_true(errors.lead[last].amount_ratio > 1);
    /* 100 mm stand for a ratio of 1 beside 600 mm that brought 1200 mm. */
    assert_near(outlook_corrected_rain_mm(&errors, last, 7), 7 * 1300.0 / 700, 1e-12);
}

/* Reference ET alone corrects nothing, and neighbours without rain beside them tell nothing of it. */
static void a_lead_is_judged_by_both_figures(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors(), before = errors;
    struct outlook_pair pairs[80];
    for (int i = 0; i < 80; i++)
        pairs[i] = (struct outlook_pair){TODAY + i / 2, TODAY + i / 2 + i % 2, 5, 4, 10, NAN};
    for (int i = 0; i < 80; i += 2)
        pairs[i].rain_mm = 10;
    outlook_errors_learn(pairs, 80, &errors);
    assert_true(errors.lead[0].judged);
    assert_false(errors.lead[1].judged);
    assert_int_equal(errors.lead[1].et0_pairs, 40);
    assert_near(outlook_corrected_et0_mm(&errors, 1, 6, 10), 6, 0);
    assert_near(errors.wet_memory, before.wet_memory, 1e-12);
    /* Nor are days of two issues neighbours: the next one's second day after this one's first. */
    for (int i = 0; i < 80; i++)
        pairs[i] = (struct outlook_pair){TODAY + i, TODAY + i + i % 2, 5, 4, 10, 10};
    errors = before;
    outlook_errors_learn(pairs, 80, &errors);
    assert_near(errors.wet_memory, before.wet_memory, 1e-12);
    for (int i = 0; i < 80; i++)
        pairs[i].rain_mm = i % 2 == 0 ? (double)NAN : 10;
    errors = before;
    outlook_errors_learn(pairs, 80, &errors);
    assert_near(errors.wet_memory, before.wet_memory, 1e-12);
}

/* ---- scores */

static void what_is_no_chance_or_no_day_ahead_is_not_scored(void **state) {
    (void)state;
    struct outlook_score score = {0};
    outlook_score_add(&score, -1, 0.5, true);
    outlook_score_add(&score, 0, -0.01, true);
    assert_int_equal(score.all, 0);
    outlook_score_add(&score, 0, 0, false);
    assert_int_equal(score.count[0], 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_one_whole_stretch_of_a_past_full_of_gaps_is_found),
        cmocka_unit_test(after_a_wet_day_the_first_block_follows_a_wet_day),
        cmocka_unit_test(a_past_without_a_whole_block_gives_no_outlook),
        cmocka_unit_test(a_hindcast_draws_from_years_that_lie_wholly_after_or_before_it),
        cmocka_unit_test(the_climate_is_not_known_of_no_past_a_short_one_or_a_dry_one),
        cmocka_unit_test(each_figure_of_a_forecast_outside_its_range_has_its_status),
        cmocka_unit_test(as_many_days_and_members_as_there_may_be_and_no_more),
        cmocka_unit_test(defaults_want_a_share_and_a_depth_that_can_be),
        cmocka_unit_test(the_last_lead_learns_and_lends_only_backwards),
        cmocka_unit_test(a_lead_is_judged_by_both_figures),
        cmocka_unit_test(what_is_no_chance_or_no_day_ahead_is_not_scored),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
