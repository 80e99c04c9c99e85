/* Thirty years of weather times twenty treatments, and a long sweep: how long they take, and whether all
 * cores work. On a machine that does other work at the time a missed bound says nothing of the sweep, and is
 * told as not judged; on an idle one it fails. */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/cores.h"
#include "daemon/farm/library.h"
#include "daemon/replay/sweep.h"

#define YEARS         30
#define DAYS          160
#define BOUND_S       0.2
#define SWEEP_SEASONS 100000L
#define BUSY_LEAST    0.9
#define OTHER_MOST    0.05 /* share of all cores that other work may take for a missed bound to count */
#define TRIES         5

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

/* Seconds that all cores together have worked since the machine started, for whatever program; 0 where it
 * does not say. */
static double worked_s(void) {
    /* user, nice, system, idle, iowait, irq, softirq, steal: proc(5) */
    double time[8] = {0};
    FILE *file = fopen("/proc/stat", "r");
    int read = 0;
    if (file != NULL && fscanf(file, "cpu") == 0) {
        while (read < 8 && fscanf(file, "%lf", &time[read]) == 1)
            read++;
    }
    if (file != NULL)
        fclose(file);
    double ticks = time[0] + time[1] + time[2] + time[5] + time[6] + time[7];
    return read == 8 ? ticks / (double)sysconf(_SC_CLK_TCK) : 0;
}

/* What the cores did in a span of time: shares of all of them. */
struct load {
    double began_s, began_own_s, began_all_s;
    double wall_s, own, other;
};

static void load_begin(struct load *load) {
    *load = (struct load){now_s(), used_s(), worked_s(), 0, 0, 0};
}

static void load_end(struct load *load, int cores) {
    double own_s = used_s() - load->began_own_s;
    load->wall_s = now_s() - load->began_s;
    double whole_s = load->wall_s * cores;
    load->own = own_s / whole_s;
    load->other = fmax(0, (worked_s() - load->began_all_s - own_s) / whole_s);
}

/* Says how a bound stands; false: missed, and nothing else was in the way. */
static bool verdict(const char *what, bool held, bool judged, const struct load *load) {
    if (held)
        printf("# measured %s: held\n", what);
    else if (judged)
        printf("# measured %s: missed\n", what);
    else
        printf("# measured %s: could not be judged: other work took %.0f %%\n", what, 100 * load->other);
    return held || !judged;
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

static bool sweep_all(const struct season_case *season, struct sweep_axis *axis, long draws, int threads,
                      struct load *load) {
    struct sweep sweep = {
        .season = season, .years = YEARS, .axis = axis, .axes = 1, .draws = draws, .seed = 7};
    long runs = sweep_runs(&sweep), done = 0;
    sweep.row = calloc((size_t)runs, sizeof *sweep.row);
    if (sweep.row == NULL)
        return false;
    load_begin(load);
    bool good = sweep_run(&sweep, threads, NULL, NULL) == STATUS_OK;
    load_end(load, cores_count());
    for (long i = 0; i < runs; i++)
        done += sweep.row[i].done && sweep.row[i].days > 100;
    free(sweep.row);
    return good && done == runs;
}

/* The shortest of some tries, since a short one is easily hit by something else; what else the cores did is
 * counted over all of them, since the ticks of the machine are coarse. */
static bool short_sweep(const struct season_case *season) {
    static struct sweep_axis axis = {
        .parameter = PARAMETER_ALLOWED_DEPLETION, .kind = SWEEP_VALUES, .count = 20};
    struct load one, all, total;
    double shortest_s = INFINITY;
    int cores = cores_count();
    for (int i = 0; i < 20; i++)
        axis.value[i] = 0.2 + 0.03 * i;
    bool good = sweep_all(season, &axis, 1, 1, &one);
    load_begin(&total);
    for (int i = 0; good && i < TRIES; i++) {
        good = sweep_all(season, &axis, 1, cores, &all);
        shortest_s = fmin(shortest_s, all.wall_s);
    }
    load_end(&total, cores);
    printf("# measured %d years x 20 treatments: %.3f s on one core, %.3f s on %d (the shortest of %d; bound "
           "%.1f s)\n",
           YEARS, one.wall_s, shortest_s, cores, TRIES, BOUND_S);
    return verdict("600 seasons in their time", shortest_s < BOUND_S, total.other <= OTHER_MOST, &total) &&
           good;
}

static bool long_sweep(const struct season_case *season) {
    static struct sweep_axis axis = {
        .parameter = PARAMETER_KCB_MID, .kind = SWEEP_NORMAL, .a = 1.1, .b = 0.05};
    struct load load;
    bool good = sweep_all(season, &axis, SWEEP_SEASONS / YEARS + 1, cores_count(), &load);
    printf("# measured a sweep of %ld seasons: %.1f s; of %d cores it used %.0f %%, other work %.0f %% "
           "(bound: at least "
           "%.0f %%)\n",
           (SWEEP_SEASONS / YEARS + 1) * YEARS, load.wall_s, cores_count(), 100 * load.own, 100 * load.other,
           100 * BUSY_LEAST);
    /* Cores that stood idle were the sweep's to use, whatever else was running. */
    bool judged = load.other <= OTHER_MOST || 1 - load.own - load.other > 1 - BUSY_LEAST;
    return verdict("all cores at work in a long sweep", load.own >= BUSY_LEAST, judged, &load) && good;
}

int main(void) {
    static struct season_case season[YEARS];
    static struct farm_planting planting;
    static struct farm_field field;
    if (!lay(season, &planting, &field))
        return 1;
    bool good = short_sweep(season);
    return long_sweep(season) && good ? 0 : 1;
}
