/* One day of one field with every equation, input, source and result written out. */
#include "daemon/view/workings.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/frame.h"
#include "daemon/view/ledger_columns.h"
#include "daemon/view/neighbour_list.h"
#include "daemon/view/say.h"
#include "daemon/view/view.h"
#include "daemon/view/workings_hours.h"
#include "daemon/view/workings_table.h"

/* Rounding of some twenty doubles near 100 mm stays far below this. */
#define CLOSURE_LIMIT_MM 1e-6

struct page {
    const struct view_context *context;
    const struct workings_facts *facts;
    struct workings_numbers numbers;
};

bool workings_agree(const struct season_day *reckoned, const struct season_day *stored) {
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++) {
        double a = ledger_value(reckoned, column), b = ledger_value(stored, column);
        /* Zeros of either sign are one number. */
        if (!(isnan(a) && isnan(b)) && (a < b || a > b || isnan(a) != isnan(b)))
            return false;
    }
    return reckoned->date == stored->date && reckoned->stage == stored->stage;
}

static double value_of(const struct page *page, const struct workings_line *line) {
    double value;
    memcpy(&value, (const char *)&page->numbers + line->offset, sizeof value);
    return value;
}

static bool stands(const struct page *page, const struct workings_line *line) {
    return line->choice == CHOICE_NONE || page->numbers.choice[line->choice] == line->way;
}

/* The line that gives a quantity today; NULL: none does. */
static const struct workings_line *line_of(const struct page *page, const char *key, size_t size) {
    for (const struct workings_line *line = workings_table; line->key != NULL || line->section != NULL;
         line++) {
        if (line->key != NULL && strncmp(line->key, key, size) == 0 && line->key[size] == '\0' &&
            stands(page, line))
            return line;
    }
    return NULL;
}

static const char *word(const struct page *page, const char *before, const char *key) {
    char name[64];
    snprintf(name, sizeof name, "%s%s", before, key);
    return words_get(page->context->words, name);
}

/* "1.234", with the unit behind a space that does not break. */
static void add_value(const struct page *page, const struct workings_line *line, cJSON *item) {
    char number[SAY_SIZE], text[2 * SAY_SIZE], inches[SAY_SIZE];
    double value = value_of(page, line);
    say_number(page->context, value, line->decimals, number);
    snprintf(text, sizeof text, "%s%s%s", number, line->unit[0] != '\0' ? "\xC2\xA0" : "", line->unit);
    frame_number(item, "value", value);
    cJSON_AddStringToObject(item, "text", text);
    if (page->context->us_units && strcmp(line->unit, "mm") == 0) {
        double in = units_from_si(value, units_find("in"));
        snprintf(text, sizeof text, "%s\xC2\xA0in", say_number(page->context, in, 3, inches));
        cJSON_AddStringToObject(item, "us_text", text);
    }
}

static void add_inputs(const struct page *page, const struct workings_line *line, cJSON *item) {
    cJSON *list = cJSON_AddArrayToObject(item, "inputs");
    for (const char *at = line->inputs; *at != '\0'; at += strspn(at, " ")) {
        size_t size = strcspn(at, " ");
        const struct workings_line *input = line_of(page, at, size);
        at += size;
        if (input == NULL)
            continue;
        cJSON *entry = cJSON_CreateObject();
        cJSON_AddStringToObject(entry, "key", input->key);
        cJSON_AddStringToObject(entry, "symbol", input->symbol);
        add_value(page, input, entry);
        cJSON_AddItemToArray(list, entry);
    }
}

/* "FAO-56 eq. 12", or what else gives it. */
static void add_equation(const struct page *page, const struct workings_line *line, cJSON *item) {
    char name[64], text[SAY_SIZE];
    const struct words_hole hole = {"n", line->equation};
    snprintf(name, sizeof name, "equation.%s", line->equation);
    const char *own = words_find(page->context->words, name);
    bool numbered = line->equation[0] >= '0' && line->equation[0] <= '9';
    cJSON_AddStringToObject(item, "equation",
                            numbered      ? say_words(page->context, "equation.fao56", &hole, 1, text)
                            : own != NULL ? own
                                          : line->equation);
    cJSON_AddStringToObject(item, "formula", line->formula);
}

static const char *source_of(const struct page *page, const struct workings_line *line, char text[SAY_SIZE]) {
    if (strcmp(line->from, "element") != 0)
        return word(page, "from.", line->from);
    const struct station_day *weather = &page->facts->day.weather;
    int neighbour = weather->neighbour[line->element];
    if (neighbour > 0 && neighbour <= FARM_NEIGHBOURS_MAX) {
        char place[SAY_SIZE];
        const struct words_hole hole = {
            "neighbour", neighbour_say(page->context, &page->facts->neighbour[neighbour - 1], place)};
        return say_words(page->context, "from.neighbour_named", &hole, 1, text);
    }
    const char *origin = weather_origin_name((enum weather_origin)weather->reported.origin[line->element]);
    return word(page, "from.", origin != NULL ? origin : "missing");
}

static cJSON *line_new(const struct page *page, const struct workings_line *line) {
    char text[SAY_SIZE];
    cJSON *item = cJSON_CreateObject();
    cJSON_AddStringToObject(item, "key", line->key);
    cJSON_AddStringToObject(item, "name", word(page, "work.", line->key));
    cJSON_AddStringToObject(item, "symbol", line->symbol);
    cJSON_AddStringToObject(item, "unit", line->unit);
    add_value(page, line, item);
    if (line->formula != NULL) {
        add_equation(page, line, item);
        add_inputs(page, line, item);
    } else {
        cJSON_AddStringToObject(item, "source", source_of(page, line, text));
    }
    if (line->member != NULL)
        cJSON_AddStringToObject(item, "ledger", line->member);
    return item;
}

static void add_sections(const struct page *page, cJSON *view) {
    cJSON *sections = cJSON_AddArrayToObject(view, "sections"), *lines = NULL;
    for (const struct workings_line *line = workings_table; line->key != NULL || line->section != NULL;
         line++) {
        if (line->section != NULL) {
            cJSON *section = cJSON_CreateObject();
            cJSON_AddStringToObject(section, "key", line->section);
            cJSON_AddStringToObject(section, "title", word(page, "work.section.", line->section));
            lines = cJSON_AddArrayToObject(section, "lines");
            cJSON_AddItemToArray(sections, section);
            continue;
        }
        double value = value_of(page, line);
        bool silent = line->quiet && !(fabs(value) > 0);
        if (stands(page, line) && isfinite(value) && !silent)
            cJSON_AddItemToArray(lines, line_new(page, line));
    }
}

/* The row as the API and the CSV of the ledger have it. */
static void add_row(const struct page *page, cJSON *view) {
    const struct season_day *day = &page->facts->day.row.day;
    cJSON *row = cJSON_AddObjectToObject(view, "row");
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++)
        frame_number(row, column->member, ledger_value(day, column));
    frame_number(view, "closure_mm", season_closure_mm(day));
}

static void add_link(const struct page *page, cJSON *view, const char *key, int32_t date) {
    if (date < page->facts->first || date > page->facts->last)
        return;
    char tail[48], iso[CALENDAR_ISO_SIZE];
    snprintf(tail, sizeof tail, "/workings/%s", calendar_format_iso(date, iso));
    frame_link(view, key, page->facts->field.name, tail);
}

static void add_head(const struct page *page, cJSON *view) {
    const struct view_context *context = page->context;
    const struct workings_facts *facts = page->facts;
    const char *name = facts->field.name;
    int32_t date = facts->day.row.day.date;
    char text[SAY_SIZE], title[SAY_SIZE], closure[SAY_SIZE];
    const struct words_hole holes[] = {{"field", name}, {"date", say_date_year(context, date, text)}};
    cJSON_AddStringToObject(view, "title", say_words(context, "work.title", holes, 2, title));
    cJSON_AddStringToObject(view, "name", name);
    frame_date(view, "day", date);
    const struct words_hole crop[] = {{"crop", words_crop(context->words, facts->crop_name)},
                                      {"stage", frame_stage(context, facts->day.row.day.stage)}};
    cJSON_AddStringToObject(view, "crop", say_words(context, "field.crop", crop, 2, text));
    cJSON_AddBoolToObject(view, "ahead", facts->day.ahead);
    bool agree = facts->stored && workings_agree(&facts->day.row.day, &facts->ledger.day);
    cJSON_AddBoolToObject(view, "agrees", agree);
    const char *key = facts->day.ahead ? "work.ahead"
                      : !facts->stored ? "work.not_stored"
                      : agree          ? "work.agrees"
                                       : "work.differs";
    cJSON_AddStringToObject(view, "about", words_get(context->words, key));
    double error_mm = season_closure_mm(&facts->day.row.day);
    const struct words_hole hole = {"closure", say_number(context, error_mm, 6, closure)};
    key = fabs(error_mm) <= CLOSURE_LIMIT_MM ? "work.closure" : "work.closure.open";
    cJSON_AddStringToObject(view, "closure", say_words(context, key, &hole, 1, text));
    frame_link(view, "href", name, "");
    frame_link(view, "ledger", name, "/ledger");
    add_link(page, view, "earlier", date - 1);
    add_link(page, view, "later", date + 1);
}

cJSON *view_workings(const struct view_context *context, const struct workings_facts *facts) {
    struct page page = {.context = context, .facts = facts};
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    workings_numbers_fill(&facts->day, &facts->field, &facts->station, &page.numbers);
    add_head(&page, view);
    add_sections(&page, view);
    workings_hours(context, &facts->day, view);
    add_row(&page, view);
    return view;
}
