#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/asset.h"
#include "daemon/store/db_inside.h"

/* "wtrn": marks the file as ours (PRAGMA application_id). */
#define APPLICATION_ID 0x7774726e

/* A morning's writes take well under a second; a reader or a second writer waits this long before it gives
 * up. */
#define BUSY_TIMEOUT_MS 10000

static enum status status_of(int code) {
    switch (code & 0xff) {
    case SQLITE_OK:
    case SQLITE_DONE:
    case SQLITE_ROW:
        return STATUS_OK;
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return STATUS_BUSY;
    case SQLITE_NOMEM:
        return STATUS_NO_MEMORY;
    case SQLITE_IOERR:
    case SQLITE_FULL:
    case SQLITE_CANTOPEN:
    case SQLITE_READONLY:
        return STATUS_IO;
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
        return STATUS_REFUSED;
    default:
        return STATUS_STORE;
    }
}

enum status db_trouble(struct db *db, const char *doing, struct problems *problems) {
    int code = sqlite3_extended_errcode(db->handle);
    problem_add(problems, db->path, 0, 0, NULL, "the database refused while %s: %s", doing,
                sqlite3_errmsg(db->handle));
    enum status status = status_of(code);
    return status != STATUS_OK ? status : STATUS_STORE;
}

sqlite3_stmt *db_prepare(struct db *db, const char *sql, struct problems *problems) {
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(db->handle, sql, -1, &statement, NULL) != SQLITE_OK)
        (void)db_trouble(db, sql, problems);
    return statement;
}

sqlite3_stmt *db_prepare_text(struct db *db, struct text *sql, struct problems *problems) {
    sqlite3_stmt *statement = NULL;
    if (text_failed(sql))
        problem_add(problems, db->path, 0, 0, NULL, "out of memory");
    else
        statement = db_prepare(db, text_string(sql), problems);
    text_free(sql);
    return statement;
}

sqlite3_stmt *db_prepare_insert(struct db *db, const struct db_insert *insert, struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    text_printf(&sql, "INSERT INTO %s (", insert->table);
    if (insert->keys != NULL)
        text_printf(&sql, "%s, ", insert->keys);
    columns_list(&sql, "", insert->columns, insert->count);
    text_puts(&sql, ") VALUES (");
    if (insert->keys != NULL)
        text_printf(&sql, "%s, ", insert->key_values);
    columns_marks(&sql, insert->count);
    text_puts(&sql, ")");
    if (insert->conflict != NULL) {
        text_printf(&sql, " ON CONFLICT (%s) DO UPDATE SET ", insert->conflict);
        columns_updates(&sql, insert->columns, insert->count);
        if (insert->also != NULL)
            text_printf(&sql, ", %s", insert->also);
    }
    return db_prepare_text(db, &sql, problems);
}

enum status db_run(struct db *db, sqlite3_stmt *statement, const char *doing, struct problems *problems) {
    int code;
    do
        code = sqlite3_step(statement);
    while (code == SQLITE_ROW);
    enum status status = code == SQLITE_DONE ? STATUS_OK : db_trouble(db, doing, problems);
    sqlite3_reset(statement);
    return status;
}

enum status db_exec(struct db *db, const char *sql, struct problems *problems) {
    if (sqlite3_exec(db->handle, sql, NULL, NULL, NULL) != SQLITE_OK)
        return db_trouble(db, sql, problems);
    return STATUS_OK;
}

static int pragma_int(struct db *db, const char *sql) {
    sqlite3_stmt *statement = NULL;
    int value = -1;
    if (sqlite3_prepare_v2(db->handle, sql, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        value = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    return value;
}

static enum status db_make(struct db *db, struct problems *problems) {
    const struct asset *schema = asset_find("daemon/store/schema.sql");
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    /* Another process may have made it while this one waited for the lock. */
    if (pragma_int(db, "PRAGMA user_version") == 0) {
        struct text sql;
        text_init(&sql, 0);
        text_printf(&sql, "PRAGMA application_id = %d; PRAGMA user_version = %d;", APPLICATION_ID,
                    DB_VERSION);
        status = db_exec(db, (const char *)schema->bytes, problems);
        if (status == STATUS_OK)
            status = db_exec(db, text_string(&sql), problems);
        text_free(&sql);
    }
    return db_end(db, status, problems);
}

/* Whether the file is ours; nothing is written before that is known. */
static enum status db_judge(struct db *db, enum db_mode mode, bool *empty, struct problems *problems) {
    int application = pragma_int(db, "PRAGMA application_id");
    int version = pragma_int(db, "PRAGMA user_version");
    int objects = pragma_int(db, "SELECT count(*) FROM sqlite_schema");
    if (objects < 0)
        return db_trouble(db, "reading its first page", problems);
    *empty = objects == 0 && mode != DB_READ;
    if (*empty)
        return STATUS_OK;
    if (application != APPLICATION_ID) {
        problem_add(
            problems, db->path, 0, 0, NULL,
            "found an SQLite file of another program, expected a waterturn database; it was not changed");
        return STATUS_REFUSED;
    }
    if (version != DB_VERSION) {
        problem_add(
            problems, db->path, 0, 0, NULL,
            "found database version %d, expected %d; a newer waterturn made it, and it was not changed",
            version, DB_VERSION);
        return STATUS_REFUSED;
    }
    return STATUS_OK;
}

static enum status db_prepare_file(struct db *db, enum db_mode mode, struct problems *problems) {
    bool empty = false;
    sqlite3_busy_timeout(db->handle, BUSY_TIMEOUT_MS);
    sqlite3_extended_result_codes(db->handle, 1);
    enum status status = db_judge(db, mode, &empty, problems);
    if (status == STATUS_OK && mode != DB_READ && sqlite3_db_readonly(db->handle, "main") == 1) {
        problem_add(problems, db->path, 0, 0, NULL,
                    "found a database that may only be read, expected one that may be written");
        status = STATUS_IO;
    }
    if (status == STATUS_OK)
        status = db_exec(db, "PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;", problems);
    if (status == STATUS_OK && mode == DB_READ)
        return db_exec(db, "PRAGMA query_only = ON", problems);
    /* FULL: what was acknowledged survives a power cut. */
    if (status == STATUS_OK)
        status = db_exec(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;", problems);
    if (status == STATUS_OK && empty)
        status = db_make(db, problems);
    return status;
}

/* Without leave to write beside it, a file in WAL mode can only be read when nobody writes it: then it is
 * taken as one that never changes. */
static bool is_still(const char *path) {
    struct text name;
    text_init(&name, 0);
    text_printf(&name, "%s-wal", path);
    bool still = access(text_string(&name), F_OK) != 0;
    char *slash = strrchr(name.data, '/');
    if (slash != NULL)
        *slash = '\0';
    still = still && access(slash == NULL ? "." : slash == name.data ? "/" : name.data, W_OK) != 0;
    text_free(&name);
    return still;
}

static int open_still(const char *path, sqlite3 **handle) {
    struct text uri;
    text_init(&uri, 0);
    text_puts(&uri, "file:");
    for (const char *c = path; *c != '\0'; c++) /* what has a meaning in an address is written as %XX */
        text_printf(&uri, strchr("?#%", *c) != NULL ? "%%%02X" : "%c", (unsigned char)*c);
    text_puts(&uri, "?immutable=1");
    int code = sqlite3_open_v2(text_string(&uri), handle,
                               SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_URI, NULL);
    text_free(&uri);
    return code;
}

enum status db_open(const char *path, enum db_mode mode, struct db **out, struct problems *problems) {
    struct db *db = calloc(1, sizeof *db);
    if (db == NULL || (db->path = strdup(path)) == NULL) {
        free(db);
        return STATUS_NO_MEMORY;
    }
    enum status status = STATUS_OK;
    if (mode != DB_CREATE && access(path, F_OK) != 0) {
        problem_add(problems, path, 0, 0, NULL,
                    "found no database here (%s); `waterturn import FARMFILE --db %s` makes one",
                    strerror(errno), path);
        status = STATUS_NOT_FOUND;
        goto out;
    }
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX | (mode == DB_CREATE ? SQLITE_OPEN_CREATE : 0);
    /* A reader opens read-write too, so that WAL's shared memory can be made; it is held to reading below. */
    if (mode == DB_READ && access(path, W_OK) != 0)
        flags = SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX;
    bool still = (flags & SQLITE_OPEN_READONLY) != 0 && is_still(path);
    if ((still ? open_still(path, &db->handle) : sqlite3_open_v2(path, &db->handle, flags, NULL)) !=
        SQLITE_OK) {
        status = db_trouble(db, "opening it", problems);
        goto out;
    }
    status = db_prepare_file(db, mode, problems);
out:
    if (status == STATUS_OK)
        *out = db;
    else
        db_close(db);
    return status;
}

void db_patience(struct db *db, int milliseconds) {
    sqlite3_busy_timeout(db->handle, milliseconds);
}

void db_close(struct db *db) {
    if (db == NULL)
        return;
    sqlite3_close(db->handle);
    free(db->path);
    free(db);
}

enum status db_begin(struct db *db, struct problems *problems) {
    return db_exec(db, "BEGIN IMMEDIATE", problems);
}

enum status db_end(struct db *db, enum status status, struct problems *problems) {
    if (status == STATUS_OK)
        status = db_exec(db, "COMMIT", problems);
    if (status != STATUS_OK)
        (void)sqlite3_exec(db->handle, "ROLLBACK", NULL, NULL, NULL);
    return status;
}
