#include "daemon/store/weather_store.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"

/* The columns of a weather row carry the names of the elements, in their order. */
static void elements_list(struct text *sql, const char *prefix) {
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++)
        text_printf(sql, "%s%s%s", i > 0 ? ", " : "", prefix, weather_element_name((enum weather_element)i));
}

static void day_read(sqlite3_stmt *statement, int first, enum weather_origin origin,
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

/* Whether the newest download of this source was of the very same bytes, for the same morning. */
static enum status taken_before(const struct taker *taker, bool *before) {
    sqlite3_stmt *statement = db_prepare(taker->db,
                                         "SELECT sha256, day FROM fetch WHERE source_id = ? "
                                         "ORDER BY fetch_id DESC LIMIT 1",
                                         taker->problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, taker->fetch->source_id);
    *before = sqlite3_step(statement) == SQLITE_ROW &&
              strcmp((const char *)sqlite3_column_text(statement, 0), taker->fetch->sha256) == 0;
    sqlite3_finalize(statement);
    return STATUS_OK;
}

static enum status fetch_insert(struct taker *taker) {
    sqlite3_stmt *statement = db_prepare(
        taker->db,
        "INSERT INTO fetch (source_id, at, day, address, layout, size, sha256) VALUES (?, ?, ?, ?, ?, ?, ?)",
        taker->problems);
    if (statement == NULL)
        return STATUS_STORE;
    const struct weather_fetch *fetch = taker->fetch;
    sqlite3_bind_int64(statement, 1, fetch->source_id);
    sqlite3_bind_int64(statement, 2, fetch->at);
    sqlite3_bind_int(statement, 3, fetch->day);
    sqlite3_bind_text(statement, 4, fetch->address, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 5, fetch->layout, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 6, (sqlite3_int64)fetch->size);
    sqlite3_bind_text(statement, 7, fetch->sha256, -1, SQLITE_STATIC);
    enum status status = db_run(taker->db, statement, "noting a download", taker->problems);
    sqlite3_finalize(statement);
    taker->fetch_id = sqlite3_last_insert_rowid(taker->db->handle);
    return status;
}

static enum status statements_prepare(struct taker *taker) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT ");
    elements_list(&sql, "");
    text_puts(
        &sql,
        " FROM weather WHERE station_id = ? AND day = ? AND source_id = ? ORDER BY fetch_id DESC LIMIT 1");
    taker->select = db_prepare_text(taker->db, &sql, taker->problems);
    text_puts(&sql, "INSERT INTO weather (station_id, day, source_id, fetch_id, ");
    elements_list(&sql, "");
    text_puts(&sql, ") VALUES (?, ?, ?, ?, ");
    columns_marks(&sql, WEATHER_ELEMENT_COUNT);
    text_puts(&sql, ")");
    taker->insert = db_prepare_text(taker->db, &sql, taker->problems);
    return taker->select != NULL && taker->insert != NULL ? STATUS_OK : STATUS_STORE;
}

static bool known(const struct taker *taker, const struct weather_day *day) {
    if (taker->fetch->kind == SOURCE_FORECAST)
        return false;
    sqlite3_bind_int64(taker->select, 1, taker->fetch->station_id);
    sqlite3_bind_int(taker->select, 2, day->date);
    sqlite3_bind_int64(taker->select, 3, taker->fetch->source_id);
    bool same = false;
    if (sqlite3_step(taker->select) == SQLITE_ROW) {
        struct weather_day stored = weather_day_empty(day->date);
        day_read(taker->select, 0, ORIGIN_MEASURED, &stored);
        same = same_values(&stored, day);
    }
    sqlite3_reset(taker->select);
    return same;
}

static enum status day_take(struct taker *taker, const struct weather_day *day) {
    if (known(taker, day))
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
    if (taker->changed++ == 0)
        taker->first_changed = day->date;
    return db_run(taker->db, taker->insert, "storing a day of weather", taker->problems);
}

static enum status mark_dirty(const struct taker *taker) {
    if (taker->changed == 0)
        return STATUS_OK;
    sqlite3_stmt *statement =
        db_prepare(taker->db,
                   "UPDATE planting SET dirty_day = min(coalesce(dirty_day, ?1), ?1) WHERE field_id IN "
                   "(SELECT field_id FROM field WHERE station_id = ?2)",
                   taker->problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int(statement, 1, taker->first_changed);
    sqlite3_bind_int64(statement, 2, taker->fetch->station_id);
    enum status status = db_run(taker->db, statement, "marking ledgers", taker->problems);
    sqlite3_finalize(statement);
    return status;
}

static enum status source_note(struct db *db, long long source_id, int64_t at, const char *trouble,
                               struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db,
                                         "UPDATE source SET tried_at = ?1, trouble = ?2, "
                                         "taken_at = CASE WHEN ?2 = '' THEN ?1 ELSE taken_at END "
                                         "WHERE source_id = ?3",
                                         problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, at);
    sqlite3_bind_text(statement, 2, trouble, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 3, source_id);
    enum status status = db_run(db, statement, "noting the state of a source", problems);
    sqlite3_finalize(statement);
    return status;
}

static enum status take(struct taker *taker, const struct weather_days *days) {
    bool before = false;
    enum status status = taken_before(taker, &before);
    if (status == STATUS_OK && !before) {
        status = fetch_insert(taker);
        if (status == STATUS_OK)
            status = statements_prepare(taker);
        for (size_t i = 0; status == STATUS_OK && i < days->count; i++)
            status = day_take(taker, &days->day[i]);
        sqlite3_finalize(taker->select);
        sqlite3_finalize(taker->insert);
        if (status == STATUS_OK)
            status = mark_dirty(taker);
    }
    if (status == STATUS_OK)
        status = source_note(taker->db, taker->fetch->source_id, taker->fetch->at, "", taker->problems);
    return status;
}

enum status weather_store_take(struct db *db, const struct weather_fetch *fetch,
                               const struct weather_days *days, size_t *changed, struct problems *problems) {
    struct taker taker = {.db = db, .fetch = fetch, .problems = problems};
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    status = db_end(db, take(&taker, days), problems);
    if (status == STATUS_OK && changed != NULL)
        *changed = taker.changed;
    return status;
}

enum status weather_store_trouble(struct db *db, long long source_id, int64_t at, const char *trouble,
                                  struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, source_note(db, source_id, at, trouble, problems), problems);
}

/* Rows come by day, then by the source's place, newest download first: the first report of a source for a day
 * holds, the sources after it fill what it lacks. */
static enum status load_row(sqlite3_stmt *statement, struct weather_days *days, enum weather_origin origin,
                            int32_t *last_day, long long *last_source) {
    int32_t date = sqlite3_column_int(statement, 0);
    long long source = sqlite3_column_int64(statement, 1);
    if (date == *last_day && source == *last_source)
        return STATUS_OK;
    *last_day = date;
    *last_source = source;
    struct weather_day reported = weather_day_empty(date);
    day_read(statement, 4, origin, &reported);
    enum status status = STATUS_OK;
    struct weather_day *day = weather_days_at(days, date, &status);
    if (day == NULL)
        return status;
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        if (isnan(day->value[i]) && !isnan(reported.value[i])) {
            day->value[i] = reported.value[i];
            day->origin[i] = reported.origin[i];
        }
    }
    return STATUS_OK;
}

enum status weather_store_load(struct db *db, long long station_id, int32_t first, int32_t today,
                               int32_t last, struct weather_days *observed, struct weather_days *forecast,
                               int32_t *issued, struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT weather.day, weather.source_id, source.kind, fetch.day, ");
    elements_list(&sql, "weather.");
    text_puts(&sql, " FROM weather JOIN source ON source.source_id = weather.source_id "
                    "JOIN fetch ON fetch.fetch_id = weather.fetch_id "
                    "WHERE weather.station_id = ?1 AND weather.day BETWEEN ?2 AND ?3 AND fetch.day <= ?4 "
                    "ORDER BY weather.day, source.position, weather.fetch_id DESC");
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, station_id);
    sqlite3_bind_int(statement, 2, first);
    sqlite3_bind_int(statement, 3, last);
    sqlite3_bind_int(statement, 4, today);
    enum status status = STATUS_OK;
    int32_t last_day = CALENDAR_NONE;
    long long last_source = 0;
    *issued = CALENDAR_NONE;
    int code = SQLITE_DONE;
    while (status == STATUS_OK && (code = sqlite3_step(statement)) == SQLITE_ROW) {
        bool is_forecast = sqlite3_column_int(statement, 2) == SOURCE_FORECAST;
        if (!is_forecast && sqlite3_column_int(statement, 0) >= today)
            continue;
        if (is_forecast && sqlite3_column_int(statement, 3) > *issued)
            *issued = sqlite3_column_int(statement, 3);
        status = load_row(statement, is_forecast ? forecast : observed,
                          is_forecast ? ORIGIN_FORECAST : ORIGIN_MEASURED, &last_day, &last_source);
    }
    if (status == STATUS_OK && code != SQLITE_DONE)
        status = db_trouble(db, "reading weather", problems);
    sqlite3_finalize(statement);
    return status;
}

static const struct column state_columns[] = {
    COLUMN(COLUMN_TEXT, source_state, name, ""),    COLUMN(COLUMN_TEXT, source_state, station, ""),
    COLUMN(COLUMN_INT, source_state, kind, ""),     COLUMN(COLUMN_DAY, source_state, last_day, ""),
    COLUMN(COLUMN_TEXT, source_state, trouble, ""),
};
#define STATE_COLUMNS ((int)(sizeof state_columns / sizeof state_columns[0]))

enum status weather_store_sources(struct db *db, struct source_state **out, size_t *count,
                                  struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db,
        "SELECT source.name, station.name, kind, (SELECT max(day) FROM weather WHERE "
        "weather.station_id = source.station_id AND weather.source_id = source.source_id), trouble, "
        "coalesce(tried_at, 0), coalesce(taken_at, 0) FROM source JOIN station USING (station_id) "
        "ORDER BY station_id, position",
        problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    struct source_state *list = NULL;
    size_t found = 0;
    while (status == STATUS_OK && sqlite3_step(statement) == SQLITE_ROW) {
        struct source_state *grown = realloc(list, (found + 1) * sizeof *grown);
        if (grown == NULL) {
            status = STATUS_NO_MEMORY;
            break;
        }
        list = grown;
        memset(&list[found], 0, sizeof list[found]);
        columns_read(statement, 0, state_columns, STATE_COLUMNS, &list[found]);
        list[found].tried_at = sqlite3_column_int64(statement, STATE_COLUMNS);
        list[found].taken_at = sqlite3_column_int64(statement, STATE_COLUMNS + 1);
        found++;
    }
    sqlite3_finalize(statement);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = found;
    return STATUS_OK;
}
