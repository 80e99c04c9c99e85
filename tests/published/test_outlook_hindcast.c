/* Past seasons, morning by morning: does what the outlook calls likely happen as often as it says, and is it
 * a better guide than the share of past mornings (climatology) or the single path (a fixed threshold)? Real
 * days of Seattle, 2012 to 2015 (npm package vega-datasets, NOAA), and ten years of the invented station.
 * Fields and plantings are invented. The bounds are the project's own. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/decide/outlook_score.h"
#include "tests/support/hindcast_farm.h"

#define COUNT_ENOUGH   200
#define OFF_MOST       0.10
#define INVENTED_FIRST 13879 /* 2008-01-01 */

/* The outlook's own score, and that of the single path. */
struct scores {
    struct outlook_score outlook, path;
};

static void add_morning(void *context, const struct hindcast_morning *morning) {
    struct scores *scores = context;
    /* A field that is dry already asks nothing. */
    if (morning->share_morning >= 1)
        return;
    for (int day = 0; day < HINDCAST_DAYS; day++) {
        outlook_score_add(&scores->outlook, day, morning->outlook->passes[day], morning->passed[day]);
        outlook_score_add(&scores->path, day, morning->passed_path[day], morning->passed[day]);
    }
}

static void print_scores(const char *name, const struct scores *scores) {
    const struct outlook_score *score = &scores->outlook;
    printf("# measured %s: %ld mornings x days\n", name, score->all);
    for (int d = 0; d < OUTLOOK_TENTHS; d++)
        printf("# measured   said %3d-%3d %%: %6ld times, mean %5.1f %%, came %5.1f %%\n", 10 * d,
               10 * d + 10, score->count[d],
               score->count[d] > 0 ? 100 * score->said[d] / (double)score->count[d] : 0.0,
               score->count[d] > 0 ? 100 * (double)score->came[d] / (double)score->count[d] : 0.0);
    printf("# measured   Brier score: outlook %.4f, climatology %.4f, single path %.4f\n",
           outlook_score_brier(score), outlook_score_climatology(score), outlook_score_brier(&scores->path));
}

/* Of what was said with 60 to 80 %: between 60 and 80 % came. */
static void check_scores(const struct scores *scores) {
    const struct outlook_score *score = &scores->outlook;
    assert_true(outlook_score_brier(score) < outlook_score_climatology(score));
    assert_true(outlook_score_brier(score) < outlook_score_brier(&scores->path));
    long said = score->count[6] + score->count[7], came = score->came[6] + score->came[7];
    assert_true(said >= 100);
    double share = (double)came / (double)said;
    printf("# measured   said 60-80 %%: %ld times, came %.1f %%\n", said, 100 * share);
    assert_true(share >= 0.60 && share <= 0.80);
    /* Every tenth of which there are enough lies near the diagonal. */
    for (int d = 0; d < OUTLOOK_TENTHS; d++)
        if (score->count[d] >= COUNT_ENOUGH)
            assert_true(fabs((double)score->came[d] - score->said[d]) / (double)score->count[d] <= OFF_MOST);
}

static void hindcast_years(struct past_years *years, bool forecasts, struct scores *score) {
    struct hindcast_farm farm;
    hindcast_farm_open(&farm, years, forecasts);
    memset(score, 0, sizeof *score);
    for (int season = 0; season < farm.season_count; season++) {
        struct hindcast_season out;
        struct hindcast_input input = hindcast_farm_input(&farm, season);
        input.seen = add_morning;
        input.seen_context = score;
        input.outcomes = true;
        assert_int_equal(hindcast_run(&input, &farm.room, &out), STATUS_OK);
    }
    hindcast_farm_close(&farm);
}

static void on_real_days_of_seattle_without_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct scores score;
    past_years_seattle(&years);
    hindcast_years(&years, false, &score);
    print_scores("Seattle, no forecasts, past years only", &score);
    check_scores(&score);
    past_years_free(&years);
}

static void on_real_days_of_seattle_with_made_up_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct scores score;
    past_years_seattle(&years);
    past_years_make_forecasts(&years, 9);
    hindcast_years(&years, true, &score);
    print_scores("Seattle, forecasts made up from the real days", &score);
    check_scores(&score);
    past_years_free(&years);
}

static void on_the_invented_station_without_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct scores score;
    past_years_invented(&years, 3882, INVENTED_FIRST, 3650);
    hindcast_years(&years, false, &score);
    print_scores("invented station, no forecasts", &score);
    check_scores(&score);
    past_years_free(&years);
}

static void on_the_invented_station_with_its_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct scores score;
    past_years_invented(&years, 3882, INVENTED_FIRST, 3650);
    hindcast_years(&years, true, &score);
    print_scores("invented station, its forecasts", &score);
    check_scores(&score);
    past_years_free(&years);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(on_real_days_of_seattle_without_forecasts_chances_hold),
        cmocka_unit_test(on_real_days_of_seattle_with_made_up_forecasts_chances_hold),
        cmocka_unit_test(on_the_invented_station_without_forecasts_chances_hold),
        cmocka_unit_test(on_the_invented_station_with_its_forecasts_chances_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
