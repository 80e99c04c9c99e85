#include "daemon/http/replay_form.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/http/form_inputs.h"
#include "daemon/http/form_units.h"

/* ---- what there is ---- */

/* Worth and cost, in their order on the page; their names are those of the settings. */
static const struct amount {
    const char *name;
    enum input_kind input;
    enum quantity_kind kind;
    enum form_amount units; /* AMOUNT_COUNT: none */
    const char *unit[2];    /* metric and US; NULL: none */
} amounts[] = {
    {"max_yield", INPUT_NUMBER, QUANTITY_PER_AREA, AMOUNT_PER_AREA, {"/ha", "/ac"}},
    {"yield_unit", INPUT_TEXT, QUANTITY_NUMBER, AMOUNT_COUNT, {NULL, NULL}},
    {"price", INPUT_NUMBER, QUANTITY_NUMBER, AMOUNT_COUNT, {NULL, NULL}},
    {"water_cost", INPUT_NUMBER, QUANTITY_PER_VOLUME, AMOUNT_PER_VOLUME, {"/m3", "/ac-in"}},
    {"pass_cost", INPUT_NUMBER, QUANTITY_PER_AREA, AMOUNT_PER_AREA, {"/ha", "/ac"}},
    {"season_cost", INPUT_NUMBER, QUANTITY_PER_AREA, AMOUNT_PER_AREA, {"/ha", "/ac"}},
    {"currency", INPUT_TEXT, QUANTITY_NUMBER, AMOUNT_COUNT, {NULL, NULL}},
};

#define AMOUNTS   (sizeof amounts / sizeof *amounts)
#define NAME_SIZE FILL_NAME_SIZE

static char *name_of(const char *name, int n, char out[NAME_SIZE]) {
    (void)snprintf(out, NAME_SIZE, "%s%d", name, n + 1);
    return out;
}

static char *unit_of(const char *name, char out[NAME_SIZE]) {
    (void)snprintf(out, NAME_SIZE, "%.*s_unit", NAME_SIZE - 6, name);
    return out;
}

static void take(const struct fill *query, const char *name, struct fill *fill) {
    const char *value = fill_value(query, name);
    if (value[0] != '\0' && request_clean(value, false))
        fill_set(fill, name, value);
}

void replay_form_take(const struct fill *query, struct fill *fill) {
    char name[NAME_SIZE];
    fill_init(fill);
    if (query == NULL)
        return;
    take(query, "field", fill);
    take(query, "rainfed", fill);
    take(query, "automatic", fill);
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        char unit[NAME_SIZE];
        take(query, name_of("what", i, name), fill);
        if (!fill_given(fill, name))
            continue;
        take(query, unit_of(name, unit), fill);
        take(query, name_of("set", i, name), fill);
    }
    for (size_t i = 0; i < AMOUNTS; i++) {
        take(query, amounts[i].name, fill);
        if (fill_given(fill, amounts[i].name) && amounts[i].unit[0] != NULL)
            take(query, unit_of(amounts[i].name, name), fill);
    }
}

/* ---- what it asks for ---- */

/* Settings are parted by semicolons. */
static bool read_text(const struct request *request, const char *name, bool whole, char *out, size_t size) {
    if (!input_text(request, name, false, out, size))
        return false;
    if (!whole && strchr(out, ';') != NULL) {
        input_refuse(request, name, "input.semicolon", NULL, NULL);
        return false;
    }
    return true;
}

static const struct replay_set *set_named(const char *name) {
    size_t i = 0;
    while (replay_set_at(i) != NULL && strcmp(replay_set_at(i)->name, name) != 0)
        i++;
    return replay_set_at(i);
}

/* Without a word of what it sets, a value is settings. */
static void read_what(const struct request *request, bool us, int i, struct replay_wish *wish) {
    char name[NAME_SIZE], unit[NAME_SIZE];
    char *value = wish->value[i];
    const char *set = fill_value(request->form, name_of("set", i, name));
    wish->set[i] = set_named(set[0] != '\0' ? set : "free");
    name_of("what", i, name);
    if (wish->set[i] == NULL) {
        wish->set[i] = replay_set_at(0);
        input_refuse(request, name, "input.choose", NULL, NULL);
        return;
    }
    if (!input_given(request, name)) {
        wish->set[i] = replay_set_at(0);
        return;
    }
    if (wish->set[i]->unit[us] != NULL)
        fill_default(request->form, unit_of(name, unit), wish->set[i]->unit[us]);
    int32_t date;
    bool good = wish->set[i]->settings == NULL || wish->set[i]->date
                    ? read_text(request, name, wish->set[i]->settings == NULL, value, SCENARIO_NAME_SIZE)
                    : input_written(request, name, wish->set[i]->kind, value, SCENARIO_NAME_SIZE);
    if (good && wish->set[i]->date && calendar_parse_iso(value, &date) != STATUS_OK)
        input_refuse(request, name, "input.date", NULL, NULL);
}

static void read_amount(const struct request *request, bool us, const struct amount *amount,
                        struct text *money) {
    char words[FARM_NAME_SIZE], name[NAME_SIZE];
    if (!input_given(request, amount->name))
        return;
    if (amount->unit[us] != NULL)
        fill_default(request->form, unit_of(amount->name, name), amount->unit[us]);
    bool good = amount->input == INPUT_TEXT
                    ? read_text(request, amount->name, false, words, sizeof words)
                    : input_written(request, amount->name, amount->kind, words, sizeof words);
    if (good)
        text_printf(money, "%s%s = %s", money->size > 0 ? "; " : "", amount->name, words);
}

void replay_form_read(const struct request *request, bool us, struct replay_wish *wish) {
    struct text money;
    memset(wish, 0, sizeof *wish);
    const char *field = fill_value(request->form, "field");
    if (strlen(field) < sizeof wish->field)
        (void)snprintf(wish->field, sizeof wish->field, "%s", field);
    wish->rainfed = fill_given(request->form, "rainfed");
    wish->automatic = fill_given(request->form, "automatic");
    for (int i = 0; i < REPLAY_WHAT_MAX; i++)
        read_what(request, us, i, wish);
    text_init(&money, sizeof wish->money);
    for (size_t i = 0; i < AMOUNTS; i++)
        read_amount(request, us, &amounts[i], &money);
    (void)snprintf(wish->money, sizeof wish->money, "%s", text_string(&money));
    text_free(&money);
}

/* ---- what it shows ---- */

/* An amount for each acre, of a reader who thinks in hectares. */
static void convert(const struct request *request, bool us, const struct amount *amount) {
    char name[NAME_SIZE], text[FARM_NAME_SIZE], expected[QUANTITY_WORDS_SIZE];
    const char *unit = fill_value(request->form, unit_of(amount->name, name));
    struct quantity quantity;
    if (amount->unit[us] == NULL || unit[0] == '\0' || strcmp(unit, amount->unit[us]) == 0 ||
        fill_error(request->form, amount->name) != NULL ||
        !input_written(request, amount->name, amount->kind, text, sizeof text) ||
        quantity_read(text, amount->kind, &quantity, expected) != STATUS_OK)
        return;
    fill_remove(request->form, amount->name);
    fill_set(request->form, name, amount->unit[us]);
    input_show(request, request->form, amount->name,
               quantity_in(quantity.value, amount->kind, units_find(amount->unit[us] + 1)), NULL);
}

/* A value in another unit than the reader's is shown with it. */
static void show_what(const struct request *request, bool us, int i, const struct replay_wish *wish) {
    char name[NAME_SIZE], unit[NAME_SIZE], text[SCENARIO_NAME_SIZE];
    const char *sent = fill_value(request->form, unit_of(name_of("what", i, name), unit));
    const char *own = wish->set[i]->unit[us];
    if (own == NULL || sent[0] == '\0' || strcmp(sent, own) == 0 || wish->value[i][0] == '\0')
        return;
    (void)snprintf(text, sizeof text, "%s", wish->value[i]);
    char *point = strchr(text, '.');
    if (point != NULL)
        *point = words_get(request->words, "number.decimal")[0];
    fill_set(request->form, name, text);
    fill_remove(request->form, unit);
}

void replay_form_show(const struct request *request, const struct view_context *context,
                      const struct replay_wish *wish, struct form_page *page) {
    page->fill = request->form;
    for (int i = 0; i < REPLAY_WHAT_MAX; i++)
        show_what(request, context->us_units, i, wish);
    for (size_t i = 0; i < AMOUNTS; i++) {
        const struct amount *amount = &amounts[i];
        convert(request, context->us_units, amount);
        if (amount->units == AMOUNT_COUNT)
            form_add(page, amount->name, amount->input, NULL, 0, true);
        else
            form_add_amount(page, amount->name, amount->units, context->us_units, true);
    }
}

/* The input that a problem is about, by its place: that of a setting, or of the scenario. */
static const char *input_of(const struct replay_wish *wish, const struct problem *problem,
                            char name[NAME_SIZE]) {
    for (size_t i = 0; problem->path != NULL && i < AMOUNTS; i++) {
        if (strcmp(problem->path, amounts[i].name) == 0)
            return amounts[i].name;
    }
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        name_of("what", i, name);
        if ((problem->path != NULL && strcmp(problem->path, name) == 0) ||
            (problem->file != NULL && problem->file[0] != '\0' && strcmp(problem->file, wish->what[i]) == 0))
            return name;
    }
    return NULL;
}

void replay_form_refuse(const struct request *request, const struct replay_wish *wish,
                        const struct problems *problems, struct text *rest) {
    for (size_t i = 0; i < problems->kept; i++) {
        const struct problem *problem = &problems->problem[i];
        char name[NAME_SIZE];
        struct text why;
        text_init(&why, 0);
        words_problem(request->words, problem, &why);
        const char *input = input_of(wish, problem, name);
        if (input != NULL)
            fill_refuse(request->form, input, text_string(&why));
        else
            text_printf(rest, "%s%s", rest->size > 0 ? "; " : "", text_string(&why));
        text_free(&why);
    }
}
