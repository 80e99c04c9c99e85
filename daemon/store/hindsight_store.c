#include "daemon/store/hindsight_store.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/store/ledger_columns.h"
#include "daemon/store/weather_inside.h"

/* A list that grows: room for one more element at `count`; NULL: no memory. */
static void *list_room(void *list, size_t count, size_t *room, size_t size) {
    if (count < *room)
        return list;
    *room = *room == 0 ? 256 : 2 * *room;
    return realloc(list, *room * size);
}

static void text_column(sqlite3_stmt *statement, int column, char *out, size_t size) {
    const unsigned char *value = sqlite3_column_text(statement, column);
    size_t length = value != NULL ? strlen((const char *)value) : 0;
    length = length < size ? length : size - 1;
    if (value != NULL)
        memcpy(out, value, length);
    out[length] = '\0';
}

/* ---- forecasts */

#define FORECAST_ELEMENTS 4

static sqlite3_stmt *forecasts_prepare(struct db *db, struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT source.source_id, source.name, fetch.day, weather.day, ");
    weather_elements_list(&sql, "weather.");
    text_puts(&sql,
              " FROM weather JOIN source ON source.source_id = weather.source_id "
              "JOIN fetch ON fetch.fetch_id = weather.fetch_id "
              "WHERE weather.station_id = ?1 AND source.kind = 1 AND fetch.day BETWEEN ?2 AND ?3 "
              "AND weather.day >= fetch.day "
              "ORDER BY source.position, source.source_id, fetch.day, weather.day, weather.fetch_id DESC");
    return db_prepare_text(db, &sql, problems);
}

static bool same_forecast_day(const struct stored_forecast *a, const struct stored_forecast *b) {
    return a->source_id == b->source_id && a->issued == b->issued && a->day.date == b->day.date;
}

enum status hindsight_store_forecasts(struct db *db, long long station_id, int32_t first, int32_t last,
                                      struct stored_forecast **out, size_t *count,
                                      struct problems *problems) {
    sqlite3_stmt *statement = forecasts_prepare(db, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, station_id);
    sqlite3_bind_int(statement, 2, first);
    sqlite3_bind_int(statement, 3, last);
    struct stored_forecast *list = NULL;
    size_t found = 0, room = 0;
    int code;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        struct stored_forecast *grown = list_room(list, found, &room, sizeof *list);
        if (grown == NULL)
            break;
        list = grown;
        struct stored_forecast *row = &list[found];
        row->source_id = sqlite3_column_int64(statement, 0);
        text_column(statement, 1, row->source, sizeof row->source);
        row->issued = sqlite3_column_int(statement, 2);
        row->day = weather_day_empty(sqlite3_column_int(statement, 3));
        weather_day_read(statement, FORECAST_ELEMENTS, ORIGIN_FORECAST, &row->day);
        found += found == 0 || !same_forecast_day(row, row - 1);
    }
    enum status status = code == SQLITE_DONE  ? STATUS_OK
                         : code == SQLITE_ROW ? STATUS_NO_MEMORY
                                              : db_trouble(db, "reading forecasts", problems);
    sqlite3_finalize(statement);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = found;
    return STATUS_OK;
}

/* ---- corrections */

enum status hindsight_store_corrected(struct db *db, long long station_id, bool *corrected,
                                      struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, "SELECT applied FROM correction WHERE station_id = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, station_id);
    *corrected = sqlite3_step(statement) != SQLITE_ROW || sqlite3_column_int(statement, 0) != 0;
    return db_finish(db, statement, STATUS_OK, problems);
}

enum status hindsight_store_correct(struct db *db, long long station_id, bool corrected,
                                    struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "INSERT OR REPLACE INTO correction (station_id, applied) VALUES (?, ?)", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, station_id);
    sqlite3_bind_int(statement, 2, corrected);
    enum status status = db_run(db, statement, "noting whether forecasts are corrected", problems);
    sqlite3_finalize(statement);
    return status;
}

/* ---- calls */

struct reader {
    struct db *db;
    struct problems *problems;
    sqlite3_stmt *calls, *outlook;
    const struct column *columns;
    int column_count;
};

static enum status reader_open(struct reader *reader) {
    struct text sql;
    text_init(&sql, 0);
    reader->columns = call_columns(&reader->column_count);
    text_puts(&sql, "SELECT field.name, coalesce(call.planting_id, 0), call.field_id, ");
    columns_list(&sql, "call.", reader->columns, reader->column_count);
    text_puts(&sql, " FROM call JOIN field USING (field_id) WHERE (?1 IS NULL OR field.name = ?1) "
                    "AND call.day BETWEEN ?2 AND ?3 ORDER BY field.position, call.day");
    reader->calls = db_prepare_text(reader->db, &sql, reader->problems);
    reader->outlook = db_prepare(reader->db, CALL_OUTLOOK_SELECT, reader->problems);
    return reader->calls != NULL && reader->outlook != NULL ? STATUS_OK : STATUS_STORE;
}

static enum status read_calls(struct reader *reader, struct stored_call **list, size_t *found) {
    size_t room = 0;
    int code;
    while ((code = sqlite3_step(reader->calls)) == SQLITE_ROW) {
        struct stored_call *grown = list_room(*list, *found, &room, sizeof *grown);
        if (grown == NULL)
            return STATUS_NO_MEMORY;
        *list = grown;
        struct stored_call *row = &grown[(*found)++];
        memset(row, 0, sizeof *row);
        text_column(reader->calls, 0, row->field, sizeof row->field);
        row->planting_id = sqlite3_column_int64(reader->calls, 1);
        columns_read(reader->calls, 3, reader->columns, reader->column_count, &row->call);
        if (!call_outlook_read(reader->outlook, sqlite3_column_int64(reader->calls, 2), row->call.date,
                               &row->outlook))
            return db_trouble(reader->db, "reading the outlook of a call", reader->problems);
    }
    return code == SQLITE_DONE ? STATUS_OK : db_trouble(reader->db, "reading calls", reader->problems);
}

enum status hindsight_store_calls(struct db *db, const char *field, int32_t first, int32_t last,
                                  struct stored_call **out, size_t *count, struct problems *problems) {
    struct reader reader = {.db = db, .problems = problems};
    struct stored_call *list = NULL;
    size_t found = 0;
    enum status status = reader_open(&reader);
    if (status == STATUS_OK) {
        if (field != NULL)
            sqlite3_bind_text(reader.calls, 1, field, -1, SQLITE_STATIC);
        sqlite3_bind_int(reader.calls, 2, first);
        sqlite3_bind_int(reader.calls, 3, last);
        status = read_calls(&reader, &list, &found);
    }
    sqlite3_finalize(reader.calls);
    sqlite3_finalize(reader.outlook);
    if (status != STATUS_OK) {
        free(list);
        return status;
    }
    *out = list;
    *count = found;
    return STATUS_OK;
}
