#include <stdio.h>
#include <string.h>

#include "daemon/farm/check_inside.h"

/* Values that each lie in their range and yet do not hold together; core/ judges. */

/* The key behind a member that core/ names, and what is expected of it. */
struct member_words {
    const char *member, *key, *expected;
};

static const struct member_words system_words[] = {
    {"area_m2", "area", "1 m2 to 1e10 m2"},
    {"net_min_mm", "system.net_min", "at most net_max"},
    {NULL, "system", NULL},
};

static const struct member_words crop_words[] = {
    {"height_max_m", "height", "\"max\" of at least \"ini\""},
    {"root_max_m", "root_depth", "\"max\" of at least \"ini\""},
    {"stage_degree_days", "stage_degree_days", "4 sums of degree-days, for the clock \"degree days\""},
    {"base_c", "base_temperature", "one, for the clock \"degree days\""},
    {"ceiling_c", "ceiling_temperature", "more than base_temperature"},
    {"cut_stage_days", "cut_stage_days", "4 numbers of days, for a forage crop"},
    {"cut_height_m", "cut_height", "a height up to the greatest one, for a forage crop"},
    {NULL, "crop", NULL},
};

static const struct member_words setup_words[] = {
    {"kc_ini", "kc", "a value for \"ini\", for the method \"single\""},
    {"wetting_interval_d", "kc", "a value for \"ini\", for the method \"single\""},
    {"wetting_depth_mm", "kc", "a value for \"ini\", for the method \"single\""},
    {"ece_ds_m", "ece",
     "the method \"dual\", a crop with salt_threshold and salt_slope, and a conductivity at which it still "
     "grows"},
    {"capillary_max_mm", "capillary_max", "0 mm to 20 mm"},
    {"water_table_m", "water_table", "a depth below the roots"},
    {NULL, "planted", NULL},
};

/* The words for a member; the last row has those for what is not in the table. */
static void tell(const struct check *check, enum check_list list, size_t index, enum status status,
                 const char *member, const struct member_words *words) {
    while (words->member != NULL && strcmp(words->member, member) != 0)
        words++;
    const char *found = status == STATUS_ORDER ? "a contradiction" : status_name(status);
    char expected[80];
    (void)snprintf(expected, sizeof expected, "expected/problem.expected.%s",
                   words->member != NULL ? words->member : "");
    if (words->member != NULL && status == STATUS_MISSING)
        check_tell(check, list, index, words->key, "value_missing",
                   "found a value missing, expected {expected}", expected, words->expected, PROBLEM_END);
    else if (words->member != NULL)
        check_tell(check, list, index, words->key, "value_unfit",
                   "found a value that does not fit, expected {expected}", expected, words->expected,
                   PROBLEM_END);
    else
        check_tell(check, list, index, words->key, "values",
                   "found {found} in {member}, expected values that hold together", "found/problem.status.",
                   found, "member", member, PROBLEM_END);
}

/* ---- soils ---- */

#define FIGURE_SIZE 32

#define FOUND    "found/number.decimal"
#define EXPECTED "expected/number.decimal"

static const char *figure(double value, char out[FIGURE_SIZE]) {
    (void)snprintf(out, FIGURE_SIZE, "%g", value);
    return out;
}

static void check_soil(const struct check *check, size_t index) {
    const struct soil *soil = &check->farm->soil[index].soil;
    char key[40];
    char found[FIGURE_SIZE], expected[FIGURE_SIZE];
    for (int i = 0; i < soil->layer_count; i++) {
        const struct soil_layer *layer = &soil->layer[i];
        if (layer->field_capacity_m3_m3 <= layer->wilting_point_m3_m3) {
            (void)snprintf(key, sizeof key, "layers[%d].field_capacity", i);
            check_tell(check, LIST_SOILS, index, key, "soil_water",
                       "found {found}, expected more than the wilting point, {expected}", FOUND,
                       figure(layer->field_capacity_m3_m3, found), EXPECTED,
                       figure(layer->wilting_point_m3_m3, expected), PROBLEM_END);
            return;
        }
        if (i > 0 && layer->bottom_m <= soil->layer[i - 1].bottom_m) {
            (void)snprintf(key, sizeof key, "layers[%d].bottom", i);
            check_tell(check, LIST_SOILS, index, key, "soil_layer",
                       "found {found} m, expected more than {expected} m, where it begins", FOUND,
                       figure(layer->bottom_m, found), EXPECTED,
                       figure(soil->layer[i - 1].bottom_m, expected), PROBLEM_END);
            return;
        }
    }
    if (soil->rew_mm >= soil->tew_mm)
        check_tell(check, LIST_SOILS, index, "rew", "soil_rew",
                   "found {found} mm, expected less than tew, {expected} mm", FOUND,
                   figure(soil->rew_mm, found), EXPECTED, figure(soil->tew_mm, expected), PROBLEM_END);
    else if (soil_check(soil) != STATUS_OK)
        check_tell(check, LIST_SOILS, index, "name", "soil",
                   "found a soil {found}, expected values that hold together", "found/problem.status.",
                   status_name(soil_check(soil)), PROBLEM_END);
}

/* ---- plantings ---- */

static void check_planting(const struct check *check, size_t index) {
    const struct farm_planting *planting = &check->farm->planting[index];
    const char *member = "";
    enum status status = crop_check_member(&planting->crop, &member);
    if (status != STATUS_OK) {
        tell(check, LIST_PLANTINGS, index, status, member, crop_words);
        return;
    }
    const struct farm_field *field = (const void *)check_names_find(&check->fields, planting->field);
    const struct farm_soil *soil =
        field != NULL ? (const void *)check_names_find(&check->soils, field->soil) : NULL;
    if (soil == NULL || soil_check(&soil->soil) != STATUS_OK)
        return; /* told where it stands */
    struct season_setup setup;
    farm_setup_of(planting, field, soil, &setup);
    status = season_setup_check(&setup, &member);
    if (status != STATUS_OK)
        tell(check, LIST_PLANTINGS, index, status, member, setup_words);
}

/* ---- the whole ---- */

enum status check_values(const struct farm *farm, check_where *where, const void *context,
                         struct problems *problems) {
    struct check check = {.farm = farm, .where = where, .context = context, .problems = problems};
    size_t before = problems->count;
    enum status status = check_names_make(&check.fields, farm->field, farm->field_count, sizeof *farm->field);
    if (status == STATUS_OK)
        status = check_names_make(&check.soils, farm->soil, farm->soil_count, sizeof *farm->soil);
    if (status == STATUS_OK) {
        for (size_t i = 0; i < farm->station_count; i++)
            if (weather_site_check(&farm->station[i].site) != STATUS_OK)
                check_tell(
                    &check, LIST_STATIONS, i, "name", "site",
                    "found a site whose values do not fit, expected angstrom_as + angstrom_bs of 0.2 to 1",
                    PROBLEM_END);
        for (size_t i = 0; i < farm->soil_count; i++)
            check_soil(&check, i);
        for (size_t i = 0; i < farm->field_count; i++) {
            const char *member = "";
            enum status judged = system_check(&farm->field[i].system, &member);
            if (judged != STATUS_OK)
                tell(&check, LIST_FIELDS, i, judged, member, system_words);
            else if (farm->field[i].system.kind != SYSTEM_NONE && !(farm->field[i].system.hours_per_day > 0))
                check_tell(
                    &check, LIST_FIELDS, i, "system.hours_per_day", "system_never",
                    "found 0 h a day for the system of {field}, expected more than 0 h and at most 24 h, or "
                    "the kind \"none\": set it in the settings of {field}",
                    "field", farm->field[i].name, PROBLEM_END);
        }
        for (size_t i = 0; i < farm->planting_count; i++)
            check_planting(&check, i);
        check_turning(&check);
    }
    check_names_free(&check.fields);
    check_names_free(&check.soils);
    return status == STATUS_OK && problems->count > before ? STATUS_REFUSED : status;
}
