#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/on_db.h"
#include "daemon/view/print_json.h"

static const char *string_of(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

/* A field's name, then the sentence of its page, and why, indented below it. */
static void print_field(const cJSON *field) {
    printf("%s\n    %s\n", string_of(field, "name"), string_of(field, "sentence"));
    if (string_of(field, "why")[0] != '\0')
        printf("    %s\n", string_of(field, "why"));
    const cJSON *note;
    cJSON_ArrayForEach(note, cJSON_GetObjectItemCaseSensitive(field, "notes")) {
        if (cJSON_IsString(note))
            printf("    ! %s\n", note->valuestring);
    }
    putchar('\n');
}

static void print_people(const cJSON *view) {
    const cJSON *item;
    printf("%s, %s\n%s\n", string_of(view, "farm"), string_of(view, "date_text"), string_of(view, "summary"));
    if (string_of(view, "clock")[0] != '\0')
        printf("! %s\n", string_of(view, "clock"));
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(view, "problems")) {
        printf("! %s: %s\n", string_of(item, "source"), string_of(item, "message"));
    }
    putchar('\n');
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(view, "fields")) {
        print_field(item);
    }
    if (string_of(view, "caution")[0] != '\0')
        printf("%s\n", string_of(view, "caution"));
}

static void put_json(cJSON *view) {
    struct text json;
    text_init(&json, 0);
    if (print_json(view, true, &json))
        puts(text_string(&json));
    text_free(&json);
}

static void print_csv(const struct field_morning *mornings, size_t count) {
    struct text csv;
    text_init(&csv, 0);
    view_calls_csv(mornings, count, &csv);
    fputs(text_string(&csv), stdout);
    text_free(&csv);
}

static enum status print_view(const struct options *options, const struct farm_facts *facts, bool us_units,
                              const struct field_morning *mornings, size_t count) {
    struct words *words = words_open(words_choose(getenv("LANG")));
    const struct view_context context = {facts, us_units, words};
    cJSON *view = words != NULL ? view_today(&context, mornings, count) : NULL;
    if (view != NULL && option_value(options, "--json") != NULL)
        put_json(view);
    else if (view != NULL)
        print_people(view);
    words_close(words);
    cJSON_Delete(view);
    return view != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

/* The calls of the newest morning; of an older one than today they are still shown, and say so. */
static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct farm_facts facts;
    struct morning_time morning;
    struct field_morning *mornings = NULL;
    size_t count = 0;
    bool us_units = false;
    enum status status = on_db_facts(options, db, &morning, &facts, &us_units, problems);
    if (status == STATUS_OK && facts.last_run == CALENDAR_NONE) {
        problem_add(problems, NULL, 0, 0, NULL, "no morning was run yet; `waterturn morning` runs one");
        status = STATUS_NOT_FOUND;
    }
    if (status == STATUS_OK)
        status = ledger_store_mornings(db, &mornings, &count, problems);
    if (status == STATUS_OK && option_value(options, "--csv") != NULL)
        print_csv(mornings, count);
    else if (status == STATUS_OK)
        status = print_view(options, &facts, us_units, mornings, count);
    free(mornings);
    return status;
}

static enum status run_call(const struct options *options, struct problems *problems) {
    return on_db(options, DB_READ, show, problems);
}

static const struct option_spec call_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    {"--csv", NULL, "for programs: every number in millimetres and hours"},
    {"--json", NULL, "for programs: what the Today page is made from"},
    OPTION_END};

const struct command command_call = {
    "call", "",           0,       0, "print the calls of the newest morning, the most urgent first",
    "",     call_options, run_call};
