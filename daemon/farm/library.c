#include "daemon/farm/library.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <cjson/cJSON.h>

#include "daemon/base/asset.h"
#include "daemon/base/nearest.h"

#define CROPS_FILE "config/crops.json"
#define SOILS_FILE "config/soils.json"

/* A JSON array with its items reachable by number. */
struct list {
    size_t count;
    const cJSON **item;
};

struct library {
    cJSON *crops_file, *soils_file;
    struct list crops, textures, covers;
    double seedling_root_m, seedling_height_m, cut_height_m;
    double evaporation_depth_m;
};

/* ---- reading ------------------------------------------------------------------------------------------- */

static const char *string_of(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

/* A number; of a range, the value that is taken; NaN when there is none. */
static double number_of(const cJSON *object, const char *key) {
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    if (cJSON_IsObject(item))
        item = cJSON_GetObjectItemCaseSensitive(item, "take");
    return cJSON_GetNumberValue(item);
}

static double default_of(const cJSON *defaults, const char *key) {
    return number_of(cJSON_GetObjectItemCaseSensitive(defaults, key), "value");
}

static cJSON *file_read(const char *path, struct problems *problems) {
    const struct asset *asset = asset_find(path);
    if (asset == NULL) {
        problem_add(problems, path, 0, 0, NULL, "not in this program");
        return NULL;
    }
    cJSON *json = cJSON_ParseWithLength((const char *)asset->bytes, asset->size);
    if (json == NULL)
        problem_add(problems, path, 0, 0, NULL, "found something else than JSON, or no memory is left");
    return json;
}

static enum status list_open(const cJSON *file, const char *path, const char *key, struct list *list,
                             struct problems *problems) {
    const cJSON *array = cJSON_GetObjectItemCaseSensitive(file, key);
    int count = cJSON_GetArraySize(array);
    if (!cJSON_IsArray(array) || count == 0) {
        problem_add(problems, path, 0, 0, key, "found none, expected a list");
        return STATUS_REFUSED;
    }
    list->item = calloc((size_t)count, sizeof *list->item);
    if (list->item == NULL)
        return STATUS_NO_MEMORY;
    const cJSON *item;
    cJSON_ArrayForEach(item, array) {
        if (string_of(item, "name")[0] == '\0') {
            problem_add(problems, path, 0, 0, key, "item %zu: found no name, expected one", list->count + 1);
            return STATUS_REFUSED;
        }
        list->item[list->count++] = item;
    }
    return STATUS_OK;
}

static enum status defaults_open(struct library *library, struct problems *problems) {
    const cJSON *defaults = cJSON_GetObjectItemCaseSensitive(library->crops_file, "defaults");
    library->seedling_root_m = default_of(defaults, "seedling_root_m");
    library->seedling_height_m = default_of(defaults, "seedling_height_m");
    library->cut_height_m = default_of(defaults, "cut_height_m");
    library->evaporation_depth_m = default_of(library->soils_file, "evaporation_depth");
    double sum = library->seedling_root_m + library->seedling_height_m + library->cut_height_m;
    if (isfinite(sum) && isfinite(library->evaporation_depth_m))
        return STATUS_OK;
    problem_add(problems, isfinite(sum) ? SOILS_FILE : CROPS_FILE, 0, 0,
                isfinite(sum) ? "evaporation_depth" : "defaults", "found a value missing, expected numbers");
    return STATUS_REFUSED;
}

static enum status library_fill(struct library *library, struct problems *problems) {
    library->crops_file = file_read(CROPS_FILE, problems);
    library->soils_file = file_read(SOILS_FILE, problems);
    if (library->crops_file == NULL || library->soils_file == NULL)
        return STATUS_REFUSED;
    enum status status = list_open(library->crops_file, CROPS_FILE, "crops", &library->crops, problems);
    if (status == STATUS_OK)
        status = list_open(library->soils_file, SOILS_FILE, "textures", &library->textures, problems);
    if (status == STATUS_OK)
        status = list_open(library->soils_file, SOILS_FILE, "covers", &library->covers, problems);
    if (status == STATUS_OK)
        status = defaults_open(library, problems);
    return status;
}

enum status library_open(struct library **out, struct problems *problems) {
    struct library *library = calloc(1, sizeof *library);
    if (library == NULL)
        return STATUS_NO_MEMORY;
    enum status status = library_fill(library, problems);
    if (status != STATUS_OK) {
        library_free(library);
        return status;
    }
    *out = library;
    return STATUS_OK;
}

void library_free(struct library *library) {
    if (library == NULL)
        return;
    free(library->crops.item);
    free(library->textures.item);
    free(library->covers.item);
    cJSON_Delete(library->crops_file);
    cJSON_Delete(library->soils_file);
    free(library);
}

/* ---- names --------------------------------------------------------------------------------------------- */

static bool is_called(const cJSON *item, const char *name) {
    if (strcasecmp(string_of(item, "name"), name) == 0)
        return true;
    const cJSON *other;
    cJSON_ArrayForEach(other, cJSON_GetObjectItemCaseSensitive(item, "also")) {
        if (cJSON_IsString(other) && strcasecmp(other->valuestring, name) == 0)
            return true;
    }
    return false;
}

static const cJSON *list_named(const struct list *list, const char *name) {
    for (size_t i = 0; i < list->count; i++) {
        if (is_called(list->item[i], name))
            return list->item[i];
    }
    return NULL;
}

static const char *list_name(const struct list *list, size_t index) {
    return index < list->count ? string_of(list->item[index], "name") : NULL;
}

static const char *list_nearest(const struct list *list, const char *name) {
    struct nearest nearest;
    nearest_begin(&nearest, name);
    for (size_t i = 0; i < list->count; i++) {
        nearest_offer(&nearest, string_of(list->item[i], "name"));
        const cJSON *other;
        cJSON_ArrayForEach(other, cJSON_GetObjectItemCaseSensitive(list->item[i], "also")) {
            if (cJSON_IsString(other))
                nearest_offer(&nearest, other->valuestring);
        }
    }
    return nearest.name;
}

static const cJSON *stages_of(const cJSON *crop) {
    return cJSON_GetObjectItemCaseSensitive(crop, "table11");
}

/* The row of stage lengths for a region, the first for none. */
static const cJSON *stages_named(const cJSON *crop, const char *region) {
    const cJSON *row;
    if (region == NULL || region[0] == '\0')
        return cJSON_GetArrayItem(stages_of(crop), 0);
    cJSON_ArrayForEach(row, stages_of(crop)) {
        if (strcasecmp(string_of(row, "name"), region) == 0)
            return row;
    }
    cJSON_ArrayForEach(row, stages_of(crop)) {
        if (strcasecmp(string_of(row, "region"), region) == 0)
            return row;
    }
    return NULL;
}

const char *library_crop_canonical(const struct library *library, const char *name) {
    const cJSON *crop = list_named(&library->crops, name);
    return crop != NULL ? string_of(crop, "name") : NULL;
}

const char *library_crop_nearest(const struct library *library, const char *name) {
    return list_nearest(&library->crops, name);
}

const char *library_texture_nearest(const struct library *library, const char *texture) {
    return list_nearest(&library->textures, texture);
}

const char *library_region_nearest(const struct library *library, const char *crop, const char *region) {
    struct nearest nearest;
    nearest_begin(&nearest, region);
    const cJSON *row;
    cJSON_ArrayForEach(row, stages_of(list_named(&library->crops, crop))) {
        nearest_offer(&nearest, string_of(row, "name"));
        nearest_offer(&nearest, string_of(row, "region"));
    }
    return nearest.name;
}

size_t library_crop_count(const struct library *library) {
    return library->crops.count;
}

const char *library_crop_name(const struct library *library, size_t index) {
    return list_name(&library->crops, index);
}

size_t library_region_count(const struct library *library, const char *crop) {
    return (size_t)cJSON_GetArraySize(stages_of(list_named(&library->crops, crop)));
}

const char *library_region_name(const struct library *library, const char *crop, size_t index) {
    if (index >= library_region_count(library, crop))
        return NULL;
    return string_of(cJSON_GetArrayItem(stages_of(list_named(&library->crops, crop)), (int)index), "name");
}

size_t library_texture_count(const struct library *library) {
    return library->textures.count;
}

const char *library_texture_name(const struct library *library, size_t index) {
    return list_name(&library->textures, index);
}

size_t library_cover_count(const struct library *library) {
    return library->covers.count;
}

const char *library_cover_name(const struct library *library, size_t index) {
    return list_name(&library->covers, index);
}

/* ---- crops --------------------------------------------------------------------------------------------- */

static struct crop crop_empty(void) {
    struct crop crop = {.reference = REFERENCE_FAO56_GRASS, .clock = CLOCK_DAYS};
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        crop.stage_days[i] = NAN;
        crop.stage_degree_days[i] = NAN;
        crop.cut_stage_days[i] = NAN;
        crop.allowed_depletion[i] = NAN;
    }
    crop.base_c = crop.ceiling_c = NAN;
    crop.cut_height_m = NAN;
    return crop;
}

static void days_fill(const cJSON *row, double days[CROP_GROWING_STAGES]) {
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(row, "take");
    if (list == NULL)
        list = cJSON_GetObjectItemCaseSensitive(row, "days");
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        days[i] = cJSON_GetNumberValue(cJSON_GetArrayItem(list, i));
}

static void coefficients_fill(const cJSON *crop, struct crop *out) {
    const cJSON *single = cJSON_GetObjectItemCaseSensitive(crop, "table12");
    const cJSON *basal = cJSON_GetObjectItemCaseSensitive(crop, "table17");
    if (basal == NULL)
        basal = cJSON_GetObjectItemCaseSensitive(crop, "table18");
    out->kc_ini = number_of(single, "ini");
    out->kc_mid = number_of(single, "mid");
    out->kc_end = number_of(single, "end");
    out->kcb_ini = number_of(basal, "ini");
    out->kcb_mid = number_of(basal, "mid");
    out->kcb_end = number_of(basal, "end");
    out->height_max_m = number_of(single, "height");
}

/* Roots and height on the first day follow from the crop's habit: see "rules" in crops.json. */
static void growth_fill(const struct library *library, const cJSON *crop, struct crop *out) {
    const cJSON *roots = cJSON_GetObjectItemCaseSensitive(crop, "table22");
    const char *habit = string_of(crop, "habit");
    out->root_max_m =
        cJSON_GetNumberValue(cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(roots, "root_depth"), 0));
    out->depletion_fraction = number_of(roots, "p");
    out->root_ini_m = out->root_max_m;
    if (strcmp(habit, "annual") == 0 && library->seedling_root_m < out->root_max_m)
        out->root_ini_m = library->seedling_root_m;
    out->height_ini_m = out->height_max_m;
    if (strcmp(habit, "standing") != 0 && library->seedling_height_m < out->height_max_m)
        out->height_ini_m = library->seedling_height_m;
}

/* FAO-33 counts by periods of the crop's life, the balance by stages: see "rules" in crops.json. */
static void yield_fill(const cJSON *crop, struct crop *out) {
    const cJSON *periods = cJSON_GetObjectItemCaseSensitive(crop, "fao33");
    const char *early = cJSON_HasObjectItem(periods, "vegetative") ? "vegetative" : "early_vegetative";
    const char *late = cJSON_HasObjectItem(periods, "vegetative") ? "vegetative" : "late_vegetative";
    out->ky_season = number_of(cJSON_GetObjectItemCaseSensitive(crop, "table24"), "ky");
    out->ky_stage[0] = number_of(periods, early);
    out->ky_stage[1] = number_of(periods, late);
    out->ky_stage[2] = fmax(number_of(periods, "flowering"), number_of(periods, "yield_formation"));
    out->ky_stage[3] = number_of(periods, "ripening");
}

static bool is_complete(const struct crop *crop) {
    double sum = crop->kc_ini + crop->kc_mid + crop->kc_end + crop->kcb_ini + crop->kcb_mid + crop->kcb_end;
    sum += crop->height_max_m + crop->root_max_m + crop->depletion_fraction;
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        sum += crop->stage_days[i];
        sum += crop->forage ? crop->cut_stage_days[i] : 0;
    }
    return isfinite(sum);
}

enum status library_crop(const struct library *library, const char *name, const char *region,
                         struct crop *out) {
    const cJSON *crop = list_named(&library->crops, name);
    const cJSON *stages = stages_named(crop, region);
    if (crop == NULL || (stages == NULL && region != NULL && region[0] != '\0'))
        return STATUS_NOT_FOUND;
    *out = crop_empty();
    days_fill(stages, out->stage_days);
    coefficients_fill(crop, out);
    growth_fill(library, crop, out);
    yield_fill(crop, out);
    const cJSON *salt = cJSON_GetObjectItemCaseSensitive(crop, "table23");
    out->salt_threshold_ds_m = number_of(salt, "threshold");
    out->salt_slope_pct = number_of(salt, "slope");
    out->forage = cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(crop, "forage"));
    if (out->forage) {
        days_fill(cJSON_GetObjectItemCaseSensitive(stages, "cut"), out->cut_stage_days);
        out->cut_height_m = library->cut_height_m;
    }
    return is_complete(out) ? STATUS_OK : STATUS_MISSING;
}

const char *library_crop_open(const struct library *library, const char *name, const char *key) {
    const cJSON *open = cJSON_GetObjectItemCaseSensitive(list_named(&library->crops, name), "open");
    return cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(open, key));
}

const char *library_crop_gap(const struct library *library, const char *name, size_t *at, const char **why) {
    static const char *const needed[] = {"stage_days", "root_depth", "depletion_fraction"};
    while (*at < sizeof needed / sizeof *needed) {
        const char *key = needed[(*at)++];
        *why = library_crop_open(library, name, key);
        if (*why != NULL)
            return key;
    }
    return NULL;
}

/* ---- soils --------------------------------------------------------------------------------------------- */

enum status library_soil(const struct library *library, const char *texture, struct soil *out) {
    const cJSON *item = list_named(&library->textures, texture);
    if (item == NULL)
        return STATUS_NOT_FOUND;
    const cJSON *water = cJSON_GetObjectItemCaseSensitive(item, "table19");
    const cJSON *surface = water;
    if (water == NULL) {
        water = cJSON_GetObjectItemCaseSensitive(item, "saxton_rawls");
        surface = cJSON_GetObjectItemCaseSensitive(item, "derived");
    }
    memset(out, 0, sizeof *out);
    out->layer_count = 1;
    out->layer[0].bottom_m = 1; /* the last layer goes on below */
    out->layer[0].field_capacity_m3_m3 = number_of(water, "field_capacity");
    out->layer[0].wilting_point_m3_m3 = number_of(water, "wilting_point");
    out->rew_mm = number_of(surface, "rew");
    out->tew_mm = number_of(surface, "tew");
    out->evaporation_depth_m = library->evaporation_depth_m;
    out->curve_number = NAN;
    out->intake_mm_h = NAN;
    return STATUS_OK;
}

enum status library_curve_number(const struct library *library, const char *cover, char group, double *out) {
    const cJSON *item = list_named(&library->covers, cover);
    const char *groups = "ABCDabcd", *at = group != '\0' ? strchr(groups, group) : NULL;
    if (item == NULL || at == NULL)
        return STATUS_NOT_FOUND;
    const cJSON *numbers = cJSON_GetObjectItemCaseSensitive(item, "curve_number");
    *out = cJSON_GetNumberValue(cJSON_GetArrayItem(numbers, (int)(at - groups) % 4));
    return STATUS_OK;
}
