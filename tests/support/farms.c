#include "support/farms.h"

#include <dirent.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- files ---- */

char *farms_text(const char *path, size_t *size) {
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    size_t room = 1 << 22;
    char *text = malloc(room);
    *size = text != NULL ? fread(text, 1, room - 1, file) : 0;
    if (text != NULL)
        text[*size] = '\0';
    (void)fclose(file);
    return text;
}

static int by_path(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

char **farms_paths(const char *directory, const char *ending) {
    char **paths = calloc(1000, sizeof *paths);
    DIR *open = opendir(directory);
    size_t count = 0;
    for (const struct dirent *entry; open != NULL && (entry = readdir(open)) != NULL && count < 999;) {
        size_t size = strlen(entry->d_name), end = strlen(ending);
        if (size > end && strcmp(entry->d_name + size - end, ending) == 0 &&
            asprintf(&paths[count], "%s/%s", directory, entry->d_name) > 0)
            count++;
    }
    if (open != NULL)
        (void)closedir(open);
    qsort(paths, count, sizeof *paths, by_path);
    return paths;
}

void farms_paths_free(char **paths) {
    for (char **path = paths; *path != NULL; path++)
        free(*path);
    free(paths);
}

/* ---- comparison ---- */

struct comparison {
    const char *list;
    size_t index;
    char *where;
    bool same;
};

static void differ(struct comparison *comparison, const char *member) {
    if (comparison->same)
        (void)snprintf(comparison->where, 100, "%s[%zu].%s", comparison->list, comparison->index, member);
    comparison->same = false;
}

static void numbers(struct comparison *comparison, const double *a, const double *b, size_t count,
                    const char *member) {
    for (size_t i = 0; i < count; i++)
        if (memcmp(&a[i], &b[i], sizeof a[i]) != 0 && !(isnan(a[i]) && isnan(b[i])))
            differ(comparison, member);
}

#define TEXT(member)                                                                                         \
    if (strcmp(a->member, b->member) != 0)                                                                   \
    differ(c, #member)
#define EQUAL(member)                                                                                        \
    if (a->member != b->member)                                                                              \
    differ(c, #member)
#define NUMBER(member)  numbers(c, &a->member, &b->member, 1, #member)
#define NUMBERS(member) numbers(c, a->member, b->member, sizeof a->member / sizeof a->member[0], #member)

static void same_station(struct comparison *c, const struct farm_station *a, const struct farm_station *b) {
    TEXT(name);
    NUMBER(longitude_deg);
    NUMBER(site.latitude_deg);
    NUMBER(site.elevation_m);
    NUMBER(site.wind_height_m);
    EQUAL(site.coastal);
    NUMBER(site.krs);
    NUMBER(site.angstrom_as);
    NUMBER(site.angstrom_bs);
    NUMBER(site.aridity_c);
    NUMBER(site.wind_default_m_s);
    NUMBER(lapse_c_km);
    EQUAL(neighbour_count);
    for (int i = 0; i < a->neighbour_count && i < FARM_NEIGHBOURS_MAX; i++)
        TEXT(neighbour[i]);
}

static void same_source(struct comparison *c, const struct farm_source *a, const struct farm_source *b) {
    TEXT(name);
    TEXT(station);
    TEXT(layout);
    TEXT(address);
    EQUAL(kind);
    EQUAL(since);
    NUMBER(interval_s);
}

static void same_soil(struct comparison *c, const struct farm_soil *a, const struct farm_soil *b) {
    TEXT(name);
    TEXT(texture);
    EQUAL(soil.layer_count);
    for (int i = 0; i < a->soil.layer_count && i < SOIL_LAYERS_MAX; i++) {
        NUMBER(soil.layer[i].bottom_m);
        NUMBER(soil.layer[i].field_capacity_m3_m3);
        NUMBER(soil.layer[i].wilting_point_m3_m3);
    }
    NUMBER(soil.rew_mm);
    NUMBER(soil.tew_mm);
    NUMBER(soil.evaporation_depth_m);
    NUMBER(soil.curve_number);
    NUMBER(soil.intake_mm_h);
}

static void same_supply(struct comparison *c, const struct farm_supply *a, const struct farm_supply *b) {
    TEXT(name);
    NUMBER(flow_m3_h);
    NUMBER(hours_per_day);
    NUMBER(allotment_m3);
    EQUAL(season.from);
    EQUAL(season.to);
    EQUAL(users);
    NUMBER(water_price);
    NUMBER(hour_price);
    EQUAL(window_count);
    for (int i = 0; i < a->window_count; i++) {
        EQUAL(window[i].weekdays);
        EQUAL(window[i].every_days);
        EQUAL(window[i].first);
        EQUAL(window[i].from_hour);
        EQUAL(window[i].hours);
    }
    EQUAL(closed_count);
    for (int i = 0; i < a->closed_count; i++) {
        EQUAL(closed[i].from);
        EQUAL(closed[i].to);
    }
    EQUAL(allotment_count);
    for (int i = 0; i < a->allotment_count; i++) {
        EQUAL(allotment[i].days.from);
        EQUAL(allotment[i].days.to);
        NUMBER(allotment[i].volume_m3);
    }
}

static void same_turn_mark(struct comparison *c, const struct farm_turn_mark *a,
                           const struct farm_turn_mark *b) {
    TEXT(field);
    EQUAL(kind);
    EQUAL(date);
    EQUAL(hour);
    EQUAL(hours);
    TEXT(why);
}

static void same_field(struct comparison *c, const struct farm_field *a, const struct farm_field *b) {
    TEXT(name);
    TEXT(station);
    TEXT(soil);
    TEXT(supply);
    EQUAL(system.kind);
    NUMBER(system.efficiency);
    NUMBER(system.area_m2);
    NUMBER(system.flow_m3_h);
    NUMBER(system.hours_per_day);
    NUMBER(system.net_min_mm);
    NUMBER(system.net_max_mm);
    NUMBER(system.wetted_fraction);
    EQUAL(system.under_canopy);
    EQUAL(turning.setup_hours);
    EQUAL(turning.shortest_hours);
    EQUAL(turning.longest_hours);
    EQUAL(turning.may_pause);
}

static void same_crop(struct comparison *c, const struct farm_planting *a, const struct farm_planting *b) {
    EQUAL(crop.reference);
    EQUAL(crop.clock);
    NUMBERS(crop.stage_days);
    NUMBERS(crop.stage_degree_days);
    NUMBER(crop.base_c);
    NUMBER(crop.ceiling_c);
    NUMBER(crop.kc_ini);
    NUMBER(crop.kc_mid);
    NUMBER(crop.kc_end);
    NUMBER(crop.kcb_ini);
    NUMBER(crop.kcb_mid);
    NUMBER(crop.kcb_end);
    NUMBER(crop.height_ini_m);
    NUMBER(crop.height_max_m);
    NUMBER(crop.root_ini_m);
    NUMBER(crop.root_max_m);
    NUMBER(crop.depletion_fraction);
    EQUAL(crop.depletion_fixed);
    NUMBERS(crop.allowed_depletion);
    NUMBER(crop.ky_season);
    NUMBERS(crop.ky_stage);
    NUMBER(crop.salt_threshold_ds_m);
    NUMBER(crop.salt_slope_pct);
    EQUAL(crop.forage);
    NUMBERS(crop.cut_stage_days);
    NUMBER(crop.cut_height_m);
}

static void same_planting(struct comparison *c, const struct farm_planting *a,
                          const struct farm_planting *b) {
    TEXT(field);
    TEXT(crop_name);
    TEXT(region);
    same_crop(c, a, b);
    EQUAL(method);
    EQUAL(planting_date);
    EQUAL(start_date);
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        EQUAL(stage_date[i]);
    NUMBER(start_depletion);
    NUMBER(water_table_m);
    NUMBER(capillary_max_mm);
    NUMBER(ece_ds_m);
    NUMBER(yield_value);
}

static void same_record(struct comparison *c, const struct farm_record *a, const struct farm_record *b) {
    TEXT(field);
    EQUAL(date);
    EQUAL(kind);
    NUMBER(amount);
    NUMBER(sd);
    EQUAL(stage);
    TEXT(text);
    TEXT(plot);
}

static void same_trial(struct comparison *c, const struct farm_trial *a, const struct farm_trial *b) {
    TEXT(name);
    EQUAL(layout);
    EQUAL(plot_count);
    for (int i = 0; i < a->plot_count && i < FARM_PLOTS_MAX; i++) {
        TEXT(plot[i].name);
        TEXT(plot[i].treatment);
        TEXT(plot[i].block);
        NUMBER(plot[i].area_m2);
    }
    EQUAL(treatment_count);
    for (int i = 0; i < a->treatment_count && i < FARM_TREATMENTS_MAX; i++) {
        TEXT(treatment[i].name);
        TEXT(treatment[i].field);
        TEXT(treatment[i].whole);
        TEXT(treatment[i].sub);
    }
}

#define SAME_LIST(member)                                                                                    \
    do {                                                                                                     \
        c->list = #member;                                                                                   \
        c->index = 0;                                                                                        \
        EQUAL(member##_count);                                                                               \
        for (; c->same && c->index < a->member##_count; c->index++)                                          \
            same_##member(c, &a->member[c->index], &b->member[c->index]);                                    \
    } while (0)

bool farms_same(const struct farm *a, const struct farm *b, char where[100]) {
    struct comparison comparison = {.list = "farm", .where = where, .same = true}, *c = &comparison;
    TEXT(name);
    EQUAL(us_units);
    TEXT(time_zone);
    EQUAL(call_rule);
    NUMBER(water_price);
    SAME_LIST(station);
    SAME_LIST(source);
    SAME_LIST(soil);
    SAME_LIST(supply);
    SAME_LIST(field);
    SAME_LIST(planting);
    SAME_LIST(turn_mark);
    SAME_LIST(record);
    SAME_LIST(trial);
    return comparison.same;
}

/* ---- order ---- */

static int by_name(const void *a, const void *b) {
    return strcmp(a, b);
}

static int by_planting(const void *a, const void *b) {
    const struct farm_planting *x = a, *y = b;
    int order = strcmp(x->field, y->field);
    return order != 0 ? order : (x->planting_date > y->planting_date) - (x->planting_date < y->planting_date);
}

static int by_mark(const void *a, const void *b) {
    const struct farm_turn_mark *x = a, *y = b;
    int order = strcmp(x->field, y->field);
    if (order == 0)
        order = (x->date > y->date) - (x->date < y->date);
    return order != 0 ? order : x->hour - y->hour;
}

static void sort(void *list, size_t count, size_t size, int (*order)(const void *, const void *)) {
    if (count > 0)
        qsort(list, count, size, order);
}

void farms_sort(struct farm *farm) {
    sort(farm->station, farm->station_count, sizeof *farm->station, by_name);
    sort(farm->source, farm->source_count, sizeof *farm->source, by_name);
    sort(farm->soil, farm->soil_count, sizeof *farm->soil, by_name);
    sort(farm->supply, farm->supply_count, sizeof *farm->supply, by_name);
    sort(farm->field, farm->field_count, sizeof *farm->field, by_name);
    sort(farm->planting, farm->planting_count, sizeof *farm->planting, by_planting);
    sort(farm->turn_mark, farm->turn_mark_count, sizeof *farm->turn_mark, by_mark);
    sort(farm->trial, farm->trial_count, sizeof *farm->trial, by_name);
}
