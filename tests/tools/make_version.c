/* Makes an empty database of an older version, by the scripts that made it then: make_version 1 FILE */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/asset.h"

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    const struct asset *schema = asset_find("daemon/store/schema.sql");
    if (argc != 3 || strcmp(argv[1], "1") != 0 || schema == NULL)
        return 2;
    /* 0x7774726e, "wtrn": the mark of our files. */
    if (sqlite3_open(argv[2], &db) != SQLITE_OK ||
        sqlite3_exec(db, (const char *)schema->bytes, NULL, NULL, NULL) != SQLITE_OK ||
        sqlite3_exec(db, "PRAGMA application_id = 2004120174; PRAGMA user_version = 1", NULL, NULL, NULL) !=
            SQLITE_OK)
        fprintf(stderr, "make_version: %s\n", sqlite3_errmsg(db));
    int code = sqlite3_errcode(db);
    sqlite3_close(db);
    return code == SQLITE_OK ? EXIT_SUCCESS : EXIT_FAILURE;
}
