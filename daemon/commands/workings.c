#include <stdio.h>
#include <stdlib.h>

#include "core/base/calendar.h"
#include "daemon/commands/command.h"
#include "daemon/commands/on_db.h"
#include "daemon/commands/print_view.h"
#include "daemon/http/workings_data.h"

/* "Net radiation (FAO-56 eq. 40)", then its formula, what goes in, and the result, indented below it. */
static void print_line(const cJSON *line, const char *with) {
    const char *formula = view_string(line, "formula"), *symbol = view_string(line, "symbol");
    const char *us_text = view_string(line, "us_text");
    printf("  %s (%s)\n", view_string(line, "name"),
           view_string(line, formula[0] != '\0' ? "equation" : "source"));
    if (formula[0] != '\0')
        printf("      %s = %s\n", symbol, formula);
    const cJSON *inputs = cJSON_GetObjectItemCaseSensitive(line, "inputs"), *input;
    if (cJSON_GetArraySize(inputs) > 0)
        printf("      %s ", with);
    cJSON_ArrayForEach(input, inputs) {
        printf("%s%s = %s", input != inputs->child ? ", " : "", view_string(input, "symbol"),
               view_string(input, "text"));
    }
    if (cJSON_GetArraySize(inputs) > 0)
        putchar('\n');
    printf("      %s = %s%s%s%s\n", symbol, view_string(line, "text"), us_text[0] != '\0' ? " (" : "",
           us_text, us_text[0] != '\0' ? ")" : "");
}

/* The hours as a table under their formulas. */
static void print_hours(const cJSON *hours) {
    const cJSON *step, *column, *row, *cell;
    if (hours == NULL)
        return;
    printf("\n%s\n", view_string(hours, "title"));
    cJSON_ArrayForEach(step, cJSON_GetObjectItemCaseSensitive(hours, "steps")) {
        printf("  %s = %s (%s)\n", view_string(step, "symbol"), view_string(step, "formula"),
               view_string(step, "equation"));
    }
    cJSON_ArrayForEach(step, cJSON_GetObjectItemCaseSensitive(hours, "constants")) {
        printf("  %s = %s\n", view_string(step, "symbol"), view_string(step, "text"));
    }
    printf("  %5s", "");
    cJSON_ArrayForEach(column, cJSON_GetObjectItemCaseSensitive(hours, "columns")) {
        printf(" %8s", view_string(column, "symbol"));
    }
    putchar('\n');
    cJSON_ArrayForEach(row, cJSON_GetObjectItemCaseSensitive(hours, "rows")) {
        printf("  %7s", view_string(row, "hour")); /* the dash is three bytes */
        cJSON_ArrayForEach(cell, cJSON_GetObjectItemCaseSensitive(row, "cells")) {
            printf(" %8s", cJSON_GetStringValue(cell));
        }
        putchar('\n');
    }
}

static void print_people(const cJSON *view) {
    const cJSON *section, *line;
    printf("%s\n%s\n%s\n", view_string(view, "title"), view_string(view, "crop"), view_string(view, "about"));
    cJSON_ArrayForEach(section, cJSON_GetObjectItemCaseSensitive(view, "sections")) {
        printf("\n%s\n", view_string(section, "title"));
        cJSON_ArrayForEach(line, cJSON_GetObjectItemCaseSensitive(section, "lines")) {
            print_line(line, view_label(view, "work_with"));
        }
    }
    print_hours(cJSON_GetObjectItemCaseSensitive(view, "hours"));
    printf("\n%s\n", view_string(view, "closure"));
}

static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct farm_facts farm;
    struct morning_time morning;
    bool us_units = false;
    int32_t date;
    const char *field = options->argument[0], *day = options->argument[1];
    if (calendar_parse_iso(day, &date) != STATUS_OK) {
        problem_add(problems, NULL, 0, 0, NULL, "found %s, expected a date as 2026-07-14", day);
        return STATUS_USAGE;
    }
    enum status status = on_db_facts(options, db, &morning, &farm, &us_units, problems);
    struct workings_facts *facts = calloc(1, sizeof *facts);
    if (status == STATUS_OK)
        status = facts != NULL ? workings_load(db, field, date, facts, problems) : STATUS_NO_MEMORY;
    if (status == STATUS_NOT_FOUND)
        problem_add(problems, NULL, 0, 0, NULL,
                    "found no %s in the ledger of the field %s, nor among its days to come; `waterturn call` "
                    "lists the fields",
                    day, field);
    if (status == STATUS_OK) {
        struct words *words = view_words();
        const struct view_context context = {&farm, us_units, words};
        status = print_view(options, words != NULL ? view_workings(&context, facts) : NULL, print_people);
        words_close(words);
    }
    free(facts);
    return status;
}

static enum status run_workings(const struct options *options, struct problems *problems) {
    return on_db(options, DB_READ, show, problems);
}

static const struct option_spec workings_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    {"--json", NULL, "for programs: what the page is made from, every digit"},
    OPTION_END};

const struct command command_workings = {
    "workings",
    "FIELD DATE",
    2,
    2,
    "print one day of a field with every equation, input and result",
    "Each number is reckoned anew by the functions of the balance, and compared with the ledger.",
    workings_options,
    run_workings};
