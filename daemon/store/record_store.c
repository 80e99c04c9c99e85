#include "daemon/store/record_store.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_columns.h"
#include "daemon/store/farm_store.h"

/* ---- reading ---- */

#define KEPT_COLUMNS 6 /* before those of struct farm_record */

static sqlite3_stmt *prepare_select(struct db *db, const char *where, struct problems *problems) {
    int count;
    const struct column *columns = farm_columns(FARM_TABLE_RECORD, &count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT record_id, at, withdrawn_at, replaced_by, who, name, ");
    columns_list(&sql, "record.", columns, count);
    text_printf(&sql, " FROM record JOIN field USING (field_id) WHERE %s", where);
    return db_prepare_text(db, &sql, problems);
}

static void read_kept(sqlite3_stmt *statement, struct record_kept *out) {
    static const struct column who = COLUMN(COLUMN_TEXT, record_kept, who, "who");
    static const struct column field = COLUMN(COLUMN_TEXT, farm_record, field, "field");
    int count;
    const struct column *columns = farm_columns(FARM_TABLE_RECORD, &count);
    memset(out, 0, sizeof *out);
    out->id = sqlite3_column_int64(statement, 0);
    out->at = sqlite3_column_int64(statement, 1);
    out->withdrawn_at = sqlite3_column_int64(statement, 2);
    out->replaced_by = sqlite3_column_int64(statement, 3);
    columns_read(statement, 4, &who, 1, out);
    columns_read(statement, 5, &field, 1, &out->record);
    columns_read(statement, KEPT_COLUMNS, columns, count, &out->record);
}

enum status record_store_get(struct db *db, long long id, struct record_kept *out,
                             struct problems *problems) {
    sqlite3_stmt *statement = prepare_select(db, "record_id = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW    ? STATUS_OK
                         : code == SQLITE_DONE ? STATUS_NOT_FOUND
                                               : db_trouble(db, "reading a record", problems);
    if (status == STATUS_OK)
        read_kept(statement, out);
    return db_finish(db, statement, status, problems);
}

enum status record_store_recent(struct db *db, const char *field, size_t most, struct record_kept **out,
                                size_t *count, struct problems *problems) {
    struct record_kept *list = calloc(most + 1, sizeof *list);
    sqlite3_stmt *statement = prepare_select(
        db, "name = ? AND withdrawn_at IS NULL ORDER BY day DESC, record_id DESC LIMIT ?", problems);
    enum status status = list == NULL ? STATUS_NO_MEMORY : statement == NULL ? STATUS_STORE : STATUS_OK;
    size_t found = 0;
    if (status == STATUS_OK) {
        sqlite3_bind_text(statement, 1, field, -1, SQLITE_STATIC);
        sqlite3_bind_int64(statement, 2, (sqlite3_int64)most);
        int code;
        while ((code = sqlite3_step(statement)) == SQLITE_ROW && found < most)
            read_kept(statement, &list[found++]);
        if (code != SQLITE_DONE && code != SQLITE_ROW)
            status = db_trouble(db, "reading the records of a field", problems);
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

enum status record_store_day(struct db *db, const struct farm_record *record, int *count, double *sum,
                             struct problems *problems) {
    enum status status = STATUS_OK;
    sqlite3_stmt *statement =
        db_prepare(db,
                   "SELECT count(*), total(amount) FROM record JOIN field USING (field_id) "
                   "WHERE name = ? AND day = ? AND kind = ? AND withdrawn_at IS NULL",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, record->field, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 2, record->date);
    sqlite3_bind_int64(statement, 3, record->kind);
    if (sqlite3_step(statement) == SQLITE_ROW) {
        *count = sqlite3_column_int(statement, 0);
        *sum = sqlite3_column_double(statement, 1);
    } else {
        status = db_trouble(db, "reading the records of a day", problems);
    }
    sqlite3_finalize(statement);
    return status;
}

/* ---- writing ---- */

/* Runs a statement of which ?1 is a name or an id and ?2 a number. */
static enum status run_on(struct db *db, const char *sql, const char *name, long long id, long long number,
                          const char *doing, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    if (name != NULL)
        sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
    else
        sqlite3_bind_int64(statement, 1, id);
    if (sqlite3_bind_parameter_count(statement) > 1)
        sqlite3_bind_int64(statement, 2, number);
    enum status status = db_run(db, statement, doing, problems);
    sqlite3_finalize(statement);
    return status;
}

/* The ledger of the planting that stands on the record's day is to be computed anew from there; a stage bends
 * the days before it. */
static enum status mark(struct db *db, const struct farm_record *record, struct problems *problems) {
    static const char *const from_day =
        "UPDATE planting SET dirty_day = min(coalesce(dirty_day, ?2), ?2) WHERE planting_id = "
        "(SELECT planting_id FROM planting JOIN field USING (field_id) WHERE name = ?1 AND start_day <= ?2 "
        "ORDER BY start_day DESC LIMIT 1)";
    static const char *const from_start =
        "UPDATE planting SET dirty_day = start_day WHERE planting_id = "
        "(SELECT planting_id FROM planting JOIN field USING (field_id) WHERE name = ?1 AND start_day <= ?2 "
        "ORDER BY start_day DESC LIMIT 1)";
    return run_on(db, record->kind == RECORD_STAGE ? from_start : from_day, record->field, 0, record->date,
                  "marking a ledger", problems);
}

static enum status insert(struct db *db, const struct farm_record *record, int64_t at, const char *who,
                          long long *id, struct problems *problems) {
    struct db_insert row = {.table = "record",
                            .keys = "field_id, at, who",
                            .key_values = "(SELECT field_id FROM field WHERE name = ?), ?, ?"};
    row.columns = farm_columns(FARM_TABLE_RECORD, &row.count);
    sqlite3_stmt *statement = db_prepare_insert(db, &row, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, record->field, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 2, at);
    sqlite3_bind_text(statement, 3, who, -1, SQLITE_STATIC);
    enum status status = columns_bind(statement, 4, row.columns, row.count, record) == SQLITE_OK
                             ? db_run(db, statement, "writing a record", problems)
                             : db_trouble(db, "binding a record", problems);
    sqlite3_finalize(statement);
    *id = sqlite3_last_insert_rowid(db->handle);
    return status;
}

/* A record that holds, and its ledger marked: it is about to be replaced or taken back. */
static enum status take_holding(struct db *db, long long id, struct record_kept *out,
                                struct problems *problems) {
    enum status status = record_store_get(db, id, out, problems);
    if (status == STATUS_OK && out->withdrawn_at != 0)
        status = STATUS_NOT_FOUND;
    return status == STATUS_OK ? mark(db, &out->record, problems) : status;
}

static enum status withdraw(struct db *db, long long id, int64_t at, struct problems *problems) {
    return run_on(db, "UPDATE record SET withdrawn_at = ?2 WHERE record_id = ?1", NULL, id, at,
                  "withdrawing a record", problems);
}

enum status record_store_add(struct db *db, const struct farm_record *record, long long replaces, int64_t at,
                             const char *who, long long *id, struct problems *problems) {
    struct record_kept before;
    enum status status = farm_store_has_field(db, record->field, problems);
    if (status == STATUS_OK && replaces != 0)
        status = take_holding(db, replaces, &before, problems);
    if (status == STATUS_OK)
        status = insert(db, record, at, who, id, problems);
    if (status == STATUS_OK && replaces != 0)
        status = withdraw(db, replaces, at, problems);
    if (status == STATUS_OK && replaces != 0)
        status = run_on(db, "UPDATE record SET replaced_by = ?2 WHERE record_id = ?1", NULL, replaces, *id,
                        "replacing a record", problems);
    return status == STATUS_OK ? mark(db, record, problems) : status;
}

/* The record in whose place another one stands; 0: none. */
static enum status predecessor(struct db *db, long long id, long long *out, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT record_id FROM record WHERE replaced_by = ? ORDER BY record_id DESC LIMIT 1", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_int64(statement, 1, id);
    *out = sqlite3_step(statement) == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : 0;
    return db_finish(db, statement, STATUS_OK, problems);
}

enum status record_store_withdraw(struct db *db, long long id, int64_t at, const char *who,
                                  long long *restored, struct problems *problems) {
    struct record_kept record, older;
    long long older_id = 0;
    *restored = 0;
    enum status status = predecessor(db, id, &older_id, problems);
    if (status == STATUS_OK && older_id == 0) {
        status = take_holding(db, id, &record, problems);
        return status == STATUS_OK ? withdraw(db, id, at, problems) : status;
    }
    if (status == STATUS_OK)
        status = record_store_get(db, older_id, &older, problems);
    return status == STATUS_OK ? record_store_add(db, &older.record, id, at, who, restored, problems)
                               : status;
}
