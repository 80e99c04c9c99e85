#include <stdio.h>

#include "daemon/commands/command.h"
#include "daemon/store/backup_store.h"

static enum status run_backup(const struct options *options, struct problems *problems) {
    struct db *db = NULL;
    enum status status = option_open_db(options, DB_CHECK, &db, problems);
    if (status == STATUS_OK)
        status = backup_store_write(db, options->argument[0], problems);
    if (status == STATUS_OK)
        printf("%s: written, and found whole\n", options->argument[0]);
    db_close(db);
    return status;
}

static const struct option_spec backup_options[] = {OPTION_DB, OPTION_END};

const struct command command_backup = {
    "backup",
    "FILE",
    1,
    1,
    "copy the database to a file, also while it is in use",
    "The copy is checked before it gets its name; a file that is there is replaced, but no\n"
    "database in use. It holds everything, keys too: keep it where only you can read it.",
    backup_options,
    run_backup};
