#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/store/db_inside.h"

/* A morning's writes take well under a second; a reader or a second writer waits this long before it gives
 * up. */
#define BUSY_TIMEOUT_MS 10000

/* So much of a statement tells which question of the store it is. */
#define QUESTION_MAX 160

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

void db_advise(const struct db *db, struct text *out) {
    if (db->mode == DB_CHECK) /* whoever only looks says what to do */
        return;
    text_printf(out,
                "; if it is damaged, or not one that waterturn made: `waterturn doctor --db %s` looks at it, "
                "`waterturn restore BACKUP --db %s` puts a backup in its place",
                db->path, db->path);
}

static void put_piece(struct text *out, const char *sql, size_t most) {
    for (size_t i = 0; i < most && sql[i] != '\0'; i++)
        text_add(out, sql[i] == '\n' ? " " : &sql[i], 1);
    text_puts(out, strlen(sql) > most ? " ..." : "");
}

/* A statement in one line; of a long one how it begins, and of what it asks. */
static void put_question(struct text *out, const char *sql) {
    const char *from = strlen(sql) > QUESTION_MAX ? strstr(sql, " FROM ") : NULL;
    text_puts(out, " (");
    put_piece(out, sql, from != NULL ? QUESTION_MAX / 4 : QUESTION_MAX);
    if (from != NULL)
        put_piece(out, from, QUESTION_MAX);
    text_puts(out, ")");
}

/* `sql`: the statement that was refused; NULL: `doing` tells. */
static enum status trouble_at(struct db *db, const char *doing, const char *sql, struct problems *problems) {
    struct text words;
    int code = sqlite3_extended_errcode(db->handle);
    enum status status = status_of(code);
    int system = status == STATUS_IO ? sqlite3_system_errno(db->handle) : 0;
    status = status != STATUS_OK ? status : STATUS_STORE;
    text_init(&words, 0);
    if (status == STATUS_BUSY) {
        text_puts(&words, "locked: another program was writing to it for as long as was waited; try again");
    } else {
        text_printf(&words, "the database refused while %s", doing);
        if (sql != NULL)
            put_question(&words, sql);
        text_printf(&words, ": %s%s%s (SQLite's code %d)", sqlite3_errmsg(db->handle),
                    system != 0 ? ": " : "", system != 0 ? strerror(system) : "", code);
        if (status == STATUS_STORE || status == STATUS_REFUSED)
            db_advise(db, &words);
    }
    problem_add(problems, db->path, 0, 0, NULL, "%s", text_string(&words));
    text_free(&db->trouble);
    db->trouble = words;
    db->troubled = status;
    return status;
}

enum status db_trouble(struct db *db, const char *doing, struct problems *problems) {
    return trouble_at(db, doing, NULL, problems);
}

enum status db_trouble_taken(struct db *db, struct problems *problems) {
    enum status status = db->troubled;
    bool told = status == STATUS_OK;
    for (size_t i = 0; !told && i < problems->kept; i++)
        told = strcmp(problems->problem[i].message, text_string(&db->trouble)) == 0;
    if (!told)
        problem_add(problems, db->path, 0, 0, NULL, "%s", text_string(&db->trouble));
    text_free(&db->trouble);
    db->troubled = STATUS_OK;
    return status;
}

sqlite3_stmt *db_prepare(struct db *db, const char *sql, struct problems *problems) {
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(db->handle, sql, -1, &statement, NULL) != SQLITE_OK)
        (void)trouble_at(db, "asking", sql, problems);
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

sqlite3_stmt *db_prepare_columns(struct db *db, const char *before, const char *prefix,
                                 const struct column *columns, int count, const char *after,
                                 struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    text_printf(&sql, "SELECT %s", before);
    columns_list(&sql, prefix, columns, count);
    text_printf(&sql, " %s", after);
    return db_prepare_text(db, &sql, problems);
}

sqlite3_stmt *db_prepare_insert(struct db *db, const struct db_insert *insert, struct problems *problems) {
    return db_prepare_insert_rows(db, insert, 1, problems);
}

sqlite3_stmt *db_prepare_insert_rows(struct db *db, const struct db_insert *insert, int rows,
                                     struct problems *problems) {
    struct text sql;
    text_init(&sql, 0);
    /* What stops between two rows ends its transaction anyway. To undo the first of them alone SQLite would
     * keep a copy of each page they go to, and from 64 KB on in a file, to the end of the transaction. */
    text_printf(&sql, "INSERT %sINTO %s (", rows > 1 ? "OR FAIL " : "", insert->table);
    if (insert->keys != NULL)
        text_printf(&sql, "%s, ", insert->keys);
    columns_list(&sql, "", insert->columns, insert->count);
    text_puts(&sql, ") VALUES ");
    for (int row = 0; row < rows; row++) {
        text_puts(&sql, row > 0 ? ", (" : "(");
        if (insert->keys != NULL)
            text_printf(&sql, "%s, ", insert->key_values);
        columns_marks(&sql, insert->count);
        text_puts(&sql, ")");
    }
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
    enum status status =
        code == SQLITE_DONE ? STATUS_OK : trouble_at(db, doing, sqlite3_sql(statement), problems);
    sqlite3_reset(statement);
    return status;
}

enum status db_finish(struct db *db, sqlite3_stmt *statement, enum status status, struct problems *problems) {
    status = db_reset(db, statement, status, problems);
    sqlite3_finalize(statement);
    return status;
}

sqlite3_stmt *db_kept(struct db *db, enum db_kept which, const char *sql, struct problems *problems) {
    if (db->kept[which] == NULL && sqlite3_prepare_v3(db->handle, sql, -1, SQLITE_PREPARE_PERSISTENT,
                                                      &db->kept[which], NULL) != SQLITE_OK)
        (void)trouble_at(db, "asking", sql, problems);
    return db->kept[which];
}

enum status db_reset(struct db *db, sqlite3_stmt *statement, enum status status, struct problems *problems) {
    int code = sqlite3_reset(statement);
    if (status != STATUS_OK || code == SQLITE_OK)
        return status;
    return trouble_at(db, "reading", sqlite3_sql(statement), problems);
}

enum status db_exec(struct db *db, const char *sql, struct problems *problems) {
    if (sqlite3_exec(db->handle, sql, NULL, NULL, NULL) != SQLITE_OK)
        return trouble_at(db, "asking", sql, problems);
    return STATUS_OK;
}

static enum status db_prepare_file(struct db *db, enum db_mode mode, struct problems *problems) {
    int version = DB_VERSION;
    sqlite3_busy_timeout(db->handle, BUSY_TIMEOUT_MS);
    sqlite3_extended_result_codes(db->handle, 1);
    if ((mode == DB_WRITE || mode == DB_CREATE) && sqlite3_db_readonly(db->handle, "main") == 1) {
        problem_add(problems, db->path, 0, 0, NULL,
                    "found a database that may only be read, expected one that may be written");
        return STATUS_IO;
    }
    enum status status = db_judge(db, mode, &version, problems);
    if (status == STATUS_OK)
        status = db_exec(db, "PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;", problems);
    if (status == STATUS_OK && (mode == DB_READ || mode == DB_CHECK))
        return db_exec(db, "PRAGMA query_only = ON; PRAGMA cache_size = -512;", problems);
    /* FULL: what was acknowledged survives a power cut. FAST: pages that a morning frees are not written once
     * more as zeros, which some builds of SQLite do unasked; of a large farm that is a quarter of all it
     * writes. */
    if (status == STATUS_OK)
        status =
            db_exec(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA secure_delete = FAST;",
                    problems);
    return status == STATUS_OK ? db_bring_up(db, version, problems) : status;
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

/* A new file is its owner's alone, as its copies are; never opened when it is there, since closing it would
 * let go of the locks of this process. Whether it is new. */
static bool make_private(const char *path) {
    int made = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (made >= 0)
        (void)close(made);
    return made >= 0;
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
    if (mode == DB_CHECK)
        flags = SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX;
    db->mode = mode;
    db->made = mode == DB_CREATE && make_private(path);
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
        db_discard(db);
    return status;
}

void db_patience(struct db *db, int milliseconds) {
    sqlite3_busy_timeout(db->handle, milliseconds);
}

bool db_changes(struct db *db, int64_t *number) {
    if (db->kept[DB_KEPT_CHANGES] == NULL &&
        sqlite3_prepare_v3(db->handle, "PRAGMA data_version", -1, SQLITE_PREPARE_PERSISTENT,
                           &db->kept[DB_KEPT_CHANGES], NULL) != SQLITE_OK)
        return false;
    bool good = sqlite3_step(db->kept[DB_KEPT_CHANGES]) == SQLITE_ROW;
    if (good)
        *number = sqlite3_column_int64(db->kept[DB_KEPT_CHANGES], 0);
    sqlite3_reset(db->kept[DB_KEPT_CHANGES]);
    return good;
}

void db_close(struct db *db) {
    if (db == NULL)
        return;
    for (int i = 0; i < DB_KEPT_COUNT; i++)
        sqlite3_finalize(db->kept[i]);
    sqlite3_close(db->handle);
    text_free(&db->trouble);
    free(db->path);
    free(db);
}

void db_discard(struct db *db) {
    static const char *const tails[] = {"-wal", "-shm", ""};
    char *path = db != NULL && db->made ? strdup(db->path) : NULL;
    db_close(db);
    for (size_t i = 0; path != NULL && i < sizeof tails / sizeof *tails; i++) {
        struct text name;
        text_init(&name, 0);
        text_printf(&name, "%s%s", path, tails[i]);
        (void)unlink(text_string(&name));
        text_free(&name);
    }
    free(path);
}

enum status db_read_begin(struct db *db, struct problems *problems) {
    enum status status = db->reading == 0 ? db_exec(db, "BEGIN", problems) : STATUS_OK;
    db->reading += status == STATUS_OK;
    return status;
}

void db_read_end(struct db *db) {
    if (--db->reading == 0)
        (void)sqlite3_exec(db->handle, "COMMIT", NULL, NULL, NULL);
}

enum status db_begin(struct db *db, struct problems *problems) {
    return db_exec(db, "BEGIN IMMEDIATE", problems);
}

enum status db_begin_many(struct db *db, struct problems *problems) {
    /* Within a transaction SQLite would not hear of it. */
    enum status status = db_exec(db, "PRAGMA foreign_keys = OFF", problems);
    db->many = true;
    if (status == STATUS_OK)
        status = db_begin(db, problems);
    return status == STATUS_OK ? status : db_end(db, status, problems);
}

enum status db_end(struct db *db, enum status status, struct problems *problems) {
    if (status == STATUS_OK)
        status = db_exec(db, "COMMIT", problems);
    if (status != STATUS_OK)
        (void)sqlite3_exec(db->handle, "ROLLBACK", NULL, NULL, NULL);
    if (!db->many)
        return status;
    db->many = false;
    enum status checked = db_exec(db, "PRAGMA foreign_keys = ON", problems);
    return status == STATUS_OK ? checked : status;
}
