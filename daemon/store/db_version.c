/* A database's version: whether it is one of ours, and how an older one is brought up. */
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/store/schema.h"

/* "wtrn": marks the file as ours (PRAGMA application_id). */
#define APPLICATION_ID 0x7774726e

static int pragma_int(struct db *db, const char *sql) {
    sqlite3_stmt *statement = NULL;
    int value = -1;
    if (sqlite3_prepare_v2(db->handle, sql, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        value = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    return value;
}

static enum status db_step(struct db *db, int version, struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    if (version == 0)
        text_printf(&sql, "PRAGMA application_id = %d;", APPLICATION_ID);
    text_printf(&sql, "PRAGMA user_version = %d;", version + 1);
    enum status status = db_exec(db, schema_script(version + 1), problems);
    if (status == STATUS_OK)
        status = db_exec(db, text_string(&sql), problems);
    text_free(&sql);
    return status;
}

/* Makes a new file, or brings an older one up to this version, or leaves it as it is. */
static enum status db_raise(struct db *db, struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    /* Another process may have done it while this one waited for the lock. */
    int version = pragma_int(db, "PRAGMA user_version");
    if (version < 0)
        status = db_trouble(db, "reading its version", problems);
    while (status == STATUS_OK && version < DB_VERSION)
        status = db_step(db, version++, problems);
    return db_end(db, status, problems);
}

/* A copy of the file as the older version left it: what the steps did can be undone by hand. */
static enum status db_keep_old(struct db *db, const struct text *path, struct problems *problems) {
    (void)unlink(text_string(path)); /* of an earlier try, of the same data or less */
    sqlite3_stmt *statement = db_prepare(db, "VACUUM INTO ?", problems);
    enum status status = statement != NULL && !text_failed(path) ? STATUS_OK : STATUS_STORE;
    if (status == STATUS_OK &&
        sqlite3_bind_text(statement, 1, text_string(path), -1, SQLITE_TRANSIENT) != SQLITE_OK)
        status = db_trouble(db, "keeping a copy of it", problems);
    if (status == STATUS_OK)
        status = db_run(db, statement, "keeping a copy of it", problems);
    sqlite3_finalize(statement);
    (void)chmod(text_string(path), S_IRUSR | S_IWUSR);
    return status;
}

enum status db_bring_up(struct db *db, int version, struct problems *problems) {
    struct text copy;
    if (version == DB_VERSION)
        return STATUS_OK;
    if (version == 0)
        return db_raise(db, problems);
    text_init(&copy, 0);
    text_printf(&copy, "%s.version-%d", db->path, version);
    enum status status = db_keep_old(db, &copy, problems);
    if (status == STATUS_OK)
        status = db_raise(db, problems);
    if (status != STATUS_OK)
        (void)unlink(text_string(&copy));
    text_free(&copy);
    return status;
}

/* Whether the file is ours; nothing is written before that is known. */
static enum status judge(struct db *db, enum db_mode mode, int *version, struct problems *problems) {
    int application = pragma_int(db, "PRAGMA application_id");
    int objects = pragma_int(db, "SELECT count(*) FROM sqlite_schema");
    if (objects < 0)
        return db_trouble(db, "reading its first page", problems);
    *version = pragma_int(db, "PRAGMA user_version");
    if (objects == 0 && *version == 0 && (mode == DB_WRITE || mode == DB_CREATE))
        return STATUS_OK;
    if (objects == 0 && application == 0) {
        problem_add(problems, db->path, 0, 0, NULL,
                    "found an empty file, expected a waterturn database; `waterturn import FARMFILE --db %s` "
                    "makes one of it",
                    db->path);
        return STATUS_REFUSED;
    }
    if (application != APPLICATION_ID) {
        problem_add(
            problems, db->path, 0, 0, NULL,
            "found an SQLite file of another program, expected a waterturn database; it was not changed");
        return STATUS_REFUSED;
    }
    if (*version > DB_VERSION) {
        problem_add(
            problems, db->path, 0, 0, NULL,
            "found database version %d, expected %d; a newer waterturn made it, and it was not changed",
            *version, DB_VERSION);
        return STATUS_REFUSED;
    }
    if (*version < 1) {
        problem_add(problems, db->path, 0, 0, NULL,
                    "found database version %d, expected 1 to %d; it was not changed", *version, DB_VERSION);
        return STATUS_REFUSED;
    }
    enum status status = schema_check(db, *version, problems);
    if (status == STATUS_OK && *version < DB_VERSION && mode == DB_READ) {
        problem_add(problems, db->path, 0, 0, NULL,
                    "found database version %d, expected %d; `waterturn serve` or `waterturn morning` brings "
                    "it up, and keeps a copy",
                    *version, DB_VERSION);
        return STATUS_REFUSED;
    }
    return status;
}

enum status db_judge(struct db *db, enum db_mode mode, int *version, struct problems *problems) {
    /* Of one state, also when another process is bringing it up. */
    enum status status = db_read_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    status = judge(db, mode, version, problems);
    db_read_end(db);
    return status;
}
