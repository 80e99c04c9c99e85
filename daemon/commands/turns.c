#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/commands/on_db.h"
#include "daemon/commands/print_view.h"
#include "daemon/http/turns_data.h"

static const cJSON *list_of(const cJSON *object, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

/* ---- for people */

struct line {
    int start, order;
    const cJSON *turn;
};

static int compare_lines(const void *left, const void *right) {
    const struct line *a = left, *b = right;
    if (a->start != b->start)
        return a->start < b->start ? -1 : 1;
    return a->order < b->order ? -1 : 1;
}

static int turns_of(const cJSON *supply) {
    const cJSON *field;
    int count = 0;
    cJSON_ArrayForEach(field, list_of(supply, "fields")) {
        count += cJSON_GetArraySize(list_of(field, "turns"));
    }
    return count;
}

/* The turns of a supply as they come, whatever their field. */
static void print_turns(const cJSON *supply) {
    const cJSON *field, *turn;
    int count = 0;
    struct line *lines = calloc((size_t)turns_of(supply) + 1, sizeof *lines);
    if (lines == NULL)
        return;
    cJSON_ArrayForEach(field, list_of(supply, "fields")) {
        cJSON_ArrayForEach(turn, list_of(field, "turns")) {
            lines[count] = (struct line){list_of(turn, "start_hour")->valueint, count, turn};
            count++;
        }
    }
    qsort(lines, (size_t)count, sizeof *lines, compare_lines);
    for (int i = 0; i < count; i++) {
        const char *state = view_string(lines[i].turn, "state");
        bool told = strcmp(state, "planned") != 0;
        struct text line;
        text_init(&line, 0);
        text_printf(&line, "%s: %s%s%s%s%s", view_string(lines[i].turn, "field"),
                    view_string(lines[i].turn, "text"), told ? " [" : "",
                    told ? view_string(lines[i].turn, "state_text") : "", told ? "]" : "",
                    cJSON_IsTrue(list_of(lines[i].turn, "pinned")) ? " *" : "");
        view_print("    ", text_string(&line));
        text_free(&line);
    }
    free(lines);
}

static void print_sentence(const char *before, const cJSON *object, const char *key) {
    view_print(before, view_string(object, key));
}

static void print_supply(const cJSON *supply) {
    const cJSON *field;
    printf("\n%s, %s\n", view_string(supply, "name"), view_string(supply, "flow_text"));
    print_sentence("    ", supply, "no_plan");
    print_turns(supply);
    print_sentence("    ", supply, "hours_text");
    print_sentence("    ", list_of(supply, "allotment"), "text");
    print_sentence("    ", list_of(supply, "period_allotment"), "text");
    cJSON_ArrayForEach(field, list_of(supply, "fields")) {
        if (view_string(field, "no_turns")[0] != '\0' && view_string(supply, "no_plan")[0] == '\0')
            printf("    %s: %s\n", view_string(field, "name"), view_string(field, "no_turns"));
    }
}

static void print_people(const cJSON *view) {
    const cJSON *item, *cure;
    printf("%s, %s\n%s\n", view_string(view, "farm"), view_string(view, "date_text"),
           view_string(view, "summary"));
    print_sentence("", view, "no_plan");
    cJSON_ArrayForEach(item, list_of(view, "limits")) {
        print_sentence("! ", item, "sentence");
        cJSON_ArrayForEach(cure, list_of(item, "cures")) {
            view_print("    - ", cJSON_GetStringValue(cure));
        }
    }
    cJSON_ArrayForEach(item, list_of(view, "supplies")) {
        print_supply(item);
    }
    if (cJSON_GetArraySize(list_of(view, "changes")) > 0)
        putchar('\n');
    cJSON_ArrayForEach(item, list_of(view, "changes")) {
        print_sentence("~ ", item, "sentence");
    }
    print_sentence("~ ", view, "change_sentence");
    putchar('\n');
    print_sentence("", list_of(view, "cost"), "sentence");
}

/* ---- for programs */

static void put(struct text *text) {
    fputs(text_string(text), stdout);
    text_free(text);
}

static void print_csv(const struct turns_facts *facts) {
    struct text csv;
    text_init(&csv, 0);
    view_turns_csv(facts, &csv);
    put(&csv);
}

/* A name is a supply's, or else a field's. */
static enum status print_ics(const struct view_context *context, const struct turns_facts *facts,
                             const char *name, struct problems *problems) {
    struct turns_feed feed = {.instant = wall_clock_instant};
    struct text ics;
    if (farm_supply_named(facts->farm, name) != NULL)
        feed.supply = name;
    else if (farm_field_named(facts->farm, name) != NULL)
        feed.field = name;
    else {
        problem_add(problems, NULL, 0, 0, "--ics", "found \"%s\", expected a supply or a field of the farm",
                    name);
        return STATUS_NOT_FOUND;
    }
    text_init(&ics, 0);
    view_turns_ics(context, facts, &feed, &ics);
    put(&ics);
    return STATUS_OK;
}

static enum status print(const struct options *options, const struct view_context *context,
                         const struct turns_facts *facts, struct problems *problems) {
    if (context->words == NULL)
        return STATUS_NO_MEMORY;
    if (option_value(options, "--ics") != NULL)
        return print_ics(context, facts, option_value(options, "--ics"), problems);
    if (option_value(options, "--csv") != NULL) {
        print_csv(facts);
        return STATUS_OK;
    }
    return print_view(options, view_turns(context, facts), print_people);
}

static enum status show(const struct options *options, struct db *db, struct problems *problems) {
    struct farm_facts farm;
    struct morning_time morning;
    struct turns_data turns;
    struct field_morning *mornings = NULL;
    size_t count = 0;
    bool us_units = false;
    memset(&turns, 0, sizeof turns);
    enum status status = on_db_facts(options, db, &morning, &farm, &us_units, problems);
    if (status == STATUS_OK)
        status = ledger_store_calls(db, &mornings, &count, problems);
    if (status == STATUS_OK)
        status = turns_data_load(db, morning.today, &turns, problems);
    struct words *words = view_words();
    const struct view_context context = {&farm, us_units, words};
    const struct turns_facts facts = turns_data_facts(&turns, mornings, count, &morning);
    if (status == STATUS_OK)
        status = print(options, &context, &facts, problems);
    words_close(words);
    turns_data_free(&turns);
    free(mornings);
    return status;
}

static enum status run_turns(const struct options *options, struct problems *problems) {
    return on_db(options, DB_READ, show, problems);
}

static const struct option_spec turns_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_UNITS,
    {"--csv", NULL, "for programs: every turn, in millimetres and hours"},
    {"--ics", "NAME", "for calendar programs: the turns of a supply or a field"},
    {"--json", NULL, "for programs: what the board is made from"},
    OPTION_END};

const struct command command_turns = {
    "turns",
    "",
    0,
    0,
    "print the turns of the days ahead: which field gets the shared water next",
    "By supply, in the order in which they come; * behind a turn: it is pinned. What no plan can meet is "
    "named\n"
    "with what would cure it, each by itself.",
    turns_options,
    run_turns};
