/* Very many seasons of one planting, over weather years and settings, on all cores. */
#ifndef WATERTURN_SWEEP_H
#define WATERTURN_SWEEP_H

#include <stdatomic.h>

#include "daemon/replay/parameter.h"

#define SWEEP_AXES_MAX   8
#define SWEEP_VALUES_MAX 1000
#define SWEEP_RUNS_MAX   2000000

/* A parameter that is varied: by listed values, or drawn at random. */
enum sweep_kind { SWEEP_VALUES, SWEEP_UNIFORM, SWEEP_NORMAL };

struct sweep_axis {
    enum parameter parameter;
    enum sweep_kind kind;
    int count; /* SWEEP_VALUES */
    double value[SWEEP_VALUES_MAX];
    double a, b; /* uniform from a to b; normal of mean a and standard deviation b */
};

/* One season's result. */
struct sweep_row {
    bool done;          /* computed, and not refused */
    enum status status; /* why not */
    int days, irrigations, stress_days;
    double rain_mm, effective_rain_mm, runoff_mm, irrigation_gross_mm, irrigation_net_mm, denied_mm,
        percolation_mm, etc_mm, eta_mm, transpiration_mm, stress_mm, relative;
};

struct sweep {
    const struct season_case *season; /* one for each weather year */
    int years;
    const struct sweep_axis *axis;
    int axes;
    long draws;            /* for each combination of listed values; 1 when nothing is drawn */
    uint64_t seed;         /* the same seed draws the same values, whatever the threads */
    struct sweep_row *row; /* sweep_runs() of them, zeroed */
    atomic_long next, finished;
    atomic_bool stop; /* set from outside: the threads end after the season that they are in */
};

/* Years times combinations times draws; 0: more than SWEEP_RUNS_MAX. */
long sweep_runs(const struct sweep *sweep);

/* The parameters of one run; its index counts years fastest, so that the same settings stand together. */
void sweep_values(const struct sweep *sweep, long run, double value[SWEEP_AXES_MAX]);
int sweep_year(const struct sweep *sweep, long run);

/* Runs them all on `threads` threads (1..64) and calls `watch` (may be NULL) about ten times a second from
 * this one. STATUS_NO_MEMORY: no thread could be started. */
enum status sweep_run(struct sweep *sweep, int threads,
                      void (*watch)(void *context, long finished, long runs), void *context);

/* A random number of 0 or more and below 1 for a place in a stream: the same for the same arguments.
 * SplitMix64 (G.L. Steele, D. Lea and C.H. Flood, OOPSLA 2014; from memory). */
double sweep_random(uint64_t seed, uint64_t place);

#endif
