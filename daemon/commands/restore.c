#include <stdio.h>
#include <unistd.h>

#include "daemon/commands/command.h"
#include "daemon/lifecycle/instance.h"
#include "daemon/store/backup_store.h"

static enum status run_restore(const struct options *options, struct problems *problems) {
    struct text path;
    int lock = -1;
    text_init(&path, 0);
    enum status status = option_db_path(options, true, &path, problems);
    if (status == STATUS_OK)
        status = instance_take(text_string(&path), &lock, problems);
    bool before = access(text_string(&path), F_OK) == 0;
    if (status == STATUS_OK)
        status = backup_store_restore(options->argument[0], text_string(&path), problems);
    if (status == STATUS_OK)
        printf("%s: restored from %s\n", text_string(&path), options->argument[0]);
    if (status == STATUS_OK && before)
        printf("what was there before is %s.before-restore\n", text_string(&path));
    instance_leave(lock);
    text_free(&path);
    return status;
}

static const struct option_spec restore_options[] = {OPTION_DB, OPTION_END};

const struct command command_restore = {
    "restore",
    "FILE",
    1,
    1,
    "put a backup in the place of the database",
    "The backup is checked first; the daemon must not run. The database that was there is kept beside it.",
    restore_options,
    run_restore};
