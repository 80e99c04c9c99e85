#include "daemon/replay/sweep.h"

#include <math.h>
#include <time.h>

#include "daemon/base/cores.h"
#include "daemon/replay/season_value.h"

#define CHUNK 16 /* seasons that a thread takes at once */

/* ---- which run is what ---- */

static long combinations(const struct sweep *sweep) {
    long count = 1;
    for (int i = 0; i < sweep->axes; i++) {
        if (sweep->axis[i].kind == SWEEP_VALUES)
            count *= sweep->axis[i].count;
        if (count > SWEEP_RUNS_MAX)
            return SWEEP_RUNS_MAX + 1L;
    }
    return count;
}

long sweep_runs(const struct sweep *sweep) {
    long settings = combinations(sweep);
    if (settings > SWEEP_RUNS_MAX || sweep->draws > SWEEP_RUNS_MAX / settings)
        return 0;
    settings *= sweep->draws;
    return settings > SWEEP_RUNS_MAX / sweep->years ? 0 : settings * sweep->years;
}

int sweep_year(const struct sweep *sweep, long run) {
    return (int)(run % sweep->years);
}

double sweep_random(uint64_t seed, uint64_t place) {
    uint64_t z = seed + (place + 1) * 0x9E3779B97F4A7C15U;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBU;
    z ^= z >> 31;
    return (double)(z >> 11) * 0x1p-53;
}

/* The normal deviate of two uniform ones (G.E.P. Box and M.E. Muller, 1958). */
static double draw(const struct sweep *sweep, const struct sweep_axis *axis, uint64_t place) {
    double u = sweep_random(sweep->seed, 2 * place), v = sweep_random(sweep->seed, 2 * place + 1);
    if (axis->kind == SWEEP_UNIFORM)
        return axis->a + u * (axis->b - axis->a);
    return axis->a + axis->b * sqrt(-2 * log1p(-u)) * cos(6.283185307179586 * v);
}

void sweep_values(const struct sweep *sweep, long run, double value[SWEEP_AXES_MAX]) {
    long setting = run / sweep->years;
    for (int i = 0; i < sweep->axes; i++) {
        if (sweep->axis[i].kind != SWEEP_VALUES)
            value[i] = draw(sweep, &sweep->axis[i], (uint64_t)setting * SWEEP_AXES_MAX + (uint64_t)i);
    }
    setting /= sweep->draws;
    for (int i = sweep->axes - 1; i >= 0; i--) {
        if (sweep->axis[i].kind != SWEEP_VALUES)
            continue;
        value[i] = sweep->axis[i].value[setting % sweep->axis[i].count];
        setting /= sweep->axis[i].count;
    }
}

/* ---- running ---- */

static void run_one(struct sweep *sweep, long run) {
    const struct season_case *season = &sweep->season[sweep_year(sweep, run)];
    struct season_variant variant = season_variant_of(season);
    double value[SWEEP_AXES_MAX];
    struct budget budget;
    struct watering_denied denied;
    struct yield_share share;
    struct sweep_row *row = &sweep->row[run];
    sweep_values(sweep, run, value);
    for (int i = 0; i < sweep->axes; i++)
        parameter_set(&variant, sweep->axis[i].parameter, value[i]);
    row->status = season_variant_run(season, &variant, NULL, &row->days, &budget, &denied);
    if (row->status != STATUS_OK)
        return;
    const struct budget_part *all = &budget.season;
    row->irrigations = all->irrigations;
    row->stress_days = all->stress_days;
    row->rain_mm = all->rain_mm;
    row->effective_rain_mm = all->effective_rain_mm;
    row->runoff_mm = all->runoff_mm;
    row->irrigation_gross_mm = all->irrigation_gross_mm;
    row->irrigation_net_mm = all->irrigation_net_mm;
    row->denied_mm = season_case_draws(season) ? denied.gross_mm : (double)NAN;
    row->percolation_mm = all->percolation_mm;
    row->etc_mm = all->etc_mm;
    row->eta_mm = all->eta_mm;
    row->transpiration_mm = all->transpiration_mm;
    row->stress_mm = all->stress_mm;
    row->relative = season_relative_yield(&variant.setup.crop, &budget, &share) == STATUS_OK ? share.relative
                                                                                             : (double)NAN;
    row->done = true;
}

static void *work(void *context) {
    struct sweep *sweep = context;
    long runs = sweep_runs(sweep);
    while (!atomic_load(&sweep->stop)) {
        long from = atomic_fetch_add(&sweep->next, CHUNK);
        if (from >= runs)
            break;
        for (long run = from; run < runs && run < from + CHUNK && !atomic_load(&sweep->stop); run++) {
            run_one(sweep, run);
            (void)atomic_fetch_add(&sweep->finished, 1);
        }
    }
    return NULL;
}

enum status sweep_run(struct sweep *sweep, int threads,
                      void (*watch)(void *context, long finished, long runs), void *context) {
    pthread_t thread[CORES_MAX];
    long runs = sweep_runs(sweep);
    int started = cores_start(thread, threads, work, sweep);
    if (started == 0)
        return STATUS_NO_MEMORY;
    while (watch != NULL && atomic_load(&sweep->finished) < runs && !atomic_load(&sweep->stop)) {
        const struct timespec tenth = {.tv_nsec = 100000000};
        watch(context, atomic_load(&sweep->finished), runs);
        (void)nanosleep(&tenth, NULL);
    }
    for (int i = 0; i < started; i++)
        (void)pthread_join(thread[i], NULL);
    return STATUS_OK;
}
