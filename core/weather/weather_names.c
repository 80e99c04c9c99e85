#include "core/weather/weather.h"

#include <stddef.h>
#include <string.h>

static const char *const element_name[WEATHER_ELEMENT_COUNT] = {
    [WEATHER_TMAX_C] = "tmax_c",
    [WEATHER_TMIN_C] = "tmin_c",
    [WEATHER_TMEAN_C] = "tmean_c",
    [WEATHER_TDEW_C] = "tdew_c",
    [WEATHER_TDRY_C] = "tdry_c",
    [WEATHER_TWET_C] = "twet_c",
    [WEATHER_RH_MAX_PCT] = "rh_max_pct",
    [WEATHER_RH_MIN_PCT] = "rh_min_pct",
    [WEATHER_RH_MEAN_PCT] = "rh_mean_pct",
    [WEATHER_EA_KPA] = "ea_kpa",
    [WEATHER_PRESSURE_KPA] = "pressure_kpa",
    [WEATHER_WIND_M_S] = "wind_m_s",
    [WEATHER_RS_MJ_M2] = "rs_mj_m2",
    [WEATHER_SUN_H] = "sun_h",
    [WEATHER_RAIN_MM] = "rain_mm",
};

static const char *const origin_name[ORIGIN_COUNT] = {
    [ORIGIN_MISSING] = "missing",         [ORIGIN_MEASURED] = "measured", [ORIGIN_DERIVED] = "derived",
    [ORIGIN_NEIGHBOUR] = "neighbour",     [ORIGIN_FORECAST] = "forecast", [ORIGIN_ESTIMATED] = "estimated",
    [ORIGIN_CLIMATOLOGY] = "climatology",
};

static const struct {
    const char *key, *text;
} rule_name[WEATHER_RULE_COUNT] = {
    [WEATHER_RULE_NONE] = {"none", "missing"},
    [WEATHER_RULE_AS_REPORTED] = {"as_reported", "as reported"},
    [WEATHER_RULE_TMEAN_HALF_SUM] = {"half_sum", "mean of tmax and tmin, eq. 9"},
    [WEATHER_RULE_PRESSURE_ALTITUDE] = {"pressure_altitude", "from elevation, eq. 7"},
    [WEATHER_RULE_EA_DEWPOINT] = {"ea_dewpoint", "from dew point, eq. 14"},
    [WEATHER_RULE_EA_PSYCHROMETER] = {"ea_psychrometer", "from dry and wet bulb, eq. 15"},
    [WEATHER_RULE_EA_RH_MAX_MIN] = {"ea_rh_max_min", "from highest and lowest relative humidity, eq. 17"},
    [WEATHER_RULE_EA_RH_MAX] = {"ea_rh_max", "from highest relative humidity, eq. 18"},
    [WEATHER_RULE_EA_RH_MEAN] = {"ea_rh_mean", "from mean relative humidity, eq. 19"},
    [WEATHER_RULE_EA_TMIN] = {"ea_tmin", "from tmin, eq. 48"},
    [WEATHER_RULE_RS_SUNSHINE] = {"rs_sunshine", "from hours of sunshine, eq. 35"},
    [WEATHER_RULE_RS_TEMPERATURE] = {"rs_temperature", "from the range of temperature, eq. 50"},
    [WEATHER_RULE_WIND_LOG_PROFILE] = {"wind_log_profile", "brought to 2 m, eq. 47"},
    [WEATHER_RULE_WIND_DEFAULT] = {"wind_default", "the site's default for missing wind, chapter 3"},
    [WEATHER_RULE_SUSPECT_REPLACED] = {"suspect", "reported, but not believed"},
    [WEATHER_RULE_WIND_LEAST] = {"wind_least", "calm day taken as 0.5 m/s, chapter 3"},
};

static const char *const finding_key[FINDING_KIND_COUNT] = {
    [FINDING_TMAX_BELOW_TMIN] = "tmax_below_tmin",
    [FINDING_TMEAN_OUTSIDE_RANGE] = "tmean_outside_range",
    [FINDING_TEMPERATURE_IMPLAUSIBLE] = "temperature_implausible",
    [FINDING_TEMPERATURE_SPIKE] = "temperature_spike",
    [FINDING_DEWPOINT_ABOVE_TMIN] = "dewpoint_above_tmin",
    [FINDING_RH_OUT_OF_BOUNDS] = "rh_out_of_bounds",
    [FINDING_RH_ORDER] = "rh_order",
    [FINDING_RS_ABOVE_CLEAR_SKY] = "rs_above_clear_sky",
    [FINDING_RS_ABOVE_TOP_OF_AIR] = "rs_above_top_of_air",
    [FINDING_RS_TOO_LOW] = "rs_too_low",
    [FINDING_SUN_LONGER_THAN_DAY] = "sun_longer_than_day",
    [FINDING_WIND_IMPLAUSIBLE] = "wind_implausible",
    [FINDING_WIND_STUCK] = "wind_stuck",
    [FINDING_REPEATED_VALUE] = "repeated_value",
    [FINDING_RAIN_IMPLAUSIBLE] = "rain_implausible",
    [FINDING_EA_ABOVE_SATURATION] = "ea_above_saturation",
    [FINDING_PRESSURE_IMPLAUSIBLE] = "pressure_implausible",
};

const char *weather_element_name(enum weather_element element) {
    return (unsigned)element < WEATHER_ELEMENT_COUNT ? element_name[element] : NULL;
}

enum weather_element weather_element_of(const char *name) {
    int i = 0;
    while (i < WEATHER_ELEMENT_COUNT && strcmp(name, element_name[i]) != 0)
        i++;
    return (enum weather_element)i;
}

const char *weather_origin_name(enum weather_origin origin) {
    return (unsigned)origin < ORIGIN_COUNT ? origin_name[origin] : NULL;
}

const char *weather_rule_text(enum weather_rule rule) {
    return (unsigned)rule < WEATHER_RULE_COUNT ? rule_name[rule].text : NULL;
}

const char *weather_rule_key(enum weather_rule rule) {
    return (unsigned)rule < WEATHER_RULE_COUNT ? rule_name[rule].key : NULL;
}

const char *weather_finding_key(enum weather_finding_kind kind) {
    return (unsigned)kind < FINDING_KIND_COUNT ? finding_key[kind] : NULL;
}
