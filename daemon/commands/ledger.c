#include <stdio.h>
#include <stdlib.h>

#include "daemon/commands/on_db.h"
#include "daemon/commands/print_ledger.h"
#include "daemon/store/ledger_store.h"

static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct farm_facts facts;
    struct morning_time morning;
    struct ledger_row *rows = NULL;
    size_t count = 0;
    bool us_units = false;
    const char *field = options->argument[0];
    enum status status = on_db_facts(options, db, &morning, &facts, &us_units, problems);
    if (status == STATUS_OK) {
        status = ledger_store_rows(db, field, morning.today, &rows, &count, problems);
        if (status == STATUS_NOT_FOUND)
            problem_add(problems, NULL, 0, 0, NULL,
                        "found no ledger of the field %s by that day; `waterturn call` lists the fields",
                        field);
    }
    if (status == STATUS_OK && option_value(options, "--csv") != NULL)
        print_ledger_csv(field, rows, count);
    else if (status == STATUS_OK)
        print_ledger(field, rows, count, us_units);
    free(rows);
    return status;
}

static enum status run_ledger(const struct options *options, struct problems *problems) {
    return on_db(options, DB_READ, show, problems);
}

static const struct option_spec ledger_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    {"--csv", NULL, "for programs: every term with every digit, in millimetres"},
    OPTION_END};

const struct command command_ledger = {"ledger",
                                       "FIELD",
                                       1,
                                       1,
                                       "print the daily soil-water budget of a field",
                                       "The planting that stands on the field on that day. Letters behind a "
                                       "row say how its weather came to be where it\n"
                                       "was not measured: T temperature, H humidity, S sun, W wind, R rain;\n"
                                       "h: ET0 is the sum of hourly values (FAO-56 eq. 53).",
                                       ledger_options,
                                       run_ledger};
