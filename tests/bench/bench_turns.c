/* How long the turns take and how near to the best they come, printed. */
#include "tests/support/turns_cases.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void measure(const char *name, struct turns_case *it) {
    case_rule(it, TURNS_FIRST_COME);
    double first_come = it->plan.cost.total;
    case_rule(it, TURNS_EARLIEST_DRY);
    double driest = it->plan.cost.total;
    double began = seconds();
    enum status status = case_plan(it);
    double took = seconds() - began;
    const struct turns_plan *plan = &it->plan;
    printf("# measured: turns, %s: %.2f s of one core, gap %.2f %%, cost %.0f (bound %.0f; first come %.0f, "
           "earliest dry %.0f; stress %.0f water %.0f pumping %.0f end %.0f), %d turns%s\n",
           name, took, 100 * plan->gap, plan->cost.total, plan->bound, first_come, driest, plan->cost.loss,
           plan->cost.water, plan->cost.pumping, plan->cost.end, plan->turn_count,
           status == STATUS_OK ? "" : status_name(status));
}

int main(void) {
    struct turns_case *it = malloc(sizeof *it);
    static const double share[] = {0.4, 0.6, 0.8, 1.0};
    char name[80];
    for (int i = 0; it != NULL && i < 4; i++) {
        snprintf(name, sizeof name, "50 pivots on 10 wells, 10 days, %.0f %% of peak need", 100 * share[i]);
        case_pivots(it, 7 + (uint64_t)i, 10, 5, share[i]);
        measure(name, it);
    }
    for (int i = 0; it != NULL && i < 4; i++) {
        snprintf(name, sizeof name, "200 fields on one canal, 10 days, %.0f %% of peak need", 100 * share[i]);
        case_canal(it, 7 + (uint64_t)i, 200, share[i]);
        measure(name, it);
    }
    free(it);
    return 0;
}
