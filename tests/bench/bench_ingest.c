/* How long thirty years of one station take: read by the plain layout, checked after FAO-56 Annex 5, stored.
 * Beside it a plain insert of as many rows into an SQLite file of its own. Fails when the whole takes more
 * than the second that it may. */
#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/base/calendar.h"
#include "daemon/source/layout.h"
#include "daemon/store/weather_store.h"
#include "support/bench.h"
#include "support/store.h"

#define YEARS   30
#define MOST_S  1.0
#define COLUMNS 7

static const char farm_json[] =
    "{\"farm\": {\"name\": \"F\"}, \"stations\": [{\"name\": \"yard\", \"latitude\": 38, \"longitude\": -98, "
    "\"elevation\": \"500 m\"}], \"sources\": [{\"name\": \"gauge\", \"station\": \"yard\", \"layout\": "
    "\"plain\", "
    "\"address\": \"file:a\", \"kind\": \"observed\"}]}";

/* The value of a column on a day: a season's swing and a little unrest that repeats after some days. */
static double value_of(int32_t day, int column) {
    static const double mean[COLUMNS] = {18, 6, 85, 45, 2.5, 17, 0},
                        swing[COLUMNS] = {12, 10, 5, 10, 0.5, 9, 0};
    double unrest = (double)((day * 7919 + column * 104729) % 101) / 101.0;
    if (column == COLUMNS - 1)
        return unrest > 0.75 ? 40.0 * (unrest - 0.75) : 0.0;
    return mean[column] + swing[column] * sin(day * 6.283185307 / 365.25) + unrest;
}

static void make_file(int32_t first, int32_t last, struct text *out) {
    char iso[CALENDAR_ISO_SIZE];
    text_puts(out, "date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s,rs_mj_m2,rain_mm\n");
    for (int32_t day = first; day <= last; day++) {
        text_puts(out, calendar_format_iso(day, iso));
        for (int column = 0; column < COLUMNS; column++)
            text_printf(out, ",%.2f", value_of(day, column));
        text_puts(out, "\n");
    }
}

static void give_up(const struct problems *problems) {
    struct text words;
    text_init(&words, 0);
    problems_print(problems, &words);
    (void)fputs(text_string(&words), stderr);
    exit(1);
}

/* Seconds to read, then to check and store. */
static void take_file(struct test_store *store, const struct text *file, int32_t today, double seconds[2]) {
    struct layout *layout = NULL;
    struct weather_days days;
    size_t changed = 0;
    double began = bench_cpu_s();
    weather_days_init(&days);
    if (layout_builtin("plain", &layout, &store->problems) != STATUS_OK ||
        layout_read(layout, "bench", (const unsigned char *)text_string(file), file->size, &days,
                    &store->problems) != STATUS_OK)
        give_up(&store->problems);
    double read = bench_cpu_s();
    const struct weather_fetch fetch = {.source_id = store->ids.source[0],
                                        .station_id = store->ids.station[0],
                                        .day = today,
                                        .start = CALENDAR_NONE,
                                        .end = CALENDAR_NONE,
                                        .address = "file:a",
                                        .layout = "plain",
                                        .wind_height_m = (double)NAN,
                                        .size = file->size,
                                        .sha256 = "bench",
                                        .site = &store->farm.station[0].site};
    if (weather_store_take(store->db, &fetch, &days, &changed, &store->problems) != STATUS_OK ||
        changed != days.count)
        give_up(&store->problems);
    seconds[0] = read - began;
    seconds[1] = bench_cpu_s() - read;
    weather_days_free(&days);
    layout_free(layout);
}

static bool plain_rows(sqlite3 *db, int32_t first, int32_t last) {
    sqlite3_stmt *insert = NULL;
    bool good = sqlite3_prepare_v2(db, "INSERT INTO day VALUES (?, ?, ?, ?, ?, ?, ?, ?)", -1, &insert,
                                   NULL) == SQLITE_OK;
    for (int32_t day = first; good && day <= last; day++) {
        sqlite3_bind_int(insert, 1, day);
        for (int column = 0; column < COLUMNS; column++)
            sqlite3_bind_double(insert, 2 + column, value_of(day, column));
        good = sqlite3_step(insert) == SQLITE_DONE && sqlite3_reset(insert) == SQLITE_OK;
    }
    sqlite3_finalize(insert);
    return good;
}

/* Seconds for as many rows into a table of as many columns, in one transaction, with the same safety. */
static double plain_insert(const char *path, int32_t first, int32_t last) {
    sqlite3 *db = NULL;
    bool good =
        sqlite3_open(path, &db) == SQLITE_OK &&
        sqlite3_exec(db,
                     "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; CREATE TABLE day (day INTEGER "
                     "PRIMARY KEY, a REAL, b REAL, c REAL, d REAL, e REAL, f REAL, g REAL)",
                     NULL, NULL, NULL) == SQLITE_OK;
    double began = bench_cpu_s();
    good = good && sqlite3_exec(db, "BEGIN", NULL, NULL, NULL) == SQLITE_OK && plain_rows(db, first, last) &&
           sqlite3_exec(db, "COMMIT", NULL, NULL, NULL) == SQLITE_OK;
    double seconds = bench_cpu_s() - began;
    (void)sqlite3_close(db);
    return good ? seconds : -1.0;
}

#define ROUNDS 5

int main(void) {
    struct text file;
    struct test_store store;
    char plain[sizeof store.path + 16];
    int32_t first, last;
    double whole[ROUNDS], read[ROUNDS], beside[ROUNDS];
    text_init(&file, 0);
    if (calendar_from_civil(1995, 1, 1, &first) != STATUS_OK ||
        calendar_from_civil(1995 + YEARS - 1, 12, 31, &last) != STATUS_OK)
        return 1;
    make_file(first, last, &file);
    for (int round = 0; round < ROUNDS; round++) {
        double seconds[2];
        if (test_store_open(&store, farm_json) != 0)
            return 1;
        take_file(&store, &file, last + 10, seconds);
        (void)snprintf(plain, sizeof plain, "%s.plain", store.path);
        beside[round] = plain_insert(plain, first, last);
        (void)unlink(plain);
        test_store_close(&store);
        if (beside[round] < 0)
            return 1;
        whole[round] = seconds[0] + seconds[1];
        read[round] = seconds[0];
    }
    double whole_s = bench_median(whole, ROUNDS), beside_s = bench_median(beside, ROUNDS);
    struct bench_row row = {.work = "30 years of a station's days: read, checked, stored",
                            .ratio = whole_s / beside_s,
                            .goal = "under 1 s",
                            .met = whole_s <= MOST_S};
    (void)snprintf(row.figure, sizeof row.figure, "%.3f s, %.3f s of it reading", whole_s,
                   bench_median(read, ROUNDS));
    (void)snprintf(row.against, sizeof row.against, "SQLite insert of as many rows of 8 columns: %.3f s",
                   beside_s);
    text_free(&file);
    return bench_row_print(&row);
}
