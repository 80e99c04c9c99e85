/* Changes a database beside the program, as another build might have: change_db FILE SQL. */
#include <sqlite3.h>
#include <stdio.h>

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    int bad = argc != 3 || sqlite3_open_v2(argv[1], &db, SQLITE_OPEN_READWRITE, NULL) != SQLITE_OK ||
              sqlite3_exec(db, argv[2], NULL, NULL, NULL) != SQLITE_OK || sqlite3_changes(db) == 0;
    if (bad)
        fprintf(stderr, "change_db: %s\n", db != NULL ? sqlite3_errmsg(db) : "usage: change_db FILE SQL");
    sqlite3_close(db);
    return bad ? 1 : 0;
}
