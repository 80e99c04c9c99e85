/* The two steps of which all else is made: ET0 of a station-day, held against NumPy's vectors over the same
 * equation, and one field-day of the full dual balance, held against its calls of pow() alone. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/balance/season.h"
#include "core/weather/day_block.h"
#include "tests/support/bench.h"
#include "tests/support/bench_season.h"

#define STATION_DAYS 10000 /* at which NumPy is at its best: its arrays fit into the second cache */
#define BLOCK        64
#define ROUNDS       7
#define PASSES       40
#define FIRST        20089 /* 2025-01-01 */
#define LATITUDE     38.0
#define ELEVATION_M  500.0

static void give_up(const char *what) {
    (void)fprintf(stderr, "bench_core: %s\n", what);
    exit(1);
}

/* ---- ET0 ---- */

static void make_days(struct weather_day *days) {
    for (int i = 0; i < STATION_DAYS; i++) {
        const double value[][2] = {{WEATHER_TMIN_C, 5.0 + 10.0 * bench_unrest(i, 7919)},
                                   {WEATHER_RH_MAX_PCT, 70.0 + 30.0 * bench_unrest(i, 1299709)},
                                   {WEATHER_RH_MIN_PCT, 20.0 + 40.0 * bench_unrest(i, 15485863)},
                                   {WEATHER_WIND_M_S, 0.6 + 4.0 * bench_unrest(i, 32452843)},
                                   {WEATHER_RS_MJ_M2, 6.0 + 12.0 * bench_unrest(i, 49979687)}};
        days[i] = weather_day_empty(FIRST + i % 365);
        for (size_t k = 0; k < sizeof value / sizeof value[0]; k++) {
            days[i].value[(int)value[k][0]] = value[k][1];
            days[i].origin[(int)value[k][0]] = ORIGIN_MEASURED;
        }
        days[i].value[WEATHER_TMAX_C] = days[i].value[WEATHER_TMIN_C] + 5.0 + 10.0 * bench_unrest(i, 104729);
        days[i].origin[WEATHER_TMAX_C] = ORIGIN_MEASURED;
    }
}

/* Completes a block of days, as daemon/morning/station_days.c does, and adds up their ET0. */
static double block_et0_mm(struct weather_place *place, const struct weather_day *days, int count) {
    static struct weather_full full[BLOCK];
    static double et_mm[BLOCK][REFERENCE_ASCE_TALL + 1];
    struct day_block_day block[BLOCK];
    double sum_mm = 0;
    for (int i = 0; i < count; i++)
        block[i] = (struct day_block_day){.reported = &days[i], .full = &full[i], .et_mm = et_mm[i]};
    day_block_complete(place, 1u << REFERENCE_FAO56_GRASS, block, count);
    for (int i = 0; i < count; i++) {
        if (block[i].status != STATUS_OK)
            give_up("a day has no ET0");
        sum_mm += et_mm[i][REFERENCE_FAO56_GRASS];
    }
    return sum_mm;
}

/* Nanoseconds a day, and the sum. */
static double time_et0(const struct weather_day *days, double *sum) {
    const struct weather_site site = weather_site_default(LATITUDE, ELEVATION_M);
    struct weather_place place;
    double times[PASSES];
    for (int pass = 0; pass < PASSES; pass++) {
        double began = bench_cpu_s();
        if (weather_place_open(&site, &place) != STATUS_OK)
            give_up("the site is refused");
        *sum = 0;
        for (int i = 0; i < STATION_DAYS; i += BLOCK)
            *sum += block_et0_mm(&place, &days[i], i + BLOCK <= STATION_DAYS ? BLOCK : STATION_DAYS - i);
        times[pass] = bench_cpu_s() - began;
    }
    return 1e9 * bench_median(times, PASSES) / STATION_DAYS;
}

struct numpy {
    double written_ns, squares_ns, sum;
    char version[32];
};

/* Another program's turn: a line "nanoseconds nanoseconds sum version". */
static struct numpy time_numpy(void) {
    struct numpy numpy = {.sum = 0};
    char command[80], line[160];
    (void)snprintf(command, sizeof command, "/usr/bin/python3 tests/bench/et0_numpy.py %d", STATION_DAYS);
    FILE *stream = popen(command, "r");
    if (stream == NULL || fgets(line, sizeof line, stream) == NULL ||
        sscanf(line, "%lf %lf %lf %31s", &numpy.written_ns, &numpy.squares_ns, &numpy.sum, numpy.version) !=
            4)
        give_up("NumPy did not answer (sh tests/tools/setup.sh bench installs it)");
    (void)pclose(stream);
    return numpy;
}

static int bench_et0(void) {
    static struct weather_day days[STATION_DAYS];
    double own[ROUNDS], written[ROUNDS], squares[ROUNDS], sum = 0;
    struct numpy numpy = {.sum = 0};
    make_days(days);
    for (int round = 0; round < ROUNDS; round++) {
        own[round] = time_et0(days, &sum);
        numpy = time_numpy();
        written[round] = numpy.written_ns;
        squares[round] = numpy.squares_ns;
        if (!(fabs(sum - numpy.sum) <= 1e-9 * numpy.sum))
            give_up("NumPy's ET0 is another");
    }
    double own_ns = bench_median(own, ROUNDS), numpy_ns = bench_median(written, ROUNDS);
    struct bench_row row = {.work = "ET0 of a station-day from Tmax, Tmin, RH, wind, Rs",
                            .ratio = numpy_ns / own_ns,
                            .goal = "2 times as fast"};
    (void)snprintf(row.figure, sizeof row.figure, "%.0f ns", own_ns);
    (void)snprintf(row.against, sizeof row.against,
                   "NumPy %s, the equation as written: %.0f ns (fourth powers as squares: %.0f ns)",
                   numpy.version, numpy_ns, bench_median(squares, ROUNDS));
    row.met = row.ratio >= 2;
    return bench_row_print(&row);
}

/* ---- the field-day ---- */

#define SEASONS 400

/* Nanoseconds a day of a season that is gone through as a morning does it, and a day at a time. */
static double time_season(const struct season_setup *setup, const struct season_input *input, bool by_days) {
    static struct season_day day[BENCH_SEASON_DAYS];
    double began = bench_cpu_s();
    for (int season = 0; season < SEASONS; season++) {
        struct season_prepared prepared;
        struct season_state state;
        int done = 0;
        if (season_prepare(setup, &prepared) != STATUS_OK || season_begin(&prepared, &state) != STATUS_OK)
            give_up("the season is refused");
        if (!by_days && season_run(&prepared, &state, input, BENCH_SEASON_DAYS, day, &done) != STATUS_OK)
            give_up("a day is refused");
        for (int i = done; i < BENCH_SEASON_DAYS; i++)
            if (season_step(&prepared, &state, &input[i], &day[0]) != STATUS_OK)
                give_up("a day is refused");
    }
    return 1e9 * (bench_cpu_s() - began) / (SEASONS * BENCH_SEASON_DAYS);
}

#define POWERS_MAX (3 * BENCH_SEASON_DAYS + CROP_GROWING_STAGES)

struct powers {
    int count;
    double base[POWERS_MAX], exponent[POWERS_MAX];
};

static void add_power(struct powers *powers, double base, double exponent) {
    powers->base[powers->count] = base;
    powers->exponent[powers->count++] = exponent;
}

/* The powers of the season's days. Asked for: the height of eq. 70 and, while the crop grows, of eq. 72; the
 * cover of eq. 76. Made: of the full height when the season is prepared and where a stage after the first
 * begins; of another height on its first day; the cover. */
static void gather_powers(const struct season_setup *setup, const struct season_input *input,
                          struct powers *asked, struct powers *made) {
    struct season_prepared prepared;
    struct season_state state;
    struct season_day day;
    struct season_trace trace;
    const double full_m = setup->crop.height_max_m;
    double last_m = full_m;
    enum crop_stage stage = STAGE_INITIAL;
    if (season_prepare(setup, &prepared) != STATUS_OK || season_begin(&prepared, &state) != STATUS_OK)
        give_up("the season is refused");
    add_power(made, full_m / 3, 0.3);
    for (int i = 0; i < BENCH_SEASON_DAYS; i++) {
        if (season_step_traced(&prepared, &state, &input[i], &day, &trace) != STATUS_OK)
            give_up("a day is refused");
        const struct crop_day *crop = &trace.crop;
        const double cover[] = {fmax(crop->kcb - CROP_KC_MIN, 0.01) / (crop->kc_max - CROP_KC_MIN),
                                1 + 0.5 * crop->height_m};
        add_power(asked, full_m / 3, 0.3);
        if (crop->height_m < full_m)
            add_power(asked, crop->height_m / 3, 0.3);
        add_power(asked, cover[0], cover[1]);
        if (crop->stage != stage)
            add_power(made, full_m / 3, 0.3);
        if (crop->height_m < full_m && (crop->height_m < last_m || crop->height_m > last_m))
            add_power(made, crop->height_m / 3, 0.3);
        add_power(made, cover[0], cover[1]);
        last_m = crop->height_m;
        stage = crop->stage;
    }
}

/* Nanoseconds a day. */
static double time_powers(const struct powers *powers) {
    static volatile double sink;
    double began = bench_cpu_s(), sum = 0;
    for (int season = 0; season < SEASONS; season++)
        for (int i = 0; i < powers->count; i++)
            sum += pow(powers->base[i], powers->exponent[i]);
    sink = sum;
    (void)sink;
    return 1e9 * (bench_cpu_s() - began) / (SEASONS * BENCH_SEASON_DAYS);
}

static int bench_field_day(void) {
    struct season_setup setup = bench_season_setup();
    struct season_input input[BENCH_SEASON_DAYS];
    static struct powers asked, made;
    double own[5 * ROUNDS], by_days[5 * ROUNDS], bare_asked[5 * ROUNDS], bare_made[5 * ROUNDS];
    bench_season_inputs(&setup, input);
    gather_powers(&setup, input, &asked, &made);
    for (int round = 0; round < 5 * ROUNDS; round++) {
        own[round] = time_season(&setup, input, false);
        by_days[round] = time_season(&setup, input, true);
        bare_made[round] = time_powers(&made);
        bare_asked[round] = time_powers(&asked);
    }
    double own_ns = bench_median(own, 5 * ROUNDS), made_ns = bench_median(bare_made, 5 * ROUNDS);
    double asked_ns = bench_median(bare_asked, 5 * ROUNDS);
    struct bench_row row = {.work = "a field-day of the full dual balance",
                            .ratio = own_ns / made_ns,
                            .goal = "within 3 times; 150 ns"};
    (void)snprintf(row.figure, sizeof row.figure, "%.0f ns; a day at a time %.0f ns", own_ns,
                   bench_median(by_days, 5 * ROUNDS));
    (void)snprintf(
        row.against, sizeof row.against,
        "its pow() calls alone (%.1f a day): %.0f ns; those that eqs 70, 72, 76 ask for (%.1f): %.0f "
        "ns, ratio %.2f",
        (double)made.count / BENCH_SEASON_DAYS, made_ns, (double)asked.count / BENCH_SEASON_DAYS, asked_ns,
        own_ns / asked_ns);
    row.met = row.ratio <= 3 && own_ns <= 150;
    return bench_row_print(&row);
}

int main(void) {
    int missed = bench_et0();
    missed += bench_field_day();
    return missed == 0 ? 0 : 1;
}
