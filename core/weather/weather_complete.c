#include "core/weather/weather.h"

#include <math.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/sun.h"

static const struct {
    double low, high;
} range[WEATHER_ELEMENT_COUNT] = {
    [WEATHER_TMAX_C] = {WEATHER_T_MIN_C, WEATHER_T_MAX_C},
    [WEATHER_TMIN_C] = {WEATHER_T_MIN_C, WEATHER_T_MAX_C},
    [WEATHER_TMEAN_C] = {WEATHER_T_MIN_C, WEATHER_T_MAX_C},
    [WEATHER_TDEW_C] = {WEATHER_T_MIN_C, WEATHER_T_MAX_C},
    [WEATHER_TDRY_C] = {WEATHER_T_MIN_C, WEATHER_T_MAX_C},
    [WEATHER_TWET_C] = {WEATHER_T_MIN_C, WEATHER_T_MAX_C},
    [WEATHER_RH_MAX_PCT] = {0.0, WEATHER_RH_DRIFT_PCT},
    [WEATHER_RH_MIN_PCT] = {0.0, WEATHER_RH_DRIFT_PCT},
    [WEATHER_RH_MEAN_PCT] = {0.0, WEATHER_RH_DRIFT_PCT},
    [WEATHER_EA_KPA] = {0.0, 20.0},
    [WEATHER_PRESSURE_KPA] = {30.0, 120.0},
    [WEATHER_WIND_M_S] = {0.0, 100.0},
    [WEATHER_RS_MJ_M2] = {0.0, 60.0},
    [WEATHER_SUN_H] = {0.0, 24.5},
    [WEATHER_RAIN_MM] = {0.0, 3000.0},
};

/* The values in use: NaN also for those set aside. */
struct in_use {
    double value[WEATHER_ELEMENT_COUNT];
    const uint8_t *origin;
    uint16_t set_aside;
};

/* Bits of the elements that a finding sets aside. A tmax below tmin is left in: the order is judged here. */
static uint16_t suspects(const struct weather_findings *findings) {
    unsigned bits = 0;
    if (findings == NULL)
        return 0;
    for (int i = 0; i < findings->count; i++)
        if (findings->finding[i].suspect && findings->finding[i].kind != FINDING_TMAX_BELOW_TMIN)
            bits |= 1u << findings->finding[i].element;
    return (uint16_t)bits;
}

static enum status put_in_use(const struct weather_day *day, uint16_t suspect, struct in_use *in) {
    in->origin = day->origin;
    in->set_aside = 0;
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        double value = day->value[i];
        in->value[i] = value;
        if (isnan(value))
            continue;
        if ((suspect >> i & 1) != 0) {
            in->value[i] = (double)NAN;
            in->set_aside |= (uint16_t)(1u << i);
            continue;
        }
        if (isinf(value))
            return STATUS_NOT_FINITE;
        if (value < range[i].low || value > range[i].high || day->origin[i] >= ORIGIN_COUNT)
            return STATUS_OUT_OF_RANGE;
        if (day->origin[i] == ORIGIN_MISSING)
            return STATUS_ORDER;
    }
    return STATUS_OK;
}

static bool has(const struct in_use *in, enum weather_element element) {
    return !isnan(in->value[element]);
}

/* The less trusted of two origins. */
static enum weather_origin lesser(enum weather_origin a, enum weather_origin b) {
    return a > b ? a : b;
}

static enum weather_origin origin_of(const struct in_use *in, enum weather_element element) {
    return (enum weather_origin)in->origin[element];
}

static struct weather_value reported(const struct in_use *in, enum weather_element element) {
    struct weather_value out = {in->value[element], origin_of(in, element), WEATHER_RULE_AS_REPORTED};
    return out;
}

static struct weather_value computed(double value, enum weather_origin origin, enum weather_rule rule) {
    struct weather_value out = {value, lesser(ORIGIN_DERIVED, origin), rule};
    return out;
}

static struct weather_value pressure(const struct in_use *in, double usual_kpa) {
    if (has(in, WEATHER_PRESSURE_KPA))
        return reported(in, WEATHER_PRESSURE_KPA);
    return computed(usual_kpa, ORIGIN_DERIVED, WEATHER_RULE_PRESSURE_ALTITUDE);
}

/* A relative humidity in use; a little above 100 % is drift of the sensor. */
static double rh(const struct in_use *in, enum weather_element element) {
    return fmin(in->value[element], 100.0);
}

/* From relative humidity, eqs 17, 18, 19 in this order; the caller has seen that one is there. */
static struct weather_value ea_from_rh(const struct in_use *in, double tmax, double tmin,
                                       enum weather_origin t_origin) {
    if (has(in, WEATHER_RH_MAX_PCT) && has(in, WEATHER_RH_MIN_PCT))
        return computed(
            air_ea_rh_max_min_kpa(tmax, tmin, rh(in, WEATHER_RH_MAX_PCT), rh(in, WEATHER_RH_MIN_PCT)),
            lesser(t_origin, lesser(origin_of(in, WEATHER_RH_MAX_PCT), origin_of(in, WEATHER_RH_MIN_PCT))),
            WEATHER_RULE_EA_RH_MAX_MIN);
    if (has(in, WEATHER_RH_MAX_PCT))
        return computed(air_ea_rh_max_kpa(tmin, rh(in, WEATHER_RH_MAX_PCT)),
                        lesser(t_origin, origin_of(in, WEATHER_RH_MAX_PCT)), WEATHER_RULE_EA_RH_MAX);
    return computed(air_ea_rh_mean_kpa(tmax, tmin, rh(in, WEATHER_RH_MEAN_PCT)),
                    lesser(t_origin, origin_of(in, WEATHER_RH_MEAN_PCT)), WEATHER_RULE_EA_RH_MEAN);
}

static struct weather_value humidity(const struct in_use *in, const struct weather_site *site,
                                     double pressure_kpa) {
    double tmax = in->value[WEATHER_TMAX_C], tmin = in->value[WEATHER_TMIN_C];
    enum weather_origin t_origin = lesser(origin_of(in, WEATHER_TMAX_C), origin_of(in, WEATHER_TMIN_C));
    if (has(in, WEATHER_EA_KPA))
        return reported(in, WEATHER_EA_KPA);
    if (has(in, WEATHER_TDEW_C))
        return computed(air_ea_dewpoint_kpa(in->value[WEATHER_TDEW_C]), origin_of(in, WEATHER_TDEW_C),
                        WEATHER_RULE_EA_DEWPOINT);
    /* NaN without one of the bulbs, below zero when the wet one is impossibly cold. */
    double ea = air_ea_psychrometer_kpa(in->value[WEATHER_TDRY_C], in->value[WEATHER_TWET_C], pressure_kpa,
                                        AIR_PSYCHROMETER_VENTILATED);
    if (ea >= 0.0)
        return computed(ea, lesser(origin_of(in, WEATHER_TDRY_C), origin_of(in, WEATHER_TWET_C)),
                        WEATHER_RULE_EA_PSYCHROMETER);
    if (has(in, WEATHER_RH_MAX_PCT) || has(in, WEATHER_RH_MEAN_PCT))
        return ea_from_rh(in, tmax, tmin, t_origin);
    return computed(air_ea_dewpoint_kpa(tmin - site->aridity_c),
                    lesser(ORIGIN_ESTIMATED, origin_of(in, WEATHER_TMIN_C)), WEATHER_RULE_EA_TMIN);
}

static struct weather_value radiation(const struct in_use *in, const struct weather_site *site,
                                      const struct weather_full *full) {
    if (has(in, WEATHER_RS_MJ_M2))
        return reported(in, WEATHER_RS_MJ_M2);
    if (has(in, WEATHER_SUN_H))
        return computed(sun_rs_sunshine_mj_m2(full->ra_mj_m2, in->value[WEATHER_SUN_H], full->daylight_h,
                                              site->angstrom_as, site->angstrom_bs),
                        origin_of(in, WEATHER_SUN_H), WEATHER_RULE_RS_SUNSHINE);
    double krs = !isnan(site->krs) ? site->krs : site->coastal ? 0.19 : 0.16;
    double rs =
        sun_rs_temperature_mj_m2(full->ra_mj_m2, in->value[WEATHER_TMAX_C], in->value[WEATHER_TMIN_C], krs);
    enum weather_origin t_origin = lesser(origin_of(in, WEATHER_TMAX_C), origin_of(in, WEATHER_TMIN_C));
    return computed(fmin(rs, full->rso_mj_m2), lesser(ORIGIN_ESTIMATED, t_origin),
                    WEATHER_RULE_RS_TEMPERATURE);
}

static struct weather_value wind(const struct in_use *in, const struct weather_site *site) {
    if (!has(in, WEATHER_WIND_M_S))
        return computed(site->wind_default_m_s, ORIGIN_ESTIMATED, WEATHER_RULE_WIND_DEFAULT);
    double at_2m = air_wind_2m_m_s(in->value[WEATHER_WIND_M_S], site->wind_height_m);
    if (at_2m < WEATHER_WIND_LEAST_M_S)
        return computed(WEATHER_WIND_LEAST_M_S, origin_of(in, WEATHER_WIND_M_S), WEATHER_RULE_WIND_LEAST);
    if (site->wind_height_m == 2.0)
        return reported(in, WEATHER_WIND_M_S);
    return computed(at_2m, origin_of(in, WEATHER_WIND_M_S), WEATHER_RULE_WIND_LOG_PROFILE);
}

static struct weather_value rain(const struct in_use *in) {
    struct weather_value none = {(double)NAN, ORIGIN_MISSING, WEATHER_RULE_NONE};
    if (has(in, WEATHER_RAIN_MM))
        return reported(in, WEATHER_RAIN_MM);
    if ((in->set_aside >> WEATHER_RAIN_MM & 1) != 0)
        none.rule = WEATHER_RULE_SUSPECT_REPLACED;
    return none;
}

/* `full` has the day's radiation above the air, its daylight, and the pressure that is usual at the site. */
static void complete(const struct in_use *in, const struct weather_site *site, struct weather_full *full) {
    double tmax = in->value[WEATHER_TMAX_C], tmin = in->value[WEATHER_TMIN_C];
    full->tmax_c = reported(in, WEATHER_TMAX_C);
    full->tmin_c = reported(in, WEATHER_TMIN_C);
    full->tmean_c = computed((tmax + tmin) / 2.0, lesser(full->tmax_c.origin, full->tmin_c.origin),
                             WEATHER_RULE_TMEAN_HALF_SUM);
    full->ea_kpa = humidity(in, site, full->pressure_kpa.value);
    full->rso_mj_m2 = sun_clear_sky_mj_m2(full->ra_mj_m2, site->elevation_m);
    full->rs_mj_m2 = radiation(in, site, full);
    full->wind_2m_m_s = wind(in, site);
    full->rain_mm = rain(in);
    full->rh_min_pct = fmin(100.0 * full->ea_kpa.value / air_saturation_kpa(tmax), 100.0);
    full->rn_mj_m2 = sun_net_short_mj_m2(full->rs_mj_m2.value) -
                     sun_net_long_mj_m2(tmax, tmin, full->ea_kpa.value,
                                        sun_clearness(full->rs_mj_m2.value, full->rso_mj_m2));
    full->soil_heat_mj_m2 = 0.0;
    full->set_aside = in->set_aside;
}

/* What is in use of a day, when it has all that a day cannot do without. */
static enum status use(const struct weather_day *day, const struct weather_findings *findings,
                       struct in_use *in) {
    if (!calendar_valid(day->date))
        return STATUS_OUT_OF_RANGE;
    enum status status = put_in_use(day, suspects(findings), in);
    if (status != STATUS_OK)
        return status;
    if (!has(in, WEATHER_TMAX_C) || !has(in, WEATHER_TMIN_C))
        return STATUS_MISSING;
    return in->value[WEATHER_TMIN_C] > in->value[WEATHER_TMAX_C] ? STATUS_ORDER : STATUS_OK;
}

enum status weather_complete(const struct weather_day *day, const struct weather_site *site,
                             const struct weather_findings *findings, struct weather_full *full) {
    struct in_use in;
    enum status status = weather_site_check(site);
    if (status == STATUS_OK)
        status = use(day, findings, &in);
    if (status != STATUS_OK)
        return status;
    struct sun_day sun;
    (void)sun_of_day(site->latitude_deg, calendar_day_of_year(day->date), &sun);
    full->date = day->date;
    full->ra_mj_m2 = sun.ra_mj_m2;
    full->daylight_h = sun.daylight_h;
    full->pressure_kpa = pressure(&in, air_pressure_kpa(site->elevation_m));
    complete(&in, site, full);
    return STATUS_OK;
}

enum status weather_place_open(const struct weather_site *site, struct weather_place *place) {
    enum status status = weather_site_check(site);
    if (status != STATUS_OK)
        return status;
    place->site = *site;
    place->pressure_kpa = air_pressure_kpa(site->elevation_m);
    for (int i = 0; i < 366; i++)
        place->sun[i].ra_mj_m2 = place->sun[i].daylight_h = (double)NAN;
    return STATUS_OK;
}

enum status weather_complete_at(const struct weather_day *day, struct weather_place *place,
                                const struct weather_findings *findings, struct weather_full *full) {
    struct in_use in;
    enum status status = use(day, findings, &in);
    if (status != STATUS_OK)
        return status;
    int day_of_year = calendar_day_of_year(day->date);
    full->ra_mj_m2 = place->sun[day_of_year - 1].ra_mj_m2;
    full->daylight_h = place->sun[day_of_year - 1].daylight_h;
    if (isnan(full->ra_mj_m2)) {
        struct sun_day sun;
        (void)sun_of_day(place->site.latitude_deg, day_of_year, &sun);
        full->ra_mj_m2 = place->sun[day_of_year - 1].ra_mj_m2 = sun.ra_mj_m2;
        full->daylight_h = place->sun[day_of_year - 1].daylight_h = sun.daylight_h;
    }
    full->date = day->date;
    full->pressure_kpa = pressure(&in, place->pressure_kpa);
    complete(&in, &place->site, full);
    return STATUS_OK;
}
