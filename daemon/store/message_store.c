#include "daemon/store/message_store.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/store/db_inside.h"

#define KEPT_SECONDS (60LL * 86400)

void message_free(struct message *message) {
    free(message->subject);
    free(message->body);
    free(message->data);
    memset(message, 0, sizeof *message);
}

/* ---- statements with a few texts and numbers ---- */

static bool bind_text(sqlite3_stmt *statement, int index, const char *text) {
    return sqlite3_bind_text(statement, index, text, -1, SQLITE_TRANSIENT) == SQLITE_OK;
}

static bool bind_number(sqlite3_stmt *statement, int index, int64_t number) {
    return sqlite3_bind_int64(statement, index, number) == SQLITE_OK;
}

/* Runs and finalizes a statement whose parameters are bound. */
static enum status finish(struct db *db, sqlite3_stmt *statement, bool bound, struct problems *problems) {
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = bound ? db_run(db, statement, "writing a message", problems)
                               : db_trouble(db, "writing a message", problems);
    sqlite3_finalize(statement);
    return status;
}

/* ---- the queue ---- */

enum status message_store_add(struct db *db, const struct message *message, bool *added,
                              struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "INSERT INTO message (person, matter, made_at, due_at, stale_at, subject, body, data) "
                   "VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
                   problems);
    bool bound = statement != NULL && bind_text(statement, 1, message->person) &&
                 bind_text(statement, 2, message->matter) && bind_number(statement, 3, message->made_at) &&
                 bind_number(statement, 4, message->due_at) && bind_number(statement, 5, message->stale_at) &&
                 bind_text(statement, 6, message->subject) && bind_text(statement, 7, message->body) &&
                 bind_text(statement, 8, message->data);
    enum status status = finish(db, statement, bound, problems);
    *added = status == STATUS_OK && sqlite3_changes(db->handle) == 1;
    return status;
}

static char *column_copy(sqlite3_stmt *row, int index) {
    const char *text = (const char *)sqlite3_column_text(row, index);
    return strdup(text != NULL ? text : "");
}

static enum status read_message(sqlite3_stmt *row, struct message *out) {
    static const struct column names[] = {COLUMN(COLUMN_TEXT, message, person, "person"),
                                          COLUMN(COLUMN_TEXT, message, matter, "matter")};
    memset(out, 0, sizeof *out);
    columns_read(row, 0, names, 2, out);
    out->made_at = sqlite3_column_int64(row, 2);
    out->due_at = sqlite3_column_int64(row, 3);
    out->stale_at = sqlite3_column_int64(row, 4);
    out->tries = sqlite3_column_int(row, 5);
    out->subject = column_copy(row, 6);
    out->body = column_copy(row, 7);
    out->data = column_copy(row, 8);
    if (out->subject != NULL && out->body != NULL && out->data != NULL)
        return STATUS_OK;
    message_free(out);
    return STATUS_NO_MEMORY;
}

enum status message_store_next(struct db *db, int64_t at, struct message *out, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "UPDATE message SET state = 3, trouble = 'too late' WHERE state = 0 AND stale_at <= ?", problems);
    enum status status = finish(db, statement, statement != NULL && bind_number(statement, 1, at), problems);
    if (status != STATUS_OK)
        return status;
    statement =
        db_prepare(db,
                   "SELECT person, matter, made_at, due_at, stale_at, tries, subject, body, data "
                   "FROM message WHERE state = 0 AND due_at <= ? ORDER BY due_at, matter, person LIMIT 1",
                   problems);
    if (statement == NULL)
        return STATUS_STORE;
    int code = bind_number(statement, 1, at) ? sqlite3_step(statement) : SQLITE_ERROR;
    if (code == SQLITE_ROW)
        status = read_message(statement, out);
    else
        status = code == SQLITE_DONE ? STATUS_NOT_FOUND : db_trouble(db, "looking for a message", problems);
    return db_finish(db, statement, status, problems);
}

enum status message_store_begin(struct db *db, const struct message *message, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "UPDATE message SET state = 1, tries = tries + 1 WHERE person = ? AND matter = ? AND state = 0",
        problems);
    bool bound = statement != NULL && bind_text(statement, 1, message->person) &&
                 bind_text(statement, 2, message->matter);
    enum status status = finish(db, statement, bound, problems);
    if (status == STATUS_OK && sqlite3_changes(db->handle) == 0)
        status = STATUS_NOT_FOUND;
    return status;
}

enum status message_store_end(struct db *db, const struct message *message, enum message_state state,
                              int64_t due_at, const char *trouble, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "UPDATE message SET state = ?, due_at = ?, trouble = ? WHERE person = ? AND matter = ?",
        problems);
    bool bound = statement != NULL && bind_number(statement, 1, state) && bind_number(statement, 2, due_at) &&
                 bind_text(statement, 3, trouble) && bind_text(statement, 4, message->person) &&
                 bind_text(statement, 5, message->matter);
    return finish(db, statement, bound, problems);
}

enum status message_store_tidy(struct db *db, int64_t at, struct problems *problems) {
    enum status status = db_exec(
        db, "UPDATE message SET state = 4, trouble = 'ended while sending' WHERE state = 1", problems);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *statement =
        db_prepare(db, "DELETE FROM message WHERE made_at < ? AND state <> 0", problems);
    return finish(db, statement, statement != NULL && bind_number(statement, 1, at - KEPT_SECONDS), problems);
}

enum status message_store_due(struct db *db, int64_t *due_at, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db, "SELECT coalesce(min(due_at), 0) FROM message WHERE state = 0", problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    if (sqlite3_step(statement) == SQLITE_ROW)
        *due_at = sqlite3_column_int64(statement, 0);
    else
        status = db_trouble(db, "looking for messages", problems);
    return db_finish(db, statement, status, problems);
}

/* ---- what people know ---- */

enum status message_store_told(struct db *db, const char *person, const char *field, int32_t *day,
                               enum call_kind *kind, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT day, kind FROM told JOIN field USING (field_id) WHERE person = ? AND field.name = ?",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    int code = bind_text(statement, 1, person) && bind_text(statement, 2, field) ? sqlite3_step(statement)
                                                                                 : SQLITE_ERROR;
    enum status status = STATUS_OK;
    if (code == SQLITE_ROW) {
        int stored = sqlite3_column_int(statement, 1);
        *day = sqlite3_column_int(statement, 0);
        *kind = stored >= 0 && stored < CALL_KIND_COUNT ? (enum call_kind)stored : CALL_CANNOT_SAY;
    } else {
        status =
            code == SQLITE_DONE ? STATUS_NOT_FOUND : db_trouble(db, "looking for what was told", problems);
    }
    return db_finish(db, statement, status, problems);
}

enum status message_store_tell(struct db *db, const char *person, const char *field, int32_t day,
                               enum call_kind kind, struct problems *problems) {
    sqlite3_stmt *statement =
        db_prepare(db,
                   "INSERT INTO told (person, field_id, day, kind) SELECT ?1, field_id, ?3, ?4 FROM field "
                   "WHERE name = ?2 ON CONFLICT DO UPDATE SET day = excluded.day, kind = excluded.kind",
                   problems);
    bool bound = statement != NULL && bind_text(statement, 1, person) && bind_text(statement, 2, field) &&
                 bind_number(statement, 3, day) && bind_number(statement, 4, kind);
    return finish(db, statement, bound, problems);
}
