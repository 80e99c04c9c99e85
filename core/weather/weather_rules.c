#include "core/weather/weather_inside.h"

#include <math.h>

#include "core/base/inlined.h"
#include "core/weather/air.h"
#include "core/weather/equations.h"
#include "core/weather/sun.h"

static bool has(const struct weather_use *use, enum weather_element element) {
    return (use->present >> element & 1) != 0;
}

/* The less trusted of two origins. */
static enum weather_origin lesser(enum weather_origin a, enum weather_origin b) {
    return a > b ? a : b;
}

static enum weather_origin origin_of(const struct weather_use *use, enum weather_element element) {
    return (enum weather_origin)use->day->origin[element];
}

/* ---- which rule ---- */

static struct weather_source reported(const struct weather_use *use, enum weather_element element) {
    return (struct weather_source){origin_of(use, element), WEATHER_RULE_AS_REPORTED};
}

static struct weather_source computed(enum weather_origin origin, enum weather_rule rule) {
    return (struct weather_source){lesser(ORIGIN_DERIVED, origin), rule};
}

static enum weather_origin t_origin_of(const struct weather_use *use) {
    return lesser(origin_of(use, WEATHER_TMAX_C), origin_of(use, WEATHER_TMIN_C));
}

static struct weather_source pressure_source(const struct weather_use *use) {
    return has(use, WEATHER_PRESSURE_KPA) ? reported(use, WEATHER_PRESSURE_KPA)
                                          : computed(ORIGIN_DERIVED, WEATHER_RULE_PRESSURE_ALTITUDE);
}

/* From relative humidity, eqs 17, 18, 19 in this order; the caller has seen that one is there. */
static struct weather_source source_from_rh(const struct weather_use *use) {
    enum weather_origin t_origin = t_origin_of(use);
    if (has(use, WEATHER_RH_MAX_PCT) && has(use, WEATHER_RH_MIN_PCT))
        return computed(
            lesser(t_origin, lesser(origin_of(use, WEATHER_RH_MAX_PCT), origin_of(use, WEATHER_RH_MIN_PCT))),
            WEATHER_RULE_EA_RH_MAX_MIN);
    if (has(use, WEATHER_RH_MAX_PCT))
        return computed(lesser(t_origin, origin_of(use, WEATHER_RH_MAX_PCT)), WEATHER_RULE_EA_RH_MAX);
    return computed(lesser(t_origin, origin_of(use, WEATHER_RH_MEAN_PCT)), WEATHER_RULE_EA_RH_MEAN);
}

static struct weather_source humidity_source(const struct weather_use *use) {
    if (has(use, WEATHER_EA_KPA))
        return reported(use, WEATHER_EA_KPA);
    if (has(use, WEATHER_TDEW_C))
        return computed(origin_of(use, WEATHER_TDEW_C), WEATHER_RULE_EA_DEWPOINT);
    if (has(use, WEATHER_TDRY_C) && has(use, WEATHER_TWET_C))
        return computed(lesser(origin_of(use, WEATHER_TDRY_C), origin_of(use, WEATHER_TWET_C)),
                        WEATHER_RULE_EA_PSYCHROMETER);
    if (has(use, WEATHER_RH_MAX_PCT) || has(use, WEATHER_RH_MEAN_PCT))
        return source_from_rh(use);
    return computed(lesser(ORIGIN_ESTIMATED, origin_of(use, WEATHER_TMIN_C)), WEATHER_RULE_EA_TMIN);
}

static struct weather_source radiation_source(const struct weather_use *use) {
    if (has(use, WEATHER_RS_MJ_M2))
        return reported(use, WEATHER_RS_MJ_M2);
    if (has(use, WEATHER_SUN_H))
        return computed(origin_of(use, WEATHER_SUN_H), WEATHER_RULE_RS_SUNSHINE);
    return computed(lesser(ORIGIN_ESTIMATED, t_origin_of(use)), WEATHER_RULE_RS_TEMPERATURE);
}

static struct weather_source wind_source(const struct weather_use *use, const struct weather_site *site) {
    if (!has(use, WEATHER_WIND_M_S))
        return computed(ORIGIN_ESTIMATED, WEATHER_RULE_WIND_DEFAULT);
    return site->wind_height_m == 2.0
               ? reported(use, WEATHER_WIND_M_S)
               : computed(origin_of(use, WEATHER_WIND_M_S), WEATHER_RULE_WIND_LOG_PROFILE);
}

static struct weather_source rain_source(const struct weather_use *use) {
    if (has(use, WEATHER_RAIN_MM))
        return reported(use, WEATHER_RAIN_MM);
    bool aside = (use->set_aside >> WEATHER_RAIN_MM & 1) != 0;
    return (struct weather_source){ORIGIN_MISSING, aside ? WEATHER_RULE_SUSPECT_REPLACED : WEATHER_RULE_NONE};
}

void weather_plan_make(const struct weather_use *use, const struct weather_site *site,
                       struct weather_plan *plan) {
    *plan = (struct weather_plan){.tmax_c = reported(use, WEATHER_TMAX_C),
                                  .tmin_c = reported(use, WEATHER_TMIN_C),
                                  .tmean_c = computed(t_origin_of(use), WEATHER_RULE_TMEAN_HALF_SUM),
                                  .pressure_kpa = pressure_source(use),
                                  .ea_kpa = humidity_source(use),
                                  .rs_mj_m2 = radiation_source(use),
                                  .wind_2m_m_s = wind_source(use, site),
                                  .rain_mm = rain_source(use)};
}

/* ---- what it gives ---- */

INLINED struct weather_value from(double value, struct weather_source source) {
    return (struct weather_value){value, source.origin, source.rule};
}

/* A relative humidity in use; a little above 100 % is drift of the sensor. */
static double rh(const double *value, enum weather_element element) {
    return lesser_of(value[element], 100.0);
}

INLINED double humidity(enum weather_rule rule, const double *value, const struct weather_site *site,
                        const struct weather_vapour *vapour, double pressure_kpa) {
    switch (rule) {
    case WEATHER_RULE_AS_REPORTED:
        return value[WEATHER_EA_KPA];
    case WEATHER_RULE_EA_DEWPOINT:
        return air_ea_dewpoint_kpa(value[WEATHER_TDEW_C]);
    case WEATHER_RULE_EA_PSYCHROMETER:
        return air_ea_psychrometer_kpa(value[WEATHER_TDRY_C], value[WEATHER_TWET_C], pressure_kpa,
                                       AIR_PSYCHROMETER_VENTILATED);
    case WEATHER_RULE_EA_RH_MAX_MIN:
        return equation_ea_rh_max_min_kpa(vapour->tmax_kpa, vapour->tmin_kpa, rh(value, WEATHER_RH_MAX_PCT),
                                          rh(value, WEATHER_RH_MIN_PCT));
    case WEATHER_RULE_EA_RH_MAX:
        return equation_ea_rh_max_kpa(vapour->tmin_kpa, rh(value, WEATHER_RH_MAX_PCT));
    case WEATHER_RULE_EA_RH_MEAN:
        return equation_ea_rh_mean_kpa(equation_mean_saturation_kpa(vapour->tmax_kpa, vapour->tmin_kpa),
                                       rh(value, WEATHER_RH_MEAN_PCT));
    default:
        return air_ea_dewpoint_kpa(value[WEATHER_TMIN_C] - site->aridity_c);
    }
}

/* Below zero when the wet bulb is impossibly cold: then as without it. */
static struct weather_value humidity_without_wet_bulb(const struct weather_use *use,
                                                      const struct weather_site *site,
                                                      const struct weather_vapour *vapour,
                                                      double pressure_kpa) {
    struct weather_use without = *use;
    without.present &= ~(1u << WEATHER_TWET_C);
    struct weather_source source = humidity_source(&without);
    return from(humidity(source.rule, use->day->value, site, vapour, pressure_kpa), source);
}

static double radiation(enum weather_rule rule, const double *value, const struct weather_site *site,
                        const struct weather_full *full) {
    if (rule == WEATHER_RULE_RS_SUNSHINE)
        return sun_rs_sunshine_mj_m2(full->ra_mj_m2, value[WEATHER_SUN_H], full->daylight_h,
                                     site->angstrom_as, site->angstrom_bs);
    double krs = !isnan(site->krs) ? site->krs : site->coastal ? 0.19 : 0.16;
    double rs = sun_rs_temperature_mj_m2(full->ra_mj_m2, value[WEATHER_TMAX_C], value[WEATHER_TMIN_C], krs);
    return fmin(rs, full->rso_mj_m2);
}

INLINED struct weather_value wind(const struct weather_use *use, struct weather_source source,
                                  const struct weather_site *site) {
    if (source.rule == WEATHER_RULE_WIND_DEFAULT)
        return from(site->wind_default_m_s, source);
    double at_2m = use->day->value[WEATHER_WIND_M_S];
    if (source.rule == WEATHER_RULE_WIND_LOG_PROFILE)
        at_2m = air_wind_2m_m_s(at_2m, site->wind_height_m);
    if (at_2m < WEATHER_WIND_LEAST_M_S)
        return from(WEATHER_WIND_LEAST_M_S,
                    computed(origin_of(use, WEATHER_WIND_M_S), WEATHER_RULE_WIND_LEAST));
    return from(at_2m, source);
}

void weather_plan_follow(const struct weather_plan *plan, const struct weather_use *use,
                         const struct weather_site *site, double pressure_kpa,
                         const struct weather_vapour *vapour, struct weather_full *full) {
    const double *value = use->day->value;
    full->date = use->day->date;
    full->tmax_c = from(value[WEATHER_TMAX_C], plan->tmax_c);
    full->tmin_c = from(value[WEATHER_TMIN_C], plan->tmin_c);
    full->tmean_c = from(equation_mean_c(value[WEATHER_TMAX_C], value[WEATHER_TMIN_C]), plan->tmean_c);
    if (plan->pressure_kpa.rule == WEATHER_RULE_AS_REPORTED)
        pressure_kpa = value[WEATHER_PRESSURE_KPA];
    full->pressure_kpa = from(pressure_kpa, plan->pressure_kpa);
    full->ea_kpa = from(humidity(plan->ea_kpa.rule, value, site, vapour, pressure_kpa), plan->ea_kpa);
    if (SELDOM(plan->ea_kpa.rule == WEATHER_RULE_EA_PSYCHROMETER) && full->ea_kpa.value < 0)
        full->ea_kpa = humidity_without_wet_bulb(use, site, vapour, pressure_kpa);
    full->rso_mj_m2 = equation_clear_sky_mj_m2(full->ra_mj_m2, site->elevation_m);
    full->rs_mj_m2 = from(plan->rs_mj_m2.rule == WEATHER_RULE_AS_REPORTED
                              ? value[WEATHER_RS_MJ_M2]
                              : radiation(plan->rs_mj_m2.rule, value, site, full),
                          plan->rs_mj_m2);
    full->wind_2m_m_s = wind(use, plan->wind_2m_m_s, site);
    full->rain_mm = from(
        plan->rain_mm.rule == WEATHER_RULE_AS_REPORTED ? value[WEATHER_RAIN_MM] : (double)NAN, plan->rain_mm);
    full->soil_heat_mj_m2 = 0.0;
    full->set_aside = (uint16_t)use->set_aside;
}
