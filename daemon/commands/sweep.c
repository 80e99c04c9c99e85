/* Very many seasons of one planting. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/wall_clock.h"
#include "daemon/commands/open_replay.h"
#include "daemon/commands/sweep_options.h"
#include "daemon/morning/planting_run.h"
#include "daemon/view/sweep.h"

#define YEARS_MAX 400
#define SHIFT_MAX 150 /* years that are looked at on either side for "all" */

/* ---- the terminal ---- */

static struct sweep *running; /* what Ctrl-C stops */

static void on_interrupt(int number) {
    (void)number;
    if (running != NULL)
        atomic_store(&running->stop, true);
}

struct progress {
    int64_t began_ms;
};

static void show_progress(void *context, long finished, long runs) {
    const struct progress *progress = context;
    char bar[31];
    double seconds = 1e-3 * (double)(wall_clock_running_ms() - progress->began_ms);
    double share = (double)finished / (double)runs;
    int full = (int)(30 * share);
    memset(bar, '.', sizeof bar - 1);
    memset(bar, '=', (size_t)full);
    bar[30] = '\0';
    fprintf(stderr, "\r[%s] %3.0f %%, %ld of %ld seasons", bar, 100 * share, finished, runs);
    if (finished > 0)
        fprintf(stderr, ", %.0f s left   ", seconds * (1 - share) / share);
    fflush(stderr);
}

/* ---- the seasons ---- */

struct years {
    struct season_case season[YEARS_MAX];
    int year[YEARS_MAX];
    int count;
};

static void years_free(struct years *years) {
    for (int i = 0; years != NULL && i < YEARS_MAX; i++)
        season_case_free(&years->season[i]);
    free(years);
}

static int year_of(int32_t date) {
    return calendar_to_civil(date).year;
}

/* The inputs of one weather year; a year that does not have the weather of the whole season is passed over.
 */
static enum status add_year(const struct replay *replay, struct scenario *scenario, size_t planting,
                            const struct station_days *days, int shift, bool must, struct years *years,
                            struct problems *problems) {
    scenario->weather_years = shift;
    struct season_case *season = &years->season[years->count];
    enum status status = season_case_make(scenario, planting, days, replay->until, false, season, problems);
    if (status != STATUS_OK || (season->open && !must) || season->count == 0)
        return status;
    years->year[years->count++] = year_of(scenario->farm.planting[planting].planting_date) + shift;
    return STATUS_OK;
}

static enum status add_years(const struct replay *replay, const struct sweep_wish *wish, size_t planting,
                             struct years *years, struct problems *problems) {
    struct scenario *scenario = &replay->scenario[replay->scenario_count - 1];
    struct station_days *days = calloc(replay->weather.count + 1, sizeof *days);
    const struct farm_planting *grown = &scenario->farm.planting[planting];
    const struct farm_field *field = farm_field_named(&scenario->farm, grown->field);
    int own = year_of(grown->planting_date), from = 0, to = 0;
    if (wish->all_years || wish->first_year > 0) {
        from = wish->all_years ? -SHIFT_MAX : wish->first_year - own;
        to = wish->all_years ? SHIFT_MAX : wish->last_year - own;
    }
    int32_t first = replay_weather_first(&replay->weather);
    enum status status =
        days == NULL ? STATUS_NO_MEMORY
                     : replay_weather_build(&replay->weather, &scenario->farm, first, replay->until, days);
    const struct station_days *at =
        status == STATUS_OK ? &days[replay_station_index(&scenario->farm, field->station)] : NULL;
    for (int shift = from; status == STATUS_OK && shift <= to && years->count < YEARS_MAX; shift++)
        status = add_year(replay, scenario, planting, at, shift, from == 0 && to == 0, years, problems);
    for (size_t i = 0; days != NULL && i < replay->weather.count; i++)
        station_days_free(&days[i]);
    free(days);
    if (status == STATUS_OK && years->count == 0) {
        problem_add(problems, NULL, 0, 0, grown->field,
                    "found no year whose weather is known from the first day of the "
                    "season to its end");
        status = STATUS_NOT_FOUND;
    }
    return status;
}

/* ---- the sweep ---- */

static enum status run_all(struct sweep *sweep, const struct sweep_wish *wish, struct problems *problems) {
    struct progress progress;
    struct sigaction action = {.sa_handler = on_interrupt}, before;
    bool terminal = isatty(STDERR_FILENO) != 0;
    long runs = sweep_runs(sweep);
    if (runs == 0) {
        problem_add(problems, NULL, 0, 0, NULL,
                    "found more than %d seasons, expected fewer values, years or draws", SWEEP_RUNS_MAX);
        return STATUS_USAGE;
    }
    sweep->row = calloc((size_t)runs, sizeof *sweep->row);
    if (sweep->row == NULL)
        return STATUS_NO_MEMORY;
    progress.began_ms = wall_clock_running_ms();
    running = sweep;
    (void)sigaction(SIGINT, &action, &before);
    enum status status = sweep_run(sweep, wish->threads, terminal ? show_progress : NULL, &progress);
    (void)sigaction(SIGINT, &before, NULL);
    running = NULL;
    if (terminal) {
        show_progress(&progress, atomic_load(&sweep->finished), runs);
        fputs("\n", stderr);
    }
    return status;
}

static enum status sweep_years(const struct options *options, const struct replay *replay,
                               const struct sweep_wish *wish, const struct years *years,
                               struct open_replay_output *output, struct problems *problems) {
    struct sweep sweep = {.season = years->season,
                          .years = years->count,
                          .axis = wish->axis,
                          .axes = wish->axes,
                          .draws = wish->draws,
                          .seed = wish->seed};
    enum status status = run_all(&sweep, wish, problems);
    if (status == STATUS_OK)
        status = open_replay_made(options, replay, "sweep", output);
    if (status == STATUS_OK) {
        long written = 0;
        output->partial = atomic_load(&sweep.stop);
        status = view_sweep_csv(&sweep, years->year, output->made, wish->threads, &output->text, &written);
        if (output->partial)
            problem_add(problems, NULL, 0, 0, NULL,
                        "stopped: %ld of %ld seasons were computed and are written", written,
                        sweep_runs(&sweep));
    }
    free(sweep.row);
    return status;
}

static enum status compute(const struct options *options, struct open_replay_output *output,
                           struct problems *problems) {
    struct replay replay = {0};
    struct sweep_wish *wish = calloc(1, sizeof *wish);
    struct years *years = calloc(1, sizeof *years);
    size_t planting = 0;
    enum status status = wish != NULL && years != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = sweep_options(options, wish, problems);
    if (status == STATUS_OK)
        status = open_replay_planting(options, &replay, &planting, "which holds for all seasons", problems);
    if (status == STATUS_OK)
        status = add_years(&replay, wish, planting, years, problems);
    if (status == STATUS_OK)
        status = sweep_years(options, &replay, wish, years, output, problems);
    years_free(years);
    free(wish);
    replay_free(&replay);
    return status;
}

static enum status run_sweep(const struct options *options, struct problems *problems) {
    static const struct open_replay_forms forms = {.shown = MADE_CSV};
    return open_replay_run(options, &command_sweep, &forms, compute, problems);
}

static const struct option_spec sweep_spec[] = {
    OPTION_DB,
    {"--field", "NAME", "the field; its newest planting is taken"},
    {"--today", "DATE", "use the weather before this day; else as far as it goes"},
    {"--what-if", "SETTINGS", "settings that hold for all seasons, as for `waterturn replay`"},
    {"--vary", "P = VALUES",
     "as \"allowed_depletion = 30 % .. 70 % / 9\" or \"kcb_mid = 1.0, 1.1\"; several times: all "
     "combinations"},
    {"--draw", "P = LAW", "as \"kcb_mid = normal 1.1, 0.05\" or \"p = uniform 40 %, 60 %\""},
    {"--draws", "N", "how often is drawn for each combination; else once"},
    {"--seed", "N", "another seed draws other values; else 1"},
    {"--years", "YEARS", "weather of these years in place of the season's own: all, or 1991..2020"},
    {"--threads", "N", "else as many as there are cores"},
    {"--out", "FILE", "write there, not to standard output"},
    {"--verify", "FILE", "make an output again, and say whether every byte is the same"},
    OPTION_END};

const struct command command_sweep = {"sweep",
                                      "[FARMFILE]",
                                      0,
                                      1,
                                      "compute very many seasons over settings and weather years",
                                      "Of one field, as CSV with a row for each season. Parameters: "
                                      "field_capacity, wilting_point, root_depth (m), kcb_mid,\n"
                                      "p, start_depletion, allowed_depletion, curve_number, efficiency, "
                                      "share, trigger, refill. Ctrl-C writes what is done.",
                                      sweep_spec,
                                      run_sweep};
