/* Whole seasons under the two rules for a call: by the allowed depletion and by expected cost. The same
 * fields, weather, forecasts and starting soil; the calls are obeyed. Prints gross water and relative yield
 * (by water alone: FAO-56 eq. 90 over the season); fails when calls by cost lose more yield, or use more
 * water, over all seasons of a station. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/hindcast_farm.h"

#define INVENTED_FIRST 13879 /* 2008-01-01 */

struct sum {
    int seasons, turns;
    double gross_mm, lost, percolation_mm;
};

static void add(const struct hindcast_season *season, struct sum *sum) {
    sum->seasons++;
    sum->turns += season->turns;
    sum->gross_mm += season->total.irrigation_gross_mm;
    sum->percolation_mm += season->total.percolation_mm;
    /* Where no Ky is published, as if it were 1. */
    double eta = 0, etc = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        eta += season->total.eta_stage_mm[k];
        etc += season->total.etc_stage_mm[k];
    }
    sum->lost += isnan(season->yield) ? 1 - eta / etc : 1 - season->yield;
}

static void print_sums(const char *name, const struct sum sums[2]) {
    static const char *const rule[2] = {"allowed depletion", "expected cost"};
    for (int by_cost = 0; by_cost < 2; by_cost++) {
        const struct sum *sum = &sums[by_cost];
        printf("# measured %-28s %-18s %3d seasons: %6.1f mm gross, %5.1f turns, %5.1f mm below the roots, "
               "yield lost "
               "%.3f %%\n",
               name, rule[by_cost], sum->seasons, sum->gross_mm / sum->seasons,
               (double)sum->turns / sum->seasons, sum->percolation_mm / sum->seasons,
               100 * sum->lost / sum->seasons);
    }
}

static void compare(struct past_years *years, bool forecasts, const char *name, double price) {
    struct hindcast_farm farm;
    struct sum all[2] = {{0}, {0}};
    hindcast_farm_open(&farm, years, forecasts);
    farm.prices.gross_per_mm *= price;
    farm.prices.leached_per_mm *= price;
    farm.prices.start *= price;
    for (int first = 0; first < farm.season_count; first++) {
        struct sum crop[2] = {{0}, {0}};
        bool seen = false;
        for (int i = 0; i < first; i++)
            seen = seen || strcmp(farm.season[i].crop, farm.season[first].crop) == 0;
        if (seen)
            continue;
        for (int i = first; i < farm.season_count; i++)
            for (int by_cost = 0; by_cost < 2 && strcmp(farm.season[i].crop, farm.season[first].crop) == 0;
                 by_cost++) {
                struct hindcast_season season;
                struct hindcast_input input = hindcast_farm_input(&farm, i);
                input.by_cost = by_cost == 1;
                if (hindcast_run(&input, &farm.room, &season) != STATUS_OK)
                    abort();
                add(&season, &crop[by_cost]);
                add(&season, &all[by_cost]);
            }
        print_sums(farm.season[first].crop, crop);
    }
    print_sums(name, all);
    hindcast_farm_close(&farm);
    double lost = 100 * (all[1].lost - all[0].lost) / all[0].seasons;
    printf("# measured   water %+.1f %%, yield lost %+.3f points: no more yield lost %s, less water %s\n",
           100 * (all[1].gross_mm / all[0].gross_mm - 1), lost, lost <= 0 ? "yes" : "no",
           all[1].gross_mm < all[0].gross_mm ? "yes" : "no");
}

static void compare_both(struct past_years *years, bool forecasts, const char *name) {
    compare(years, forecasts, name, 1);
    printf("# measured the same with water at ten times the default price\n");
    compare(years, forecasts, name, 10);
}

int main(void) {
    struct past_years years;
    past_years_seattle(&years);
    compare_both(&years, false, "Seattle, no forecasts");
    past_years_make_forecasts(&years, 9);
    compare_both(&years, true, "Seattle, made-up forecasts");
    past_years_free(&years);
    past_years_invented(&years, 3882, INVENTED_FIRST, 3650);
    compare_both(&years, false, "invented, no forecasts");
    compare_both(&years, true, "invented, its forecasts");
    past_years_free(&years);
    return 0;
}
