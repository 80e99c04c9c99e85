/* The forms of record_store.h. */
#include <string.h>

#include "daemon/store/db_inside.h"
#include "daemon/store/ledger_columns.h"
#include "daemon/store/record_store.h"

static enum status bind_entry(struct db *db, sqlite3_stmt *statement, const struct entry *entry,
                              struct problems *problems) {
    int count;
    const struct column *columns = call_columns(&count);
    sqlite3_bind_text(statement, 1, entry->field, -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 2, entry->token, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 3, entry->at);
    sqlite3_bind_text(statement, 4, entry->who, -1, SQLITE_STATIC);
    sqlite3_bind_int(statement, 5, (int)entry->act);
    if (entry->record_id != 0)
        sqlite3_bind_int64(statement, 6, entry->record_id);
    return columns_bind(statement, 7, columns, count, &entry->before) == SQLITE_OK
               ? STATUS_OK
               : db_trouble(db, "binding a form", problems);
}

enum status entry_store_add(struct db *db, const struct entry *entry, struct problems *problems) {
    struct entry taken;
    enum status status = entry_store_find(db, entry->token, &taken, problems);
    if (status != STATUS_NOT_FOUND)
        return status == STATUS_OK ? STATUS_REFUSED : status;
    struct db_insert row = {.table = "entry",
                            .keys = "field_id, token, at, who, act, record_id",
                            .key_values = "(SELECT field_id FROM field WHERE name = ?), ?, ?, ?, ?, ?"};
    row.columns = call_columns(&row.count);
    sqlite3_stmt *statement = db_prepare_insert(db, &row, problems);
    if (statement == NULL)
        return STATUS_STORE;
    status = bind_entry(db, statement, entry, problems);
    if (status == STATUS_OK)
        status = db_run(db, statement, "noting a form", problems);
    sqlite3_finalize(statement);
    return status;
}

static void read_entry(sqlite3_stmt *statement, struct entry *out) {
    static const struct column texts[] = {COLUMN(COLUMN_TEXT, entry, token, "token"),
                                          COLUMN(COLUMN_TEXT, entry, who, "who"),
                                          COLUMN(COLUMN_TEXT, entry, field, "name")};
    int count;
    const struct column *columns = call_columns(&count);
    memset(out, 0, sizeof *out);
    columns_read(statement, 0, texts, 3, out);
    out->at = sqlite3_column_int64(statement, 3);
    out->act = (enum entry_act)sqlite3_column_int(statement, 4);
    out->record_id = sqlite3_column_int64(statement, 5);
    columns_read(statement, 6, columns, count, &out->before);
}

/* The one entry that `rest` finds with ?1. */
static enum status find(struct db *db, const char *rest, const char *key, struct entry *out,
                        struct problems *problems) {
    int count;
    const struct column *columns = call_columns(&count);
    struct text sql;
    text_init(&sql, 0);
    text_puts(&sql, "SELECT token, entry.who, field.name, entry.at, act, entry.record_id, ");
    columns_list(&sql, "entry.", columns, count);
    text_printf(&sql, " FROM entry LEFT JOIN field USING (field_id) %s", rest);
    sqlite3_stmt *statement = db_prepare_text(db, &sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, key, -1, SQLITE_STATIC);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW    ? STATUS_OK
                         : code == SQLITE_DONE ? STATUS_NOT_FOUND
                                               : db_trouble(db, "looking for a form", problems);
    if (status == STATUS_OK)
        read_entry(statement, out);
    return db_finish(db, statement, status, problems);
}

enum status entry_store_find(struct db *db, const char *token, struct entry *out, struct problems *problems) {
    return find(db, "WHERE token = ?1", token, out, problems);
}

enum status entry_store_last(struct db *db, const char *field, struct entry *out, struct problems *problems) {
    return find(db,
                "JOIN record ON record.record_id = entry.record_id WHERE field.name = ?1 AND "
                "withdrawn_at IS NULL ORDER BY entry_id DESC LIMIT 1",
                field, out, problems);
}

enum status entry_store_count(struct db *db, const char *field, long long *count, struct problems *problems) {
    sqlite3_stmt *statement =
        db_kept(db, DB_KEPT_ENTRIES,
                "SELECT count(*) FROM entry JOIN field USING (field_id) WHERE field.name = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, field, -1, SQLITE_STATIC);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW ? STATUS_OK : db_trouble(db, "counting forms", problems);
    if (status == STATUS_OK)
        *count = sqlite3_column_int64(statement, 0);
    return db_reset(db, statement, status, problems);
}

static enum status read_key(struct db *db, const char *name, unsigned char out[SECRET_SIZE],
                            struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, "SELECT value FROM secret WHERE name = ?", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
    int code = sqlite3_step(statement);
    enum status status = code == SQLITE_ROW    ? STATUS_OK
                         : code == SQLITE_DONE ? STATUS_NOT_FOUND
                                               : db_trouble(db, "reading a key", problems);
    if (status == STATUS_OK && sqlite3_column_bytes(statement, 0) == SECRET_SIZE)
        memcpy(out, sqlite3_column_blob(statement, 0), SECRET_SIZE);
    else if (status == STATUS_OK)
        status = STATUS_STORE;
    return db_finish(db, statement, status, problems);
}

enum status secret_store_renew(struct db *db, const char *name, const unsigned char fresh[SECRET_SIZE],
                               struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "INSERT OR REPLACE INTO secret (name, value) VALUES (?, ?)", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
    sqlite3_bind_blob(statement, 2, fresh, SECRET_SIZE, SQLITE_STATIC);
    enum status status = db_run(db, statement, "renewing a key", problems);
    sqlite3_finalize(statement);
    return status;
}

enum status secret_store_key(struct db *db, const char *name, const unsigned char *fresh,
                             unsigned char out[SECRET_SIZE], struct problems *problems) {
    enum status status = read_key(db, name, out, problems);
    if (status != STATUS_NOT_FOUND || fresh == NULL)
        return status;
    sqlite3_stmt *statement =
        db_prepare(db, "INSERT OR IGNORE INTO secret (name, value) VALUES (?, ?)", problems);
    if (statement == NULL)
        return STATUS_STORE;
    sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
    sqlite3_bind_blob(statement, 2, fresh, SECRET_SIZE, SQLITE_STATIC);
    status = db_run(db, statement, "keeping a key", problems);
    sqlite3_finalize(statement);
    return status == STATUS_OK ? read_key(db, name, out, problems) : status;
}
