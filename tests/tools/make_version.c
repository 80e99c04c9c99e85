/* Makes an empty database of an older version, by the scripts that made it then: make_version VERSION FILE */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/asset.h"

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    static const char *const scripts[] = {"daemon/store/schema.sql", "daemon/store/migration_2.sql",
                                          "daemon/store/migration_3.sql", "daemon/store/migration_4.sql",
                                          "daemon/store/migration_5.sql"};
    int version = argc == 3 ? atoi(argv[1]) : 0;
    if (version < 1 || version > (int)(sizeof scripts / sizeof scripts[0]))
        return 2;
    char marks[100];
    /* 0x7774726e, "wtrn": the mark of our files. */
    (void)snprintf(marks, sizeof marks, "PRAGMA application_id = 2004120174; PRAGMA user_version = %d",
                   version);
    int code = sqlite3_open(argv[2], &db);
    for (int i = 0; code == SQLITE_OK && i < version; i++)
        code = sqlite3_exec(db, (const char *)asset_find(scripts[i])->bytes, NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_exec(db, marks, NULL, NULL, NULL);
    if (code != SQLITE_OK)
        fprintf(stderr, "make_version: %s\n", sqlite3_errmsg(db));
    sqlite3_close(db);
    return code == SQLITE_OK ? EXIT_SUCCESS : EXIT_FAILURE;
}
