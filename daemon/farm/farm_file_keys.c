#include <math.h>
#include <stddef.h>

#include "daemon/farm/farm_file_inside.h"

/* The tables of keys. A row reads: name, kind, where it goes, what it may be. */

#define AT(type, member)     .offset = offsetof(struct type, member)
#define NAME(type, member)   .kind = KEY_NAME, AT(type, member)
#define TEXT(type, member)   .kind = KEY_TEXT, AT(type, member)
#define DATE(type, member)   .kind = KEY_DATE, AT(type, member)
#define BOOL(type, member)   .kind = KEY_BOOL, AT(type, member)
#define CHOICE(type, member) .kind = KEY_CHOICE, AT(type, member)
/* A quantity within limits; its lower one counts as too little with ABOVE. */
#define QUANTITY(type, member, what, low, high)                                                              \
    .kind = KEY_QUANTITY, AT(type, member), .quantity = QUANTITY_##what, .limits = {low, high, false}
#define ABOVE(type, member, what, low, high)                                                                 \
    .kind = KEY_QUANTITY, AT(type, member), .quantity = QUANTITY_##what, .limits = {low, high, true}
/* A whole number, or a number of whole hours. */
#define WHOLE(type, member, what, low, high)                                                                 \
    .kind = KEY_WHOLE, AT(type, member), .quantity = QUANTITY_##what, .limits = {low, high, false}
/* Entries of their own in a list within the struct. */
#define ENTRIES(type, member, most, words)                                                                   \
    .kind = KEY_LIST, AT(type, member), .count = most,                                                       \
    .count_offset = offsetof(struct type, member##_count), .stride = sizeof(((struct type *)0)->member[0]),  \
    .keys = words
#define REQUIRED  .required = true
#define NULLABLE  .nullable = true
#define ELSEWHERE .kind = KEY_ELSEWHERE
#define END                                                                                                  \
    { .name = NULL }

/* ---- words ---- */

static const char *word_of(const char *const *words, int count, int index) {
    return index >= 0 && index < count ? words[index] : NULL;
}

static const char *units_word(int index) {
    static const char *const word[] = {"metric", "us"};
    return word_of(word, 2, index);
}

static const char *rule_word(int index) {
    static const char *const word[] = {
        [CALL_RULE_COST] = "expected cost", [CALL_RULE_DEPLETION] = "allowed depletion"};
    return word_of(word, CALL_RULE_COUNT, index);
}

static const char *source_word(int index) {
    static const char *const word[] = {[SOURCE_OBSERVED] = "observed", [SOURCE_FORECAST] = "forecast"};
    return word_of(word, 2, index);
}

static const char *system_word(int index) {
    return index >= 0 ? system_kind_name((enum system_kind)index) : NULL;
}

static const char *method_word(int index) {
    static const char *const word[] = {[COEFFICIENT_DUAL] = "dual", [COEFFICIENT_SINGLE] = "single"};
    return word_of(word, 2, index);
}

static const char *clock_word(int index) {
    static const char *const word[] = {[CLOCK_DAYS] = "days", [CLOCK_DEGREE_DAYS] = "degree days"};
    return word_of(word, 2, index);
}

static const char *reference_word(int index) {
    static const char *const word[] = {[REFERENCE_FAO56_GRASS] = "fao56 grass",
                                       [REFERENCE_ASCE_SHORT] = "asce short",
                                       [REFERENCE_ASCE_TALL] = "asce tall"};
    return word_of(word, 3, index);
}

static const char *record_word(int index) {
    return index >= 0 && index < RECORD_KIND_COUNT ? record_kind_name((enum record_kind)index) : NULL;
}

static const char *stage_word(int index) {
    static const char *const word[CROP_GROWING_STAGES] = {"development", "mid", "late", "end"};
    return word_of(word, CROP_GROWING_STAGES, index);
}

static const char *turn_mark_word(int index) {
    return index >= 0 && index < TURN_MARK_KIND_COUNT ? turn_mark_kind_name((enum turn_mark_kind)index)
                                                      : NULL;
}

static const char *layout_word(int index) {
    return index >= 0 && index < TRIAL_LAYOUT_COUNT ? trial_layout_name((enum trial_layout)index) : NULL;
}

/* ---- the farm, its stations, sources, supplies ---- */

const struct key farm_file_root_keys[] = {
    {"farm", ELSEWHERE, REQUIRED, .expected = "an object, as {\"name\": \"Home farm\"}"},
    {"stations", ELSEWHERE},
    {"sources", ELSEWHERE},
    {"soils", ELSEWHERE},
    {"supplies", ELSEWHERE},
    {"fields", ELSEWHERE},
    {"plantings", ELSEWHERE},
    {"turns", ELSEWHERE},
    {"records", ELSEWHERE},
    {"trials", ELSEWHERE},
    END,
};

const struct key farm_file_farm_keys[] = {
    {"name", NAME(farm, name), REQUIRED},
    {"units", .kind = KEY_FLAG, AT(farm, us_units), .choice = units_word},
    {"time_zone", NAME(farm, time_zone)},
    {"calls_by", CHOICE(farm, call_rule), .choice = rule_word},
    {"water_price", QUANTITY(farm, water_price, NUMBER, 0, 1e6),
     .expected = "money for 1 m3 as delivered, as 0.08"},
    END,
};

const struct key farm_file_station_keys[] = {
    {"name", NAME(farm_station, name), REQUIRED},
    {"latitude", QUANTITY(farm_station, site.latitude_deg, NUMBER, -90, 90), REQUIRED,
     .expected = "degrees north of the equator, as 38.2"},
    {"longitude", QUANTITY(farm_station, longitude_deg, NUMBER, -180, 180), REQUIRED,
     .expected = "degrees east of Greenwich, as -98.6"},
    {"elevation", QUANTITY(farm_station, site.elevation_m, LENGTH, -430, 6000), REQUIRED},
    {"wind_height", QUANTITY(farm_station, site.wind_height_m, LENGTH, 0.5, 100)},
    {"coastal", BOOL(farm_station, site.coastal)},
    {"aridity", QUANTITY(farm_station, site.aridity_c, DIFFERENCE, 0, 5)},
    {"krs", QUANTITY(farm_station, site.krs, NUMBER, 0.05, 0.3), NULLABLE},
    {"angstrom_as", QUANTITY(farm_station, site.angstrom_as, NUMBER, 0, 1)},
    {"angstrom_bs", QUANTITY(farm_station, site.angstrom_bs, NUMBER, 0, 1)},
    {"wind_default", QUANTITY(farm_station, site.wind_default_m_s, SPEED, 0.5, 10)},
    {"neighbours", .kind = KEY_NAMES, AT(farm_station, neighbour), .count = FARM_NEIGHBOURS_MAX,
     .count_offset = offsetof(struct farm_station, neighbour_count),
     .expected = "a list of 1 to 8 names of other stations, the nearest first"},
    {"lapse_rate", QUANTITY(farm_station, lapse_c_km, NUMBER, -10, 15),
     .expected = "degrees Celsius for each 1000 m, as 6.5"},
    {"hourly_et0", BOOL(farm_station, hourly_et0)},
    END,
};

const struct key farm_file_source_keys[] = {
    {"name", NAME(farm_source, name), REQUIRED},
    {"station", NAME(farm_source, station), REQUIRED},
    {"layout", NAME(farm_source, layout), REQUIRED},
    {"address", TEXT(farm_source, address), REQUIRED,
     .expected = "an address that begins with http://, https:// or file:"},
    {"kind", CHOICE(farm_source, kind), .choice = source_word, REQUIRED},
    {"since", DATE(farm_source, since)},
    {"interval_seconds", QUANTITY(farm_source, interval_s, NUMBER, 0, 3600),
     .expected = "seconds between two requests to its host, as 2"},
    END,
};

static const struct key window_keys[] = {
    {"days", .kind = KEY_DAYS, AT(farm_window, weekdays)},
    {"every", WHOLE(farm_window, every_days, NUMBER, 1, 60),
     .expected = "a whole number of days, 1 to 60, as 7"},
    {"first", DATE(farm_window, first)},
    {"from", WHOLE(farm_window, from_hour, NUMBER, 0, 23), REQUIRED,
     .expected = "the full hour at which it opens, 0 to 23, as 22"},
    {"hours", WHOLE(farm_window, hours, HOURS, 1, 24), REQUIRED},
    END,
};

static const struct key closure_keys[] = {
    {"from", DATE(farm_span, from), REQUIRED},
    {"to", DATE(farm_span, to), REQUIRED},
    END,
};

static const struct key allotment_keys[] = {
    {"from", DATE(farm_allotment, days.from), REQUIRED},
    {"to", DATE(farm_allotment, days.to), REQUIRED},
    {"volume", QUANTITY(farm_allotment, volume_m3, VOLUME, 0, 1e12), REQUIRED},
    END,
};

static const struct key season_keys[] = {
    {"from", DATE(farm_supply, season.from)},
    {"to", DATE(farm_supply, season.to)},
    END,
};

const struct key farm_file_supply_keys[] = {
    {"name", NAME(farm_supply, name), REQUIRED},
    {"flow", ABOVE(farm_supply, flow_m3_h, FLOW, 0, INFINITY), REQUIRED},
    {"hours_per_day", ABOVE(farm_supply, hours_per_day, HOURS, 0, 24)},
    {"allotment", QUANTITY(farm_supply, allotment_m3, VOLUME, 0, INFINITY)},
    {"season", .kind = KEY_OBJECT, .keys = season_keys,
     .expected = "an object, as {\"from\": \"2026-05-01\", \"to\": \"2026-09-30\"}"},
    {"users", WHOLE(farm_supply, users, NUMBER, 1, 1000),
     .expected = "how many turns may be on at once, a whole number from 1 to 1000"},
    {"open", ENTRIES(farm_supply, window, FARM_WINDOWS_MAX, window_keys),
     .expected = "a list of 1 to 8, as [{\"days\": \"mon tue\", \"from\": 22, \"hours\": 8}]"},
    {"closed", ENTRIES(farm_supply, closed, FARM_CLOSURES_MAX, closure_keys),
     .expected = "a list of 1 to 16, as [{\"from\": \"2026-07-01\", \"to\": \"2026-07-03\"}]"},
    {"allotments", ENTRIES(farm_supply, allotment, FARM_ALLOTMENTS_MAX, allotment_keys),
     .expected = "a list of 1 to 8, each with \"from\", \"to\" and \"volume\""},
    {"water_price", QUANTITY(farm_supply, water_price, NUMBER, 0, 1e6),
     .expected = "money for 1 m3, as 0.04"},
    {"hour_price", QUANTITY(farm_supply, hour_price, NUMBER, 0, 1e6),
     .expected = "money for an hour that it runs, as 6.5"},
    END,
};

/* ---- soils ---- */

static const struct key layer_keys[] = {
    {"bottom", ABOVE(soil_layer, bottom_m, LENGTH, 0, SOIL_DEPTH_MAX_M), REQUIRED},
    {"field_capacity", ABOVE(soil_layer, field_capacity_m3_m3, SHARE, 0, SOIL_WATER_MAX), REQUIRED},
    {"wilting_point", QUANTITY(soil_layer, wilting_point_m3_m3, SHARE, 0, SOIL_WATER_MAX), REQUIRED},
    END,
};

const struct key farm_file_soil_keys[] = {
    {"name", NAME(farm_soil, name), REQUIRED},
    {"texture", NAME(farm_soil, texture)},
    {"sand", ELSEWHERE},
    {"clay", ELSEWHERE},
    {"organic_matter", ELSEWHERE},
    {"layers", .kind = KEY_LIST, AT(farm_soil, soil.layer), .count = SOIL_LAYERS_MAX,
     .count_offset = offsetof(struct farm_soil, soil.layer_count), .stride = sizeof(struct soil_layer),
     .keys = layer_keys, .expected = "a list of 1 to 8 layers, each with its \"bottom\""},
    {"evaporation_depth",
     QUANTITY(farm_soil, soil.evaporation_depth_m, LENGTH, SOIL_EVAPORATION_MIN_M, SOIL_EVAPORATION_MAX_M)},
    {"rew", QUANTITY(farm_soil, soil.rew_mm, DEPTH, 0, SOIL_TEW_MAX_MM)},
    {"tew", ABOVE(farm_soil, soil.tew_mm, DEPTH, 0, SOIL_TEW_MAX_MM)},
    {"curve_number", QUANTITY(farm_soil, soil.curve_number, NUMBER, 1, 100)},
    {"intake", ABOVE(farm_soil, soil.intake_mm_h, RATE, 0, 10000)},
    END,
};

const struct key farm_file_sand_key = {"sand", .kind = KEY_QUANTITY, .quantity = QUANTITY_PERCENT,
                                       .limits = {0, 100, false}};
/* Saxton and Rawls (2006) leave out soils with more clay or organic matter. */
const struct key farm_file_clay_key = {"clay", .kind = KEY_QUANTITY, .quantity = QUANTITY_PERCENT,
                                       .limits = {0, 60, false}};
const struct key farm_file_organic_key = {"organic_matter", .kind = KEY_QUANTITY,
                                          .quantity = QUANTITY_PERCENT, .limits = {0, 8, false}};

/* ---- fields ---- */

static const struct key system_keys[] = {
    {"kind", CHOICE(farm_field, system.kind), .choice = system_word, REQUIRED},
    {"efficiency", QUANTITY(farm_field, system.efficiency, SHARE, 0.2, 1)},
    {"flow", QUANTITY(farm_field, system.flow_m3_h, FLOW, 0.001, 1e6)},
    {"hours_per_day", QUANTITY(farm_field, system.hours_per_day, HOURS, 0, 24)},
    {"net_min", QUANTITY(farm_field, system.net_min_mm, DEPTH, 0, 1000)},
    {"net_max", QUANTITY(farm_field, system.net_max_mm, DEPTH, 0.1, 1000)},
    {"wetted_fraction", QUANTITY(farm_field, system.wetted_fraction, SHARE, 0.05, 1)},
    {"under_canopy", BOOL(farm_field, system.under_canopy)},
    END,
};

static const struct key turning_keys[] = {
    {"setup", WHOLE(farm_field, turning.setup_hours, HOURS, 0, 24)},
    {"shortest", WHOLE(farm_field, turning.shortest_hours, HOURS, 1, FARM_TURN_HOURS_MAX)},
    {"longest", WHOLE(farm_field, turning.longest_hours, HOURS, 1, FARM_TURN_HOURS_MAX)},
    {"may_pause", BOOL(farm_field, turning.may_pause), .sparse = true},
    END,
};

const struct key farm_file_field_keys[] = {
    {"name", NAME(farm_field, name), REQUIRED},
    {"area", ABOVE(farm_field, system.area_m2, AREA, 0, INFINITY), REQUIRED},
    {"station", NAME(farm_field, station), REQUIRED},
    {"soil", NAME(farm_field, soil), REQUIRED},
    {"supply", NAME(farm_field, supply)},
    {"system", .kind = KEY_OBJECT, .keys = system_keys, REQUIRED,
     .expected = "an object, as {\"kind\": \"centre pivot\"}, or {\"kind\": \"none\"} for a rainfed field"},
    {"turns", .kind = KEY_OBJECT, .keys = turning_keys,
     .expected = "an object, as {\"setup\": \"2 h\", \"longest\": \"72 h\"}"},
    END,
};

/* ---- plantings ---- */

#define STAGES                        .count = CROP_GROWING_STAGES
#define CROP(member, what, low, high) QUANTITY(farm_planting, crop.member, what, low, high), .nullable = true
static const struct key stage_date_keys[] = {
    {"development", DATE(farm_planting, stage_date[0])},
    {"mid", DATE(farm_planting, stage_date[1])},
    {"late", DATE(farm_planting, stage_date[2])},
    {"end", DATE(farm_planting, stage_date[3])},
    END,
};

static const struct key kc_keys[] = {
    {"ini", CROP(kc_ini, NUMBER, 0, 2)},
    {"mid", CROP(kc_mid, NUMBER, 0, 2)},
    {"end", CROP(kc_end, NUMBER, 0, 2)},
    END,
};

static const struct key kcb_keys[] = {
    {"ini", CROP(kcb_ini, NUMBER, 0, 2)},
    {"mid", CROP(kcb_mid, NUMBER, 0, 2)},
    {"end", CROP(kcb_end, NUMBER, 0, 2)},
    END,
};

static const struct key height_keys[] = {
    {"ini", CROP(height_ini_m, LENGTH, 0, 10)},
    {"max", CROP(height_max_m, LENGTH, 0.01, 10)},
    END,
};

static const struct key root_keys[] = {
    {"ini", CROP(root_ini_m, LENGTH, 0.05, SOIL_DEPTH_MAX_M)},
    {"max", CROP(root_max_m, LENGTH, 0.05, SOIL_DEPTH_MAX_M)},
    END,
};

const struct key farm_file_planting_keys[] = {
    {"field", NAME(farm_planting, field), REQUIRED},
    {"crop", NAME(farm_planting, crop_name), REQUIRED, .expected = "the name of a crop, as \"sweet potato\""},
    {"region", NAME(farm_planting, region)},
    {"planted", DATE(farm_planting, planting_date), REQUIRED},
    {"start", DATE(farm_planting, start_date)},
    {"method", CHOICE(farm_planting, method), .choice = method_word},
    {"start_depletion", QUANTITY(farm_planting, start_depletion, SHARE, 0, 1)},
    {"stage_dates", .kind = KEY_OBJECT, .keys = stage_date_keys},
    {"water_table", ABOVE(farm_planting, water_table_m, LENGTH, 0, 100)},
    {"capillary_max", QUANTITY(farm_planting, capillary_max_mm, DEPTH, 0, 20)},
    {"ece", QUANTITY(farm_planting, ece_ds_m, CONDUCTIVITY, 0, 100)},
    {"yield_value", QUANTITY(farm_planting, yield_value, NUMBER, 0, 1e9),
     .expected = "money for the full yield of 1 ha, as 2400"},
    {"reference", CHOICE(farm_planting, crop.reference), .choice = reference_word},
    {"clock", CHOICE(farm_planting, crop.clock), .choice = clock_word},
    {"stage_days", CROP(stage_days, NUMBER, 1, 1000), STAGES,
     .expected = "a list of 4 numbers of days: initial, development, mid-season, late season"},
    {"stage_degree_days", CROP(stage_degree_days, NUMBER, 1, 20000), STAGES,
     .expected = "a list of 4 numbers of degree-days (degC d)"},
    {"base_temperature", CROP(base_c, TEMPERATURE, -20, 40)},
    {"ceiling_temperature", CROP(ceiling_c, TEMPERATURE, -20, 60)},
    {"kc", .kind = KEY_OBJECT, .keys = kc_keys},
    {"kcb", .kind = KEY_OBJECT, .keys = kcb_keys},
    {"height", CROP(height_max_m, LENGTH, 0.01, 10), .keys = height_keys},
    {"root_depth", .kind = KEY_OBJECT, .keys = root_keys},
    {"depletion_fraction", CROP(depletion_fraction, SHARE, 0.05, 0.95)},
    {"depletion_fixed", BOOL(farm_planting, crop.depletion_fixed)},
    {"allowed_depletion", CROP(allowed_depletion, SHARE, 0.01, 1), STAGES, .spread = true,
     .expected = "a share, as \"45 %\", or a list of 4 of them, one for each stage"},
    {"ky", CROP(ky_season, NUMBER, 0.1, 3)},
    {"ky_stage", CROP(ky_stage, NUMBER, 0, 3), STAGES, .expected = "a list of 4 numbers, one for each stage"},
    {"salt_threshold", CROP(salt_threshold_ds_m, CONDUCTIVITY, 0, 100)},
    {"salt_slope", CROP(salt_slope_pct, NUMBER, 0.1, 100),
     .expected = "per cent of yield for each dS/m, as 11"},
    {"forage", BOOL(farm_planting, crop.forage)},
    {"cut_stage_days", CROP(cut_stage_days, NUMBER, 1, 1000), STAGES,
     .expected = "a list of 4 numbers of days from a cutting on"},
    {"cut_height", CROP(cut_height_m, LENGTH, 0, 10)},
    END,
};

/* ---- records ---- */

#define RECORD                                                                                               \
    {"field", NAME(farm_record, field), REQUIRED}, {"date", DATE(farm_record, date), REQUIRED},              \
        {"kind", CHOICE(farm_record, kind), .choice = record_word, REQUIRED},

static const struct key irrigation_keys[] = {
    RECORD{"depth", ABOVE(farm_record, amount, DEPTH, 0, APPLICATION_DEPTH_MAX_MM)},
    {"volume", ELSEWHERE},
    {"hours", ELSEWHERE},
    END,
};

static const struct key rain_keys[] = {
    RECORD{"depth", QUANTITY(farm_record, amount, DEPTH, 0, 1900), REQUIRED},
    END,
};

static const struct key reading_keys[] = {
    RECORD{"water_content", QUANTITY(farm_record, amount, SHARE, 0, 1), REQUIRED},
    {"sd", QUANTITY(farm_record, sd, SHARE, 0, 1)},
    END,
};

static const struct key stage_keys[] = {
    RECORD{"stage", CHOICE(farm_record, stage), .choice = stage_word, REQUIRED},
    END,
};

static const struct key cover_keys[] = {
    RECORD{"cover", QUANTITY(farm_record, amount, SHARE, 0, 1), REQUIRED},
    END,
};

static const struct key cutting_keys[] = {RECORD END};

static const struct key harvest_keys[] = {
    RECORD{"yield", QUANTITY(farm_record, amount, NUMBER, 0, INFINITY),
           .expected = "a number in your own unit, as 12.5"},
    {"grade", TEXT(farm_record, text)},
    {"plot", NAME(farm_record, plot)},
    END,
};

static const struct key note_keys[] = {
    RECORD{"text", TEXT(farm_record, text), REQUIRED},
    END,
};

const struct key *farm_file_record_keys(enum record_kind kind) {
    static const struct key *const keys[RECORD_KIND_COUNT] = {
        [RECORD_IRRIGATION] = irrigation_keys, [RECORD_RAIN] = rain_keys,   [RECORD_READING] = reading_keys,
        [RECORD_STAGE] = stage_keys,           [RECORD_COVER] = cover_keys, [RECORD_CUTTING] = cutting_keys,
        [RECORD_HARVEST] = harvest_keys,       [RECORD_NOTE] = note_keys,
    };
    return keys[kind];
}

const struct key farm_file_record_kind_key = {"kind", CHOICE(farm_record, kind), .choice = record_word};
const struct key farm_file_volume_key = {"volume", .kind = KEY_QUANTITY, .quantity = QUANTITY_VOLUME,
                                         .limits = {0, 1e13, true}};
const struct key farm_file_hours_key = {"hours", .kind = KEY_QUANTITY, .quantity = QUANTITY_HOURS,
                                        .limits = {0, 10000, true}};

/* ---- people's word on turns ---- */

const struct key farm_file_turn_keys[] = {
    {"field", NAME(farm_turn_mark, field), REQUIRED},
    {"kind", CHOICE(farm_turn_mark, kind), .choice = turn_mark_word, REQUIRED},
    {"start", .kind = KEY_MOMENT, AT(farm_turn_mark, date),
     .count_offset = offsetof(struct farm_turn_mark, hour), REQUIRED},
    {"hours", WHOLE(farm_turn_mark, hours, HOURS, 1, 8784), REQUIRED},
    {"why", NAME(farm_turn_mark, why)},
    END,
};

/* ---- trials ---- */

static const struct key treatment_keys[] = {
    {"name", NAME(farm_treatment, name), REQUIRED},
    {"field", NAME(farm_treatment, field), REQUIRED},
    {"whole", NAME(farm_treatment, whole)},
    {"sub", NAME(farm_treatment, sub)},
    END,
};

static const struct key plot_keys[] = {
    {"name", NAME(farm_plot, name), REQUIRED},
    {"treatment", NAME(farm_plot, treatment), REQUIRED},
    {"block", NAME(farm_plot, block)},
    {"area", ABOVE(farm_plot, area_m2, AREA, 0, INFINITY)},
    END,
};

const struct key farm_file_trial_keys[] = {
    {"name", NAME(farm_trial, name), REQUIRED},
    {"treatments", .kind = KEY_LIST, AT(farm_trial, treatment), .count = FARM_TREATMENTS_MAX,
     .count_offset = offsetof(struct farm_trial, treatment_count), .stride = sizeof(struct farm_treatment),
     .keys = treatment_keys, REQUIRED,
     .expected = "a list of 1 to 32 treatments, as [{\"name\": ..., \"field\": ...}]"},
    {"layout", CHOICE(farm_trial, layout), .choice = layout_word},
    {"plots", .kind = KEY_LIST, AT(farm_trial, plot), .count = FARM_PLOTS_MAX,
     .count_offset = offsetof(struct farm_trial, plot_count), .stride = sizeof(struct farm_plot),
     .keys = plot_keys, .expected = "a list of 1 to 128 plots, as [{\"name\": ..., \"treatment\": ...}]"},
    END,
};
