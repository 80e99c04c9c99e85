#include "daemon/commands/command.h"
#include "daemon/commands/read_farm.h"
#include "daemon/store/farm_store.h"

static enum status run_import(const struct options *options, struct problems *problems) {
    struct farm farm;
    struct db *db = NULL;
    enum status status = read_farm(options->argument[0], &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = option_open_db(options, DB_CREATE, &db, problems);
    if (status == STATUS_OK)
        status = farm_store_save(db, &farm, option_value(options, "--replace") != NULL, problems);
    if (status == STATUS_OK)
        print_farm_counts(&farm);
    db_close(db);
    farm_free(&farm);
    return status;
}

static const struct option_spec import_options[] = {
    OPTION_DB,
    {"--replace", NULL, "drop also the records of the database and fields that the file does not have"},
    OPTION_END};

const struct command command_import = {"import",
                                       "FARMFILE",
                                       1,
                                       1,
                                       "put a farm file into the database",
                                       "Fields, plantings, soils, supplies, stations and sources become "
                                       "those of the file. Records of the file that\n"
                                       "are not in the database are added; records of the database stay. A "
                                       "file with anything wrong changes nothing.",
                                       import_options,
                                       run_import};
