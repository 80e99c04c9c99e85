/* Who may come in, and closing the door. */
#include <stdio.h>
#include <stdlib.h>

#include "daemon/commands/command.h"
#include "daemon/store/access_store.h"

static void print_day(int64_t at) {
    char iso[CALENDAR_ISO_SIZE];
    printf("  %-10s", at != 0 ? calendar_format_iso(wall_clock_of(at).today, iso) : "");
}

static enum status list_people(struct db *db, struct problems *problems) {
    struct access_device *devices = NULL;
    size_t count = 0;
    enum status status = access_store_list(db, &devices, &count, problems);
    if (status != STATUS_OK)
        return status;
    if (count == 0)
        puts("no device was let in yet: everybody on this machine may come in, and nobody else;\n"
             "`waterturn pair NAME` makes a link");
    else
        printf("%5s  %-8s  %-10s  %-10s  %-10s  %s\n", "id", "role", "paired", "seen", "closed", "name");
    for (size_t i = 0; i < count; i++) {
        printf("%5lld  %-8s", devices[i].id, access_role_name(devices[i].role));
        print_day(devices[i].paired_at);
        print_day(devices[i].seen_at);
        print_day(devices[i].revoked_at);
        printf("  %s\n", devices[i].name);
    }
    free(devices);
    return STATUS_OK;
}

static enum status run_people(const struct options *options, struct problems *problems) {
    struct db *db = NULL;
    double id = 0;
    const char *revoke = option_value(options, "--revoke");
    enum status status = option_number(options, "--revoke", 1, 1e15, 1, &id, problems);
    if (status == STATUS_OK)
        status = option_open_db(options, DB_WRITE, &db, problems);
    if (status == STATUS_OK && revoke != NULL) {
        status = access_store_revoke(db, (long long)id, wall_clock_now().at, problems);
        if (status == STATUS_NOT_FOUND)
            problem_add(problems, NULL, 0, 0, "--revoke",
                        "found %s, expected the id of a device that may come in", revoke);
    }
    if (status == STATUS_OK)
        status = list_people(db, problems);
    db_close(db);
    return status;
}

static const struct option_spec people_options[] = {
    OPTION_DB, {"--revoke", "ID", "close the door to this device, at once"}, OPTION_END};

const struct command command_people = {
    "people",       "",        0, 0, "list the devices that may come in, or close the door to one", "",
    people_options, run_people};
