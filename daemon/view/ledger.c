#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/frame.h"
#include "daemon/view/ledger_columns.h"
#include "daemon/view/ledger_record.h"
#include "daemon/view/say.h"
#include "daemon/view/view.h"

/* Depths are doubles near 100 mm: rounding of some twenty terms stays far below this. */
#define CLOSURE_LIMIT_MM 1e-6

#define DEPTH(name, member, total)                                                                           \
    { name, #member, COLUMN_DEPTH, offsetof(struct season_day, member), total }
#define DATA(member)                                                                                         \
    { "", #member, COLUMN_DATA, offsetof(struct season_day, member), NO_TOTAL }
#define SUM(member) offsetof(struct season_total, member)

/* What a person looks for first stands first. */
const struct ledger_column ledger_columns[] = {
    DEPTH("dr", depletion_mm, NO_TOTAL),
    DEPTH("allowed", allowed_mm, NO_TOTAL),
    DEPTH("rain", rain_mm, SUM(rain_mm)),
    DEPTH("gross", irrigation_gross_mm, SUM(irrigation_gross_mm)),
    DEPTH("net", irrigation_net_mm, SUM(irrigation_net_mm)),
    DEPTH("eta", eta_mm, SUM(eta_mm)),
    DEPTH("etc", etc_mm, SUM(etc_mm)),
    DEPTH("et0", et0_mm, SUM(et0_mm)),
    {"kc", "kc", COLUMN_RATIO, offsetof(struct season_day, kc), NO_TOTAL},
    {"kcb", "kcb", COLUMN_RATIO, offsetof(struct season_day, kcb), NO_TOTAL},
    {"ke", "ke", COLUMN_RATIO, offsetof(struct season_day, ke), NO_TOTAL},
    {"ks", "ks", COLUMN_RATIO, offsetof(struct season_day, ks), NO_TOTAL},
    DEPTH("evaporation", evaporation_mm, SUM(evaporation_mm)),
    DEPTH("transpiration", transpiration_mm, SUM(transpiration_mm)),
    DEPTH("runoff", runoff_mm, SUM(runoff_mm)),
    DEPTH("percolation", percolation_mm, SUM(percolation_mm)),
    DEPTH("capillary", capillary_mm, SUM(capillary_mm)),
    DEPTH("new_soil", new_soil_mm, SUM(new_soil_mm)),
    DEPTH("reading", reading_shift_mm, SUM(reading_shift_mm)),
    DEPTH("dr_start", depletion_start_mm, NO_TOTAL),
    DEPTH("raw", raw_mm, NO_TOTAL),
    DEPTH("taw", taw_mm, NO_TOTAL),
    {"root", "root_m", COLUMN_LENGTH, offsetof(struct season_day, root_m), NO_TOTAL},
    DATA(days_in_season),
    DATA(kr),
    DATA(p),
    DATA(surface_depletion_mm),
    DATA(wetted_fraction),
    DATA(exposed_wetted_fraction),
    DATA(below_depletion_mm),
    DATA(unmet_mm),
    DATA(excess_start_mm),
    DATA(excess_mm),
    DATA(height_m),
    DATA(cover),
    {NULL, NULL, COLUMN_DATA, 0, NO_TOTAL}};

double ledger_value(const struct season_day *day, const struct ledger_column *column) {
    double value;
    memcpy(&value, (const char *)day + column->offset, sizeof value);
    return value;
}

static double total_value(const struct season_total *total, const struct ledger_column *column) {
    double value = NAN;
    if (column->total_offset != NO_TOTAL)
        memcpy(&value, (const char *)total + column->total_offset, sizeof value);
    return value;
}

/* A cell as people read it: a tenth of a millimetre, a hundredth of an inch. */
static char *say_cell(const struct view_context *context, enum ledger_column_kind kind, double value,
                      char out[SAY_SIZE]) {
    if (kind == COLUMN_RATIO)
        return say_number(context, value, 2, out);
    if (!context->us_units)
        return say_number(context, value, kind == COLUMN_DEPTH ? 1 : 2, out);
    if (kind == COLUMN_DEPTH)
        return say_number(context, units_from_si(value, units_find("in")), 2, out);
    return say_number(context, units_convert(value, units_find("m"), units_find("ft")), 1, out);
}

static const char *column_unit(const struct view_context *context, enum ledger_column_kind kind) {
    if (kind == COLUMN_RATIO)
        return "";
    if (kind == COLUMN_DEPTH)
        return words_get(context->words, context->us_units ? "unit.depth.us" : "unit.depth.metric");
    return words_get(context->words, context->us_units ? "unit.length.us" : "unit.length.metric");
}

static void add_columns(const struct view_context *context, cJSON *view) {
    cJSON *columns = cJSON_AddArrayToObject(view, "columns"),
          *summed = cJSON_AddArrayToObject(view, "summed");
    for (const struct ledger_column *column = ledger_columns; column->kind != COLUMN_DATA; column++) {
        char key[48];
        cJSON *item = cJSON_CreateObject();
        cJSON_AddStringToObject(item, "key", column->member);
        snprintf(key, sizeof key, "symbol.%s", column->name);
        cJSON_AddStringToObject(item, "symbol", words_get(context->words, key));
        snprintf(key, sizeof key, "column.%s", column->name);
        cJSON_AddStringToObject(item, "name", words_get(context->words, key));
        cJSON_AddStringToObject(item, "unit", column_unit(context, column->kind));
        if (column->total_offset != NO_TOTAL)
            cJSON_AddItemToArray(summed, cJSON_Duplicate(item, true));
        cJSON_AddItemToArray(columns, item);
    }
}

static cJSON *row_new(const struct view_context *context, const char *field, const struct ledger_row *row) {
    char text[SAY_SIZE], tail[32], iso[CALENDAR_ISO_SIZE];
    cJSON *item = cJSON_CreateObject();
    frame_date(item, "date", row->day.date);
    snprintf(tail, sizeof tail, "/workings/%s", calendar_format_iso(row->day.date, iso));
    frame_link(item, "workings", field, tail);
    cJSON_AddStringToObject(item, "stage", frame_stage(context, row->day.stage));
    cJSON *cells = cJSON_AddArrayToObject(item, "cells");
    cJSON *values = cJSON_AddObjectToObject(item, "values");
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++) {
        double value = ledger_value(&row->day, column);
        if (column->kind != COLUMN_DATA)
            cJSON_AddItemToArray(cells, cJSON_CreateString(say_cell(context, column->kind, value, text)));
        frame_number(values, column->member, value);
    }
    cJSON *weather = cJSON_AddArrayToObject(item, "weather");
    frame_origins(context, &row->origin, 1, weather);
    if (row->et0_from_hours)
        cJSON_AddItemToArray(weather, cJSON_CreateString(words_get(context->words, "origin.hours")));
    return item;
}

/* A line of sums: cells for the page, values with every digit. */
static cJSON *sum_new(const struct view_context *context, const char *title,
                      const struct season_total *total) {
    char text[SAY_SIZE];
    cJSON *totals = cJSON_CreateObject();
    cJSON *cells = cJSON_AddArrayToObject(totals, "cells"), *sums = cJSON_AddArrayToObject(totals, "sums");
    cJSON *values = cJSON_AddObjectToObject(totals, "values");
    cJSON_AddStringToObject(totals, "text", title);
    for (const struct ledger_column *column = ledger_columns; column->kind != COLUMN_DATA; column++) {
        bool summed = column->total_offset != NO_TOTAL;
        double value = total_value(total, column);
        cJSON_AddItemToArray(cells,
                             cJSON_CreateString(summed ? say_cell(context, column->kind, value, text) : ""));
        if (summed)
            cJSON_AddItemToArray(sums, cJSON_CreateString(text));
        if (summed)
            frame_number(values, column->member, value);
    }
    frame_number(totals, "closure_max_mm", total->closure_max_mm);
    cJSON_AddNumberToObject(totals, "days", total->days);
    cJSON_AddNumberToObject(totals, "stress_days", total->stress_days);
    return totals;
}

/* By stage, in the order in which they came; a forage goes through them more than once. */
static void add_stage_totals(const struct view_context *context, const struct ledger_row *rows, size_t count,
                             cJSON *view) {
    cJSON *list = cJSON_AddArrayToObject(view, "stage_totals");
    for (size_t i = 0; i < count;) {
        enum crop_stage stage = rows[i].day.stage;
        struct season_total total = season_total_empty();
        char from[CALENDAR_ISO_SIZE], text[SAY_SIZE];
        const struct words_hole holes[] = {{"stage", frame_stage(context, stage)},
                                           {"from", calendar_format_iso(rows[i].day.date, from)}};
        for (; i < count && rows[i].day.stage == stage; i++)
            season_total_add(&total, &rows[i].day);
        cJSON *sum = sum_new(context, say_words(context, "ledger.stage", holes, 2, text), &total);
        cJSON_AddStringToObject(sum, "stage", crop_stage_name(stage));
        cJSON_AddStringToObject(sum, "from", from);
        cJSON_AddItemToArray(list, sum);
    }
}

static void add_totals(const struct view_context *context, const struct ledger_row *rows, size_t count,
                       cJSON *view) {
    struct season_total total = season_total_empty();
    for (size_t i = 0; i < count; i++)
        season_total_add(&total, &rows[i].day);
    char text[SAY_SIZE], closure[SAY_SIZE];
    cJSON_AddItemToObject(view, "totals",
                          sum_new(context, words_get(context->words, "ledger.total"), &total));
    const struct words_hole hole = {"closure", say_number(context, total.closure_max_mm, 6, closure)};
    bool closed = total.closure_max_mm <= CLOSURE_LIMIT_MM;
    cJSON_AddStringToObject(
        view, "closure",
        say_words(context, closed ? "ledger.closure" : "ledger.closure.open", &hole, 1, text));
}

cJSON *view_ledger(const struct view_context *context, const char *field, const struct field_facts *facts,
                   const struct ledger_row *rows, size_t count) {
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    const struct words_hole hole = {"field", field};
    char title[SAY_SIZE];
    cJSON_AddStringToObject(view, "title", say_words(context, "ledger.title", &hole, 1, title));
    cJSON_AddStringToObject(view, "name", field);
    frame_link(view, "href", field, "");
    frame_link(view, "csv", field, "/ledger.csv");
    if (facts != NULL && facts->planted)
        ledger_record_add(context, facts, rows, count, view);
    cJSON *list = cJSON_AddArrayToObject(view, "rows");
    for (size_t i = count; i > 0; i--)
        cJSON_AddItemToArray(list, row_new(context, field, &rows[i - 1]));
    cJSON_AddBoolToObject(view, "has_rows", count > 0);
    if (count > 0) {
        add_columns(context, view);
        add_totals(context, rows, count, view);
        add_stage_totals(context, rows, count, view);
    } else {
        cJSON_AddStringToObject(view, "no_rows", words_get(context->words, "ledger.no_rows"));
    }
    return view;
}
