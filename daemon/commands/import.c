#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/commands/command.h"
#include "daemon/commands/read_farm.h"
#include "daemon/store/farm_store.h"

/* Relative file: addresses start at the farm file, wherever the daemon is started later. */
static enum status anchor_addresses(const char *farm_path, struct farm *farm, struct problems *problems) {
    char *directory = file_directory(farm_path);
    char *whole = directory != NULL ? realpath(directory, NULL) : NULL;
    enum status status = whole != NULL ? STATUS_OK : STATUS_IO;
    for (size_t i = 0; status == STATUS_OK && i < farm->source_count; i++) {
        char *address = farm->source[i].address, anchored[FARM_TEXT_SIZE];
        if (strncmp(address, "file:", 5) != 0 || address[5] == '/')
            continue;
        int size = snprintf(anchored, sizeof anchored, "file:%s/%s", whole, address + 5);
        if (size < 0 || (size_t)size >= sizeof anchored) {
            problem_add(problems, farm_path, 0, 0, farm->source[i].name,
                        "found a path of more than %d bytes from the root to its file", FARM_TEXT_SIZE - 1);
            status = STATUS_REFUSED;
        } else {
            memcpy(address, anchored, (size_t)size + 1);
        }
    }
    free(directory);
    free(whole);
    return status;
}

static enum status run_import(const struct options *options, struct problems *problems) {
    struct farm farm;
    struct db *db = NULL;
    enum status status = read_farm(options->argument[0], &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = anchor_addresses(options->argument[0], &farm, problems);
    if (status == STATUS_OK)
        status = option_open_db(options, DB_CREATE, &db, problems);
    if (status == STATUS_OK)
        status = farm_store_save(db, &farm, option_value(options, "--replace") != NULL, problems);
    if (status == STATUS_OK)
        print_farm_counts(&farm);
    if (status == STATUS_OK)
        db_close(db);
    else
        db_discard(db);
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
