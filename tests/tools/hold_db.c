/* Holds a database's write lock until its input ends: hold_db FILE. Prints "held" when it has it. */
#include <sqlite3.h>
#include <stdio.h>

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    int bad = argc != 2 || sqlite3_open_v2(argv[1], &db, SQLITE_OPEN_READWRITE, NULL) != SQLITE_OK ||
              sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL) != SQLITE_OK;
    if (bad) {
        fprintf(stderr, "hold_db: %s\n", db != NULL ? sqlite3_errmsg(db) : "usage: hold_db FILE");
    } else {
        puts("held");
        (void)fflush(stdout);
        while (getchar() != EOF)
            continue;
    }
    sqlite3_close(db);
    return bad ? 1 : 0;
}
