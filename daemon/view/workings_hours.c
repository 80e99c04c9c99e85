/* The hours of a day whose ET0 is summed from them: what each brought, and the steps of FAO-56 eq. 53. */
#include "daemon/view/workings_hours.h"

#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"
#include "daemon/view/say.h"

/* One row, flat. */
struct row {
    double t, ea, u2, rs, ra, rso, clearness, rn, soil_heat, share, cd, et;
};

static const struct row_column {
    const char *key, *symbol, *unit;
    int decimals;
    size_t offset;
} columns[] = {
    {"t_c", "T", "°C", 1, offsetof(struct row, t)},
    {"ea_kpa", "ea", "kPa", 3, offsetof(struct row, ea)},
    {"wind_2m_m_s", "u2", "m/s", 2, offsetof(struct row, u2)},
    {"rs_mj_m2", "Rs", "MJ/m²", 3, offsetof(struct row, rs)},
    {"ra_mj_m2", "Ra", "MJ/m²", 3, offsetof(struct row, ra)},
    {"rso_mj_m2", "Rso", "MJ/m²", 3, offsetof(struct row, rso)},
    {"clearness", "Rs/Rso", "", 3, offsetof(struct row, clearness)},
    {"rn_mj_m2", "Rn", "MJ/m²", 3, offsetof(struct row, rn)},
    {"soil_heat_share", "G/Rn", "", 2, offsetof(struct row, share)},
    {"soil_heat_mj_m2", "G", "MJ/m²", 3, offsetof(struct row, soil_heat)},
    {"cd", "Cd", "", 2, offsetof(struct row, cd)},
    {"et_mm", "ET", "mm", 3, offsetof(struct row, et)},
};
#define COLUMNS (sizeof columns / sizeof columns[0])

/* The steps of an hour, in order; symbols of the row, and z, γ and Cn, which are the same all day. */
static const struct {
    const char *symbol, *equation, *formula;
} steps[] = {
    {"Rso", "37", "(0.75 + 0.00002 × z) × Ra"},
    {"Rn", "38–40",
     "(1 − 0.23) × Rs − 2.043 × 10^(−10) × (T + 273.16)^4 × (0.34 − 0.14 × √(ea)) × (1.35 × Rs/Rso − 0.35)"},
    {"G", "45, 46", "G/Rn × Rn"},
    {"Δ", "13", "4098 × 0.6108 × exp(17.27 × T / (T + 237.3)) / (T + 237.3)^2"},
    {"e°", "11", "0.6108 × exp(17.27 × T / (T + 237.3))"},
    {"ET", "53", "(0.408 × Δ × (Rn − G) + γ × Cn / (T + 273) × u2 × (e° − ea)) / (Δ + γ × (1 + Cd × u2))"},
};

static void add_steps(const struct view_context *context, enum reference_kind kind, cJSON *hours) {
    cJSON *list = cJSON_AddArrayToObject(hours, "steps");
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        char text[SAY_SIZE];
        const struct words_hole hole = {"n", steps[i].equation};
        bool last = i + 1 == sizeof steps / sizeof steps[0];
        cJSON *item = cJSON_CreateObject();
        cJSON_AddStringToObject(item, "symbol", steps[i].symbol);
        cJSON_AddStringToObject(item, "equation",
                                last && kind != REFERENCE_FAO56_GRASS
                                    ? "ASCE-EWRI eq. 1"
                                    : say_words(context, "equation.fao56", &hole, 1, text));
        cJSON_AddStringToObject(item, "formula", steps[i].formula);
        cJSON_AddItemToArray(list, item);
    }
}

static void add_constants(const struct view_context *context, const struct station_hours *hours,
                          const struct reference_hour_terms *terms, cJSON *view) {
    const struct {
        const char *symbol, *unit;
        double value;
        int decimals;
    } constants[] = {{"z", "m", hours->place.elevation_m, 0},
                     {"γ", "kPa/°C", terms->gamma_kpa_c, 4},
                     {"Cn", "", terms->cn, 0}};
    cJSON *list = cJSON_AddArrayToObject(view, "constants");
    for (size_t i = 0; i < sizeof constants / sizeof constants[0]; i++) {
        char number[SAY_SIZE], text[2 * SAY_SIZE];
        cJSON *item = cJSON_CreateObject();
        say_number(context, constants[i].value, constants[i].decimals, number);
        snprintf(text, sizeof text, "%s%s%s", number, constants[i].unit[0] != '\0' ? "\xC2\xA0" : "",
                 constants[i].unit);
        cJSON_AddStringToObject(item, "symbol", constants[i].symbol);
        frame_number(item, "value", constants[i].value);
        cJSON_AddStringToObject(item, "text", text);
        cJSON_AddItemToArray(list, item);
    }
}

static void add_columns(cJSON *hours) {
    cJSON *list = cJSON_AddArrayToObject(hours, "columns");
    for (size_t c = 0; c < COLUMNS; c++) {
        cJSON *item = cJSON_CreateObject();
        cJSON_AddStringToObject(item, "key", columns[c].key);
        cJSON_AddStringToObject(item, "symbol", columns[c].symbol);
        cJSON_AddStringToObject(item, "unit", columns[c].unit);
        cJSON_AddItemToArray(list, item);
    }
}

static void add_row(const struct view_context *context, int h, const struct row *row, cJSON *rows) {
    char text[SAY_SIZE];
    cJSON *item = cJSON_CreateObject();
    (void)snprintf(text, sizeof text, "%d–%d", h, h + 1);
    cJSON_AddStringToObject(item, "hour", text);
    cJSON *cells = cJSON_CreateArray();
    for (size_t c = 0; c < COLUMNS; c++) {
        double value;
        memcpy(&value, (const char *)row + columns[c].offset, sizeof value);
        frame_number(item, columns[c].key, value);
        cJSON_AddItemToArray(cells,
                             cJSON_CreateString(say_number(context, value, columns[c].decimals, text)));
    }
    cJSON_AddItemToObject(item, "cells", cells);
    cJSON_AddItemToArray(rows, item);
}

void workings_hours(const struct view_context *context, const struct planting_day *day, cJSON *view) {
    struct reference_hours_sum sum;
    const struct station_hours *of_day = &day->hours;
    if (day->weather.hours == 0 ||
        reference_et_hours_summed(&of_day->hours, &of_day->place, calendar_day_of_year(day->row.day.date),
                                  of_day->clearness_before, day->reference, &sum) != STATUS_OK)
        return;
    cJSON *hours = cJSON_AddObjectToObject(view, "hours");
    cJSON_AddStringToObject(hours, "title", words_get(context->words, "work.section.hours"));
    frame_number(hours, "sum_mm", sum.et_mm);
    frame_number(hours, "clearness_before", of_day->clearness_before);
    add_steps(context, day->reference, hours);
    add_constants(context, of_day, &sum.terms[0], hours);
    add_columns(hours);
    cJSON *rows = cJSON_AddArrayToObject(hours, "rows");
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        const struct reference_hour *hour = &of_day->hours.hour[h];
        const struct reference_hour_terms *terms = &sum.terms[h];
        const struct row row = {.t = hour->t_c,
                                .ea = hour->ea_kpa,
                                .u2 = hour->wind_2m_m_s,
                                .rs = hour->rs_mj_m2,
                                .ra = terms->sun.ra_mj_m2,
                                .rso = terms->rso_mj_m2,
                                .clearness = terms->clearness,
                                .rn = terms->rn_mj_m2,
                                .soil_heat = terms->soil_heat_mj_m2,
                                .share = terms->soil_heat_share,
                                .cd = terms->cd,
                                .et = sum.hour_mm[h]};
        add_row(context, h, &row, rows);
    }
}
