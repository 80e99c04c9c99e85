#include <stdio.h>
#include <stdlib.h>

#include "core/base/calendar.h"
#include "daemon/commands/command.h"
#include "daemon/commands/on_db.h"
#include "daemon/http/workings_data.h"
#include "daemon/view/print_json.h"

static const char *string_of(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

/* "Net radiation (FAO-56 eq. 40)", then its formula, what goes in, and the result, indented below it. */
static void print_line(const cJSON *line) {
    const char *formula = string_of(line, "formula"), *symbol = string_of(line, "symbol");
    const char *us_text = string_of(line, "us_text");
    printf("  %s (%s)\n", string_of(line, "name"),
           string_of(line, formula[0] != '\0' ? "equation" : "source"));
    if (formula[0] != '\0')
        printf("      %s = %s\n", symbol, formula);
    const cJSON *inputs = cJSON_GetObjectItemCaseSensitive(line, "inputs"), *input;
    const char *before = "      with ";
    cJSON_ArrayForEach(input, inputs) {
        printf("%s%s = %s", before, string_of(input, "symbol"), string_of(input, "text"));
        before = ", ";
    }
    if (cJSON_GetArraySize(inputs) > 0)
        putchar('\n');
    printf("      %s = %s%s%s%s\n", symbol, string_of(line, "text"), us_text[0] != '\0' ? " (" : "", us_text,
           us_text[0] != '\0' ? ")" : "");
}

/* The hours as a table under their formulas. */
static void print_hours(const cJSON *hours) {
    const cJSON *step, *column, *row, *cell;
    if (hours == NULL)
        return;
    printf("\n%s\n", string_of(hours, "title"));
    cJSON_ArrayForEach(step, cJSON_GetObjectItemCaseSensitive(hours, "steps")) {
        printf("  %s = %s (%s)\n", string_of(step, "symbol"), string_of(step, "formula"),
               string_of(step, "equation"));
    }
    cJSON_ArrayForEach(step, cJSON_GetObjectItemCaseSensitive(hours, "constants")) {
        printf("  %s = %s\n", string_of(step, "symbol"), string_of(step, "text"));
    }
    printf("  %5s", "");
    cJSON_ArrayForEach(column, cJSON_GetObjectItemCaseSensitive(hours, "columns")) {
        printf(" %8s", string_of(column, "symbol"));
    }
    putchar('\n');
    cJSON_ArrayForEach(row, cJSON_GetObjectItemCaseSensitive(hours, "rows")) {
        printf("  %7s", string_of(row, "hour")); /* the dash is three bytes */
        cJSON_ArrayForEach(cell, cJSON_GetObjectItemCaseSensitive(row, "cells")) {
            printf(" %8s", cJSON_GetStringValue(cell));
        }
        putchar('\n');
    }
}

static void print_people(const cJSON *view) {
    const cJSON *section, *line;
    printf("%s\n%s\n%s\n", string_of(view, "title"), string_of(view, "crop"), string_of(view, "about"));
    cJSON_ArrayForEach(section, cJSON_GetObjectItemCaseSensitive(view, "sections")) {
        printf("\n%s\n", string_of(section, "title"));
        cJSON_ArrayForEach(line, cJSON_GetObjectItemCaseSensitive(section, "lines")) {
            print_line(line);
        }
    }
    print_hours(cJSON_GetObjectItemCaseSensitive(view, "hours"));
    printf("\n%s\n", string_of(view, "closure"));
}

static enum status print_view(const struct options *options, const struct view_context *context,
                              const struct workings_facts *facts) {
    cJSON *view = context->words != NULL ? view_workings(context, facts) : NULL;
    if (view == NULL)
        return STATUS_NO_MEMORY;
    if (option_value(options, "--json") == NULL) {
        print_people(view);
    } else {
        struct text json;
        text_init(&json, 0);
        if (print_json(view, true, &json))
            puts(text_string(&json));
        text_free(&json);
    }
    cJSON_Delete(view);
    return STATUS_OK;
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
        struct words *words = words_open(words_choose(getenv("LANG")));
        const struct view_context context = {&farm, us_units, words};
        status = print_view(options, &context, facts);
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
