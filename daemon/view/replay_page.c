#include "daemon/view/replay_page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/replay/made.h"
#include "daemon/view/frame.h"
#include "daemon/view/json_add.h"
#include "daemon/view/say.h"

/* ---- the form ---- */

static const struct replay_set sets[] = {
    {"share", "irrigation.share = {value}", false, QUANTITY_SHARE, {"%", "%"}, {"75 %", "75 %"}},
    {"depletion",
     "planting:{planting}.allowed_depletion = {value}",
     false,
     QUANTITY_SHARE,
     {"%", "%"},
     {"60 %", "60 %"}},
    {"due",
     "planting:{planting}.allowed_depletion = {value}; irrigation = automatic",
     false,
     QUANTITY_SHARE,
     {"%", "%"},
     {"60 %", "60 %"}},
    {"stop", "irrigation.stop = {value}", true, QUANTITY_NUMBER, {NULL, NULL}, {"2026-08-15", "2026-08-15"}},
    {"planted",
     "planting:{planting}.planted = {value}",
     true,
     QUANTITY_NUMBER,
     {NULL, NULL},
     {"2026-06-01", "2026-06-01"}},
    {"years", "weather.years = {value}", false, QUANTITY_NUMBER, {NULL, NULL}, {"-1", "-1"}},
    {"curve", "soil:{soil}.curve_number = {value}", false, QUANTITY_NUMBER, {NULL, NULL}, {"80", "80"}},
    {"allotment",
     "supply:{supply}.allotment = {value}; irrigation = automatic",
     false,
     QUANTITY_VOLUME,
     {"m3", "ac-in"},
     {"2000 m³", "20 ac-in"}},
    {"free", NULL, false, QUANTITY_NUMBER, {NULL, NULL}, {NULL, NULL}},
};

const struct replay_set *replay_set_at(size_t index) {
    return index < sizeof sets / sizeof *sets ? &sets[index] : NULL;
}

/* "the water that was given" */
static const char *set_words(const struct view_context *context, const struct replay_set *set) {
    char key[40];
    (void)snprintf(key, sizeof key, "replay.set.%s", set->name);
    return words_get(context->words, key);
}

/* All of them, each with an example. */
static void add_sets(const struct view_context *context, const struct replay_set *chosen, cJSON *entry) {
    cJSON *options = cJSON_AddArrayToObject(entry, "options");
    for (size_t i = 0; replay_set_at(i) != NULL; i++) {
        const struct replay_set *set = replay_set_at(i);
        const char *example = set->example[context->us_units];
        char text[SAY_SIZE];
        const struct words_hole holes[] = {{"name", set_words(context, set)},
                                           {"example", example != NULL ? example : ""}};
        cJSON *option = json_add_entry(options);
        cJSON_AddStringToObject(option, "value", set->name);
        cJSON_AddStringToObject(option, "text",
                                example != NULL ? say_words(context, "replay.set", holes, 2, text)
                                                : holes[0].value);
        cJSON_AddBoolToObject(option, "chosen", set == chosen);
    }
}

static void add_what(const struct view_context *context, const struct form_page *form,
                     const struct replay_set *chosen, int n, cJSON *entry) {
    char name[16], set[16], described[32], number[SAY_SIZE], label[SAY_SIZE];
    const struct words_hole hole = {"n", say_count(n, number)};
    (void)snprintf(name, sizeof name, "what%d", n);
    (void)snprintf(set, sizeof set, "set%d", n);
    (void)snprintf(described, sizeof described, "%s-error", name);
    const char *error = fill_error(form->fill, name);
    cJSON_AddStringToObject(entry, "name", name);
    cJSON_AddStringToObject(entry, "set", set);
    cJSON_AddStringToObject(entry, "label", say_words(context, "replay.what", &hole, 1, label));
    cJSON_AddStringToObject(entry, "value", fill_value(form->fill, name));
    if (error != NULL) {
        cJSON_AddStringToObject(entry, "error", error);
        cJSON_AddStringToObject(entry, "described", described);
    }
    add_sets(context, chosen, entry);
}

static void add_form(const struct view_context *context, const struct field_morning *mornings, size_t count,
                     const struct form_page *form, const struct replay_wish *wish, cJSON *page) {
    cJSON *fields = cJSON_AddArrayToObject(page, "fields");
    for (size_t i = 0; i < count; i++) {
        cJSON *entry = json_add_entry(fields);
        cJSON_AddStringToObject(entry, "name", mornings[i].field);
        cJSON_AddBoolToObject(entry, "chosen", strcmp(mornings[i].field, wish->field) == 0);
    }
    bool fresh = wish->field[0] == '\0';
    cJSON_AddBoolToObject(page, "rainfed", wish->rainfed || fresh);
    cJSON_AddBoolToObject(page, "automatic", wish->automatic);
    cJSON *what = cJSON_AddArrayToObject(page, "what");
    for (int i = 0; i < REPLAY_WHAT_MAX; i++)
        add_what(context, form, wish->set[i], i + 1, json_add_entry(what));
    view_form_inputs(context, form, page);
    bool any = false;
    for (size_t i = 0; i < form->count; i++)
        any = any || fill_value(form->fill, form->input[i].name)[0] != '\0';
    cJSON_AddBoolToObject(page, "has_money", any);
}

/* ---- the table ---- */

#define SMALL_LEAST 1e-6 /* what is below it is shown as nothing */

/* Three figures at least of what is worth showing: tonnes per m3 are thousandths. */
static int decimals_of(double value) {
    double size = fabs(value);
    if (size >= 10)
        return size >= 100 ? 0 : 1;
    return size >= 1 || size < SMALL_LEAST ? 3 : 2 - (int)floor(log10(size));
}

static const char *say_per_cent(const struct view_context *context, double value, char out[SAY_SIZE]) {
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", say_number(context, value, 1, number)};
    return say_words(context, "number.percent", &hole, 1, out);
}

static const char *cell(const struct view_context *context, enum term_kind kind, double value,
                        char out[SAY_SIZE]) {
    if (!isfinite(value))
        return "–";
    double shown = replay_term_shown(kind, value, context->us_units);
    switch (kind) {
    case TERM_COUNT:
    case TERM_DAYS:
        return say_count((int)value, out);
    case TERM_SHARE:
        return say_share(context, value, out);
    case TERM_SHARE_MM:
        return say_per_cent(context, shown, out);
    case TERM_RATIO:
        return say_number(context, shown, 2, out);
    case TERM_DEPTH:
        return say_number(context, shown, context->us_units ? 2 : 1, out);
    case TERM_FINE:
    case TERM_AMOUNT:
    case TERM_PER_HA:
    case TERM_PER_MM:
    case TERM_PER_M3:
        break;
    }
    return say_number(context, shown, decimals_of(shown), out);
}

/* The words of a term, in US units those behind ".us" where they differ. */
static const char *term_words(const struct view_context *context, const struct replay_term *term) {
    char key[80];
    (void)snprintf(key, sizeof key, "replay.term.%s.us", term->name);
    const char *us = context->us_units ? words_find(context->words, key) : NULL;
    key[strlen(key) - strlen(".us")] = '\0';
    return us != NULL ? us : words_get(context->words, key);
}

/* A row of a term; none where no scenario has a number for it. */
static void add_row(const struct view_context *context, const struct replay *replay, size_t first,
                    size_t offset, const struct replay_term *term, cJSON *rows) {
    bool any = false;
    for (size_t i = 0; i < replay->scenario_count; i++)
        any = any || isfinite(replay_term_value(&replay->result[first + i], offset, term));
    if (!any || replay_term_again(term, context->us_units))
        return;
    char text[SAY_SIZE];
    cJSON *row = json_add_entry(rows);
    cJSON_AddStringToObject(row, "key", term->name);
    cJSON_AddStringToObject(row, "name", term_words(context, term));
    cJSON *cells = cJSON_AddArrayToObject(row, "cells"), *values = cJSON_AddArrayToObject(row, "values");
    for (size_t i = 0; i < replay->scenario_count; i++) {
        double value = replay_term_value(&replay->result[first + i], offset, term);
        cJSON_AddItemToArray(cells, cJSON_CreateString(cell(context, term->kind, value, text)));
        cJSON_AddItemToArray(values, isfinite(value) ? cJSON_CreateNumber(value) : cJSON_CreateNull());
    }
}

/* A value of a setting as people read it. */
static const char *value_words(const struct view_context *context, const struct replay_set *set,
                               const char *value, char out[SAY_SIZE]) {
    int32_t date;
    if (set->date && calendar_parse_iso(value, &date) == STATUS_OK)
        return say_date_year(context, date, out);
    (void)snprintf(out, SAY_SIZE, "%s", value);
    char *point = strchr(out, '.');
    if (point != NULL)
        *point = words_get(context->words, "number.decimal")[0];
    return out;
}

/* The scenarios stand in the order in which the form asks for them. */
static const char *scenario_words(const struct view_context *context, const struct replay_wish *wish,
                                  size_t scenario, char out[SAY_SIZE]) {
    size_t at = 0;
    if (scenario == at++)
        return words_get(context->words, "replay.as_it_was");
    if (wish->rainfed && scenario == at++)
        return words_get(context->words, "label.replay_rainfed");
    if (wish->automatic && scenario == at++)
        return words_get(context->words, "label.replay_automatic");
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        char value[SAY_SIZE];
        const struct replay_set *set = wish->set[i];
        if (wish->what[i][0] == '\0' || scenario != at++)
            continue;
        if (set->settings == NULL)
            return wish->what[i];
        const struct words_hole holes[] = {{"name", set_words(context, set)},
                                           {"value", value_words(context, set, wish->value[i], value)}};
        return say_words(context, "replay.what.said", holes, 2, out);
    }
    return "";
}

static void add_scenarios(const struct view_context *context, const struct replay_wish *wish,
                          const struct replay *replay, size_t first, cJSON *page) {
    cJSON *list = cJSON_AddArrayToObject(page, "scenarios");
    for (size_t i = 0; i < replay->scenario_count; i++) {
        const struct replay_result *result = &replay->result[first + i];
        char number[SAY_SIZE], on[SAY_SIZE], text[SAY_SIZE];
        cJSON *entry = json_add_entry(list);
        cJSON_AddStringToObject(entry, "number", say_count((int)i, number));
        cJSON_AddStringToObject(entry, "name", scenario_words(context, wish, i, text));
        if (result->days == 0) {
            cJSON_AddStringToObject(entry, "note", words_get(context->words, "replay.no_weather"));
        } else if (!result->finished) {
            const struct words_hole hole = {"on", say_date(context, result->budget.last, on)};
            cJSON_AddStringToObject(entry, "note", say_words(context, "replay.not_over", &hole, 1, text));
        }
        if (result->spent_date != CALENDAR_NONE) {
            const struct words_hole holes[] = {{"supply", result->supply},
                                               {"on", say_date(context, result->spent_date, on)}};
            cJSON_AddStringToObject(entry, "spent", say_words(context, "replay.spent", holes, 2, text));
        }
    }
}

static void add_harvest(const struct view_context *context, const struct replay_result *result, cJSON *page) {
    cJSON *list = cJSON_AddArrayToObject(page, "harvest");
    for (int i = 0; i < result->harvest_count; i++) {
        const struct harvest_option *option = &result->harvest[i];
        char text[SAY_SIZE];
        cJSON *entry = json_add_entry(list);
        json_add_date(entry, "date", option->date);
        cJSON_AddStringToObject(entry, "date_text", say_date(context, option->date, text));
        cJSON_AddStringToObject(entry, "transpired", cell(context, TERM_SHARE, option->transpired, text));
        cJSON_AddStringToObject(entry, "relative", cell(context, TERM_SHARE, option->relative, text));
        cJSON_AddStringToObject(entry, "irrigated",
                                cell(context, TERM_DEPTH, option->irrigation_gross_mm, text));
        cJSON_AddStringToObject(entry, "stress_days", cell(context, TERM_COUNT, option->stress_days, text));
    }
    cJSON_AddBoolToObject(page, "has_harvest", result->harvest_count > 0);
}

/* ---- how it was made ---- */

/* As a shell reads it. */
static void add_quoted(struct text *out, const char *word) {
    bool plain = word[0] != '\0';
    for (const char *c = word; *c != '\0'; c++)
        plain = plain && ((*c >= '0' && *c <= '9') || (*c >= 'A' && *c <= 'Z') || (*c >= 'a' && *c <= 'z') ||
                          strchr("-_./:", *c) != NULL);
    text_puts(out, plain ? " " : " '");
    for (const char *c = word; *c != '\0'; c++) {
        if (*c == '\'')
            text_puts(out, "'\\''");
        else
            text_add(out, c, 1);
    }
    text_puts(out, plain ? "" : "'");
}

/* The note as it is, and the command line that it stands for. */
static void add_made(const cJSON *made, cJSON *page) {
    struct text line;
    const cJSON *argument;
    text_init(&line, 0);
    text_puts(&line, "waterturn replay");
    cJSON_ArrayForEach(argument, cJSON_GetObjectItemCaseSensitive(made, "arguments"))
        add_quoted(&line, argument->valuestring);
    made_add_member(made, page);
    cJSON_AddStringToObject(page, "command_line", text_string(&line));
    text_free(&line);
}

/* The field's newest planting: the last of its results. */
static size_t newest(const struct replay *replay) {
    return replay->result_count - replay->scenario_count;
}

static void add_results(const struct view_context *context, const struct replay_wish *wish,
                        const struct replay_answer *answer, cJSON *page) {
    static const struct {
        const char *key, *path;
    } links[] = {{"picture", "/replay.svg"}, {"csv", "/replay.csv"}, {"json", "/replay.json"}};
    const struct replay *replay = answer->replay;
    size_t first = newest(replay);
    const struct replay_result *was = &replay->result[first];
    struct text link;
    text_init(&link, 0);
    for (size_t i = 0; i < sizeof links / sizeof links[0]; i++) {
        text_clear(&link);
        text_printf(&link, "%s?%s", links[i].path, answer->query);
        cJSON_AddStringToObject(page, links[i].key, text_string(&link));
    }
    text_free(&link);
    cJSON_AddStringToObject(page, "field", was->field);
    cJSON_AddStringToObject(page, "crop", words_crop(context->words, was->crop_name));
    json_add_date(page, "first", was->budget.first);
    json_add_date(page, "last", was->budget.last);
    add_scenarios(context, wish, replay, first, page);
    cJSON *rows = cJSON_AddArrayToObject(page, "season");
    for (const struct replay_term *term = replay_budget_terms; term->name != NULL; term++)
        add_row(context, replay, first, offsetof(struct replay_result, budget.season), term, rows);
    for (const struct replay_term *term = replay_value_terms; term->name != NULL; term++)
        add_row(context, replay, first, offsetof(struct replay_result, value), term, rows);
    add_harvest(context, was, page);
    cJSON_AddStringToObject(page, "depth_unit", context->us_units ? "in" : "mm");
    add_made(answer->made, page);
}

/* Who chooses other units or another language on the page keeps what was asked for. */
static void keep_query(const char *query, cJSON *choices) {
    cJSON *choice;
    struct text link;
    text_init(&link, 0);
    cJSON_ArrayForEach(choice, choices) {
        cJSON *href = cJSON_GetObjectItemCaseSensitive(choice, "href");
        text_clear(&link);
        text_printf(&link, "?%s&%s", query, cJSON_GetStringValue(href) + 1);
        (void)cJSON_SetValuestring(href, text_string(&link));
    }
    text_free(&link);
}

cJSON *view_replay_page(const struct view_context *context, const struct field_morning *mornings,
                        size_t count, const struct form_page *form, const struct replay_wish *wish,
                        const struct replay_answer *answer) {
    cJSON *page = frame_new(context);
    if (page == NULL)
        return NULL;
    cJSON_AddStringToObject(page, "title", words_get(context->words, "title.replay"));
    add_form(context, mornings, count, form, wish, page);
    if (answer->query[0] != '\0') {
        keep_query(answer->query, cJSON_GetObjectItemCaseSensitive(page, "units_choices"));
        keep_query(answer->query, cJSON_GetObjectItemCaseSensitive(page, "language_choices"));
    }
    if (answer->problem != NULL)
        cJSON_AddStringToObject(page, "problem", answer->problem);
    bool done = answer->replay != NULL && answer->replay->result_count > 0;
    cJSON_AddBoolToObject(page, "has_result", done);
    if (done)
        add_results(context, wish, answer, page);
    return page;
}
