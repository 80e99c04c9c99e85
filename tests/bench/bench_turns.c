/* How near to the best the plans of turns are proven to come, and how long that takes. Wells that share no
 * field are planned side by side, as a morning does it, and timed by the clock; a canal is timed by its
 * processor. Fails when a plan breaks a limit, or a gap is wider than has to be kept; times are printed
 * beside what they should be, since they are the machine's. */
#include "daemon/base/cores.h"
#include "tests/support/turns_checker.h"
#include "tests/support/turns_farms.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define RUNS     16
#define WELLS    10
#define PER_WELL 5

static int missed;

static double seconds(clockid_t clock) {
    struct timespec now;
    clock_gettime(clock, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Seconds of one core. */
static double plan(struct turns_case *it) {
    char what[CHECKER_TEXT];
    double began = seconds(CLOCK_PROCESS_CPUTIME_ID);
    enum status status = case_plan(it);
    double took = seconds(CLOCK_PROCESS_CPUTIME_ID) - began;
    if (status != STATUS_OK || !checker_accepts(&it->problem, &it->plan, what)) {
        printf("no plan: %s\n", status == STATUS_OK ? what : status_name(status));
        missed++;
    }
    return took;
}

struct goal {
    const char *name, *clock;
    double gap, seconds; /* percent */
};

struct wells {
    struct turns_case all, well[WELLS];
    enum status status[WELLS];
};

/* One well with its own fields. */
static void take_well(const struct turns_case *all, int well, struct turns_case *one) {
    case_empty(one, all->seed);
    const struct turns_problem room = one->problem;
    one->problem = all->problem;
    one->problem.supply = room.supply;
    one->problem.field = room.field;
    one->problem.supply_count = 1;
    one->problem.field_count = 0;
    one->supply[0] = all->supply[well];
    for (int i = 0; i < all->problem.field_count; i++)
        if (all->field[i].supply == well) {
            one->field[one->problem.field_count] = all->field[i];
            one->field[one->problem.field_count++].supply = 0;
        }
}

static void plan_well(void *context, long well) {
    struct wells *wells = context;
    wells->status[well] = case_plan(&wells->well[well]);
}

/* Seconds of a clock on the wall; the gap of all wells together, percent. */
static double plan_wells(struct wells *wells, double *gap) {
    char what[CHECKER_TEXT];
    double cost = 0, bound = 0;
    for (int i = 0; i < WELLS; i++)
        take_well(&wells->all, i, &wells->well[i]);
    double began = seconds(CLOCK_MONOTONIC);
    cores_share(cores_count(), WELLS, plan_well, wells);
    double took = seconds(CLOCK_MONOTONIC) - began;
    for (int i = 0; i < WELLS; i++) {
        const struct turns_case *well = &wells->well[i];
        if (wells->status[i] != STATUS_OK || !checker_accepts(&well->problem, &well->plan, what)) {
            printf("no plan: %s\n", wells->status[i] == STATUS_OK ? what : status_name(wells->status[i]));
            missed++;
        }
        cost += well->plan.cost.total;
        bound += well->plan.bound;
    }
    *gap = 100 * (cost - bound) / cost;
    return took;
}

static void report(const struct goal *goal, const struct farm *farm, double *gap, double *took, int count) {
    qsort(gap, (size_t)count, sizeof *gap, by_size);
    qsort(took, (size_t)count, sizeof *took, by_size);
    bool wide = gap[count - 1] > goal->gap;
    missed += wide;
    printf("# measured: turns, %s, %s, %s: gap median %.2f %%, worst %.2f %% (to be kept: %.0f %%%s); median "
           "%.2f s, worst %.2f s %s (goal %.0f s), %d plans\n",
           goal->name, farm_rules_name[farm->rules], farm_weather_name[farm->weather], gap[count / 2],
           gap[count - 1], goal->gap, wide ? ", MISSED" : "", took[count / 2], took[count - 1], goal->clock,
           goal->seconds, count);
}

static void measure(struct wells *wells, const struct goal *goal, bool canal, int seeds) {
    static const double share[] = {0.4, 0.6, 0.8, 1.0};
    for (int rules = 0; rules < FARM_RULES_COUNT; rules++)
        for (int weather = 0; weather < FARM_WEATHER_COUNT; weather++) {
            struct farm farm = {.weather = (enum farm_weather)weather, .rules = (enum farm_rules)rules};
            double gap[RUNS], took[RUNS];
            int count = 0;
            for (int s = 0; s < 4; s++)
                for (int k = 0; k < seeds; k++, count++) {
                    farm.seed = (uint64_t)(1000 * s + k);
                    farm.share = share[s];
                    if (canal) {
                        farm_canal(&wells->all, &farm, 200);
                        took[count] = plan(&wells->all);
                        gap[count] = 100 * wells->all.plan.gap;
                    } else {
                        farm_pivots(&wells->all, &farm, WELLS, PER_WELL);
                        took[count] = plan_wells(wells, &gap[count]);
                    }
                }
            report(goal, &farm, gap, took, count);
        }
}

/* The first plan that can be shown, before prices are sought. */
static void measure_first_plan(struct turns_case *it) {
    double worst = 0, worst_gap = 0;
    for (int weather = 0; weather < FARM_WEATHER_COUNT; weather++) {
        struct farm farm = {.seed = 77, .share = 0.6, .weather = (enum farm_weather)weather};
        farm_canal(it, &farm, 200);
        it->problem.effort = (struct turns_effort){.tries = 0, .rounds = 0, .nodes = 0};
        worst = fmax(worst, plan(it));
        worst_gap = fmax(worst_gap, 100 * it->plan.gap);
    }
    printf(
        "# measured: turns, 200 fields on one canal, a first plan that keeps all limits: %.2f s (goal 1 s), "
        "gap up to %.1f %%\n",
        worst, worst_gap);
}

/* A page that is edited: every second turn of the plan is pinned, one of them a day later, and all is planned
 * anew. */
static void measure_edit(struct turns_case *it) {
    double worst = 0, all = 0;
    int plans = 0;
    for (uint64_t seed = 0; seed < 6; seed++, plans++) {
        struct farm farm = {.seed = 300 + seed,
                            .share = 0.7,
                            .weather = (enum farm_weather)(seed % FARM_WEATHER_COUNT),
                            .rules = (enum farm_rules)(seed / 2)};
        farm_pivots(it, &farm, 3, 7);
        it->problem.field_count = 20;
        plan(it);
        int pins = 0, room = (int)(sizeof it->pin / sizeof *it->pin);
        for (int i = 0; i < it->plan.turn_count && pins < room; i += 2)
            it->pin[pins++] = (struct turns_pin){
                .field = it->turn[i].field, .start = it->turn[i].start, .hours = it->turn[i].hours};
        it->pin[0].start += 24;
        it->problem.pin_count = pins;
        double took = plan(it);
        worst = fmax(worst, took);
        all += took;
    }
    printf("# measured: turns, 20 fields on 3 supplies planned anew around pinned turns: mean %.2f s, worst "
           "%.2f s (goal 1 s)\n",
           all / plans, worst);
}

int main(void) {
    struct wells *wells = malloc(sizeof *wells);
    if (wells == NULL)
        return 1;
    measure_edit(&wells->all);
    measure_first_plan(&wells->all);
    measure(wells, &(struct goal){"50 pivots on 10 wells, 10 days", "by the clock, on all cores", 2, 2},
            false, 2);
    measure(wells, &(struct goal){"200 fields on one canal, 10 days", "of a processor", 5, 30}, true, 1);
    free(wells);
    return missed > 0;
}
