#include "daemon/commands/command.h"
#include "daemon/commands/read_farm.h"

static enum status run_check(const struct options *options, struct problems *problems) {
    struct farm farm;
    enum status status = read_farm(options->argument[0], &farm, problems);
    if (status != STATUS_OK)
        return status;
    print_farm_counts(&farm);
    farm_free(&farm);
    return STATUS_OK;
}

static const struct option_spec no_options[] = {OPTION_END};

const struct command command_check = {
    "check", "FARMFILE", 1,        1, "judge a farm file: all that is wrong, where, and what would be right",
    "",      no_options, run_check};
