/* Mornings and recomputations of many fields, from the book to the disk, held against a plain insert of the
 * very rows that they store, and against their own growth from fewer fields.
 *
 * FIELDS=n (at least 20,000, by default 100,000) is how many the growth is measured at. */
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/base/cores.h"
#include "tests/support/bench.h"
#include "tests/support/large_farm.h"
#include "tests/support/raw_rows.h"

#define DAYS_EARLY    8 /* too few for an outlook, without past years and forecasts */
#define DAYS_MIDDLE   100
#define ROUNDS        3
#define FIELDS        10000
#define FIELDS_ANEW   1000
#define DAYS_ANEW     200
#define GROWTH_FIELDS 100000
#define GROWTH_MOST   0.10
#define RATIO_MOST    2

static void give_up(const char *what) {
    (void)fprintf(stderr, "bench_morning: %s\n", what);
    exit(1);
}

/* What plain inserts of a morning's rows took. */
struct raw {
    size_t count;
    double anew_s[ROUNDS];  /* into a new file */
    double among_s[ROUNDS]; /* among the rows that stood before; none: 0 */
};

static void insert_raw(const struct large_farm *farm, int32_t from, bool among, int round, struct raw *raw) {
    char path[sizeof farm->path + 8];
    (void)snprintf(path, sizeof path, "%s.raw", farm->path);
    struct raw_rows *rows = raw_rows_read(farm->path, from);
    raw->anew_s[round] = rows != NULL ? raw_rows_insert(rows, NULL, path) : -1;
    raw->among_s[round] = rows != NULL && among ? raw_rows_insert(rows, farm->path, path) : 0;
    if (raw->anew_s[round] < 0 || raw->among_s[round] < 0)
        give_up("the plain insert failed");
    raw->count = raw_rows_count(rows);
    raw_rows_free(rows);
}

static int print_against_raw(const char *work, double *own, struct raw *raw) {
    double own_s = bench_median(own, ROUNDS), raw_s = bench_median(raw->anew_s, ROUNDS);
    double among_s = bench_median(raw->among_s, ROUNDS);
    struct bench_row row = {.work = work, .ratio = own_s / raw_s, .goal = "within 2 times"};
    (void)snprintf(row.figure, sizeof row.figure, "%.2f s", own_s);
    int size = snprintf(row.against, sizeof row.against, "SQLite insert of the same %zu rows: %.2f s",
                        raw->count, raw_s);
    if (among_s > 0)
        (void)snprintf(row.against + size, sizeof row.against - (size_t)size,
                       "; among the rows of the days before: %.2f s, ratio %.2f", among_s, own_s / among_s);
    row.met = row.ratio <= RATIO_MOST;
    return bench_row_print(&row);
}

/* A day more on each of many fields. */
static int bench_day(const char *work, int days, bool forecast) {
    double own[ROUNDS], wall[ROUNDS];
    struct raw raw;
    struct large_farm farm;
    int32_t today = LARGE_FARM_FIRST + days;
    large_farm_open(&farm, FIELDS, days);
    large_farm_weather(&farm, today, forecast);
    (void)large_farm_morning(&farm, today);
    for (int round = 0; round < ROUNDS; round++) {
        today++;
        large_farm_weather(&farm, today, forecast);
        double began = bench_now_s();
        own[round] = large_farm_morning(&farm, today);
        wall[round] = bench_now_s() - began;
        insert_raw(&farm, today - 1, true, round, &raw);
    }
    large_farm_close(&farm);
    printf("# measured: %s: %.2f s by the clock, on %d cores\n", work, bench_median(wall, ROUNDS),
           cores_count());
    return print_against_raw(work, own, &raw);
}

/* Every day of every field, over a ledger that stands. */
static int bench_anew(void) {
    double own[ROUNDS];
    struct raw raw;
    struct large_farm farm;
    int32_t today = LARGE_FARM_FIRST + DAYS_ANEW;
    large_farm_open(&farm, FIELDS_ANEW, DAYS_ANEW);
    large_farm_weather(&farm, today, false);
    (void)large_farm_morning(&farm, today);
    for (int round = 0; round < ROUNDS; round++) {
        if (farm_store_mark(farm.db, FARM_MARK_ALL, NULL, &farm.problems) != STATUS_OK)
            give_up("the ledgers cannot be marked");
        own[round] = large_farm_morning(&farm, today);
        insert_raw(&farm, CALENDAR_FIRST, false, round, &raw);
    }
    large_farm_close(&farm);
    return print_against_raw("all computed anew: 1,000 fields x 200 days, stored", own, &raw);
}

/* ---- growth ---- */

struct size {
    double morning_s, memory_mb, file_mb;
};

static double resident_most_mb(void) {
    long kb = 0;
    char line[200];
    FILE *stream = fopen("/proc/self/status", "re");
    while (stream != NULL && fgets(line, sizeof line, stream) != NULL)
        (void)sscanf(line, "VmHWM: %ld kB", &kb);
    if (stream != NULL)
        (void)fclose(stream);
    return (double)kb / 1024;
}

static double file_mb(const struct large_farm *farm) {
    struct stat stat_buffer;
    return stat(farm->path, &stat_buffer) == 0 ? (double)stat_buffer.st_size / 1e6 : (double)NAN;
}

/* A morning in a process of its own, so that its memory is its own. */
static void run_apart(struct large_farm *farm, int32_t today, struct size *out) {
    int ends[2];
    if (pipe(ends) != 0)
        give_up("no pipe");
    db_close(farm->db);
    farm->db = NULL;
    (void)malloc_trim(0); /* a child begins with what its parent holds */
    pid_t child = fork();
    if (child == 0) {
        struct size size = {0};
        if (db_open(farm->path, DB_WRITE, &farm->db, &farm->problems) != STATUS_OK)
            _exit(1);
        size.morning_s = large_farm_morning(farm, today);
        size.memory_mb = resident_most_mb();
        db_close(farm->db);
        _exit(write(ends[1], &size, sizeof size) == (ssize_t)sizeof size ? 0 : 1);
    }
    int status = 1;
    (void)close(ends[1]);
    bool good = read(ends[0], out, sizeof *out) == (ssize_t)sizeof *out;
    (void)close(ends[0]);
    (void)waitpid(child, &status, 0);
    if (!good || status != 0 || db_open(farm->path, DB_WRITE, &farm->db, &farm->problems) != STATUS_OK)
        give_up("a morning in a process of its own failed");
}

/* The mornings after the first; the file has one day's ledger then, and each day's call. */
static struct size measure(int fields) {
    struct large_farm farm;
    struct size sizes[ROUNDS];
    double times[ROUNDS];
    int32_t today = LARGE_FARM_FIRST + DAYS_EARLY - ROUNDS;
    large_farm_open(&farm, fields, DAYS_EARLY);
    for (int round = -1; round < ROUNDS; round++) {
        large_farm_weather(&farm, today, false);
        run_apart(&farm, today++, &sizes[round < 0 ? 0 : round]);
    }
    for (int round = 0; round < ROUNDS; round++)
        times[round] = sizes[round].morning_s;
    struct size size = sizes[ROUNDS - 1];
    size.morning_s = bench_median(times, ROUNDS);
    size.file_mb = file_mb(&farm);
    large_farm_close(&farm);
    return size;
}

static int print_growth(const char *what, double few, double many, double times, const char *unit) {
    char work[BENCH_TEXT_SIZE];
    (void)snprintf(work, sizeof work, "%.0f fields: %s", FIELDS * times, what);
    struct bench_row row = {.work = work, .ratio = many / (few * times), .goal = "within 10 % of linear"};
    (void)snprintf(row.figure, sizeof row.figure, "%.*f %s", many < 100 ? 1 : 0, many, unit);
    (void)snprintf(row.against, sizeof row.against, "%.0f times that of %d fields: %.*f %s", times, FIELDS,
                   few * times < 100 ? 1 : 0, few * times, unit);
    row.met = row.ratio <= 1 + GROWTH_MOST;
    return bench_row_print(&row);
}

static int bench_growth(void) {
    const char *asked = getenv("FIELDS");
    int fields = asked != NULL ? atoi(asked) : GROWTH_FIELDS;
    if (fields < 2 * FIELDS)
        give_up("FIELDS: expected 20000 or more");
    double times = (double)fields / FIELDS;
    struct size few = measure(FIELDS), many = measure(fields);
    int missed = print_growth("a morning", few.morning_s, many.morning_s, times, "s");
    missed += print_growth("memory of a morning", few.memory_mb, many.memory_mb, times, "MB");
    return missed + print_growth("file after four mornings", few.file_mb, many.file_mb, times, "MB");
}

int main(void) {
    int missed =
        bench_day("a morning of 10,000 fields, a day each, stored, without an outlook", DAYS_EARLY, false);
    missed += bench_day("the same in mid-season, each field with its outlook of 500 ways", DAYS_MIDDLE, true);
    missed += bench_anew();
    missed += bench_growth();
    return missed == 0 ? 0 : 1;
}
