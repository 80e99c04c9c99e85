/* Prints every row of every table of a database, in a fixed order, with numbers to the last bit: dump_db
 * FILE. Fails when SQLite finds the file damaged, or a row without what
 * it refers to. */
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>

static void print_cell(sqlite3_stmt *statement, int column) {
    switch (sqlite3_column_type(statement, column)) {
    case SQLITE_NULL:
        printf("null");
        break;
    case SQLITE_FLOAT:
        printf("%a", sqlite3_column_double(statement, column));
        break;
    default:
        printf("%s", (const char *)sqlite3_column_text(statement, column));
        break;
    }
}

static int print_table(sqlite3 *db, const char *table) {
    char sql[256];
    sqlite3_stmt *statement = NULL;
    (void)snprintf(sql, sizeof sql, "SELECT * FROM \"%s\" ORDER BY 1, 2", table);
    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK)
        return -1;
    printf("table %s\n", table);
    int code;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        for (int i = 0; i < sqlite3_column_count(statement); i++) {
            fputs(i > 0 ? " | " : "", stdout);
            print_cell(statement, i);
        }
        putchar('\n');
    }
    sqlite3_finalize(statement);
    return code == SQLITE_DONE ? 0 : -1;
}

/* The first row of a check, the word "ok" where it finds nothing. */
static int is_whole(sqlite3 *db, const char *check) {
    sqlite3_stmt *statement = NULL;
    int whole = sqlite3_prepare_v2(db, check, -1, &statement, NULL) == SQLITE_OK &&
                sqlite3_step(statement) == SQLITE_ROW &&
                strcmp((const char *)sqlite3_column_text(statement, 0), "ok") == 0;
    if (!whole)
        fprintf(stderr, "dump_db: %s: %s\n", check,
                statement != NULL ? (const char *)sqlite3_column_text(statement, 0) : sqlite3_errmsg(db));
    sqlite3_finalize(statement);
    return whole;
}

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    sqlite3_stmt *tables = NULL;
    int bad = argc != 2 || sqlite3_open_v2(argv[1], &db, SQLITE_OPEN_READWRITE, NULL) != SQLITE_OK ||
              !is_whole(db, "PRAGMA integrity_check") ||
              !is_whole(db, "SELECT coalesce(group_concat(\"table\" || ' lacks its ' || parent), 'ok') FROM "
                            "pragma_foreign_key_check") ||
              sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name", -1,
                                 &tables, NULL) != SQLITE_OK;
    while (!bad && sqlite3_step(tables) == SQLITE_ROW)
        bad = print_table(db, (const char *)sqlite3_column_text(tables, 0)) != 0;
    if (bad)
        fprintf(stderr, "dump_db: %s\n", db != NULL ? sqlite3_errmsg(db) : "usage: dump_db FILE");
    sqlite3_finalize(tables);
    sqlite3_close(db);
    return bad ? 1 : 0;
}
