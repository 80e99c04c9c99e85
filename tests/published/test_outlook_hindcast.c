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
#include "tests/support/hindcast_farm.h"

#define DECILES        10
#define INVENTED_FIRST 13879 /* 2008-01-01 */

/* What was said and what came, over all mornings and days ahead. */
struct score {
    int count[DECILES], came[DECILES];
    double said[DECILES];
    double brier, brier_path;
    long all, happened;
    /* By day ahead and share of the allowed depletion this morning: for the climatology. */
    long seen[HINDCAST_DAYS], hits[HINDCAST_DAYS];
};

static void add_morning(void *context, const struct hindcast_morning *morning) {
    struct score *score = context;
    /* A field that is dry already asks nothing. */
    if (morning->share_morning >= 1)
        return;
    for (int day = 0; day < HINDCAST_DAYS; day++) {
        double chance = morning->outlook->passes[day], came = morning->passed[day];
        int decile = chance < 1 ? (int)(chance * DECILES) : DECILES - 1;
        score->count[decile]++;
        score->came[decile] += morning->passed[day];
        score->said[decile] += chance;
        score->brier += (chance - came) * (chance - came);
        score->brier_path += (morning->passed_path[day] - came) * (morning->passed_path[day] - came);
        score->all++;
        score->happened += morning->passed[day];
        score->seen[day]++;
        score->hits[day] += morning->passed[day];
    }
}

/* The Brier score of saying, for each day ahead, the share of all mornings on which it came. */
static double brier_climatology(const struct score *score) {
    double sum = 0;
    for (int day = 0; day < HINDCAST_DAYS; day++) {
        double share = (double)score->hits[day] / (double)score->seen[day];
        sum += (double)score->seen[day] * share * (1 - share);
    }
    return sum / (double)score->all;
}

static void print_score(const char *name, const struct score *score) {
    printf("# measured %s: %ld mornings x days, it came on %.0f %%\n", name, score->all,
           100.0 * (double)score->happened / (double)score->all);
    for (int d = 0; d < DECILES; d++)
        printf("# measured   said %3d-%3d %%: %6d times, mean %5.1f %%, came %5.1f %%\n", 10 * d, 10 * d + 10,
               score->count[d], score->count[d] > 0 ? 100 * score->said[d] / score->count[d] : 0.0,
               score->count[d] > 0 ? 100.0 * score->came[d] / score->count[d] : 0.0);
    printf("# measured   Brier score: outlook %.4f, climatology %.4f, single path %.4f\n",
           score->brier / (double)score->all, brier_climatology(score),
           score->brier_path / (double)score->all);
}

/* Of what was said with 65 to 75 %: the share that came. */
static void check_score(const struct score *score) {
    double brier = score->brier / (double)score->all;
    assert_true(brier < brier_climatology(score));
    assert_true(brier < score->brier_path / (double)score->all);
    int said = score->count[6] + score->count[7], came = score->came[6] + score->came[7];
    assert_true(said >= 100);
    double share = (double)came / said;
    printf("# measured   said 60-80 %%: %d times, came %.1f %%\n", said, 100 * share);
    assert_true(share >= 0.60 && share <= 0.80);
}

static void hindcast_years(struct past_years *years, bool forecasts, struct score *score) {
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
    struct score score;
    past_years_seattle(&years);
    hindcast_years(&years, false, &score);
    print_score("Seattle, no forecasts, past years only", &score);
    check_score(&score);
    past_years_free(&years);
}

static void on_real_days_of_seattle_with_made_up_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct score score;
    past_years_seattle(&years);
    past_years_make_forecasts(&years, 9);
    hindcast_years(&years, true, &score);
    print_score("Seattle, forecasts made up from the real days", &score);
    check_score(&score);
    past_years_free(&years);
}

static void on_the_invented_station_without_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct score score;
    past_years_invented(&years, 3882, INVENTED_FIRST, 3650);
    hindcast_years(&years, false, &score);
    print_score("invented station, no forecasts", &score);
    check_score(&score);
    past_years_free(&years);
}

static void on_the_invented_station_with_its_forecasts_chances_hold(void **state) {
    (void)state;
    struct past_years years;
    struct score score;
    past_years_invented(&years, 3882, INVENTED_FIRST, 3650);
    hindcast_years(&years, true, &score);
    print_score("invented station, its forecasts", &score);
    check_score(&score);
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
