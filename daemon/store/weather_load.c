/* The reading half of weather_store.h. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/weather/station_transfer.h"
#include "daemon/store/weather_inside.h"

/* ---- what is known of a station */

struct loader {
    sqlite3_stmt *statement;
    struct weather_days *observed, *forecast;
    double wind_height_m; /* of the station */
    int32_t last_day;
    long long last_source;
};

#define LOAD_ELEMENTS 4

/* The hours of the first source that has the day, at the station's own height. */
static enum status load_hours(const struct loader *loader, struct weather_days *days, int32_t date) {
    sqlite3_stmt *row = loader->statement;
    struct weather_hours hours;
    if (weather_days_find(days, date) != NULL ||
        !weather_hours_read(row, LOAD_ELEMENTS + WEATHER_ELEMENT_COUNT, date, &hours))
        return STATUS_OK;
    if (sqlite3_column_type(row, 3) != SQLITE_NULL)
        weather_hours_move_wind(&hours, sqlite3_column_double(row, 3), loader->wind_height_m);
    return weather_days_put_hours(days, &hours);
}

/* Rows come by day, then by the source's place, newest download first: the newest report of a source for a
 * day holds, the sources after it fill what it lacks. */
static enum status load_row(struct loader *loader) {
    sqlite3_stmt *row = loader->statement;
    int32_t date = sqlite3_column_int(row, 0);
    long long source = sqlite3_column_int64(row, 1);
    bool is_forecast = sqlite3_column_int(row, 2) == SOURCE_FORECAST;
    if (date == loader->last_day && source == loader->last_source)
        return STATUS_OK;
    loader->last_day = date;
    loader->last_source = source;
    struct weather_day reported = weather_day_empty(date);
    weather_day_read(row, LOAD_ELEMENTS, is_forecast ? ORIGIN_FORECAST : ORIGIN_MEASURED, &reported);
    if (sqlite3_column_type(row, 3) != SQLITE_NULL)
        reported.value[WEATHER_WIND_M_S] = station_wind_m_s(
            reported.value[WEATHER_WIND_M_S], sqlite3_column_double(row, 3), loader->wind_height_m);
    struct weather_days *days = is_forecast ? loader->forecast : loader->observed;
    enum status status = load_hours(loader, days, date);
    struct weather_day *day = status == STATUS_OK ? weather_days_at(days, date, &status) : NULL;
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

static enum status station_height(struct db *db, long long station_id, double *height,
                                  struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "SELECT wind_height_m FROM station WHERE station_id = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, station_id);
    bool found = sqlite3_step(statement) == SQLITE_ROW;
    *height = found ? sqlite3_column_double(statement, 0) : 0.0;
    enum status status = db_finish(db, statement, STATUS_OK, problems);
    return status != STATUS_OK || found ? status : STATUS_NOT_FOUND;
}

/* The same bytes on a later morning are no newer: services that stand still are told from those that go on.
 */
static enum status newest_issue(struct db *db, long long station_id, int32_t today, int32_t *issued,
                                struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db,
        "SELECT max((SELECT min(same.day) FROM fetch AS same WHERE same.source_id = newest.source_id AND "
        "same.sha256 = newest.sha256)) FROM source JOIN fetch AS newest ON newest.fetch_id = "
        "(SELECT max(fetch_id) FROM fetch WHERE fetch.source_id = source.source_id AND fetch.day <= ?2) "
        "WHERE source.station_id = ?1 AND source.kind = 1",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, station_id);
    sqlite3_bind_int(statement, 2, today);
    *issued = sqlite3_step(statement) == SQLITE_ROW && sqlite3_column_type(statement, 0) != SQLITE_NULL
                  ? sqlite3_column_int(statement, 0)
                  : CALENDAR_NONE;
    return db_finish(db, statement, STATUS_OK, problems);
}

static sqlite3_stmt *load_statement(struct db *db, struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT weather.day, weather.source_id, source.kind, fetch.wind_height_m, ");
    weather_elements_list(&sql, "weather.");
    text_puts(
        &sql,
        ", weather.hours FROM weather JOIN source ON source.source_id = weather.source_id "
        "JOIN fetch ON fetch.fetch_id = weather.fetch_id WHERE weather.station_id = ?1 AND "
        "weather.day BETWEEN CASE source.kind WHEN 0 THEN ?2 ELSE ?3 END AND ?4 AND fetch.day <= ?5 AND "
        "(source.kind = 1 OR (weather.day < ?5 AND fetch.confirmed_day > weather.day)) "
        "ORDER BY weather.day, source.position, weather.fetch_id DESC");
    return db_prepare_text(db, &sql, problems);
}

enum status weather_store_load(struct db *db, long long station_id, int32_t observed_first, int32_t first,
                               int32_t today, int32_t last, struct weather_days *observed,
                               struct weather_days *forecast, int32_t *issued, struct problems *problems) {
    struct loader loader = {.observed = observed, .forecast = forecast, .last_day = CALENDAR_NONE};
    enum status status = station_height(db, station_id, &loader.wind_height_m, problems);
    if (status == STATUS_OK)
        status = newest_issue(db, station_id, today, issued, problems);
    loader.statement = status == STATUS_OK ? load_statement(db, problems) : NULL;
    if (loader.statement == NULL)
        return status == STATUS_OK ? STATUS_STORE : status;
    sqlite3_bind_int64(loader.statement, 1, station_id);
    sqlite3_bind_int(loader.statement, 2, observed_first);
    sqlite3_bind_int(loader.statement, 3, first);
    sqlite3_bind_int(loader.statement, 4, last);
    sqlite3_bind_int(loader.statement, 5, today);
    int code = SQLITE_DONE;
    while (status == STATUS_OK && (code = sqlite3_step(loader.statement)) == SQLITE_ROW)
        status = load_row(&loader);
    if (status == STATUS_OK && code != SQLITE_DONE)
        status = db_trouble(db, "reading weather", problems);
    sqlite3_finalize(loader.statement);
    return status;
}

/* ---- asking for more */

static void copy_text(sqlite3_stmt *statement, int index, char *out, size_t size) {
    const char *text = (const char *)sqlite3_column_text(statement, index);
    size_t length = text != NULL ? strlen(text) : 0;
    if (length > 0 && length < size)
        memcpy(out, text, length + 1);
}

enum status weather_store_memory(struct db *db, long long source_id, long long station_id,
                                 const char *address, const char *layout, struct source_memory *out,
                                 struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db,
        "SELECT coalesce(retry_at, 0), copy_address = ?3 AND copy_layout = ?4 AND EXISTS (SELECT 1 FROM "
        "weather "
        "WHERE weather.station_id = ?2 AND weather.source_id = ?1), copy_etag, copy_modified FROM source "
        "WHERE source_id = ?1",
        problems);
    memset(out, 0, sizeof *out);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    sqlite3_bind_int64(statement, 2, station_id);
    sqlite3_bind_text(statement, 3, address, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 4, layout, -1, SQLITE_STATIC);
    if (sqlite3_step(statement) == SQLITE_ROW) {
        out->retry_at = sqlite3_column_int64(statement, 0);
        if (sqlite3_column_int(statement, 1) != 0) {
            copy_text(statement, 2, out->etag, sizeof out->etag);
            copy_text(statement, 3, out->modified, sizeof out->modified);
        }
    }
    return db_finish(db, statement, STATUS_OK, problems);
}

/* has[i]: the source has the day; what it reported late enough is no longer needed. */
static enum status settle_reported(struct db *db, long long source_id, long long station_id, int32_t first,
                                   int32_t last, bool *has, bool *need, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT weather.day, max(confirmed_day) FROM weather JOIN fetch USING (fetch_id) WHERE "
                   "station_id = ?2 AND "
                   "weather.day BETWEEN ?3 AND ?4 AND weather.source_id = ?1 GROUP BY weather.day",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    sqlite3_bind_int64(statement, 2, station_id);
    sqlite3_bind_int(statement, 3, first);
    sqlite3_bind_int(statement, 4, last);
    while (sqlite3_step(statement) == SQLITE_ROW) {
        int32_t day = sqlite3_column_int(statement, 0);
        has[day - first] = true;
        if (sqlite3_column_int(statement, 1) >= day + WEATHER_SETTLED_D)
            need[day - first] = false;
    }
    return db_finish(db, statement, STATUS_OK, problems);
}

/* Days that were asked for, and the answer was as it is. */
static enum status settle_asked(struct db *db, long long source_id, int32_t first, int32_t last,
                                const bool *has, bool *need, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT start_day, end_day, confirmed_day FROM fetch WHERE source_id = ?1 "
                   "AND end_day >= ?2 AND start_day <= ?3",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    sqlite3_bind_int(statement, 2, first);
    sqlite3_bind_int(statement, 3, last);
    while (sqlite3_step(statement) == SQLITE_ROW) {
        int32_t start = sqlite3_column_int(statement, 0), end = sqlite3_column_int(statement, 1);
        int32_t asked = sqlite3_column_int(statement, 2);
        for (int32_t day = start > first ? start : first; day <= end && day <= last; day++) {
            int32_t wait = has[day - first] ? WEATHER_SETTLED_D : WEATHER_GIVEN_UP_D;
            if (asked >= day + wait)
                need[day - first] = false;
        }
    }
    return db_finish(db, statement, STATUS_OK, problems);
}

enum status weather_store_needed(struct db *db, long long source_id, long long station_id, int32_t first,
                                 int32_t last, bool *need, struct problems *problems) {
    if (last < first)
        return STATUS_OK;
    size_t count = (size_t)(last - first) + 1;
    bool *has = calloc(count, sizeof *has);
    if (has == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < count; i++)
        need[i] = true;
    enum status status = settle_reported(db, source_id, station_id, first, last, has, need, problems);
    if (status == STATUS_OK)
        status = settle_asked(db, source_id, first, last, has, need, problems);
    free(has);
    return status;
}

/* ---- the state of the sources */

static const struct column state_columns[] = {
    COLUMN(COLUMN_TEXT, source_state, name, ""),     COLUMN(COLUMN_TEXT, source_state, station, ""),
    COLUMN(COLUMN_TEXT, source_state, layout, ""),   COLUMN(COLUMN_TEXT, source_state, address, ""),
    COLUMN(COLUMN_INT, source_state, kind, ""),      COLUMN(COLUMN_TEXT, source_state, trouble, ""),
    COLUMN(COLUMN_DAY, source_state, first_day, ""), COLUMN(COLUMN_DAY, source_state, last_day, ""),
    COLUMN(COLUMN_DAY, source_state, issued, ""),
};
#define STATE_COLUMNS ((int)(sizeof state_columns / sizeof state_columns[0]))

/* Of a forecast: the days of its newest issue; of all others: those that had ended when they were reported.
 */
static const char state_sql[] =
    "SELECT source.name, station.name, layout, address, kind, trouble, "
    "(SELECT min(weather.day) FROM weather JOIN fetch USING (fetch_id) WHERE weather.station_id = "
    "source.station_id AND weather.source_id = source.source_id AND (kind = 1 AND fetch_id = newest OR kind "
    "= 0 "
    "AND weather.day < ?1 AND fetch.day <= ?1 AND confirmed_day > weather.day)), "
    "(SELECT max(weather.day) FROM weather JOIN fetch USING (fetch_id) WHERE weather.station_id = "
    "source.station_id AND weather.source_id = source.source_id AND (kind = 1 AND fetch_id = newest OR kind "
    "= 0 "
    "AND weather.day < ?1 AND fetch.day <= ?1 AND confirmed_day > weather.day)), "
    "(SELECT min(same.day) FROM fetch AS same JOIN fetch AS last ON last.fetch_id = newest WHERE "
    "same.source_id = "
    "source.source_id AND same.sha256 = last.sha256), "
    "source_id, source.station_id, coalesce(tried_at, 0), coalesce(taken_at, 0), coalesce(retry_at, 0) FROM "
    "(SELECT *, (SELECT max(fetch_id) FROM fetch WHERE fetch.source_id = source.source_id AND fetch.day <= "
    "?1) AS "
    "newest FROM source) AS source JOIN station USING (station_id) ORDER BY station_id, position";

static void state_read(sqlite3_stmt *statement, struct source_state *state) {
    memset(state, 0, sizeof *state);
    columns_read(statement, 0, state_columns, STATE_COLUMNS, state);
    state->source_id = sqlite3_column_int64(statement, STATE_COLUMNS);
    state->station_id = sqlite3_column_int64(statement, STATE_COLUMNS + 1);
    state->tried_at = sqlite3_column_int64(statement, STATE_COLUMNS + 2);
    state->taken_at = sqlite3_column_int64(statement, STATE_COLUMNS + 3);
    state->retry_at = sqlite3_column_int64(statement, STATE_COLUMNS + 4);
}

enum status weather_store_sources(struct db *db, int32_t today, struct source_state **out, size_t *count,
                                  struct problems *problems) {
    sqlite3_stmt *statement = db_kept(db, DB_KEPT_SOURCES, state_sql, problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    struct source_state *list = NULL;
    size_t found = 0;
    int code = SQLITE_DONE;
    sqlite3_bind_int(statement, 1, today);
    while (status == STATUS_OK && (code = sqlite3_step(statement)) == SQLITE_ROW) {
        struct source_state *grown = realloc(list, (found + 1) * sizeof *grown);
        if (grown == NULL) {
            status = STATUS_NO_MEMORY;
            break;
        }
        list = grown;
        state_read(statement, &list[found++]);
    }
    if (status == STATUS_OK && code != SQLITE_DONE)
        status = db_trouble(db, "reading the state of the sources", problems);
    sqlite3_reset(statement);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = found;
    return STATUS_OK;
}

enum status weather_store_reported(struct db *db, long long source_id, int32_t first, int32_t last, bool *has,
                                   struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT DISTINCT weather.day FROM source JOIN weather USING (station_id) JOIN fetch "
                   "USING (fetch_id) WHERE source.source_id = ?1 AND weather.source_id = ?1 AND "
                   "weather.day BETWEEN ?2 AND ?3 AND (source.kind = 1 OR confirmed_day > weather.day)",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, source_id);
    sqlite3_bind_int(statement, 2, first);
    sqlite3_bind_int(statement, 3, last);
    for (int32_t i = 0; i <= last - first; i++)
        has[i] = false;
    while (sqlite3_step(statement) == SQLITE_ROW)
        has[sqlite3_column_int(statement, 0) - first] = true;
    return db_finish(db, statement, STATUS_OK, problems);
}
