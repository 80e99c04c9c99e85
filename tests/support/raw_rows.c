#include "tests/support/raw_rows.h"

#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "daemon/store/db.h"
#include "tests/support/bench.h"

struct cell {
    int type; /* SQLITE_INTEGER, SQLITE_FLOAT, SQLITE_NULL */
    union {
        sqlite3_int64 whole;
        double real;
    } value;
};

struct table_rows {
    int columns;
    size_t count, room;
    struct cell *cell;
};

#define TABLE(name, where, order)                                                                            \
    { name, "SELECT * FROM " name where " ORDER BY " order, "DELETE FROM " name where }
static const struct {
    const char *name, *select, *delete;
} tables[] = {
    TABLE("ledger", " WHERE day >= ?1", "planting_id, day"),
    TABLE("ahead", " WHERE ?1 IS NOT NULL", "planting_id, day"),
    TABLE("call", " WHERE day > ?1", "field_id, day"),
    TABLE("outlook", " WHERE day > ?1", "field_id, day, ahead"),
};
#define TABLES (sizeof tables / sizeof tables[0])

struct raw_rows {
    int32_t from;
    struct table_rows table[TABLES];
};

static bool add_row(struct table_rows *rows, sqlite3_stmt *statement) {
    if (rows->count == rows->room) {
        size_t room = rows->room == 0 ? 1024 : rows->room * 2;
        struct cell *grown = realloc(rows->cell, room * (size_t)rows->columns * sizeof *grown);
        if (grown == NULL)
            return false;
        rows->cell = grown;
        rows->room = room;
    }
    struct cell *cell = &rows->cell[rows->count++ * (size_t)rows->columns];
    for (int i = 0; i < rows->columns; i++) {
        cell[i].type = sqlite3_column_type(statement, i);
        if (cell[i].type == SQLITE_FLOAT)
            cell[i].value.real = sqlite3_column_double(statement, i);
        else
            cell[i].value.whole = sqlite3_column_int64(statement, i);
    }
    return true;
}

static bool read_table(sqlite3 *db, const char *select, int32_t from, struct table_rows *rows) {
    sqlite3_stmt *statement = NULL;
    bool good = sqlite3_prepare_v2(db, select, -1, &statement, NULL) == SQLITE_OK;
    int code = SQLITE_DONE;
    sqlite3_bind_int(statement, 1, from);
    rows->columns = sqlite3_column_count(statement);
    while (good && (code = sqlite3_step(statement)) == SQLITE_ROW)
        good = add_row(rows, statement);
    sqlite3_finalize(statement);
    return good && code == SQLITE_DONE;
}

struct raw_rows *raw_rows_read(const char *path, int32_t from) {
    struct raw_rows *rows = calloc(1, sizeof *rows);
    sqlite3 *db = NULL;
    bool good = rows != NULL && sqlite3_open(path, &db) == SQLITE_OK;
    if (good)
        rows->from = from;
    for (size_t i = 0; good && i < TABLES; i++)
        good = read_table(db, tables[i].select, from, &rows->table[i]);
    (void)sqlite3_close(db);
    if (!good) {
        raw_rows_free(rows);
        return NULL;
    }
    return rows;
}

size_t raw_rows_count(const struct raw_rows *rows) {
    size_t count = 0;
    for (size_t i = 0; i < TABLES; i++)
        count += rows->table[i].count;
    return count;
}

static bool insert_table(sqlite3 *db, const char *name, const struct table_rows *rows) {
    char sql[400];
    int size = snprintf(sql, sizeof sql, "INSERT INTO %s VALUES (?", name);
    for (int i = 1; i < rows->columns; i++)
        size += snprintf(sql + size, sizeof sql - (size_t)size, ", ?");
    (void)snprintf(sql + size, sizeof sql - (size_t)size, ")");
    sqlite3_stmt *insert = NULL;
    bool good = sqlite3_prepare_v2(db, sql, -1, &insert, NULL) == SQLITE_OK;
    for (size_t row = 0; good && row < rows->count; row++) {
        const struct cell *cell = &rows->cell[row * (size_t)rows->columns];
        for (int i = 0; i < rows->columns; i++) {
            if (cell[i].type == SQLITE_FLOAT)
                sqlite3_bind_double(insert, i + 1, cell[i].value.real);
            else if (cell[i].type == SQLITE_INTEGER)
                sqlite3_bind_int64(insert, i + 1, cell[i].value.whole);
            else
                sqlite3_bind_null(insert, i + 1);
        }
        good = sqlite3_step(insert) == SQLITE_DONE;
        sqlite3_reset(insert);
    }
    sqlite3_finalize(insert);
    return good;
}

/* The program's own database makes the tables. */
static bool make_file(const char *path) {
    static struct problems problems;
    struct db *db = NULL;
    problems_init(&problems);
    bool good = db_open(path, DB_CREATE, &db, &problems) == STATUS_OK;
    db_close(db);
    problems_free(&problems);
    return good;
}

static void remove_file(const char *path) {
    static const char *const parts[] = {"", "-wal", "-shm"};
    char part[500];
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        (void)snprintf(part, sizeof part, "%s%s", path, parts[i]);
        (void)unlink(part);
    }
}

static bool copy_pages(const char *from, sqlite3 *to) {
    sqlite3 *source = NULL;
    bool good = sqlite3_open(from, &source) == SQLITE_OK;
    sqlite3_backup *copy = good ? sqlite3_backup_init(to, "main", source, "main") : NULL;
    good = copy != NULL && sqlite3_backup_step(copy, -1) == SQLITE_DONE;
    (void)sqlite3_backup_finish(copy);
    (void)sqlite3_close(source);
    return good;
}

static bool take_out(const struct raw_rows *rows, sqlite3 *db) {
    bool good = true;
    for (size_t i = 0; good && i < TABLES; i++) {
        sqlite3_stmt *statement = NULL;
        good = sqlite3_prepare_v2(db, tables[i].delete, -1, &statement, NULL) == SQLITE_OK &&
               sqlite3_bind_int(statement, 1, rows->from) == SQLITE_OK &&
               sqlite3_step(statement) == SQLITE_DONE;
        (void)sqlite3_finalize(statement);
    }
    return good;
}

/* A copy without the rows. */
static bool make_copy(const struct raw_rows *rows, const char *of, const char *path) {
    sqlite3 *db = NULL;
    bool good = sqlite3_open(path, &db) == SQLITE_OK && copy_pages(of, db) && take_out(rows, db);
    (void)sqlite3_close(db);
    return good;
}

double raw_rows_insert(const struct raw_rows *rows, const char *among, const char *path) {
    sqlite3 *db = NULL;
    remove_file(path);
    bool good = (among != NULL ? make_copy(rows, among, path) : make_file(path)) &&
                sqlite3_open(path, &db) == SQLITE_OK &&
                sqlite3_exec(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL", NULL, NULL, NULL) ==
                    SQLITE_OK;
    double began = bench_cpu_s();
    good = good && sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL) == SQLITE_OK;
    for (size_t i = 0; good && i < TABLES; i++)
        good = insert_table(db, tables[i].name, &rows->table[i]);
    good = good && sqlite3_exec(db, "COMMIT", NULL, NULL, NULL) == SQLITE_OK;
    double seconds = bench_cpu_s() - began;
    (void)sqlite3_close(db);
    remove_file(path);
    return good ? seconds : -1;
}

void raw_rows_free(struct raw_rows *rows) {
    if (rows == NULL)
        return;
    for (size_t i = 0; i < TABLES; i++)
        free(rows->table[i].cell);
    free(rows);
}
