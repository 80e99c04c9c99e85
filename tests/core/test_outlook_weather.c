/* The ensemble of the days to come, and what is learnt of forecasts' errors. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "core/base/calendar.h"
#include "core/decide/outlook_score.h"
#include "core/decide/outlook_weather.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

#define TODAY   20300
#define DAYS    10
#define MEMBERS 2000
#define YEARS   6
#define PAST    (YEARS * 365)

static double et0_store[DAYS * MEMBERS], rain_store[DAYS * MEMBERS], other_et0[DAYS * MEMBERS],
    other_rain[DAYS * MEMBERS], past_et0[PAST + 400], past_rain[PAST + 400];

/* Years in which no two days are alike: a day's reference ET tells which day it is, and rain stands on it. */
static struct outlook_history marked_history(void) {
    struct hostile source = hostile_seed(3);
    for (int i = 0; i < PAST; i++) {
        past_et0[i] = 1 + i * 1e-3;
        past_rain[i] = hostile_between(&source, 0, 3) < 1 ? 0.5 + i * 1e-2 : 0;
    }
    return (struct outlook_history){TODAY - PAST, PAST, past_et0, past_rain};
}

static struct outlook_weather_input usual(const struct outlook_history *history) {
    return (struct outlook_weather_input){.today = TODAY,
                                          .days = DAYS,
                                          .members = MEMBERS,
                                          .seed = 42,
                                          .issued = TODAY,
                                          .history = history,
                                          .skip_from = CALENDAR_NONE};
}

static struct outlook_weather weather_store(void) {
    return (struct outlook_weather){.et0_mm = et0_store, .rain_mm = rain_store};
}

static struct outlook_errors usual_errors(void) {
    struct outlook_errors errors;
    assert_int_equal(outlook_errors_default(0.3, 8, &errors), STATUS_OK);
    return errors;
}

static void the_same_seed_gives_the_same_bits_and_another_seed_others(void **state) {
    (void)state;
    struct outlook_history history = marked_history();
    struct outlook_errors errors = usual_errors();
    double et0_mm[DAYS], rain_mm[DAYS];
    for (int i = 0; i < DAYS; i++) {
        et0_mm[i] = i < 7 ? 5 : (double)NAN;
        rain_mm[i] = i == 3 ? 12 : 0;
    }
    struct outlook_weather_input input = usual(&history);
    input.et0_mm = et0_mm;
    input.rain_mm = rain_mm;
    input.errors = &errors;
    struct outlook_weather weather = weather_store(), other = {.et0_mm = other_et0, .rain_mm = other_rain};
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_int_equal(outlook_weather_make(&input, &other), STATUS_OK);
    assert_memory_equal(et0_store, other_et0, sizeof et0_store);
    assert_memory_equal(rain_store, other_rain, sizeof rain_store);
    input.seed++;
    assert_int_equal(outlook_weather_make(&input, &other), STATUS_OK);
    assert_memory_not_equal(et0_store, other_et0, sizeof et0_store);
}

static void a_member_has_the_same_weather_however_many_there_are(void **state) {
    (void)state;
    struct outlook_history history = marked_history();
    struct outlook_weather_input input = usual(&history);
    struct outlook_weather weather = weather_store(), few = {.et0_mm = other_et0, .rain_mm = other_rain};
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    input.members = 10;
    assert_int_equal(outlook_weather_make(&input, &few), STATUS_OK);
    for (int day = 0; day < DAYS; day++)
        for (int m = 0; m < 10; m++)
            assert_near(other_et0[day * 10 + m], et0_store[day * MEMBERS + m], 0);
}

static void past_days_come_in_whole_blocks_from_near_the_same_date(void **state) {
    (void)state;
    struct outlook_history history = marked_history();
    struct outlook_weather_input input = usual(&history);
    struct outlook_weather weather = weather_store();
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_int_equal(weather.days, DAYS);
    bool wet_yesterday = past_rain[PAST - 1] >= OUTLOOK_WET_MM;
    for (int m = 0; m < MEMBERS; m++) {
        bool wet_before = wet_yesterday;
        for (int day = 0; day < DAYS; day++) {
            int at = (int)((et0_store[day * MEMBERS + m] - 1) * 1e3 + 0.5);
            assert_true(at > 0 && at < PAST);
            /* Rain and reference ET are of one day. */
            assert_near(rain_store[day * MEMBERS + m], past_rain[at], 0);
            if (day % OUTLOOK_BLOCK_DAYS != 0) {
                int before = (int)((et0_store[(day - 1) * MEMBERS + m] - 1) * 1e3 + 0.5);
                assert_int_equal(at, before + 1);
            } else {
                /* Within 15 days of the date in another year, after a day as wet or dry as the member's last.
                 */
                double years = (PAST + day - at) / 365.2425;
                assert_true(fabs(years - floor(years + 0.5)) * 365.2425 <= 15.6);
                assert_true((past_rain[at - 1] >= OUTLOOK_WET_MM) == wet_before);
            }
            wet_before = past_rain[at] >= OUTLOOK_WET_MM;
        }
    }
}

static void nothing_of_today_or_later_and_nothing_skipped_is_drawn(void **state) {
    (void)state;
    struct outlook_history history = marked_history();
    for (int i = PAST; i < PAST + 400; i++) {
        past_et0[i] = 1 + i * 1e-3;
        past_rain[i] = 0;
    }
    history.count = PAST + 400;
    struct outlook_weather_input input = usual(&history);
    input.skip_from = TODAY - 800;
    input.skip_to = TODAY - 600;
    struct outlook_weather weather = weather_store();
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    for (int i = 0; i < DAYS * MEMBERS; i++) {
        int at = (int)((et0_store[i] - 1) * 1e3 + 0.5);
        assert_true(at < PAST && (at < PAST - 800 || at > PAST - 600));
    }
}

static void the_usual_year_is_the_mean_of_the_days_about_each_date(void **state) {
    (void)state;
    static struct outlook_usual year;
    struct outlook_history history = marked_history();
    for (int i = 0; i < PAST; i++) {
        past_et0[i] = 5 + (i % 5 == 0 ? 5 : 0);
        past_rain[i] = i % 7 == 0 ? 7 : 0;
    }
    struct outlook_weather_input input = usual(&history);
    outlook_usual_fill(&input, &year);
    for (int day = 0; day < OUTLOOK_USUAL_DAYS; day++) {
        assert_near(year.et0_mm[day], 6, 0.25); /* 4 or 5 of the 21 days in each of the years */
        assert_near(year.rain_mm[day], 1, 0.15);
    }
    input.history = NULL;
    outlook_usual_fill(&input, &year);
    assert_true(isnan(year.et0_mm[0]) && isnan(year.rain_mm[365]));
    /* Days that nobody knows are left out: here but for one. */
    for (int i = 0; i < PAST; i++)
        past_et0[i] = i == PAST - 1 ? 4 : (double)NAN;
    input.history = &history;
    outlook_usual_fill(&input, &year);
    assert_near(year.et0_mm[0], 4, 0);
    assert_near(year.et0_mm[9], 4, 0);
    assert_true(isnan(year.et0_mm[10]) != 0);
    assert_near(year.et0_mm[364], 4, 0);
}

static void forecast_days_are_wet_as_often_as_their_chance_and_keep_the_mean(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors();
    double et0_mm[DAYS], rain_mm[DAYS];
    for (int i = 0; i < DAYS; i++) {
        et0_mm[i] = 5;
        rain_mm[i] = i % 3 == 0 ? 0 : i % 3 == 1 ? 2 : 15;
    }
    struct outlook_weather_input input = usual(NULL);
    input.et0_mm = et0_mm;
    input.rain_mm = rain_mm;
    input.errors = &errors;
    struct outlook_weather weather = weather_store();
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    for (int day = 0; day < DAYS; day++) {
        double wet = 0, amount_mm = 0, sum_mm = 0;
        for (int m = 0; m < MEMBERS; m++) {
            double rain = rain_store[day * MEMBERS + m];
            assert_true(rain == 0 || rain >= OUTLOOK_WET_MM);
            wet += rain > 0;
            amount_mm += rain;
            sum_mm += et0_store[day * MEMBERS + m];
        }
        assert_near(weather.rain_mean_mm[day], amount_mm / MEMBERS, 1e-9);
        /* Four standard errors of a share, and of means whose spread is known; a wet day's depth is cut off
         * below at OUTLOOK_WET_MM, which lifts its mean by less than 0.1 mm. */
        double chance = errors.lead[day].wet_chance[outlook_rain_class(rain_mm[day])];
        assert_near(wet / MEMBERS, chance, 4 * sqrt(chance * (1 - chance) / MEMBERS));
        double mean_mm = outlook_amount_mm(&errors, day, rain_mm[day]);
        assert_near(amount_mm / wet, mean_mm, 0.1 + 4 * mean_mm * sqrt(errors.lead[day].amount_spread / wet));
        assert_near(sum_mm / MEMBERS, 5,
                    4 * 5 * errors.lead[day].et0_sd_log[OUTLOOK_RAIN_NONE] / sqrt(MEMBERS) + 0.01);
    }
}

static void a_day_that_turns_out_wet_turns_out_cool(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors();
    double et0_mm[DAYS], rain_mm[DAYS];
    for (int i = 0; i < DAYS; i++) {
        et0_mm[i] = 5;
        rain_mm[i] = 1;
    }
    struct outlook_weather_input input = usual(NULL);
    input.et0_mm = et0_mm;
    input.rain_mm = rain_mm;
    input.errors = &errors;
    struct outlook_weather weather = weather_store();
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    double wet_mm = 0, dry_mm = 0;
    int wet = 0, dry = 0;
    for (int i = 0; i < DAYS * MEMBERS; i++) {
        if (rain_store[i] > 0) {
            wet_mm += et0_store[i];
            wet++;
        } else {
            dry_mm += et0_store[i];
            dry++;
        }
    }
    assert_true(wet_mm / wet < dry_mm / dry - 0.3);
}

static void what_cannot_be_told_is_refused(void **state) {
    (void)state;
    struct outlook_history history = marked_history();
    struct outlook_errors errors = usual_errors();
    double et0_mm[DAYS] = {5, 5, INFINITY};
    struct outlook_weather weather = weather_store();
    struct outlook_weather_input input = usual(NULL);
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_MISSING);
    input.et0_mm = et0_mm;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_MISSING); /* no errors */
    input.errors = &errors;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_NOT_FINITE);
    et0_mm[2] = 31;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OUT_OF_RANGE);
    et0_mm[2] = 4;
    input.issued = TODAY + 1;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_ORDER);
    input = usual(&history);
    input.days = OUTLOOK_DAYS_MAX + 1;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OUT_OF_RANGE);
    input.days = DAYS;
    input.members = 0;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OUT_OF_RANGE);
    history.count = OUTLOOK_HISTORY_DAYS - 1;
    input.members = 5;
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_MISSING);
    assert_int_equal(outlook_errors_default(NAN, 8, &errors), STATUS_MISSING);
    assert_int_equal(outlook_errors_default(1.1, 8, &errors), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook_errors_default(0.5, 0, &errors), STATUS_OUT_OF_RANGE);
}

static void a_forecast_that_ends_early_without_a_past_ends_the_outlook(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors();
    double et0_mm[DAYS] = {5, 5, 5, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    struct outlook_weather_input input = usual(NULL);
    input.et0_mm = et0_mm;
    input.errors = &errors;
    struct outlook_weather weather = weather_store();
    assert_int_equal(outlook_weather_make(&input, &weather), STATUS_OK);
    assert_int_equal(weather.days, 3);
}

/* ---- what is learnt */

#define ISSUES 300

static struct outlook_pair pairs[ISSUES * DAYS];

/* Forecasts that are a fifth too high in reference ET, and wet on half of the days on which they say so. */
static void make_pairs(void) {
    struct hostile source = hostile_seed(8);
    for (int i = 0; i < ISSUES; i++)
        for (int lead = 0; lead < DAYS; lead++) {
            double came_mm = hostile_between(&source, 3, 7),
                   said_mm = hostile_between(&source, 0, 2) < 1 ? 8 : 0;
            bool wet = said_mm > 0 && hostile_between(&source, 0, 2) < 1;
            pairs[i * DAYS + lead] = (struct outlook_pair){TODAY + i, TODAY + i + lead, 1.25 * came_mm,
                                                           came_mm,   said_mm,          wet ? 8 : 0};
        }
}

static void errors_come_near_what_the_pairs_hold(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors();
    make_pairs();
    outlook_errors_learn(pairs, ISSUES * DAYS, &errors);
    assert_int_equal(errors.pairs, ISSUES * DAYS);
    for (int lead = 0; lead < DAYS; lead++) {
        const struct outlook_lead *own = &errors.lead[lead];
        assert_int_equal(own->et0_pairs, ISSUES);
        assert_true(own->judged);
        /* 4/5, drawn to 1 by the default; the ratio never differs, so the deviation is what the default left:
         * 15 of the 15 + 44 or so pairs that half of 300 issues at a half-life of 60 days weigh. */
        assert_near(own->et0_ratio, 0.8, 0.03);
        assert_true(own->et0_sd_log[OUTLOOK_RAIN_MUCH] < 0.6 * (0.12 + 0.015 * lead));
        assert_near(own->wet_chance[OUTLOOK_RAIN_MUCH], 0.5, 0.1);
        assert_near(own->wet_chance[OUTLOOK_RAIN_NONE], 0.04, 0.03);
        /* The weighed pairs hold about 400 mm of forecast rain on 50 days; 100 mm that came as forecast stand
         * for the default: (200 + 100) / (400 + 100), and four standard errors of a half seen 50 times. */
        assert_near(own->rain_ratio, 0.6, 4 * 0.5 / sqrt(50) * 0.8);
        assert_near(outlook_amount_mm(&errors, lead, 8), 8, 0.5);
        assert_near(outlook_corrected_et0_mm(&errors, lead, 6, NAN), 6 * own->et0_ratio, 0);
        assert_near(outlook_corrected_et0_mm(&errors, lead, 6, 9),
                    6 * own->et0_class_ratio[OUTLOOK_RAIN_MUCH], 0);
    }
    assert_near(errors.et0_memory, 0.6, 0.61);
}

/* A bias of dry days is not that of wet ones, and the newest issues count most. */
static void dry_and_wet_days_have_errors_of_their_own_and_old_ones_fade(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors();
    make_pairs();
    for (int i = 0; i < ISSUES * DAYS; i++) {
        double factor = pairs[i].rain_forecast_mm > 0 ? 1.2 : 0.9;
        pairs[i].et0_mm = pairs[i].et0_forecast_mm * (i < ISSUES * DAYS / 2 ? 2 : factor);
    }
    outlook_errors_learn(pairs, ISSUES * DAYS, &errors);
    for (int lead = 0; lead < DAYS; lead++) {
        const struct outlook_lead *own = &errors.lead[lead];
        /* Half of the issues are 150 days old or older: 2^-2.5 of the weight, that is 0.15 of all, and 2 in
         * place of 1.2 and 0.9. */
        assert_near(own->et0_class_ratio[OUTLOOK_RAIN_MUCH], 0.85 * 1.2 + 0.15 * 2, 0.04);
        assert_near(own->et0_class_ratio[OUTLOOK_RAIN_NONE], 0.85 * 0.9 + 0.15 * 2, 0.04);
    }
}

static void too_few_pairs_correct_nothing(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors();
    make_pairs();
    outlook_errors_learn(pairs, (OUTLOOK_JUDGE_PAIRS - 1) * DAYS, &errors);
    for (int lead = 0; lead < DAYS; lead++) {
        assert_false(errors.lead[lead].judged);
        assert_near(outlook_corrected_et0_mm(&errors, lead, 6, 1), 6, 0);
        assert_near(outlook_corrected_rain_mm(&errors, lead, 6), 6, 0);
    }
    assert_near(outlook_corrected_et0_mm(&errors, -1, 6, 1), 6, 0);
    assert_near(outlook_corrected_et0_mm(&errors, OUTLOOK_DAYS_MAX, 6, 1), 6, 0);
}

static void pairs_that_tell_nothing_leave_the_defaults(void **state) {
    (void)state;
    struct outlook_errors errors = usual_errors(), before = errors;
    const struct outlook_pair useless[] = {
        {TODAY, TODAY - 1, 5, 5, 5, 5}, {TODAY, TODAY + OUTLOOK_DAYS_MAX, 5, 5, 5, 5},
        {TODAY, TODAY, NAN, 5, 5, NAN}, {TODAY, TODAY, INFINITY, 5, 3, INFINITY},
        {TODAY, TODAY, -1, 5, -1, 3},   {INT32_MIN, INT32_MAX, 5, 5, 5, 5},
    };
    outlook_errors_learn(useless, sizeof useless / sizeof *useless, &errors);
    assert_int_equal(errors.pairs, 0);
    for (int lead = 0; lead < OUTLOOK_DAYS_MAX; lead++) {
        assert_near(errors.lead[lead].et0_sd_log[OUTLOOK_RAIN_NONE],
                    before.lead[lead].et0_sd_log[OUTLOOK_RAIN_NONE], 1e-15);
        assert_near(errors.lead[lead].wet_chance[OUTLOOK_RAIN_SOME],
                    before.lead[lead].wet_chance[OUTLOOK_RAIN_SOME], 1e-15);
        assert_true(isnan(errors.lead[lead].et0_error_mm) != 0);
    }
}

static void no_pairs_whatever_they_hold_make_chances_impossible(void **state) {
    (void)state;
    struct hostile source = hostile_seed(77);
    for (int round = 0; round < 300; round++) {
        struct outlook_errors errors = usual_errors();
        for (int i = 0; i < 200; i++)
            pairs[i] = (struct outlook_pair){TODAY + i / 10,
                                             TODAY + i / 10 + i % 10,
                                             hostile_number(&source, 0, 9),
                                             hostile_number(&source, 0, 9),
                                             hostile_number(&source, 0, 50),
                                             hostile_number(&source, 0, 50)};
        outlook_errors_learn(pairs, 200, &errors);
        assert_true(errors.et0_memory >= 0 && errors.et0_memory < 1 && errors.wet_memory >= 0 &&
                    errors.wet_memory < 1 && errors.heat_with_dry >= 0 && errors.heat_with_dry < 1);
        for (int lead = 0; lead < OUTLOOK_DAYS_MAX; lead++) {
            const struct outlook_lead *own = &errors.lead[lead];
            for (int c = 0; c < OUTLOOK_RAIN_COUNT; c++) {
                assert_true(own->wet_chance[c] > 0 && own->wet_chance[c] < 1);
                assert_true(own->et0_sd_log[c] > 0 && isfinite(own->et0_sd_log[c]));
                assert_true(own->et0_class_ratio[c] > 0 && isfinite(own->et0_class_ratio[c]));
            }
            assert_true(own->et0_ratio > 0);
            assert_true(own->amount_share >= 0 && own->amount_share <= 1 && isfinite(own->amount_spread));
        }
    }
}

/* ---- scores */

static void a_score_counts_tenths_and_squares(void **state) {
    (void)state;
    struct outlook_score score = {0};
    outlook_score_add(&score, 0, 0.05, false);
    outlook_score_add(&score, 0, 0.65, true);
    outlook_score_add(&score, 1, 1.0, true);
    outlook_score_add(&score, 1, NAN, true);
    outlook_score_add(&score, 1, 1.5, true);
    outlook_score_add(&score, OUTLOOK_DAYS_MAX, 0.5, true);
    assert_int_equal(score.all, 3);
    assert_int_equal(score.count[0], 1);
    assert_int_equal(score.came[6], 1);
    assert_int_equal(score.count[9], 1);
    /* (0.05^2 + 0.35^2 + 0) / 3; the climatology says 1/2 for day 0 and 1 for day 1. */
    assert_near(outlook_score_brier(&score), (0.0025 + 0.1225) / 3, 1e-15);
    assert_near(outlook_score_climatology(&score), 0.5 / 3, 1e-15);
    struct outlook_score none = {0};
    assert_false(isfinite(outlook_score_brier(&none)) || isfinite(outlook_score_climatology(&none)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_usual_year_is_the_mean_of_the_days_about_each_date),
        cmocka_unit_test(the_same_seed_gives_the_same_bits_and_another_seed_others),
        cmocka_unit_test(a_member_has_the_same_weather_however_many_there_are),
        cmocka_unit_test(past_days_come_in_whole_blocks_from_near_the_same_date),
        cmocka_unit_test(nothing_of_today_or_later_and_nothing_skipped_is_drawn),
        cmocka_unit_test(forecast_days_are_wet_as_often_as_their_chance_and_keep_the_mean),
        cmocka_unit_test(a_day_that_turns_out_wet_turns_out_cool),
        cmocka_unit_test(what_cannot_be_told_is_refused),
        cmocka_unit_test(a_forecast_that_ends_early_without_a_past_ends_the_outlook),
        cmocka_unit_test(errors_come_near_what_the_pairs_hold),
        cmocka_unit_test(dry_and_wet_days_have_errors_of_their_own_and_old_ones_fade),
        cmocka_unit_test(too_few_pairs_correct_nothing),
        cmocka_unit_test(pairs_that_tell_nothing_leave_the_defaults),
        cmocka_unit_test(no_pairs_whatever_they_hold_make_chances_impossible),
        cmocka_unit_test(a_score_counts_tenths_and_squares),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
