/* The writing half of ledger_store.h: one run's statements, prepared once. */
#include <stdlib.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/ledger_columns.h"

struct ledger_writer {
    struct db *db;
    const struct column *row_columns, *ahead_column_list, *call_column_list;
    int row_count, ahead_count, call_count;
    bool all; /* the days ahead are clear already */
    sqlite3_stmt *last, *drop_rows, *put_row, *drop_ahead, *put_ahead, *clean, *put_call, *has_outlook,
        *drop_outlook, *put_outlook;
};

static enum status writer_prepare(struct ledger_writer *writer, struct problems *problems) {
    struct db *db = writer->db;
    writer->row_columns = ledger_row_columns(&writer->row_count);
    writer->ahead_column_list = ahead_columns(&writer->ahead_count);
    writer->call_column_list = call_columns(&writer->call_count);
    const struct db_insert row = {"ledger",          "planting_id", "?", writer->row_columns,
                                  writer->row_count, NULL,          NULL};
    const struct db_insert ahead = {
        "ahead", "planting_id", "?", writer->ahead_column_list, writer->ahead_count, NULL, NULL};
    const struct db_insert call = {
        "call",
        "field_id, planting_id, weather_until_day, forecast_issued_day",
        "?, ?, ?, ?",
        writer->call_column_list,
        writer->call_count,
        "field_id, day",
        "planting_id = excluded.planting_id, weather_until_day = "
        "excluded.weather_until_day, forecast_issued_day = excluded.forecast_issued_day"};
    writer->last = db_prepare(db, "SELECT max(day) FROM ledger WHERE planting_id = ?", problems);
    writer->drop_rows = db_prepare(db, "DELETE FROM ledger WHERE planting_id = ? AND day >= ?", problems);
    writer->put_row = db_prepare_insert(db, &row, problems);
    writer->drop_ahead = db_prepare(db, "DELETE FROM ahead WHERE planting_id = ?", problems);
    writer->put_ahead = db_prepare_insert(db, &ahead, problems);
    writer->clean = db_prepare(db, "UPDATE planting SET dirty_day = NULL WHERE planting_id = ?", problems);
    writer->put_call = db_prepare_insert(db, &call, problems);
    writer->has_outlook =
        db_prepare(db, "SELECT 1 FROM outlook WHERE field_id = ? AND day = ? LIMIT 1", problems);
    writer->drop_outlook = db_prepare(db, "DELETE FROM outlook WHERE field_id = ? AND day = ?", problems);
    writer->put_outlook =
        db_prepare(db,
                   "INSERT INTO outlook (field_id, day, ahead, chance, p10_mm, p50_mm, p90_mm, "
                   "rain_mm) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                   problems);
    return writer->last != NULL && writer->drop_rows != NULL && writer->put_row != NULL &&
                   writer->drop_ahead != NULL && writer->put_ahead != NULL && writer->clean != NULL &&
                   writer->put_call != NULL && writer->has_outlook != NULL && writer->drop_outlook != NULL &&
                   writer->put_outlook != NULL
               ? STATUS_OK
               : STATUS_STORE;
}

enum status ledger_writer_new(struct db *db, struct ledger_writer **out, struct problems *problems) {
    struct ledger_writer *writer = calloc(1, sizeof *writer);
    if (writer == NULL)
        return STATUS_NO_MEMORY;
    writer->db = db;
    enum status status = writer_prepare(writer, problems);
    if (status == STATUS_OK)
        *out = writer;
    else
        ledger_writer_free(writer);
    return status;
}

void ledger_writer_free(struct ledger_writer *writer) {
    if (writer == NULL)
        return;
    sqlite3_finalize(writer->last);
    sqlite3_finalize(writer->drop_rows);
    sqlite3_finalize(writer->put_row);
    sqlite3_finalize(writer->drop_ahead);
    sqlite3_finalize(writer->put_ahead);
    sqlite3_finalize(writer->clean);
    sqlite3_finalize(writer->put_call);
    sqlite3_finalize(writer->has_outlook);
    sqlite3_finalize(writer->drop_outlook);
    sqlite3_finalize(writer->put_outlook);
    free(writer);
}

enum status ledger_writer_all(struct ledger_writer *writer, struct problems *problems) {
    enum status status = db_exec(writer->db, "DELETE FROM ahead", problems);
    writer->all = status == STATUS_OK;
    return status;
}

enum status ledger_writer_last(struct ledger_writer *writer, long long planting_id, int32_t *day,
                               struct problems *problems) {
    sqlite3_bind_int64(writer->last, 1, planting_id);
    enum status status = sqlite3_step(writer->last) == SQLITE_ROW
                             ? STATUS_OK
                             : db_trouble(writer->db, "looking for the end of a ledger", problems);
    if (status == STATUS_OK)
        *day = sqlite3_column_type(writer->last, 0) != SQLITE_NULL ? sqlite3_column_int(writer->last, 0)
                                                                   : CALENDAR_NONE;
    sqlite3_reset(writer->last);
    return status;
}

static enum status put(const struct ledger_writer *writer, sqlite3_stmt *statement, long long planting_id,
                       const struct column *columns, int count, const void *row, struct problems *problems) {
    sqlite3_bind_int64(statement, 1, planting_id);
    if (columns_bind(statement, 2, columns, count, row) != SQLITE_OK)
        return db_trouble(writer->db, "binding a row of the ledger", problems);
    return db_run(writer->db, statement, "writing the ledger", problems);
}

enum status ledger_writer_planting(struct ledger_writer *writer, const struct ledger_write *write,
                                   struct problems *problems) {
    sqlite3_bind_int64(writer->drop_rows, 1, write->planting_id);
    sqlite3_bind_int(writer->drop_rows, 2, write->from);
    /* With foreign keys SQLite lists the rows that it deletes in a table of its own: dear where there are
     * none. */
    enum status status =
        write->over ? db_run(writer->db, writer->drop_rows, "clearing the ledger", problems) : STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < write->row_count; i++)
        status = put(writer, writer->put_row, write->planting_id, writer->row_columns, writer->row_count,
                     &write->row[i], problems);
    sqlite3_bind_int64(writer->drop_ahead, 1, write->planting_id);
    if (status == STATUS_OK && !writer->all)
        status = db_run(writer->db, writer->drop_ahead, "clearing the days ahead", problems);
    for (int i = 0; status == STATUS_OK && i < write->ahead_count; i++)
        status = put(writer, writer->put_ahead, write->planting_id, writer->ahead_column_list,
                     writer->ahead_count, &write->ahead[i], problems);
    sqlite3_bind_int64(writer->clean, 1, write->planting_id);
    if (status == STATUS_OK && write->marked)
        status = db_run(writer->db, writer->clean, "marking the ledger as true", problems);
    return status;
}

static void bind_day(sqlite3_stmt *statement, int index, int32_t day) {
    if (day == CALENDAR_NONE)
        sqlite3_bind_null(statement, index);
    else
        sqlite3_bind_int(statement, index, day);
}

/* One is there when the morning was run before. */
static enum status drop_outlook(struct ledger_writer *writer, long long field_id, int32_t day,
                                struct problems *problems) {
    sqlite3_bind_int64(writer->has_outlook, 1, field_id);
    sqlite3_bind_int(writer->has_outlook, 2, day);
    int code = sqlite3_step(writer->has_outlook);
    enum status status = code == SQLITE_ROW || code == SQLITE_DONE
                             ? STATUS_OK
                             : db_trouble(writer->db, "looking for an outlook", problems);
    sqlite3_reset(writer->has_outlook);
    if (code != SQLITE_ROW)
        return status;
    sqlite3_bind_int64(writer->drop_outlook, 1, field_id);
    sqlite3_bind_int(writer->drop_outlook, 2, day);
    return db_run(writer->db, writer->drop_outlook, "clearing an outlook", problems);
}

static enum status put_outlook(struct ledger_writer *writer, long long field_id, int32_t day,
                               const struct call_outlook *outlook, struct problems *problems) {
    sqlite3_stmt *put = writer->put_outlook;
    enum status status = drop_outlook(writer, field_id, day, problems);
    for (int i = 0; status == STATUS_OK && outlook != NULL && i < outlook->days; i++) {
        sqlite3_bind_int64(put, 1, field_id);
        sqlite3_bind_int(put, 2, day);
        sqlite3_bind_int(put, 3, i);
        sqlite3_bind_double(put, 4, outlook->chance[i]);
        for (int line = 0; line < OUTLOOK_LINES; line++)
            sqlite3_bind_double(put, 5 + line, outlook->depletion_mm[i][line]);
        sqlite3_bind_double(put, 5 + OUTLOOK_LINES, outlook->rain_mm[i]);
        status = db_run(writer->db, put, "writing an outlook", problems);
    }
    return status;
}

enum status ledger_writer_call(struct ledger_writer *writer, long long field_id, long long planting_id,
                               const struct call *call, const struct call_outlook *outlook,
                               int32_t weather_until, int32_t forecast_issued, struct problems *problems) {
    sqlite3_stmt *statement = writer->put_call;
    sqlite3_bind_int64(statement, 1, field_id);
    if (planting_id == 0)
        sqlite3_bind_null(statement, 2);
    else
        sqlite3_bind_int64(statement, 2, planting_id);
    bind_day(statement, 3, weather_until);
    bind_day(statement, 4, forecast_issued);
    if (columns_bind(statement, 5, writer->call_column_list, writer->call_count, call) != SQLITE_OK)
        return db_trouble(writer->db, "binding a call", problems);
    enum status status = db_run(writer->db, statement, "writing a call", problems);
    return status == STATUS_OK ? put_outlook(writer, field_id, call->date, outlook, problems) : status;
}

enum status ledger_writer_morning(struct ledger_writer *writer, int32_t today, int64_t at,
                                  struct problems *problems) {
    static const char *const steps[] = {
        "INSERT OR REPLACE INTO morning (day, at) VALUES (?1, ?2)", "DELETE FROM call WHERE day > ?1",
        "DELETE FROM outlook WHERE day > ?1", "DELETE FROM ledger WHERE day >= ?1",
        "DELETE FROM morning WHERE day > ?1"};
    int32_t newest;
    int64_t newest_at;
    enum status status = ledger_store_newest(writer->db, &newest, &newest_at, problems);
    /* Only a run for an earlier morning than the newest finds anything to drop. */
    size_t count = newest > today ? sizeof steps / sizeof steps[0] : 1;
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        sqlite3_stmt *statement = db_prepare(writer->db, steps[i], problems);
        if (statement == NULL)
            return STATUS_STORE;
        sqlite3_bind_int(statement, 1, today);
        if (sqlite3_bind_parameter_count(statement) > 1)
            sqlite3_bind_int64(statement, 2, at);
        status = db_run(writer->db, statement, "closing the morning", problems);
        sqlite3_finalize(statement);
    }
    return status;
}
