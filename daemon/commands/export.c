#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/commands/command.h"
#include "daemon/farm/farm_file.h"
#include "daemon/store/farm_store.h"

static enum status run_export(const struct options *options, struct problems *problems) {
    struct farm farm;
    struct db *db = NULL;
    enum status status = option_open_db(options, DB_READ, &db, problems);
    if (status == STATUS_OK)
        status = farm_store_load(db, &farm, problems);
    if (status == STATUS_OK) {
        char *text = farm_file_write(&farm);
        const char *path = options->arguments > 0 ? options->argument[0] : "-";
        status = text != NULL ? file_write(path, text, strlen(text), problems) : STATUS_NO_MEMORY;
        free(text);
        farm_free(&farm);
    }
    db_close(db);
    return status;
}

static const struct option_spec export_options[] = {OPTION_DB, OPTION_END};

const struct command command_export = {
    "export",
    "[FILE]",
    0,
    1,
    "write the database's farm as a farm file (standard output when no file is named)",
    "",
    export_options,
    run_export};
