#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/farm_file_inside.h"

/* What an entry of a list is before its keys are read, and what follows from them. */

/* ---- soils ---- */

#define EVAPORATION_DEPTH_USUAL_M 0.10 /* Table 19 counts TEW of this depth */

static double given_or(double given, double other) {
    return isnan(given) ? other : given;
}

/* Layers and surface of `base` below what the file gives itself. */
static void put_under(struct soil *soil, const struct soil *base) {
    double depth_m = given_or(soil->evaporation_depth_m, base->evaporation_depth_m);
    const struct soil_layer *top = &base->layer[0];
    double tew_mm = isnan(soil->evaporation_depth_m)
                        ? base->tew_mm
                        : soil_tew_mm(top->field_capacity_m3_m3, top->wilting_point_m3_m3, depth_m);
    soil->layer_count = base->layer_count;
    memcpy(soil->layer, base->layer, sizeof soil->layer);
    soil->evaporation_depth_m = depth_m;
    soil->rew_mm = given_or(soil->rew_mm, base->rew_mm);
    soil->tew_mm = given_or(soil->tew_mm, tew_mm);
    soil->curve_number = given_or(soil->curve_number, base->curve_number);
    soil->intake_mm_h = given_or(soil->intake_mm_h, base->intake_mm_h);
}

/* The surface of measured layers, from their mean water contents over the depth that dries. */
static void surface_of_layers(struct soil *soil) {
    soil->evaporation_depth_m = given_or(soil->evaporation_depth_m, EVAPORATION_DEPTH_USUAL_M);
    double depth_m = soil->evaporation_depth_m, depth_mm = 1000 * depth_m;
    double capacity = soil_field_capacity_to_mm(soil, depth_m) / depth_mm;
    double wilting = soil_wilting_point_to_mm(soil, depth_m) / depth_mm;
    soil->tew_mm = given_or(soil->tew_mm, soil_tew_mm(capacity, wilting, depth_m));
    soil->rew_mm = given_or(soil->rew_mm, soil_rew_mm(capacity, wilting));
}

/* A soil from sand, clay and organic matter; all three are wanted. */
static void soil_of_particles(struct reader *reader, const cJSON *item, struct farm_soil *out) {
    static const struct key *const keys[] = {&farm_file_sand_key, &farm_file_clay_key,
                                             &farm_file_organic_key};
    double pct[3];
    bool good = true;
    for (int i = 0; i < 3; i++) {
        if (cJSON_GetObjectItemCaseSensitive(item, keys[i]->name) == NULL)
            reader_problem(reader, item, "found no \"%s\", expected a share, as \"2 %%\"", keys[i]->name);
        good = reader_member(reader, item, keys[i], &pct[i]) && good;
    }
    struct soil_hydraulic water;
    enum soil_texture texture = TEXTURE_COUNT;
    if (!good)
        return;
    if (soil_texture_class(pct[0], pct[1], &texture) != STATUS_OK) {
        reader_problem(reader, item, "found %.6g %% sand and %.6g %% clay, expected at most 100 %% together",
                       pct[0], pct[1]);
        return;
    }
    struct soil base;
    if (soil_saxton_rawls(pct[0], pct[1], pct[2], &water) != STATUS_OK ||
        soil_from_water(water.field_capacity_m3_m3, water.wilting_point_m3_m3, EVAPORATION_DEPTH_USUAL_M,
                        &base) != STATUS_OK) {
        reader_problem(
            reader, item,
            "found a mixture outside the equations of Saxton and Rawls (2006), expected \"layers\" "
            "or a \"texture\"");
        return;
    }
    if (out->texture[0] == '\0')
        (void)snprintf(out->texture, sizeof out->texture, "%s", soil_texture_name(texture));
    put_under(&out->soil, &base);
}

/* The library's soil of a texture; told when there is none. */
static bool soil_of_texture(struct reader *reader, const cJSON *item, const char *texture,
                            struct soil *base) {
    if (library_soil(reader->library, texture, base) == STATUS_OK)
        return true;
    const char *near = library_texture_nearest(reader->library, texture);
    char words[FARM_NAME_SIZE + 60];
    (void)snprintf(words, sizeof words, near != NULL ? "\"%s\"" : "%sone of the USDA's, as \"sandy loam\"",
                   near != NULL ? near : "");
    size_t path = reader_enter(reader, "texture", -1);
    reader_expected(reader, cJSON_GetObjectItemCaseSensitive(item, "texture"), words);
    reader_leave(reader, path);
    return false;
}

void reader_soil(struct reader *reader, const cJSON *item, struct farm_soil *out) {
    struct soil *soil = &out->soil;
    soil->rew_mm = soil->tew_mm = soil->evaporation_depth_m = soil->curve_number = soil->intake_mm_h = NAN;
    bool good = reader_object(reader, item, farm_file_soil_keys, out);
    struct soil base;
    bool known = out->texture[0] != '\0' && soil_of_texture(reader, item, out->texture, &base);
    if (reader_has(item, "layers")) {
        if (good)
            surface_of_layers(soil);
    } else if (reader_has(item, "sand") || reader_has(item, "clay")) {
        soil_of_particles(reader, item, out);
    } else if (known) {
        put_under(soil, &base);
    } else if (!reader_has(item, "texture") && cJSON_IsObject(item)) {
        reader_problem(
            reader, item,
            "found neither \"texture\" nor \"sand\" and \"clay\" nor \"layers\", expected one of them");
    }
}

/* ---- fields ---- */

void reader_field(struct reader *reader, const cJSON *item, struct farm_field *out) {
    const cJSON *system = cJSON_GetObjectItemCaseSensitive(item, "system");
    const char *kind = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(system, "kind"));
    enum system_kind known = kind != NULL ? system_kind_of(kind) : SYSTEM_NONE;
    out->system = system_default(known < SYSTEM_COUNT ? known : SYSTEM_NONE);
    (void)reader_object(reader, item, farm_file_field_keys, out);
}

/* ---- plantings ---- */

static void fill(double *values, int count) {
    for (int i = 0; i < count; i++)
        values[i] = NAN;
}

/* A crop of which nothing is known. */
static struct crop crop_unknown(void) {
    struct crop crop = {.reference = REFERENCE_FAO56_GRASS, .clock = CLOCK_DAYS};
    fill(crop.stage_days, CROP_GROWING_STAGES);
    fill(crop.stage_degree_days, CROP_GROWING_STAGES);
    fill(crop.allowed_depletion, CROP_GROWING_STAGES);
    fill(crop.ky_stage, CROP_GROWING_STAGES);
    fill(crop.cut_stage_days, CROP_GROWING_STAGES);
    crop.base_c = crop.ceiling_c = crop.kc_ini = crop.kc_mid = crop.kc_end = NAN;
    crop.kcb_ini = crop.kcb_mid = crop.kcb_end = crop.height_ini_m = crop.height_max_m = NAN;
    crop.root_ini_m = crop.root_max_m = crop.depletion_fraction = crop.ky_season = NAN;
    crop.salt_threshold_ds_m = crop.salt_slope_pct = crop.cut_height_m = NAN;
    return crop;
}

/* Which of the library's crop and region the file means. */
enum crop_found { CROP_FOUND, CROP_UNKNOWN, CROP_REGION_UNKNOWN };

/* The crop is wanted before the other keys are read over it. */
static enum crop_found find_crop(const struct reader *reader, const cJSON *item, struct crop *crop) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(item, "crop"));
    const char *region = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(item, "region"));
    *crop = crop_unknown();
    if (name == NULL || library_crop_canonical(reader->library, name) == NULL)
        return CROP_UNKNOWN;
    if (library_crop(reader->library, name, region, crop) != STATUS_NOT_FOUND)
        return CROP_FOUND;
    (void)library_crop(reader->library, name, "", crop);
    fill(crop->stage_days, CROP_GROWING_STAGES);
    return CROP_REGION_UNKNOWN;
}

/* "corn" is kept as the library calls it. */
static void name_crop(const struct reader *reader, struct farm_planting *out) {
    const char *canonical = library_crop_canonical(reader->library, out->crop_name);
    if (canonical != NULL && strlen(canonical) < sizeof out->crop_name)
        memcpy(out->crop_name, canonical, strlen(canonical) + 1);
}

/* The keys without which a crop cannot be balanced, and the member that shows whether one was given. */
static const struct {
    const char *key;
    size_t offset;
} needed[] = {
    {"stage_days", offsetof(struct crop, stage_days)},
    {"kc", offsetof(struct crop, kc_mid)},
    {"kc", offsetof(struct crop, kc_end)},
    {"kcb", offsetof(struct crop, kcb_ini)},
    {"kcb", offsetof(struct crop, kcb_mid)},
    {"kcb", offsetof(struct crop, kcb_end)},
    {"height", offsetof(struct crop, height_ini_m)},
    {"height", offsetof(struct crop, height_max_m)},
    {"root_depth", offsetof(struct crop, root_ini_m)},
    {"root_depth", offsetof(struct crop, root_max_m)},
    {"depletion_fraction", offsetof(struct crop, depletion_fraction)},
};

#define NEEDED_COUNT ((int)(sizeof needed / sizeof needed[0]))

/* Index of the first row from `from` on whose member is missing; NEEDED_COUNT: none. */
static int gap(const struct crop *crop, int from) {
    while (from < NEEDED_COUNT &&
           !isnan(*(const double *)(const void *)((const char *)crop + needed[from].offset)))
        from++;
    return from;
}

static void tell_gaps(struct reader *reader, const cJSON *item, const struct farm_planting *out) {
    const char *told = "";
    for (int i = gap(&out->crop, 0); i < NEEDED_COUNT; i = gap(&out->crop, i + 1)) {
        const char *key = needed[i].key;
        if (strcmp(key, told) == 0)
            continue;
        told = key;
        const char *why = library_crop_open(reader->library, out->crop_name, key);
        if (reader_has(item, key))
            reader_problem(reader, item, "found a part of \"%s\", expected all of it", key);
        else
            reader_problem(reader, item, "found no \"%s\", expected it with the planting of %s%s%s", key,
                           out->crop_name, why != NULL ? ": " : "", why != NULL ? why : "");
    }
}

static void tell_crop(struct reader *reader, const cJSON *item, const char *key, const char *near) {
    char words[FARM_NAME_SIZE * 3];
    size_t path = reader_enter(reader, key, -1);
    if (near != NULL)
        (void)snprintf(words, sizeof words, "\"%s\"", near);
    else
        (void)snprintf(words, sizeof words,
                       "one of the library, or one with its own stage_days, kc, kcb, height, "
                       "root_depth and depletion_fraction");
    reader_expected(reader, cJSON_GetObjectItemCaseSensitive(item, key), words);
    reader_leave(reader, path);
}

void reader_planting(struct reader *reader, const cJSON *item, struct farm_planting *out) {
    farm_planting_begin(out);
    enum crop_found found = find_crop(reader, item, &out->crop);
    bool good = reader_object(reader, item, farm_file_planting_keys, out);
    name_crop(reader, out);
    if (out->start_date == CALENDAR_NONE)
        out->start_date = out->planting_date;
    bool whole = gap(&out->crop, 0) == NEEDED_COUNT;
    if (out->crop_name[0] == '\0')
        return; /* told as a key that is wrong or missing */
    if (found == CROP_UNKNOWN && !whole)
        tell_crop(reader, item, "crop", library_crop_nearest(reader->library, out->crop_name));
    else if (found == CROP_REGION_UNKNOWN && !whole)
        tell_crop(reader, item, "region",
                  library_region_nearest(reader->library, out->crop_name, out->region));
    else if (good)
        tell_gaps(reader, item, out);
}

/* ---- records ---- */

/* Gross depth of a volume or of hours by the field's system. */
static void depth_of_amount(struct reader *reader, const cJSON *item, const struct key *key,
                            struct farm_record *out) {
    double amount = NAN;
    if (!reader_member(reader, item, key, &amount))
        return;
    /* A field's name begins its struct. */
    const struct farm_field *field = (const void *)check_names_find(&reader->fields, out->field);
    if (field == NULL || system_check(&field->system, NULL) != STATUS_OK)
        return; /* told where the field stands */
    bool hours = key == &farm_file_hours_key;
    out->amount = hours ? application_gross_of_hours_mm(&field->system, amount)
                        : application_gross_of_volume_mm(&field->system, amount);
    size_t path = reader_enter(reader, key->name, -1);
    const cJSON *value = cJSON_GetObjectItemCaseSensitive(item, key->name);
    char words[120];
    if (field->system.kind == SYSTEM_NONE)
        reader_expected(reader, value, "\"depth\": the field has no system");
    else if (hours && isnan(field->system.flow_m3_h))
        reader_expected(reader, value, "\"depth\" or \"volume\": the system of the field has no \"flow\"");
    else if (!(out->amount <= APPLICATION_DEPTH_MAX_MM)) {
        (void)snprintf(words, sizeof words, "at most %g mm on this field, which would be %g mm",
                       APPLICATION_DEPTH_MAX_MM, out->amount);
        reader_expected(reader, value, words);
    }
    reader_leave(reader, path);
}

/* Of depth, volume and hours one is wanted. */
static void read_irrigation(struct reader *reader, const cJSON *item, struct farm_record *out) {
    static const char *const key[] = {"depth", "volume", "hours"};
    int count = 0;
    for (int i = 0; i < 3; i++)
        count += cJSON_GetObjectItemCaseSensitive(item, key[i]) != NULL;
    if (count != 1) {
        reader_problem(reader, item, "found %s of \"depth\", \"volume\" and \"hours\", expected one",
                       count == 0 ? "none" : "more than one");
        return;
    }
    depth_of_amount(reader, item, &farm_file_volume_key, out);
    depth_of_amount(reader, item, &farm_file_hours_key, out);
}

void reader_record(struct reader *reader, const cJSON *item, struct farm_record *out) {
    out->date = CALENDAR_NONE;
    out->amount = out->sd = NAN;
    if (!cJSON_IsObject(item)) {
        reader_expected(reader, item, "an object, as {...}");
        return;
    }
    if (!reader_has(item, "kind"))
        reader_problem(reader, item, "found no \"kind\", expected one, as \"irrigation\"");
    else if (reader_member(reader, item, &farm_file_record_kind_key, out) &&
             reader_object(reader, item, farm_file_record_keys(out->kind), out) &&
             out->kind == RECORD_IRRIGATION)
        read_irrigation(reader, item, out);
}
