#include "daemon/store/farm_columns.h"

static const struct column farm_table[] = {
    COLUMN(COLUMN_TEXT, farm, name, "name"),
    COLUMN(COLUMN_BOOL, farm, us_units, "us_units"),
    COLUMN(COLUMN_TEXT, farm, time_zone, "time_zone"),
    COLUMN(COLUMN_INT, farm, call_rule, "call_rule"),
    COLUMN(COLUMN_REAL, farm, water_price, "water_price"),
};

static const struct column station_table[] = {
    COLUMN(COLUMN_TEXT, farm_station, name, "name"),
    COLUMN(COLUMN_REAL, farm_station, longitude_deg, "longitude_deg"),
    COLUMN(COLUMN_REAL, farm_station, site.latitude_deg, "latitude_deg"),
    COLUMN(COLUMN_REAL, farm_station, site.elevation_m, "elevation_m"),
    COLUMN(COLUMN_REAL, farm_station, site.wind_height_m, "wind_height_m"),
    COLUMN(COLUMN_BOOL, farm_station, site.coastal, "coastal"),
    COLUMN(COLUMN_REAL, farm_station, site.krs, "krs"),
    COLUMN(COLUMN_REAL, farm_station, site.angstrom_as, "angstrom_as"),
    COLUMN(COLUMN_REAL, farm_station, site.angstrom_bs, "angstrom_bs"),
    COLUMN(COLUMN_REAL, farm_station, site.aridity_c, "aridity_c"),
    COLUMN(COLUMN_REAL, farm_station, site.wind_default_m_s, "wind_default_m_s"),
    COLUMN(COLUMN_REAL, farm_station, lapse_c_km, "lapse_c_km"),
    COLUMN(COLUMN_BOOL, farm_station, hourly_et0, "hourly_et0"),
};

static const struct column source_table[] = {
    COLUMN(COLUMN_TEXT, farm_source, name, "name"),
    COLUMN(COLUMN_TEXT, farm_source, layout, "layout"),
    COLUMN(COLUMN_TEXT, farm_source, address, "address"),
    COLUMN(COLUMN_INT, farm_source, kind, "kind"),
    COLUMN(COLUMN_DAY, farm_source, since, "since_day"),
    COLUMN(COLUMN_REAL, farm_source, interval_s, "interval_s"),
};

static const struct column soil_table[] = {
    COLUMN(COLUMN_TEXT, farm_soil, name, "name"),
    COLUMN(COLUMN_TEXT, farm_soil, texture, "texture"),
    COLUMN(COLUMN_INT, farm_soil, soil.layer_count, "layer_count"),
    COLUMN(COLUMN_REAL, farm_soil, soil.rew_mm, "rew_mm"),
    COLUMN(COLUMN_REAL, farm_soil, soil.tew_mm, "tew_mm"),
    COLUMN(COLUMN_REAL, farm_soil, soil.evaporation_depth_m, "evaporation_depth_m"),
    COLUMN(COLUMN_REAL, farm_soil, soil.curve_number, "curve_number"),
    COLUMN(COLUMN_REAL, farm_soil, soil.intake_mm_h, "intake_mm_h"),
};

static const struct column layer_table[] = {
    COLUMN(COLUMN_REAL, soil_layer, bottom_m, "bottom_m"),
    COLUMN(COLUMN_REAL, soil_layer, field_capacity_m3_m3, "field_capacity_m3_m3"),
    COLUMN(COLUMN_REAL, soil_layer, wilting_point_m3_m3, "wilting_point_m3_m3"),
};

static const struct column supply_table[] = {
    COLUMN(COLUMN_TEXT, farm_supply, name, "name"),
    COLUMN(COLUMN_REAL, farm_supply, flow_m3_h, "flow_m3_h"),
    COLUMN(COLUMN_REAL, farm_supply, hours_per_day, "hours_per_day"),
    COLUMN(COLUMN_REAL, farm_supply, allotment_m3, "allotment_m3"),
    COLUMN(COLUMN_DAY, farm_supply, season.from, "season_from_day"),
    COLUMN(COLUMN_DAY, farm_supply, season.to, "season_to_day"),
    COLUMN(COLUMN_INT, farm_supply, users, "users"),
    COLUMN(COLUMN_REAL, farm_supply, water_price, "water_price"),
    COLUMN(COLUMN_REAL, farm_supply, hour_price, "hour_price"),
};

static const struct column window_table[] = {
    COLUMN(COLUMN_INT, farm_window, weekdays, "weekdays"),
    COLUMN(COLUMN_INT, farm_window, every_days, "every_d"),
    COLUMN(COLUMN_DAY, farm_window, first, "first_day"),
    COLUMN(COLUMN_INT, farm_window, from_hour, "from_hour"),
    COLUMN(COLUMN_INT, farm_window, hours, "hours"),
};

static const struct column closure_table[] = {
    COLUMN(COLUMN_DAY, farm_span, from, "from_day"),
    COLUMN(COLUMN_DAY, farm_span, to, "to_day"),
};

static const struct column allotment_table[] = {
    COLUMN(COLUMN_DAY, farm_allotment, days.from, "from_day"),
    COLUMN(COLUMN_DAY, farm_allotment, days.to, "to_day"),
    COLUMN(COLUMN_REAL, farm_allotment, volume_m3, "volume_m3"),
};

static const struct column field_table[] = {
    COLUMN(COLUMN_TEXT, farm_field, name, "name"),
    COLUMN(COLUMN_INT, farm_field, system.kind, "system"),
    COLUMN(COLUMN_REAL, farm_field, system.efficiency, "efficiency"),
    COLUMN(COLUMN_REAL, farm_field, system.area_m2, "area_m2"),
    COLUMN(COLUMN_REAL, farm_field, system.flow_m3_h, "flow_m3_h"),
    COLUMN(COLUMN_REAL, farm_field, system.hours_per_day, "hours_per_day"),
    COLUMN(COLUMN_REAL, farm_field, system.net_min_mm, "net_min_mm"),
    COLUMN(COLUMN_REAL, farm_field, system.net_max_mm, "net_max_mm"),
    COLUMN(COLUMN_REAL, farm_field, system.wetted_fraction, "wetted_fraction"),
    COLUMN(COLUMN_BOOL, farm_field, system.under_canopy, "under_canopy"),
    COLUMN(COLUMN_INT, farm_field, turning.setup_hours, "setup_h"),
    COLUMN(COLUMN_INT, farm_field, turning.shortest_hours, "shortest_h"),
    COLUMN(COLUMN_INT, farm_field, turning.longest_hours, "longest_h"),
    COLUMN(COLUMN_BOOL, farm_field, turning.may_pause, "may_pause"),
};

#define PLANTING_STAGES(type, member, before, after)                                                         \
    COLUMN(type, farm_planting, member[0], before "1" after),                                                \
        COLUMN(type, farm_planting, member[1], before "2" after),                                            \
        COLUMN(type, farm_planting, member[2], before "3" after),                                            \
        COLUMN(type, farm_planting, member[3], before "4" after)

static const struct column planting_table[] = {
    COLUMN(COLUMN_DAY, farm_planting, planting_date, "planting_day"),
    COLUMN(COLUMN_DAY, farm_planting, start_date, "start_day"),
    COLUMN(COLUMN_TEXT, farm_planting, crop_name, "crop_name"),
    COLUMN(COLUMN_TEXT, farm_planting, region, "region"),
    COLUMN(COLUMN_INT, farm_planting, method, "method"),
    PLANTING_STAGES(COLUMN_DAY, stage_date, "stage_day_", ""),
    COLUMN(COLUMN_REAL, farm_planting, start_depletion, "start_depletion"),
    COLUMN(COLUMN_REAL, farm_planting, water_table_m, "water_table_m"),
    COLUMN(COLUMN_REAL, farm_planting, capillary_max_mm, "capillary_max_mm"),
    COLUMN(COLUMN_REAL, farm_planting, ece_ds_m, "ece_ds_m"),
    COLUMN(COLUMN_REAL, farm_planting, yield_value, "yield_value"),
    COLUMN(COLUMN_INT, farm_planting, crop.reference, "reference"),
    COLUMN(COLUMN_INT, farm_planting, crop.clock, "clock"),
    PLANTING_STAGES(COLUMN_REAL, crop.stage_days, "stage_", "_d"),
    PLANTING_STAGES(COLUMN_REAL, crop.stage_degree_days, "stage_", "_cd"),
    COLUMN(COLUMN_REAL, farm_planting, crop.base_c, "base_c"),
    COLUMN(COLUMN_REAL, farm_planting, crop.ceiling_c, "ceiling_c"),
    COLUMN(COLUMN_REAL, farm_planting, crop.kc_ini, "kc_ini"),
    COLUMN(COLUMN_REAL, farm_planting, crop.kc_mid, "kc_mid"),
    COLUMN(COLUMN_REAL, farm_planting, crop.kc_end, "kc_end"),
    COLUMN(COLUMN_REAL, farm_planting, crop.kcb_ini, "kcb_ini"),
    COLUMN(COLUMN_REAL, farm_planting, crop.kcb_mid, "kcb_mid"),
    COLUMN(COLUMN_REAL, farm_planting, crop.kcb_end, "kcb_end"),
    COLUMN(COLUMN_REAL, farm_planting, crop.height_ini_m, "height_ini_m"),
    COLUMN(COLUMN_REAL, farm_planting, crop.height_max_m, "height_max_m"),
    COLUMN(COLUMN_REAL, farm_planting, crop.root_ini_m, "root_ini_m"),
    COLUMN(COLUMN_REAL, farm_planting, crop.root_max_m, "root_max_m"),
    COLUMN(COLUMN_REAL, farm_planting, crop.depletion_fraction, "depletion_fraction"),
    COLUMN(COLUMN_BOOL, farm_planting, crop.depletion_fixed, "depletion_fixed"),
    PLANTING_STAGES(COLUMN_REAL, crop.allowed_depletion, "allowed_", ""),
    COLUMN(COLUMN_REAL, farm_planting, crop.ky_season, "ky_season"),
    PLANTING_STAGES(COLUMN_REAL, crop.ky_stage, "ky_", ""),
    COLUMN(COLUMN_REAL, farm_planting, crop.salt_threshold_ds_m, "salt_threshold_ds_m"),
    COLUMN(COLUMN_REAL, farm_planting, crop.salt_slope_pct, "salt_slope_pct"),
    COLUMN(COLUMN_BOOL, farm_planting, crop.forage, "forage"),
    PLANTING_STAGES(COLUMN_REAL, crop.cut_stage_days, "cut_", "_d"),
    COLUMN(COLUMN_REAL, farm_planting, crop.cut_height_m, "cut_height_m"),
};

static const struct column turn_mark_table[] = {
    COLUMN(COLUMN_INT, farm_turn_mark, kind, "kind"), COLUMN(COLUMN_DAY, farm_turn_mark, date, "day"),
    COLUMN(COLUMN_INT, farm_turn_mark, hour, "hour"), COLUMN(COLUMN_INT, farm_turn_mark, hours, "hours"),
    COLUMN(COLUMN_TEXT, farm_turn_mark, why, "why"),
};

static const struct column trial_table[] = {
    COLUMN(COLUMN_TEXT, farm_trial, name, "name"),
    COLUMN(COLUMN_INT, farm_trial, layout, "layout"),
};

static const struct column treatment_table[] = {
    COLUMN(COLUMN_TEXT, farm_treatment, name, "name"),
    COLUMN(COLUMN_TEXT, farm_treatment, whole, "whole"),
    COLUMN(COLUMN_TEXT, farm_treatment, sub, "sub"),
};

static const struct column plot_table[] = {
    COLUMN(COLUMN_TEXT, farm_plot, name, "name"),
    COLUMN(COLUMN_TEXT, farm_plot, treatment, "treatment"),
    COLUMN(COLUMN_TEXT, farm_plot, block, "block"),
    COLUMN(COLUMN_REAL, farm_plot, area_m2, "area_m2"),
};

static const struct column record_table[] = {
    COLUMN(COLUMN_DAY, farm_record, date, "day"),       COLUMN(COLUMN_INT, farm_record, kind, "kind"),
    COLUMN(COLUMN_REAL, farm_record, amount, "amount"), COLUMN(COLUMN_REAL, farm_record, sd, "sd"),
    COLUMN(COLUMN_INT, farm_record, stage, "stage"),    COLUMN(COLUMN_TEXT, farm_record, text, "note"),
    COLUMN(COLUMN_TEXT, farm_record, plot, "plot"),
};

#define TABLE(table)                                                                                         \
    { table, (int)(sizeof table / sizeof table[0]) }

const struct column *farm_columns(enum farm_table table, int *count) {
    static const struct {
        const struct column *columns;
        int count;
    } tables[] = {
        [FARM_TABLE_FARM] = TABLE(farm_table),           [FARM_TABLE_STATION] = TABLE(station_table),
        [FARM_TABLE_SOURCE] = TABLE(source_table),       [FARM_TABLE_SOIL] = TABLE(soil_table),
        [FARM_TABLE_LAYER] = TABLE(layer_table),         [FARM_TABLE_SUPPLY] = TABLE(supply_table),
        [FARM_TABLE_FIELD] = TABLE(field_table),         [FARM_TABLE_PLANTING] = TABLE(planting_table),
        [FARM_TABLE_WINDOW] = TABLE(window_table),       [FARM_TABLE_CLOSURE] = TABLE(closure_table),
        [FARM_TABLE_ALLOTMENT] = TABLE(allotment_table), [FARM_TABLE_TURN_MARK] = TABLE(turn_mark_table),
        [FARM_TABLE_RECORD] = TABLE(record_table),       [FARM_TABLE_TRIAL] = TABLE(trial_table),
        [FARM_TABLE_TREATMENT] = TABLE(treatment_table), [FARM_TABLE_PLOT] = TABLE(plot_table),
    };
    *count = tables[table].count;
    return tables[table].columns;
}
