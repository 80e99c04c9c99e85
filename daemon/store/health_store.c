#include "daemon/store/health_store.h"

#include <string.h>

#include "daemon/store/db_inside.h"

static enum status one_number(struct db *db, const char *sql, int64_t *out, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_STORE;
    enum status status = STATUS_OK;
    if (sqlite3_step(statement) == SQLITE_ROW)
        *out = sqlite3_column_int64(statement, 0);
    else
        status = db_trouble(db, "counting", problems);
    return db_finish(db, statement, status, problems);
}

static enum status load_calls(struct db *db, struct health *out, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(
        db, "SELECT kind, count(*) FROM call WHERE day = (SELECT max(day) FROM morning) GROUP BY kind",
        problems);
    if (statement == NULL)
        return STATUS_STORE;
    int code;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        int kind = sqlite3_column_int(statement, 0);
        if (kind >= 0 && kind < CALL_KIND_COUNT)
            out->calls[kind] = sqlite3_column_double(statement, 1);
    }
    enum status status = code == SQLITE_DONE ? STATUS_OK : db_trouble(db, "counting the calls", problems);
    return db_finish(db, statement, status, problems);
}

enum status health_store_load(struct db *db, struct health *out, struct problems *problems) {
    int64_t pages = 0, page_size = 0;
    memset(out, 0, sizeof *out);
    enum status status = load_calls(db, out, problems);
    if (status == STATUS_OK)
        status = one_number(db, "PRAGMA page_count", &pages, problems);
    if (status == STATUS_OK)
        status = one_number(db, "PRAGMA page_size", &page_size, problems);
    if (status == STATUS_OK)
        status =
            one_number(db, "SELECT count(*) FROM device WHERE revoked_at IS NULL", &out->devices, problems);
    out->bytes = pages * page_size;
    return status;
}

/* Each row is a finding. */
static enum status check_rows(struct db *db, const char *sql, const char *fine, struct problems *problems) {
    sqlite3_stmt *statement = db_prepare(db, sql, problems);
    if (statement == NULL)
        return STATUS_REFUSED;
    enum status status = STATUS_OK;
    int code;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(statement, 0);
        if (text != NULL && strcmp(text, fine) == 0)
            continue;
        problem_add(problems, db->path, 0, 0, NULL, "the database is damaged: %s", text != NULL ? text : "");
        status = STATUS_REFUSED;
    }
    if (code != SQLITE_DONE)
        status = db_trouble(db, "checking it", problems);
    return db_finish(db, statement, status, problems);
}

enum status health_store_check(struct db *db, struct problems *problems) {
    enum status status = check_rows(db, "PRAGMA integrity_check(20)", "ok", problems);
    if (status == STATUS_OK)
        status = check_rows(db,
                            "SELECT 'a row of ' || \"table\" || ' points at none of ' || parent "
                            "FROM pragma_foreign_key_check LIMIT 20",
                            "", problems);
    return status;
}
