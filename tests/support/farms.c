#include "support/farms.h"

#include <dirent.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/hostile.h"

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

/* ---- arbitrary farms ---- */

/* One time in four none. */
static double maybe(struct hostile *source, double low, double high) {
    return hostile_between(source, 0, 4) < 1 ? (double)NAN : hostile_between(source, low, high);
}

static void arbitrary_soil(struct farm_soil *out, struct hostile *source) {
    double depth_m = 0;
    out->soil.layer_count = 1 + (int)hostile_between(source, 0, SOIL_LAYERS_MAX - 0.01);
    for (int i = 0; i < out->soil.layer_count; i++) {
        depth_m += hostile_between(source, 0.1, 0.5);
        double wilting = hostile_between(source, 0, 0.3);
        out->soil.layer[i] =
            (struct soil_layer){depth_m, wilting + hostile_between(source, 0.02, 0.3), wilting};
    }
    out->soil.evaporation_depth_m = hostile_between(source, 0.1, 0.15);
    out->soil.rew_mm = hostile_between(source, 0, 10);
    out->soil.tew_mm = hostile_between(source, 10.5, 60);
    out->soil.curve_number = maybe(source, 1, 100);
    out->soil.intake_mm_h = maybe(source, 0.1, 60);
}

static void arbitrary_crop(struct crop *crop, struct hostile *source) {
    crop->reference = (enum reference_kind)hostile_between(source, 0, 2.99);
    crop->clock = (enum crop_clock)hostile_between(source, 0, 1.99);
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        crop->stage_days[i] = hostile_between(source, 1, 60);
        crop->stage_degree_days[i] = hostile_between(source, 1, 900);
        crop->cut_stage_days[i] = hostile_between(source, 1, 20);
        crop->allowed_depletion[i] = maybe(source, 0.01, 1);
        crop->ky_stage[i] = maybe(source, 0, 3);
    }
    crop->base_c = hostile_between(source, -5, 12);
    crop->ceiling_c = maybe(source, 20, 40);
    crop->kc_ini = hostile_between(source, 0, 2);
    crop->kc_mid = hostile_between(source, 0, 2);
    crop->kc_end = hostile_between(source, 0, 2);
    crop->kcb_ini = hostile_between(source, 0, 2);
    crop->kcb_mid = hostile_between(source, 0, 2);
    crop->kcb_end = hostile_between(source, 0, 2);
    crop->height_ini_m = hostile_between(source, 0, 0.5);
    crop->height_max_m = hostile_between(source, 0.5, 3);
    crop->root_ini_m = hostile_between(source, 0.05, 0.5);
    crop->root_max_m = hostile_between(source, 0.5, 3);
    crop->depletion_fraction = hostile_between(source, 0.05, 0.95);
    crop->depletion_fixed = hostile_between(source, 0, 2) < 1;
    crop->ky_season = maybe(source, 0.1, 3);
    crop->salt_threshold_ds_m = maybe(source, 0, 10);
    crop->salt_slope_pct = maybe(source, 0.1, 100);
    crop->forage = hostile_between(source, 0, 2) < 1;
    crop->cut_height_m = hostile_between(source, 0, 0.5);
}

static void arbitrary_records(struct farm *farm, struct hostile *source) {
    farm->record_count = 40;
    farm->record = calloc(farm->record_count, sizeof *farm->record);
    for (size_t i = 0; i < farm->record_count; i++) {
        struct farm_record *record = &farm->record[i];
        (void)snprintf(record->field, sizeof record->field, "field \"%d\"", 1 + (int)(i % 3));
        record->date = 20600 + (int32_t)hostile_between(source, 0, 60);
        record->amount = record->sd = NAN;
        static const enum record_kind kind[] = {RECORD_IRRIGATION, RECORD_RAIN,    RECORD_READING,
                                                RECORD_COVER,      RECORD_HARVEST, RECORD_NOTE};
        record->kind = kind[i % 6];
        if (record->kind == RECORD_HARVEST)
            record->amount = maybe(source, 0, 1e6);
        else if (record->kind != RECORD_NOTE)
            record->amount = hostile_between(source, 0.001, record->kind <= RECORD_RAIN ? 60 : 1);
        if (record->kind == RECORD_READING)
            record->sd = maybe(source, 0, 0.1);
        if (record->kind >= RECORD_HARVEST)
            (void)snprintf(record->text, sizeof record->text, "line %zu\n\t\\ \"Grüße\" // /* 水 */", i);
    }
    (void)farm_sort_records(farm);
}

static void arbitrary_fields(struct farm *farm, struct hostile *source) {
    farm->field_count = farm->planting_count = farm->soil_count = 3;
    farm->field = calloc(3, sizeof *farm->field);
    farm->planting = calloc(3, sizeof *farm->planting);
    farm->soil = calloc(3, sizeof *farm->soil);
    for (int i = 0; i < 3; i++) {
        struct farm_field *field = &farm->field[i];
        struct farm_planting *planting = &farm->planting[i];
        arbitrary_soil(&farm->soil[i], source);
        (void)snprintf(farm->soil[i].name, FARM_NAME_SIZE, "soil/%d", i);
        (void)snprintf(field->soil, FARM_NAME_SIZE, "soil/%d", i);
        (void)snprintf(field->name, FARM_NAME_SIZE, "field \"%d\"", 1 + i);
        (void)snprintf(planting->field, FARM_NAME_SIZE, "field \"%d\"", 1 + i);
        (void)snprintf(field->station, FARM_NAME_SIZE, "mast");
        field->system = system_default((enum system_kind)hostile_between(source, 0, SYSTEM_NONE - 0.01));
        field->system.area_m2 = hostile_between(source, 1, 1e7);
        field->system.efficiency = hostile_between(source, 0.2, 1);
        field->system.flow_m3_h = maybe(source, 0.001, 1000);
        field->system.hours_per_day = hostile_between(source, 0, 24);
        field->system.net_min_mm = maybe(source, 0, 10);
        field->system.net_max_mm = maybe(source, 10, 100);
        field->system.wetted_fraction = hostile_between(source, 0.05, 1);
        (void)snprintf(planting->crop_name, FARM_NAME_SIZE, i == 0 ? "cotton" : "own crop %d", i);
        arbitrary_crop(&planting->crop, source);
        planting->planting_date = 20600;
        planting->start_date = 20600 - (int32_t)hostile_between(source, 0, 30);
        for (int k = 0; k < CROP_GROWING_STAGES; k++)
            planting->stage_date[k] = k % 2 == i % 2 ? CALENDAR_NONE : 20610 + 20 * k;
        planting->start_depletion = hostile_between(source, 0, 1);
        planting->water_table_m = maybe(source, 0.1, 10);
        planting->capillary_max_mm = hostile_between(source, 0, 5);
        planting->ece_ds_m = NAN;
        planting->yield_value = maybe(source, 1, 1e5);
    }
}

static int whole(struct hostile *source, int low, int high) {
    return low + (int)hostile_between(source, 0, high - low + 0.99);
}

static struct farm_span arbitrary_span(struct hostile *source) {
    int32_t from = whole(source, 20000, 21000);
    return (struct farm_span){from, from + whole(source, 0, 200)};
}

static void arbitrary_hours(struct farm_supply *supply, struct hostile *source) {
    supply->season = arbitrary_span(source);
    if (whole(source, 0, 2) == 0)
        supply->season.from = CALENDAR_NONE;
    supply->users = whole(source, 0, 3);
    supply->water_price = maybe(source, 0, 2);
    supply->hour_price = maybe(source, 0, 50);
    supply->window_count = whole(source, 0, FARM_WINDOWS_MAX);
    for (int i = 0; i < supply->window_count; i++) {
        bool by_days = whole(source, 0, 1) == 0;
        supply->window[i] =
            (struct farm_window){.weekdays = by_days ? (unsigned)whole(source, 1, 127) : 0,
                                 .every_days = by_days ? 0 : whole(source, 1, 60),
                                 .first = by_days ? CALENDAR_NONE : whole(source, 20000, 21000),
                                 .from_hour = whole(source, 0, 23),
                                 .hours = whole(source, 1, 24)};
    }
    supply->closed_count = whole(source, 0, FARM_CLOSURES_MAX);
    for (int i = 0; i < supply->closed_count; i++)
        supply->closed[i] = arbitrary_span(source);
    supply->allotment_count = whole(source, 0, FARM_ALLOTMENTS_MAX);
    for (int i = 0; i < supply->allotment_count; i++)
        supply->allotment[i] =
            (struct farm_allotment){arbitrary_span(source), hostile_between(source, 0, 1e6)};
}

static void arbitrary_turning(struct farm *farm, struct hostile *source) {
    arbitrary_hours(farm->supply, source);
    farm->turn_mark_count = 6;
    farm->turn_mark = calloc(farm->turn_mark_count, sizeof *farm->turn_mark);
    for (size_t i = 0; i < farm->turn_mark_count; i++) {
        struct farm_turn_mark *mark = &farm->turn_mark[i];
        mark->kind = i % 2 == 0 ? TURN_PINNED : TURN_KEPT_DRY;
        mark->date = 20600 + (int32_t)i;
        mark->hour = whole(source, 0, 23);
        mark->hours = whole(source, 1, mark->kind == TURN_PINNED ? FARM_TURN_HOURS_MAX : 8784);
        (void)snprintf(mark->field, sizeof mark->field, "field \"%d\"", 1 + (int)(i / 2));
        (void)snprintf(mark->why, sizeof mark->why, i % 2 == 0 ? "" : "spraying \\ \"水\"");
    }
    for (size_t i = 0; i < farm->field_count; i++) {
        struct farm_turning *turning = &farm->field[i].turning;
        *turning = (struct farm_turning){.setup_hours = whole(source, 0, 24),
                                         .shortest_hours = whole(source, 0, 100),
                                         .may_pause = whole(source, 0, 1) == 1};
        turning->longest_hours = whole(source, 0, 1) == 0 ? 0 : whole(source, 100, FARM_TURN_HOURS_MAX);
    }
}

void farms_arbitrary(struct farm *farm, unsigned seed) {
    struct hostile source = hostile_seed(seed);
    farm_init(farm);
    (void)snprintf(farm->name, sizeof farm->name, "Farm %u", seed);
    farm->us_units = seed % 2 == 1;
    farm->call_rule = seed % 3 == 0 ? CALL_RULE_DEPLETION : CALL_RULE_COST;
    farm->water_price = maybe(&source, 0, 5);
    farm->station_count = farm->supply_count = 1;
    farm->station = calloc(1, sizeof *farm->station);
    farm->supply = calloc(1, sizeof *farm->supply);
    (void)snprintf(farm->station->name, FARM_NAME_SIZE, "mast");
    farm->station->site =
        weather_site_default(hostile_between(&source, -90, 90), hostile_between(&source, -400, 6000));
    farm->station->longitude_deg = hostile_between(&source, -180, 180);
    farm->station->site.krs = maybe(&source, 0.05, 0.3);
    farm->station->site.aridity_c = hostile_between(&source, 0, 5);
    farm->station->site.wind_height_m = hostile_between(&source, 0.5, 20);
    farm->station->site.wind_default_m_s = hostile_between(&source, 0.5, 5);
    farm_supply_begin(farm->supply);
    (void)snprintf(farm->supply->name, FARM_NAME_SIZE, "well");
    farm->supply->flow_m3_h = hostile_between(&source, 0.1, 1000);
    farm->supply->hours_per_day = hostile_between(&source, 0.1, 24);
    farm->supply->allotment_m3 = maybe(&source, 0, 1e7);
    arbitrary_fields(farm, &source);
    arbitrary_records(farm, &source);
    arbitrary_turning(farm, &source);
}
