/* A season of the full dual balance beside the same season in a spreadsheet, which is written here, computed
 * by Gnumeric's ssconvert, and read back: every evening's depletion and evapotranspiration must agree. What
 * is counted of the spreadsheet is its recalculation alone: the time for the sheet less that for its values.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "core/balance/runoff.h"
#include "tests/support/bench.h"
#include "tests/support/bench_season.h"

#define SEASONS    40 /* in the sheet, one below the other */
#define TURNS      400
#define ROUNDS     5
#define TOLERANCE  1e-6
#define TIMES_GOAL 100

static void give_up(const char *what) {
    (void)fprintf(stderr, "bench_sheet: %s\n", what);
    exit(1);
}

/* ---- the sheet ---- */

/* Constants of the season; in the sheet they stand as numbers in the formulas. */
struct constants {
    struct season_setup setup;
    double water_mm_m; /* between field capacity and wilting point */
    double cn_dry, cn_wet, wet_mm, dry_mm;
};

static struct constants constants_of(const struct season_setup *setup) {
    const struct soil *soil = &setup->soil;
    return (struct constants){.setup = *setup,
                              .water_mm_m = soil_available_between_mm(soil, 0, 1),
                              .cn_dry = runoff_cn_dry(soil->curve_number),
                              .cn_wet = runoff_cn_wet(soil->curve_number),
                              .wet_mm = 0.5 * soil->rew_mm,
                              .dry_mm = 0.7 * soil->rew_mm + 0.3 * soil->tew_mm};
}

/* The morning of the first day. */
static void write_start(FILE *file, const struct constants *c) {
    const struct crop *crop = &c->setup.crop;
    double root = crop->root_ini_m, gone = c->setup.start_depletion;
    for (int column = 1; column <= 7; column++)
        (void)fputc(',', file);
    (void)fprintf(file, "%.17g", root);
    for (int column = 9; column <= 34; column++)
        (void)fputc(',', file);
    (void)fprintf(file, ",%.17g,0,%.17g,%.17g\n", gone * c->water_mm_m * root,
                  gone * c->water_mm_m * (crop->root_max_m - root),
                  c->setup.start_surface * c->setup.soil.tew_mm);
}

/* What grows: columns G to N. Share of the stage, root depth, climate, its term at full height, Kcb, height,
 * Kc max, cover (eqs 66, 70, 72, 76). */
static void write_crop(FILE *file, const struct constants *c, int row, int day) {
    const struct crop *crop = &c->setup.crop;
    const double *length = crop->stage_days;
    double first[4] = {0, length[0], length[0] + length[1], length[0] + length[1] + length[2]};
    int stage = 3;
    while (stage > 0 && day < first[stage])
        stage--;
    (void)fprintf(file, ",\"=(A%d-%.17g+1)/%.17g\"", row, first[stage], length[stage]);
    (void)fprintf(file, ",\"=%.17g+MIN(A%d/%.17g,1)*%.17g\"", crop->root_ini_m, row, first[2],
                  crop->root_max_m - crop->root_ini_m);
    (void)fprintf(file, ",\"=0.04*(MIN(MAX(C%d,1),6)-2)-0.004*(MIN(MAX(D%d,20),80)-45)\"", row, row);
    (void)fprintf(file, ",\"=I%d*(%.17g/3)^0.3\"", row, crop->height_max_m);
    char mid[80], end[80];
    (void)snprintf(mid, sizeof mid, "(%.17g+J%d)", crop->kcb_mid, row);
    (void)snprintf(end, sizeof end, "(%.17g+J%d)", crop->kcb_end, row);
    if (stage == 0)
        (void)fprintf(file, ",\"=%.17g\",\"=%.17g\"", crop->kcb_ini, crop->height_ini_m);
    else if (stage == 1)
        (void)fprintf(file, ",\"=%.17g+G%d*(%s-%.17g)\",\"=%.17g+G%d*%.17g\"", crop->kcb_ini, row, mid,
                      crop->kcb_ini, crop->height_ini_m, row, crop->height_max_m - crop->height_ini_m);
    else if (stage == 2)
        (void)fprintf(file, ",\"=%s\",\"=%.17g\"", mid, crop->height_max_m);
    else
        (void)fprintf(file, ",\"=%s+G%d*(%s-%s)\",\"=%.17g\"", mid, row, end, mid, crop->height_max_m);
    (void)fprintf(file, ",\"=MAX(1.2+I%d*(L%d/3)^0.3,K%d+0.05)\"", row, row, row);
    (void)fprintf(file, ",\"=MIN((MAX(K%d-0.15,0.01)/(M%d-0.15))^(1+0.5*L%d),0.99)\"", row, row, row);
}

/* What comes in: columns O to Z. Wetness, curve number, retention, runoff, infiltration, surface layer after
 * it, TAW, soil newly reached, balance, depletion, excess, depletion below. */
static void write_water(FILE *file, const struct constants *c, int row) {
    int before = row - 1;
    double root_max_m = c->setup.crop.root_max_m;
    (void)fprintf(file, ",\"=IF(AL%d<=%.17g,1,IF(AL%d<%.17g,(%.17g-AL%d)/%.17g,0))\"", before, c->wet_mm,
                  before, c->dry_mm, c->dry_mm, before, c->dry_mm - c->wet_mm);
    (void)fprintf(file, ",\"=MIN(%.17g+O%d*%.17g,%.17g)\",\"=25400/P%d-254\"", c->cn_dry, row,
                  c->cn_wet - c->cn_dry, c->cn_wet, row);
    (void)fprintf(file, ",\"=IF(E%d>%.17g*Q%d,(E%d-%.17g*Q%d)^2/(E%d+%.17g*Q%d),0)\",\"=E%d-R%d\"", row,
                  RUNOFF_ABSTRACTION_RATIO, row, row, RUNOFF_ABSTRACTION_RATIO, row, row,
                  1 - RUNOFF_ABSTRACTION_RATIO, row, row, row);
    (void)fprintf(file, ",\"=MAX(AL%d-S%d-F%d,0)\",\"=%.17g*H%d\"", before, row, row, c->water_mm_m, row);
    (void)fprintf(file, ",\"=IF(H%d>H%d,MIN(AK%d*MIN((H%d-H%d)/(%.17g-H%d),1),U%d-AI%d),0)\"", row, before,
                  before, row, before, root_max_m, before, row, before);
    (void)fprintf(file, ",\"=AI%d-AJ%d+V%d-S%d-F%d\",\"=MAX(MIN(W%d,U%d),0)\",\"=MAX(-W%d,0)\",\"=AK%d-V%d\"",
                  before, before, row, row, row, row, row, row, before, row);
}

/* What goes out: columns AA to AL. Kr, few, evaporation, ETc, RAW, Ks, what is asked for, what is met, and
 * the evening. */
static void write_use(FILE *file, const struct constants *c, int row) {
    const struct soil *soil = &c->setup.soil;
    (void)fprintf(file, ",\"=IF(T%d<=%.17g,1,(%.17g-T%d)/%.17g)\",\"=MIN(1,1-N%d)\"", row, soil->rew_mm,
                  soil->tew_mm, row, soil->tew_mm - soil->rew_mm, row);
    (void)fprintf(file, ",\"=MIN(MIN(AA%d*(M%d-K%d),AB%d*M%d)*B%d,AB%d*(%.17g-T%d))\"", row, row, row, row,
                  row, row, row, soil->tew_mm, row);
    (void)fprintf(file, ",\"=AC%d+K%d*B%d\",\"=MIN(MAX(%.17g+0.04*(5-AD%d),0.1),0.8)*U%d\"", row, row, row,
                  c->setup.crop.depletion_fraction, row, row);
    (void)fprintf(file, ",\"=IF(X%d<=AE%d,1,(U%d-X%d)/(U%d-AE%d))\",\"=AC%d+AF%d*K%d*B%d\"", row, row, row,
                  row, row, row, row, row, row, row);
    (void)fprintf(file, ",\"=MIN(AG%d,U%d-X%d+Y%d)\",\"=MAX(X%d-Y%d+AH%d,0)\",0", row, row, row, row, row,
                  row, row);
    (void)fprintf(file, ",\"=Z%d-MIN(MAX(Y%d-X%d-AH%d,0),Z%d)\"", row, row, row, row, row);
    (void)fprintf(file, ",\"=MIN(T%d+AC%d*IF(AG%d>AH%d,AH%d/AG%d,1)/AB%d,%.17g)\"\n", row, row, row, row, row,
                  row, row, soil->tew_mm);
}

static void write_sheet(const char *path, const struct season_setup *setup,
                        const struct season_input *input) {
    struct constants constants = constants_of(setup);
    FILE *file = fopen(path, "we");
    if (file == NULL)
        give_up("the sheet cannot be written");
    for (int season = 0; season < SEASONS; season++) {
        write_start(file, &constants);
        for (int day = 0; day < BENCH_SEASON_DAYS; day++) {
            int row = season * (BENCH_SEASON_DAYS + 1) + day + 2;
            const struct season_input *in = &input[day];
            (void)fprintf(file, "%d,%.17g,%.17g,%.17g,%.17g,%.17g", day, in->et0_mm, in->wind_2m_m_s,
                          in->rh_min_pct, in->rain_mm, in->irrigation_net_mm);
            write_crop(file, &constants, row, day);
            write_water(file, &constants, row);
            write_use(file, &constants, row);
        }
    }
    if (fclose(file) != 0)
        give_up("the sheet cannot be written");
}

/* ---- the spreadsheet program ---- */

static double children_s(void) {
    struct rusage use;
    (void)getrusage(RUSAGE_CHILDREN, &use);
    return (double)(use.ru_utime.tv_sec + use.ru_stime.tv_sec) +
           1e-6 * (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec);
}

/* Seconds of a processor that ssconvert takes from one file to the other. */
static double convert(const char *options, const char *from, const char *to) {
    char command[1400];
    (void)snprintf(command, sizeof command, "ssconvert %s %s %s >%s.log 2>&1", options, from, to, from);
    double began = children_s();
    if (system(command) != 0)
        give_up("ssconvert failed (sh tests/tools/setup.sh bench installs it)");
    return children_s() - began;
}

/* The largest difference between the sheet's evenings and the program's. */
static double compare(const char *path, const struct season_day *day) {
    char line[8000];
    double most = 0;
    FILE *file = fopen(path, "re");
    for (int row = 0; row < SEASONS * (BENCH_SEASON_DAYS + 1); row++) {
        if (file == NULL || fgets(line, sizeof line, file) == NULL)
            give_up("the sheet came back short");
        int at = row % (BENCH_SEASON_DAYS + 1) - 1, column = 1;
        for (const char *cell = line; at >= 0 && cell != NULL; cell = strchr(cell, ','), column++) {
            cell += column > 1;
            double want = column == 34 ? day[at].eta_mm : column == 35 ? day[at].depletion_mm : (double)NAN;
            if (!isnan(want))
                most = fmax(most, fabs(strtod(cell, NULL) - want));
        }
        if (at >= 0 && column < 35)
            give_up("the sheet came back narrow");
    }
    (void)fclose(file);
    return most;
}

static void run_season(const struct season_setup *setup, const struct season_input *input,
                       struct season_day *day) {
    struct season_state state;
    struct season_prepared prepared;
    if (season_prepare(setup, &prepared) != STATUS_OK || season_begin(&prepared, &state) != STATUS_OK)
        give_up("the season is refused");
    for (int i = 0; i < BENCH_SEASON_DAYS; i++) {
        if (season_step(&prepared, &state, &input[i], &day[i]) != STATUS_OK)
            give_up("a day is refused");
    }
}

int main(void) {
    const char *build = getenv("BUILD");
    char directory[300], text[340], sheet[340], values[340], again[340], log[360];
    struct season_input input[BENCH_SEASON_DAYS];
    struct season_day day[BENCH_SEASON_DAYS];
    double own[ROUNDS], theirs[ROUNDS];
    struct season_setup setup = bench_season_setup();
    (void)snprintf(directory, sizeof directory, "%s/bench_sheet_XXXXXX", build != NULL ? build : "build");
    if (mkdtemp(directory) == NULL)
        give_up("no folder");
    (void)snprintf(text, sizeof text, "%s/sheet.csv", directory);
    (void)snprintf(sheet, sizeof sheet, "%s/sheet.gnumeric", directory);
    (void)snprintf(values, sizeof values, "%s/values.csv", directory);
    (void)snprintf(again, sizeof again, "%s/again.gnumeric", directory);
    bench_season_inputs(&setup, input);
    write_sheet(text, &setup, input);
    (void)convert("", text, sheet);
    (void)convert("--recalc -T Gnumeric_stf:stf_assistant -O 'format=raw separator=,'", sheet, values);
    for (int round = 0; round < ROUNDS; round++) {
        double began = bench_cpu_s();
        for (int turn = 0; turn < TURNS; turn++)
            run_season(&setup, input, day);
        own[round] = (bench_cpu_s() - began) / TURNS;
        theirs[round] = convert("--recalc", sheet, again) - convert("", sheet, again);
    }
    double most = compare(values, day), own_s = bench_median(own, ROUNDS),
           theirs_s = bench_median(theirs, ROUNDS) / SEASONS;
    struct bench_row row = {.work = "a season of 140 days, full dual balance",
                            .ratio = theirs_s / own_s,
                            .goal = "100 times as fast, equal to 1e-6",
                            .met = theirs_s / own_s >= TIMES_GOAL && most <= TOLERANCE};
    (void)snprintf(row.figure, sizeof row.figure, "%.0f us, largest difference %.0e mm", 1e6 * own_s, most);
    (void)snprintf(row.against, sizeof row.against, "recalculation of the same season by Gnumeric: %.0f us",
                   1e6 * theirs_s);
    const char *const made[] = {text, sheet, values, again};
    for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
        (void)snprintf(log, sizeof log, "%s.log", made[i]);
        (void)unlink(log);
        (void)unlink(made[i]);
    }
    (void)rmdir(directory);
    return bench_row_print(&row);
}
