#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/on_db.h"
#include "daemon/commands/print_view.h"
#include "daemon/store/turns_store.h"

/* A field's name, then the sentence of its page, and why, indented below it. */
static void print_field(const cJSON *field) {
    const cJSON *note;
    puts(view_string(field, "name"));
    view_print("    ", view_string(field, "sentence"));
    view_print("    ", view_string(field, "why"));
    view_print("    ", view_string(field, "dry_dates"));
    view_print("    ", view_string(field, "turn_over"));
    view_print("    ", view_string(field, "turn"));
    cJSON_ArrayForEach(note, cJSON_GetObjectItemCaseSensitive(field, "notes")) {
        if (cJSON_IsString(note))
            view_print("    ! ", note->valuestring);
    }
    putchar('\n');
}

static void print_people(const cJSON *view) {
    const cJSON *item;
    printf("%s, %s\n%s\n", view_string(view, "farm"), view_string(view, "date_text"),
           view_string(view, "summary"));
    view_print("", view_string(view, "summary_more"));
    view_print("! ", view_string(view, "clock"));
    if (cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(view, "run_is_old")))
        view_print("! ", view_string(view, "run"));
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(view, "problems")) {
        printf("! %s: %s\n", view_string(item, "source"), view_string(item, "message"));
    }
    putchar('\n');
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(view, "fields")) {
        print_field(item);
    }
    view_print("", view_string(cJSON_GetObjectItemCaseSensitive(view, "labels"), "caution_probe"));
}

static void print_csv(const struct field_morning *mornings, size_t count) {
    struct text csv;
    text_init(&csv, 0);
    view_calls_csv(mornings, count, &csv);
    fputs(text_string(&csv), stdout);
    text_free(&csv);
}

static enum status print(const struct options *options, const struct farm_facts *facts, bool us_units,
                         const struct field_morning *mornings, size_t count) {
    struct words *words = view_words();
    const struct view_context context = {facts, us_units, words};
    cJSON *view = words != NULL ? view_today(&context, mornings, count) : NULL;
    enum status status = print_view(options, view, print_people);
    words_close(words);
    return status;
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
    if (status == STATUS_OK)
        status = turns_store_next(db, (int64_t)morning.today * 24 + morning.minute / 60, mornings, count,
                                  problems);
    if (status == STATUS_OK && option_value(options, "--csv") != NULL)
        print_csv(mornings, count);
    else if (status == STATUS_OK)
        status = print(options, &facts, us_units, mornings, count);
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
