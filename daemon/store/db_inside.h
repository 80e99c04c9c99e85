/* What the files of daemon/store/ share. Nobody else includes this. */
#ifndef WATERTURN_DB_INSIDE_H
#define WATERTURN_DB_INSIDE_H

#include <sqlite3.h>

#include "daemon/base/text.h"
#include "daemon/store/columns.h"
#include "daemon/store/db.h"

/* Statements that pages ask for again and again, prepared when they are first asked for; NULL until then. */
enum db_kept {
    DB_KEPT_CHANGES, /* db_changes() */
    DB_KEPT_GUARDED, /* access_store_any() */
    DB_KEPT_NEWEST,  /* ledger_store_newest() */
    DB_KEPT_ENTRIES, /* entry_store_count() */
    DB_KEPT_SOURCES, /* weather_store_sources() */
    DB_KEPT_COUNTS,  /* farm_store_count() */
    DB_KEPT_TURNS,   /* turns_store_next() */
    DB_KEPT_CALLS,   /* the rest: ledger_store.c */
    DB_KEPT_PAST,
    DB_KEPT_AHEAD,
    DB_KEPT_OUTLOOK,
    DB_KEPT_COUNT
};

struct db {
    sqlite3 *handle;
    char *path;
    enum db_mode mode;
    bool made;   /* by db_open(): it was not there before */
    bool many;   /* db_begin_many() switched the check of foreign keys off */
    int reading; /* pairs of db_read_begin() that are open */
    sqlite3_stmt *kept[DB_KEPT_COUNT];
    enum status troubled; /* of db_trouble(), until db_trouble_taken(); */
    struct text trouble;  /* the newest */
};

/* One of them; NULL (and a problem) when it cannot be prepared. Reset it with db_reset(). */
sqlite3_stmt *db_kept(struct db *db, enum db_kept which, const char *sql, struct problems *problems);
/* As db_finish() of a statement that is kept. */
enum status db_reset(struct db *db, sqlite3_stmt *statement, enum status status, struct problems *problems);

/* Adds SQLite's own words and its code to `problems` and returns the status that fits it. */
enum status db_trouble(struct db *db, const char *doing, struct problems *problems);

/* "; if it is damaged ...": what to do, behind what was found. */
void db_advise(const struct db *db, struct text *out);

/* db_version.c: whether the file is ours, its tables as its version has them, and may be opened so; nothing
 * is written. Then an older version, or an empty file, is brought up: all of it or nothing. */
enum status db_judge(struct db *db, enum db_mode mode, int *version, struct problems *problems);
enum status db_bring_up(struct db *db, int version, struct problems *problems);

/* Prepares a statement; NULL (and a problem) when that fails. Finalize it with sqlite3_finalize(). */
sqlite3_stmt *db_prepare(struct db *db, const char *sql, struct problems *problems);
/* The same from a text that is freed. */
sqlite3_stmt *db_prepare_text(struct db *db, struct text *sql, struct problems *problems);

/* SELECT `before`, the columns with `prefix`, and `after`, which begins with FROM. NULL as db_prepare(). */
sqlite3_stmt *db_prepare_columns(struct db *db, const char *before, const char *prefix,
                                 const struct column *columns, int count, const char *after,
                                 struct problems *problems);

/* An INSERT of key columns, written out, and the columns of a struct after them. */
struct db_insert {
    const char *table;
    const char *keys;       /* "station_id, position"; NULL: none */
    const char *key_values; /* "(SELECT station_id FROM station WHERE name = ?), ?" */
    const struct column *columns;
    int count;
    const char
        *conflict;    /* "name": ON CONFLICT (name) DO UPDATE SET the columns; NULL: a conflict is an error */
    const char *also; /* more to set then: "position = excluded.position"; NULL: nothing */
};
sqlite3_stmt *db_prepare_insert(struct db *db, const struct db_insert *insert, struct problems *problems);
/* The same of so many rows at once, whose parameters stand one row after the other. Where one of them fails,
 * those before it are there until the transaction is rolled back, which the caller does. */
sqlite3_stmt *db_prepare_insert_rows(struct db *db, const struct db_insert *insert, int rows,
                                     struct problems *problems);

/* Steps a statement that returns no row, and resets it. */
enum status db_run(struct db *db, sqlite3_stmt *statement, const char *doing, struct problems *problems);

/* Finalizes a statement (NULL: was not prepared, which is a trouble told already). `status` is returned,
 * unless it is STATUS_OK and the last step failed: rows that could not be read are not rows that are not
 * there. */
enum status db_finish(struct db *db, sqlite3_stmt *statement, enum status status, struct problems *problems);

/* Runs fixed SQL without parameters. */
enum status db_exec(struct db *db, const char *sql, struct problems *problems);

#endif
