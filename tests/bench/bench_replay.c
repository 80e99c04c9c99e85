/* Thirty years of weather times twenty treatments, and a long sweep: how long they take, and whether all
 * cores work. */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "daemon/farm/library.h"
#include "daemon/replay/sweep.h"

#define YEARS         30
#define DAYS          160
#define BOUND_S       0.2
#define SWEEP_SEASONS 100000L
#define BUSY_LEAST    0.9

static double now_s(void) {
    struct timespec at;
    clock_gettime(CLOCK_MONOTONIC, &at);
    return (double)at.tv_sec + 1e-9 * (double)at.tv_nsec;
}

static double used_s(void) {
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
           1e-6 * (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
}

/* Seconds that all cores together have stood idle since the machine started; 0 where it does not say. */
static double idle_s(void) {
    double user = 0, nice = 0, system = 0, idle = 0;
    FILE *file = fopen("/proc/stat", "r");
    int read = file != NULL ? fscanf(file, "cpu %lf %lf %lf %lf", &user, &nice, &system, &idle) : 0;
    if (file != NULL)
        fclose(file);
    return read == 4 ? idle / (double)sysconf(_SC_CLK_TCK) : 0;
}

/* An invented year: dry summer, rain in a fifth of the days. */
static void fill_year(int year, struct season_input input[DAYS]) {
    for (int i = 0; i < DAYS; i++) {
        uint64_t place = (uint64_t)(year * 1000 + i) * 4;
        double sun = sin(3.14159 * (i + 20) / (DAYS + 40));
        input[i] = season_input_empty(18000 + i);
        input[i].et0_mm = 1.5 + 5 * sun * (0.6 + 0.8 * sweep_random(1, place));
        input[i].wind_2m_m_s = 1 + 3 * sweep_random(1, place + 1);
        input[i].rh_min_pct = 25 + 40 * sweep_random(1, place + 2);
        input[i].tmax_c = 15 + 15 * sun;
        input[i].tmin_c = 5 + 10 * sun;
        double wet = sweep_random(1, place + 3);
        input[i].rain_mm = wet < 0.2 ? 60 * wet : 0;
    }
}

static bool lay(struct season_case season[YEARS], struct farm_planting *planting, struct farm_field *field) {
    static struct season_input input[YEARS][DAYS];
    static struct problems problems;
    struct library *library = NULL;
    problems_init(&problems);
    struct season_setup setup = season_setup_default();
    bool good = library_open(&library, &problems) == STATUS_OK &&
                library_crop(library, "maize, grain", "Idaho, USA", &setup.crop) == STATUS_OK &&
                library_soil(library, "loam", &setup.soil) == STATUS_OK;
    library_free(library);
    setup.soil.curve_number = 75;
    setup.first_date = 18000;
    setup.planting_date = 18005;
    field->system = system_default(SYSTEM_CENTRE_PIVOT);
    field->system.area_m2 = 500000;
    field->system.flow_m3_h = 300;
    for (int year = 0; year < YEARS; year++) {
        fill_year(year, input[year]);
        season[year] = (struct season_case){.planting = planting,
                                            .field = field,
                                            .setup = setup,
                                            .input = input[year],
                                            .count = DAYS,
                                            .rule = watering_rule_default(),
                                            .supply = watering_supply_unbounded()};
        season[year].rule.kind = WATERING_AUTOMATIC;
    }
    return good;
}

static bool measure(const struct season_case *season, struct sweep_axis *axis, long draws, int threads,
                    double *wall, double *busy) {
    struct sweep sweep = {
        .season = season, .years = YEARS, .axis = axis, .axes = 1, .draws = draws, .seed = 7};
    long runs = sweep_runs(&sweep), done = 0;
    sweep.row = calloc((size_t)runs, sizeof *sweep.row);
    if (sweep.row == NULL)
        return false;
    double wall_s = now_s(), cpu_s = used_s();
    bool good = sweep_run(&sweep, threads, NULL, NULL) == STATUS_OK;
    *wall = now_s() - wall_s;
    *busy = (used_s() - cpu_s) / *wall;
    for (long i = 0; i < runs; i++)
        done += sweep.row[i].done && sweep.row[i].days > 100;
    free(sweep.row);
    return good && done == runs;
}

int main(void) {
    static struct season_case season[YEARS];
    static struct farm_planting planting;
    static struct farm_field field;
    static struct sweep_axis axis = {
        .parameter = PARAMETER_ALLOWED_DEPLETION, .kind = SWEEP_VALUES, .count = 20};
    double wall_s = 0, busy = 0, one_s = 0;
    if (!lay(season, &planting, &field))
        return 1;
    for (int i = 0; i < 20; i++)
        axis.value[i] = 0.2 + 0.03 * i;
    int cores = sweep_cores();
    bool good =
        measure(season, &axis, 1, 1, &one_s, &busy) && measure(season, &axis, 1, cores, &wall_s, &busy);
    printf("# measured %d years x 20 treatments: %.3f s on one core, %.3f s on %d (bound %.1f s)\n", YEARS,
           one_s, wall_s, cores, BOUND_S);
    good = good && wall_s < BOUND_S;
    axis = (struct sweep_axis){.parameter = PARAMETER_KCB_MID, .kind = SWEEP_NORMAL, .a = 1.1, .b = 0.05};
    double before_s = idle_s();
    good = measure(season, &axis, SWEEP_SEASONS / YEARS + 1, cores, &wall_s, &busy) && good;
    /* What other programs take from the cores is not the sweep's fault: what counts is that none stands idle.
     */
    double idle = (idle_s() - before_s) / (wall_s * cores);
    printf("# measured a sweep of %ld seasons: %.1f s, %.2f of %d cores busy with it, %.0f %% of their time "
           "idle (at "
           "most %.0f %%)\n",
           (SWEEP_SEASONS / YEARS + 1) * YEARS, wall_s, busy, cores, 100 * idle, 100 * (1 - BUSY_LEAST));
    good = good && (busy >= BUSY_LEAST * cores || idle <= 1 - BUSY_LEAST);
    return good ? 0 : 1;
}
