#include "daemon/view/replay_page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/units.h"
#include "daemon/replay/made.h"
#include "daemon/view/frame.h"
#include "daemon/view/json_add.h"
#include "daemon/view/say.h"

/* ---- the form ---- */

static void add_form(const struct view_context *context, const struct field_morning *mornings, size_t count,
                     const struct replay_wish *wish, cJSON *page) {
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
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        char name[16], number[SAY_SIZE], label[SAY_SIZE];
        const struct words_hole hole = {"n", say_count(i + 1, number)};
        cJSON *entry = json_add_entry(what);
        (void)snprintf(name, sizeof name, "what%d", i + 1);
        cJSON_AddStringToObject(entry, "name", name);
        cJSON_AddStringToObject(entry, "label", say_words(context, "replay.what", &hole, 1, label));
        cJSON_AddStringToObject(entry, "value", wish->what[i]);
    }
    cJSON_AddStringToObject(page, "money", wish->money);
}

/* ---- the table ---- */

#define SMALL_LEAST 1e-6 /* what is below it is shown as nothing */

/* Three figures at least of what is worth showing: tonnes per m3 are thousandths. */
static int decimals_of(double value) {
    double size = fabs(value);
    if (size >= 10)
        return 0;
    return size >= 1 || size < SMALL_LEAST ? 3 : 2 - (int)floor(log10(size));
}

static const char *cell(const struct view_context *context, enum term_kind kind, double value,
                        char out[SAY_SIZE]) {
    if (!isfinite(value))
        return "–";
    switch (kind) {
    case TERM_COUNT:
    case TERM_DAYS:
        return say_count((int)value, out);
    case TERM_SHARE:
        return say_share(context, value, out);
    case TERM_RATIO:
        return say_number(context, value, 2, out);
    case TERM_MONEY:
        return say_number(context, value, decimals_of(value), out);
    case TERM_DEPTH:
        break;
    }
    return context->us_units ? say_number(context, units_from_si(value, units_find("in")), 2, out)
                             : say_number(context, value, 1, out);
}

/* A row of a term; none where no scenario has a number for it. */
static void add_row(const struct view_context *context, const struct replay *replay, size_t first,
                    size_t offset, const struct replay_term *term, cJSON *rows) {
    bool any = false;
    for (size_t i = 0; i < replay->scenario_count; i++)
        any = any || isfinite(replay_term_value(&replay->result[first + i], offset, term));
    if (!any)
        return;
    char key[80], text[SAY_SIZE];
    cJSON *row = json_add_entry(rows);
    (void)snprintf(key, sizeof key, "replay.term.%s", term->name);
    cJSON_AddStringToObject(row, "key", term->name);
    cJSON_AddStringToObject(row, "name", words_get(context->words, key));
    cJSON *cells = cJSON_AddArrayToObject(row, "cells"), *values = cJSON_AddArrayToObject(row, "values");
    for (size_t i = 0; i < replay->scenario_count; i++) {
        double value = replay_term_value(&replay->result[first + i], offset, term);
        cJSON_AddItemToArray(cells, cJSON_CreateString(cell(context, term->kind, value, text)));
        cJSON_AddItemToArray(values, isfinite(value) ? cJSON_CreateNumber(value) : cJSON_CreateNull());
    }
}

static void add_scenarios(const struct view_context *context, const struct replay *replay, size_t first,
                          cJSON *page) {
    cJSON *list = cJSON_AddArrayToObject(page, "scenarios");
    for (size_t i = 0; i < replay->scenario_count; i++) {
        const struct replay_result *result = &replay->result[first + i];
        char number[SAY_SIZE], on[SAY_SIZE], text[SAY_SIZE];
        cJSON *entry = json_add_entry(list);
        cJSON_AddStringToObject(entry, "number", say_count((int)i, number));
        cJSON_AddStringToObject(
            entry, "name", i == 0 ? words_get(context->words, "replay.as_it_was") : replay->scenario[i].name);
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

static void add_results(const struct view_context *context, const struct replay_answer *answer, cJSON *page) {
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
    add_scenarios(context, replay, first, page);
    cJSON *rows = cJSON_AddArrayToObject(page, "season");
    for (const struct replay_term *term = replay_budget_terms; term->name != NULL; term++)
        add_row(context, replay, first, offsetof(struct replay_result, budget.season), term, rows);
    for (const struct replay_term *term = replay_value_terms; term->name != NULL; term++)
        add_row(context, replay, first, offsetof(struct replay_result, value), term, rows);
    add_harvest(context, was, page);
    cJSON_AddStringToObject(page, "depth_unit", context->us_units ? "in" : "mm");
    add_made(answer->made, page);
}

cJSON *view_replay_page(const struct view_context *context, const struct field_morning *mornings,
                        size_t count, const struct replay_wish *wish, const struct replay_answer *answer) {
    cJSON *page = frame_new(context);
    if (page == NULL)
        return NULL;
    cJSON_AddStringToObject(page, "title", words_get(context->words, "title.replay"));
    add_form(context, mornings, count, wish, page);
    if (answer->problem != NULL)
        cJSON_AddStringToObject(page, "problem", answer->problem);
    bool done = answer->replay != NULL && answer->replay->result_count > 0;
    cJSON_AddBoolToObject(page, "has_result", done);
    if (done)
        add_results(context, answer, page);
    return page;
}
