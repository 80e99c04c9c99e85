/* The writing half of ledger_store.h: one run's statements, prepared once. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/ledger_columns.h"

/* Rows that one statement inserts: those of a planting stand side by side, and are found a place for once. */
#define ROWS_AT_ONCE MORNING_AHEAD

/* Inserts rows of a planting, or of a field's call. */
struct rows {
    const struct column *columns;
    int count; /* of the columns */
    size_t size;
    int keys; /* parameters before the columns of each row */
    sqlite3_stmt *one, *many;
};

struct ledger_writer {
    struct db *db;
    struct rows row, ahead, outlook;
    const struct column *call_column_list;
    int call_count;
    bool all;      /* the days ahead are clear already */
    bool beside;   /* they go into a table of their own, which takes the other's place at the end */
    char *ground;  /* with it: ground_sql as it was when the run began */
    int64_t entry; /* the newest form then */
    sqlite3_stmt *last, *drop_rows, *drop_ahead, *clean, *has_call, *drop_calls, *drop_outlooks, *put_call;
};

static bool rows_prepare(struct db *db, struct rows *rows, const char *table, const char *keys,
                         const char *key_values, struct problems *problems) {
    const struct db_insert insert = {table, keys, key_values, rows->columns, rows->count, NULL, NULL};
    rows->one = db_prepare_insert(db, &insert, problems);
    rows->many = db_prepare_insert_rows(db, &insert, ROWS_AT_ONCE, problems);
    return rows->one != NULL && rows->many != NULL;
}

static void rows_finalize(struct rows *rows) {
    sqlite3_finalize(rows->one);
    sqlite3_finalize(rows->many);
}

/* `second` is the other key where there are two. */
static enum status rows_put(struct db *db, const struct rows *rows, long long key, int32_t second,
                            const void *row, size_t count, struct problems *problems) {
    enum status status = STATUS_OK;
    for (size_t done = 0; status == STATUS_OK && done < count;) {
        size_t now = count - done >= ROWS_AT_ONCE ? ROWS_AT_ONCE : 1;
        sqlite3_stmt *statement = now > 1 ? rows->many : rows->one;
        int code = SQLITE_OK, at = 1;
        for (size_t i = 0; code == SQLITE_OK && i < now; i++, at += rows->keys + rows->count) {
            sqlite3_bind_int64(statement, at, key);
            if (rows->keys > 1)
                sqlite3_bind_int(statement, at + 1, second);
            code = columns_bind(statement, at + rows->keys, rows->columns, rows->count,
                                (const char *)row + (done + i) * rows->size);
        }
        status = code == SQLITE_OK ? db_run(db, statement, "writing the ledger", problems)
                                   : db_trouble(db, "binding a row of the ledger", problems);
        done += now;
    }
    return status;
}

static enum status writer_prepare(struct ledger_writer *writer, struct problems *problems) {
    struct db *db = writer->db;
    writer->row = (struct rows){.size = sizeof(struct ledger_row), .keys = 1};
    writer->row.columns = ledger_row_columns(&writer->row.count);
    writer->ahead = (struct rows){.size = sizeof(struct season_day), .keys = 1};
    writer->ahead.columns = ahead_columns(&writer->ahead.count);
    writer->outlook = (struct rows){.size = sizeof(struct outlook_row), .keys = 2};
    writer->outlook.columns = outlook_columns(&writer->outlook.count);
    writer->call_column_list = call_columns(&writer->call_count);
    const struct db_insert call = {"call",
                                   "field_id, planting_id, weather_until_day, forecast_issued_day",
                                   "?, ?, ?, ?",
                                   writer->call_column_list,
                                   writer->call_count,
                                   NULL,
                                   NULL};
    writer->last = db_prepare(db, "SELECT max(day) FROM ledger WHERE planting_id = ?", problems);
    writer->drop_rows = db_prepare(db, "DELETE FROM ledger WHERE planting_id = ? AND day >= ?", problems);
    writer->drop_ahead = db_prepare(db,
                                    writer->beside ? "DELETE FROM ahead_beside WHERE planting_id = ?"
                                                   : "DELETE FROM ahead WHERE planting_id = ?",
                                    problems);
    writer->clean = db_prepare(db, "UPDATE planting SET dirty_day = NULL WHERE planting_id = ?", problems);
    writer->put_call = db_prepare_insert(db, &call, problems);
    writer->has_call = db_prepare(db, "SELECT 1 FROM call WHERE field_id = ? AND day >= ? LIMIT 1", problems);
    writer->drop_calls = db_prepare(db, "DELETE FROM call WHERE field_id = ? AND day >= ?", problems);
    writer->drop_outlooks = db_prepare(db, "DELETE FROM outlook WHERE field_id = ? AND day >= ?", problems);
    return rows_prepare(db, &writer->row, "ledger", "planting_id", "?", problems) &&
                   rows_prepare(db, &writer->ahead, writer->beside ? "ahead_beside" : "ahead", "planting_id",
                                "?", problems) &&
                   rows_prepare(db, &writer->outlook, "outlook", "field_id, day", "?, ?", problems) &&
                   writer->last != NULL && writer->drop_rows != NULL && writer->drop_ahead != NULL &&
                   writer->clean != NULL && writer->has_call != NULL && writer->drop_calls != NULL &&
                   writer->drop_outlooks != NULL && writer->put_call != NULL
               ? STATUS_OK
               : STATUS_STORE;
}

/* A table like `ahead`; one that a run left behind which was broken off is of no use. */
static enum status make_beside(struct db *db, struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    enum status status = db_exec(db, "DROP TABLE IF EXISTS ahead_beside", problems);
    sqlite3_stmt *made = status == STATUS_OK
                             ? db_prepare(db, "SELECT sql FROM sqlite_schema WHERE name = 'ahead'", problems)
                             : NULL;
    if (made == NULL)
        return STATUS_STORE;
    if (sqlite3_step(made) == SQLITE_ROW)
        text_printf(&sql, "CREATE TABLE ahead_beside %s",
                    strchr((const char *)sqlite3_column_text(made, 0), '('));
    status = db_finish(db, made, text_failed(&sql) ? STATUS_NO_MEMORY : STATUS_OK, problems);
    if (status == STATUS_OK)
        status = db_exec(db, text_string(&sql), problems);
    text_free(&sql);
    return status;
}

/* What all fields of a run in parts stand on, as one text; none when farm_store_void_parts() or a run for all
 * fields took the table away. */
static const char ground_sql[] =
    "SELECT rootpage || ' ' || (SELECT total(fetch_id) || ' ' || total(confirmed_day) FROM fetch) || ' ' || "
    "(SELECT total(applied) FROM correction) || (SELECT coalesce(group_concat(name), '') FROM station) || "
    "(SELECT coalesce(group_concat(name), '') FROM soil) || (SELECT coalesce(group_concat(name), '') FROM "
    "supply), (SELECT coalesce(max(entry_id), 0) FROM entry) FROM sqlite_schema WHERE name = 'ahead_beside'";

static enum status read_ground(struct db *db, char **ground, int64_t *entry, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, ground_sql, problems);
    enum status status = statement != NULL ? STATUS_OK : STATUS_STORE;
    *ground = NULL;
    if (status == STATUS_OK && sqlite3_step(statement) == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(statement, 0);
        *ground = text != NULL ? strdup(text) : NULL;
        *entry = sqlite3_column_int64(statement, 1);
        status = *ground != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    }
    return db_finish(db, statement, status, problems);
}

/* The fields without a call of the morning; before the first morning a form makes none, but is noted. */
enum status ledger_writer_behind(struct ledger_writer *writer, int32_t today, size_t most,
                                 char (**field)[FARM_NAME_SIZE], size_t *count, struct problems *problems) {
    sqlite3_stmt *select =
        db_prepare(writer->db,
                   "SELECT name FROM field WHERE NOT EXISTS (SELECT 1 FROM call WHERE call.field_id = "
                   "field.field_id AND day = ?1) OR field_id IN (SELECT field_id FROM entry WHERE entry_id > "
                   "?2) ORDER BY field_id LIMIT ?3",
                   problems);
    char(*list)[FARM_NAME_SIZE] = calloc(most + 1, sizeof *list);
    enum status status = select == NULL ? STATUS_STORE : list == NULL ? STATUS_NO_MEMORY : STATUS_OK;
    *count = 0;
    writer->all = false;
    if (status == STATUS_OK) {
        sqlite3_bind_int(select, 1, today);
        sqlite3_bind_int64(select, 2, writer->entry);
        sqlite3_bind_int64(select, 3, (sqlite3_int64)most + 1);
        while (sqlite3_step(select) == SQLITE_ROW)
            (void)snprintf(list[(*count)++], sizeof *list, "%s",
                           (const char *)sqlite3_column_text(select, 0));
    }
    status = db_finish(writer->db, select, status, problems);
    if (status == STATUS_OK)
        *field = list;
    else
        free(list);
    return status;
}

enum status ledger_writer_stands(struct ledger_writer *writer, bool *stands, struct problems *problems) {
    char *ground;
    int64_t entry;
    enum status status = read_ground(writer->db, &ground, &entry, problems);
    *stands = ground != NULL && strcmp(ground, writer->ground) == 0;
    free(ground);
    return status;
}

enum status ledger_writer_new(struct db *db, enum ledger_scope scope, struct ledger_writer **out,
                              struct problems *problems) {
    struct ledger_writer *writer = calloc(1, sizeof *writer);
    if (writer == NULL)
        return STATUS_NO_MEMORY;
    writer->db = db;
    writer->all = scope != LEDGER_SOME;
    writer->beside = scope == LEDGER_ALL_IN_PARTS;
    enum status status = STATUS_OK;
    if (writer->beside) {
        status = make_beside(db, problems);
        if (status == STATUS_OK)
            status = read_ground(db, &writer->ground, &writer->entry, problems);
    } else if (writer->all)
        status = db_exec(db, "DROP TABLE IF EXISTS ahead_beside; DELETE FROM ahead", problems);
    if (status == STATUS_OK)
        status = writer_prepare(writer, problems);
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
    sqlite3_finalize(writer->drop_ahead);
    sqlite3_finalize(writer->clean);
    sqlite3_finalize(writer->has_call);
    sqlite3_finalize(writer->drop_calls);
    sqlite3_finalize(writer->drop_outlooks);
    sqlite3_finalize(writer->put_call);
    rows_finalize(&writer->row);
    rows_finalize(&writer->ahead);
    rows_finalize(&writer->outlook);
    free(writer->ground);
    free(writer);
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

enum status ledger_writer_planting(struct ledger_writer *writer, const struct ledger_write *write,
                                   struct problems *problems) {
    sqlite3_bind_int64(writer->drop_rows, 1, write->planting_id);
    sqlite3_bind_int(writer->drop_rows, 2, write->from);
    /* With foreign keys SQLite lists the rows that it deletes in a table of its own: dear where there are
     * none. */
    enum status status =
        write->over ? db_run(writer->db, writer->drop_rows, "clearing the ledger", problems) : STATUS_OK;
    if (status == STATUS_OK)
        status =
            rows_put(writer->db, &writer->row, write->planting_id, 0, write->row, write->row_count, problems);
    sqlite3_bind_int64(writer->drop_ahead, 1, write->planting_id);
    if (status == STATUS_OK && !writer->all)
        status = db_run(writer->db, writer->drop_ahead, "clearing the days ahead", problems);
    if (status == STATUS_OK)
        status = rows_put(writer->db, &writer->ahead, write->planting_id, 0, write->ahead,
                          (size_t)write->ahead_count, problems);
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

/* What this morning left when it was run before, also in a part of it before it was broken off; and what a
 * later one left, of which a run knows nothing. */
static enum status drop_calls(struct ledger_writer *writer, long long field_id, int32_t day,
                              struct problems *problems) {
    sqlite3_stmt *const step[] = {writer->has_call, writer->drop_calls, writer->drop_outlooks};
    for (size_t i = 0; i < sizeof step / sizeof step[0]; i++) {
        sqlite3_bind_int64(step[i], 1, field_id);
        sqlite3_bind_int(step[i], 2, day);
    }
    int code = sqlite3_step(writer->has_call);
    enum status status = code == SQLITE_ROW || code == SQLITE_DONE
                             ? STATUS_OK
                             : db_trouble(writer->db, "looking for a call", problems);
    sqlite3_reset(writer->has_call);
    if (code == SQLITE_ROW)
        status = db_run(writer->db, writer->drop_calls, "clearing a call", problems);
    if (code == SQLITE_ROW && status == STATUS_OK)
        status = db_run(writer->db, writer->drop_outlooks, "clearing an outlook", problems);
    return status;
}

static enum status put_outlook(struct ledger_writer *writer, long long field_id, int32_t day,
                               const struct call_outlook *outlook, struct problems *problems) {
    struct outlook_row row[MORNING_AHEAD];
    int days = outlook != NULL ? outlook->days : 0;
    for (int i = 0; i < days; i++) {
        row[i] =
            (struct outlook_row){.ahead = i, .chance = outlook->chance[i], .rain_mm = outlook->rain_mm[i]};
        memcpy(row[i].depletion_mm, outlook->depletion_mm[i], sizeof row[i].depletion_mm);
    }
    return rows_put(writer->db, &writer->outlook, field_id, day, row, (size_t)days, problems);
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
    enum status status = drop_calls(writer, field_id, call->date, problems);
    if (status == STATUS_OK)
        status = db_run(writer->db, statement, "writing a call", problems);
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
    if (status == STATUS_OK && writer->beside)
        status = db_exec(writer->db, "DROP TABLE ahead; ALTER TABLE ahead_beside RENAME TO ahead", problems);
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
