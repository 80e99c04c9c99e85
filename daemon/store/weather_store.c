#include "daemon/store/weather_store.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/store/weather_inside.h"

void weather_elements_list(struct text *sql, const char *prefix) {
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++)
        text_printf(sql, "%s%s%s", i > 0 ? ", " : "", prefix, weather_element_name((enum weather_element)i));
}

void weather_day_read(sqlite3_stmt *statement, int first, enum weather_origin origin,
                      struct weather_day *day) {
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        if (sqlite3_column_type(statement, first + i) == SQLITE_NULL)
            continue;
        day->value[i] = sqlite3_column_double(statement, first + i);
        day->origin[i] = (uint8_t)origin;
    }
}

static bool same_values(const struct weather_day *a, const struct weather_day *b) {
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        if (isnan(a->value[i]) != isnan(b->value[i]) || (!isnan(a->value[i]) && a->value[i] != b->value[i]))
            return false;
    }
    return true;
}

struct taker {
    struct db *db;
    const struct weather_fetch *fetch;
    struct problems *problems;
    sqlite3_stmt *select, *insert;
    long long fetch_id;
    size_t changed;
    int32_t first_changed;
};

static void bind_day(sqlite3_stmt *statement, int index, int32_t day) {
    if (day == CALENDAR_NONE)
        sqlite3_bind_null(statement, index);
    else
        sqlite3_bind_int(statement, index, day);
}

static void note_changed(struct taker *taker, int32_t day) {
    if (taker->changed++ == 0 || day < taker->first_changed)
        taker->first_changed = day;
}

/* ---- the newest download of the source */

struct newest {
    long long fetch_id; /* 0: there is none of this station's */
    int32_t day, confirmed;
    bool same_file; /* its bytes, its layout and the days asked for are those of this download */
};

static enum status find_newest(const struct taker *taker, struct newest *out) {
    const struct weather_fetch *fetch = taker->fetch;
    sqlite3_stmt *statement = db_prepare(
        taker->db,
        "SELECT fetch_id, day, confirmed_day, sha256 = ?3 AND layout = ?4 AND wind_height_m IS ?5 AND "
        "start_day IS ?6 AND end_day IS ?7 FROM fetch WHERE source_id = ?1 AND EXISTS "
        "(SELECT 1 FROM weather WHERE station_id = ?2 AND weather.source_id = ?1) "
        "ORDER BY fetch_id DESC LIMIT 1",
        taker->problems);
    memset(out, 0, sizeof *out);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, fetch->source_id);
    sqlite3_bind_int64(statement, 2, fetch->station_id);
    sqlite3_bind_text(statement, 3, fetch->sha256, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 4, fetch->layout, -1, SQLITE_STATIC);
    if (!isnan(fetch->wind_height_m))
        sqlite3_bind_double(statement, 5, fetch->wind_height_m);
    bind_day(statement, 6, fetch->start);
    bind_day(statement, 7, fetch->end);
    if (sqlite3_step(statement) == SQLITE_ROW) {
        out->fetch_id = sqlite3_column_int64(statement, 0);
        out->day = sqlite3_column_int(statement, 1);
        out->confirmed = sqlite3_column_int(statement, 2);
        out->same_file = sqlite3_column_int(statement, 3) != 0;
    }
    return db_finish(taker->db, statement, STATUS_OK, taker->problems);
}

static enum status run_bound(struct taker *taker, const char *sql, long long a, long long b, long long c,
                             const char *doing) {
    sqlite3_stmt *statement = db_prepare(taker->db, sql, taker->problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, a);
    sqlite3_bind_int64(statement, 2, b);
    sqlite3_bind_int64(statement, 3, c);
    enum status status = db_run(taker->db, statement, doing, taker->problems);
    sqlite3_finalize(statement);
    return status;
}

/* The source still says the same. Days that had not ended when it was said before count from now on. */
static enum status confirm(struct taker *taker, const struct newest *newest) {
    if (taker->fetch->day <= newest->confirmed)
        return STATUS_OK;
    taker->first_changed = newest->confirmed;
    return run_bound(taker, "UPDATE fetch SET confirmed_day = ?2 WHERE fetch_id = ?1", newest->fetch_id,
                     taker->fetch->day, 0, "confirming a download");
}

/* The ledgers that a change from the day ?1 on can touch. */
static enum status mark_dirty(struct taker *taker, int32_t from) {
    return run_bound(
        taker,
        "UPDATE planting SET dirty_day = min(coalesce(dirty_day, ?1), ?1) WHERE field_id IN "
        "(SELECT field_id FROM field WHERE station_id = ?2 OR station_id IN "
        "(SELECT station_id FROM station_neighbour WHERE neighbour_id = ?2)) AND " WEATHER_TOUCHES("?1"),
        from, taker->fetch->station_id, 0, "marking ledgers");
}

/* ---- a new one */

static enum status fetch_insert(struct taker *taker) {
    sqlite3_stmt *statement = db_prepare(
        taker->db,
        "INSERT INTO fetch (source_id, at, day, start_day, end_day, address, layout, size, sha256, "
        "wind_height_m, confirmed_day) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?3)",
        taker->problems);
    if (statement == NULL)
        return STATUS_STORE;
    const struct weather_fetch *fetch = taker->fetch;
    sqlite3_bind_int64(statement, 1, fetch->source_id);
    sqlite3_bind_int64(statement, 2, fetch->at);
    sqlite3_bind_int(statement, 3, fetch->day);
    bind_day(statement, 4, fetch->start);
    bind_day(statement, 5, fetch->end);
    sqlite3_bind_text(statement, 6, fetch->address, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 7, fetch->layout, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 8, (sqlite3_int64)fetch->size);
    sqlite3_bind_text(statement, 9, fetch->sha256, -1, SQLITE_STATIC);
    if (!isnan(fetch->wind_height_m))
        sqlite3_bind_double(statement, 10, fetch->wind_height_m);
    enum status status = db_run(taker->db, statement, "noting a download", taker->problems);
    sqlite3_finalize(statement);
    taker->fetch_id = sqlite3_last_insert_rowid(taker->db->handle);
    return status;
}

static enum status statements_prepare(struct taker *taker) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT confirmed_day, wind_height_m, ");
    weather_elements_list(&sql, "");
    text_puts(&sql,
              ", hours FROM weather JOIN fetch USING (fetch_id) WHERE station_id = ? AND weather.day = ? AND "
              "weather.source_id = ? ORDER BY fetch_id DESC LIMIT 1");
    taker->select = db_prepare_text(taker->db, &sql, taker->problems);
    text_puts(&sql, "INSERT INTO weather (station_id, day, source_id, fetch_id, ");
    weather_elements_list(&sql, "");
    text_puts(&sql, ", hours) VALUES (?, ?, ?, ?, ");
    columns_marks(&sql, WEATHER_ELEMENT_COUNT + 1);
    text_puts(&sql, ")");
    taker->insert = db_prepare_text(taker->db, &sql, taker->problems);
    return taker->select != NULL && taker->insert != NULL ? STATUS_OK : STATUS_STORE;
}

static bool same_number(double a, double b) {
    return a <= b && a >= b;
}

/* Both may be NULL: no hours. */
static bool same_hours(const struct weather_hours *a, const struct weather_hours *b) {
    if (a == NULL || b == NULL)
        return a == b;
    bool same = same_number(a->start_utc_h, b->start_utc_h);
    for (int h = 0; same && h < REFERENCE_HOURS; h++) {
        const struct weather_hour *x = &a->hour[h], *y = &b->hour[h];
        same = same_number(x->t_c, y->t_c) && same_number(x->ea_kpa, y->ea_kpa) &&
               same_number(x->wind_m_s, y->wind_m_s) && same_number(x->rs_mj_m2, y->rs_mj_m2);
    }
    return same;
}

/* Whether the source said the very same before, on a morning after the day. */
static bool known(const struct taker *taker, const struct weather_day *day,
                  const struct weather_hours *hours) {
    if (taker->fetch->kind == SOURCE_FORECAST)
        return false;
    sqlite3_bind_int64(taker->select, 1, taker->fetch->station_id);
    sqlite3_bind_int(taker->select, 2, day->date);
    sqlite3_bind_int64(taker->select, 3, taker->fetch->source_id);
    bool same = false;
    if (sqlite3_step(taker->select) == SQLITE_ROW) {
        struct weather_day stored = weather_day_empty(day->date);
        bool ended = sqlite3_column_int(taker->select, 0) > day->date;
        double height = sqlite3_column_type(taker->select, 1) == SQLITE_NULL
                            ? (double)NAN
                            : sqlite3_column_double(taker->select, 1);
        double now = taker->fetch->wind_height_m;
        weather_day_read(taker->select, 2, ORIGIN_MEASURED, &stored);
        struct weather_hours kept;
        bool has = weather_hours_read(taker->select, 2 + WEATHER_ELEMENT_COUNT, day->date, &kept);
        same = same_values(&stored, day) && same_hours(has ? &kept : NULL, hours) &&
               (isnan(height) ? isnan(now) : height == now) && (ended || taker->fetch->day <= day->date);
    }
    sqlite3_reset(taker->select);
    return same;
}

static enum status day_take(struct taker *taker, const struct weather_day *day,
                            const struct weather_hours *hours) {
    if (known(taker, day, hours))
        return STATUS_OK;
    sqlite3_bind_int64(taker->insert, 1, taker->fetch->station_id);
    sqlite3_bind_int(taker->insert, 2, day->date);
    sqlite3_bind_int64(taker->insert, 3, taker->fetch->source_id);
    sqlite3_bind_int64(taker->insert, 4, taker->fetch_id);
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        if (isnan(day->value[i]))
            sqlite3_bind_null(taker->insert, 5 + i);
        else
            sqlite3_bind_double(taker->insert, 5 + i, day->value[i]);
    }
    weather_hours_bind(taker->insert, 5 + WEATHER_ELEMENT_COUNT, hours);
    note_changed(taker, day->date);
    return db_run(taker->db, taker->insert, "storing a day of weather", taker->problems);
}

static enum status take_days(struct taker *taker, const struct weather_days *days) {
    enum status status = fetch_insert(taker);
    if (status == STATUS_OK)
        status = statements_prepare(taker);
    for (size_t i = 0; status == STATUS_OK && i < days->count; i++)
        status = day_take(taker, &days->day[i], weather_days_hours(days, days->day[i].date));
    sqlite3_finalize(taker->select);
    sqlite3_finalize(taker->insert);
    if (status == STATUS_OK && taker->fetch->site != NULL && taker->fetch->kind == SOURCE_OBSERVED)
        status = finding_store_replace(taker->db, taker->fetch->source_id, days, taker->fetch->site,
                                       taker->problems);
    return status;
}

/* ---- the state of the source */

static enum status note_taken(const struct taker *taker) {
    const struct weather_fetch *fetch = taker->fetch;
    sqlite3_stmt *statement =
        db_prepare(taker->db,
                   "UPDATE source SET tried_at = ?1, taken_at = ?1, retry_at = NULL, "
                   "trouble = CASE WHEN ?3 THEN trouble ELSE '' END, "
                   "copy_address = ?4, copy_layout = ?5, copy_etag = ?6, copy_modified = ?7 "
                   "WHERE source_id = ?2",
                   taker->problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, fetch->at);
    sqlite3_bind_int64(statement, 2, fetch->source_id);
    sqlite3_bind_int(statement, 3, fetch->in_trouble);
    sqlite3_bind_text(statement, 4, fetch->address, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 5, fetch->layout, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 6, fetch->etag, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 7, fetch->modified, -1, SQLITE_STATIC);
    enum status status = db_run(taker->db, statement, "noting the state of a source", taker->problems);
    sqlite3_finalize(statement);
    return status;
}

static enum status finish(struct taker *taker) {
    enum status status = STATUS_OK;
    if (taker->first_changed != CALENDAR_NONE)
        status = mark_dirty(taker, taker->first_changed);
    return status == STATUS_OK ? note_taken(taker) : status;
}

static enum status take(struct taker *taker, const struct weather_days *days) {
    struct newest newest;
    enum status status = find_newest(taker, &newest);
    if (status != STATUS_OK)
        return status;
    bool another_issue = taker->fetch->kind == SOURCE_FORECAST && newest.day != taker->fetch->day;
    if (newest.same_file && !another_issue)
        status = confirm(taker, &newest);
    else
        status = take_days(taker, days);
    return status == STATUS_OK ? finish(taker) : status;
}

enum status weather_store_take(struct db *db, const struct weather_fetch *fetch,
                               const struct weather_days *days, size_t *changed, struct problems *problems) {
    struct taker taker = {.db = db, .fetch = fetch, .problems = problems, .first_changed = CALENDAR_NONE};
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    status = db_end(db, take(&taker, days), problems);
    if (status == STATUS_OK && changed != NULL)
        *changed = taker.changed;
    return status;
}

/* The newest issue once more, as that of this morning. */
static enum status issue_again(struct taker *taker, const struct newest *newest) {
    struct text sql;
    enum status status = run_bound(
        taker,
        "INSERT INTO fetch (source_id, at, day, start_day, end_day, address, layout, size, sha256, "
        "wind_height_m, confirmed_day) SELECT source_id, ?2, ?3, start_day, end_day, address, layout, size, "
        "sha256, wind_height_m, ?3 FROM fetch WHERE fetch_id = ?1",
        newest->fetch_id, taker->fetch->at, taker->fetch->day, "noting an issue");
    if (status != STATUS_OK)
        return status;
    taker->fetch_id = sqlite3_last_insert_rowid(taker->db->handle);
    text_init(&sql, 0);
    text_puts(&sql, "INSERT INTO weather (station_id, day, source_id, fetch_id, ");
    weather_elements_list(&sql, "");
    text_puts(&sql, ") SELECT station_id, day, source_id, ?2, ");
    weather_elements_list(&sql, "");
    text_puts(&sql, " FROM weather WHERE station_id = ?3 AND fetch_id = ?1");
    char *insert = text_take(&sql);
    if (insert == NULL)
        return STATUS_NO_MEMORY;
    status = run_bound(taker, insert, newest->fetch_id, taker->fetch_id, taker->fetch->station_id,
                       "storing an issue");
    free(insert);
    if (status == STATUS_OK)
        taker->first_changed = taker->fetch->day;
    return status;
}

static enum status unchanged(struct taker *taker) {
    struct newest newest;
    enum status status = find_newest(taker, &newest);
    if (status == STATUS_OK && newest.fetch_id != 0) {
        bool another_issue = taker->fetch->kind == SOURCE_FORECAST && newest.day != taker->fetch->day;
        status = another_issue ? issue_again(taker, &newest) : confirm(taker, &newest);
    }
    return status == STATUS_OK ? finish(taker) : status;
}

enum status weather_store_unchanged(struct db *db, const struct weather_fetch *fetch,
                                    struct problems *problems) {
    struct taker taker = {.db = db, .fetch = fetch, .problems = problems, .first_changed = CALENDAR_NONE};
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, unchanged(&taker), problems);
}

enum status weather_store_trouble(struct db *db, long long source_id, int64_t at, int64_t retry_at,
                                  const char *trouble, struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *statement =
        db_prepare(db,
                   "UPDATE source SET tried_at = ?1, trouble = ?2, retry_at = nullif(?4, 0) "
                   "WHERE source_id = ?3",
                   problems);
    if (statement == NULL)
        return db_end(db, STATUS_STORE, problems);
    sqlite3_bind_int64(statement, 1, at);
    sqlite3_bind_text(statement, 2, trouble, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 3, source_id);
    sqlite3_bind_int64(statement, 4, retry_at);
    status = db_run(db, statement, "noting the state of a source", problems);
    sqlite3_finalize(statement);
    return db_end(db, status, problems);
}
