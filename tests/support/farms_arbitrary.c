#include "support/farms.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "support/hostile.h"

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
