/* Makes an empty database of an older version, by the scripts that made it then: make_version VERSION FILE */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/asset.h"

static const char *const scripts[] = {"daemon/store/schema.sql", "daemon/store/migration_2.sql",
                                      "daemon/store/migration_3.sql", "daemon/store/migration_4.sql"};

int main(int argc, char **argv) {
    sqlite3 *db = NULL;
    char mark[96];
    int version = argc == 3 ? atoi(argv[1]) : 0;
    if (version < 1 || version > (int)(sizeof scripts / sizeof scripts[0]))
        return 2;
    int code = sqlite3_open(argv[2], &db);
    for (int i = 0; i < version && code == SQLITE_OK; i++)
        code = sqlite3_exec(db, (const char *)asset_find(scripts[i])->bytes, NULL, NULL, NULL);
    /* 0x7774726e, "wtrn": the mark of our files. */
    (void)snprintf(mark, sizeof mark, "PRAGMA application_id = 2004120174; PRAGMA user_version = %d",
                   version);
    if (code == SQLITE_OK)
        code = sqlite3_exec(db, mark, NULL, NULL, NULL);
    if (code != SQLITE_OK)
        fprintf(stderr, "make_version: %s\n", sqlite3_errmsg(db));
    sqlite3_close(db);
    return code == SQLITE_OK ? EXIT_SUCCESS : EXIT_FAILURE;
}
