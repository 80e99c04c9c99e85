#include "core/weather/weather.h"

#include <math.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/equations.h"
#include "core/weather/sun.h"
#include "core/weather/weather_inside.h"

/* By enum weather_element, as weather.h says. */
#define T_LOW   WEATHER_T_MIN_C
#define T_HIGH  WEATHER_T_MAX_C
#define RH_MOST WEATHER_RH_DRIFT_PCT
const double weather_low[WEATHER_ELEMENT_COUNT] = {T_LOW, T_LOW, T_LOW, T_LOW, T_LOW, T_LOW, 0, 0,
                                                   0,     0,     30,    0,     0,     0,     0};
const double weather_high[WEATHER_ELEMENT_COUNT] = {
    T_HIGH, T_HIGH, T_HIGH, T_HIGH, T_HIGH, T_HIGH, RH_MOST, RH_MOST, RH_MOST, 20, 120, 100, 60, 24.5, 3000};

unsigned weather_suspects(const struct weather_findings *findings) {
    unsigned bits = 0;
    if (findings == NULL)
        return 0;
    for (int i = 0; i < findings->count; i++)
        if (findings->finding[i].suspect && findings->finding[i].kind != FINDING_TMAX_BELOW_TMIN)
            bits |= 1u << findings->finding[i].element;
    return bits;
}

enum status weather_refusal(const struct weather_day *day, unsigned present, unsigned wrong) {
    unsigned first = 0;
    if (!calendar_valid(day->date))
        return STATUS_OUT_OF_RANGE;
    if (wrong == 0)
        return (~present & (1u << WEATHER_TMAX_C | 1u << WEATHER_TMIN_C)) != 0 ? STATUS_MISSING
                                                                               : STATUS_ORDER;
    while ((wrong >> first & 1) == 0)
        first++;
    double value = day->value[first];
    if (isinf(value))
        return STATUS_NOT_FINITE;
    if (value < weather_low[first] || value > weather_high[first] || day->origin[first] >= ORIGIN_COUNT)
        return STATUS_OUT_OF_RANGE;
    return STATUS_ORDER;
}

static bool has(struct weather_use use, enum weather_element element) {
    return (use.present >> element & 1) != 0;
}

/* The less trusted of two origins. */
static enum weather_origin lesser(enum weather_origin a, enum weather_origin b) {
    return a > b ? a : b;
}

static enum weather_origin origin_of(struct weather_use use, enum weather_element element) {
    return (enum weather_origin)use.day->origin[element];
}

static struct weather_value reported(struct weather_use use, enum weather_element element) {
    struct weather_value out = {use.day->value[element], origin_of(use, element), WEATHER_RULE_AS_REPORTED};
    return out;
}

static struct weather_value computed(double value, enum weather_origin origin, enum weather_rule rule) {
    struct weather_value out = {value, lesser(ORIGIN_DERIVED, origin), rule};
    return out;
}

static struct weather_value pressure(struct weather_use use, double usual_kpa) {
    if (has(use, WEATHER_PRESSURE_KPA))
        return reported(use, WEATHER_PRESSURE_KPA);
    return computed(usual_kpa, ORIGIN_DERIVED, WEATHER_RULE_PRESSURE_ALTITUDE);
}

/* A relative humidity in use; a little above 100 % is drift of the sensor. */
static double rh(struct weather_use use, enum weather_element element) {
    return lesser_of(use.day->value[element], 100.0);
}

/* From relative humidity, eqs 17, 18, 19 in this order; the caller has seen that one is there. */
static struct weather_value ea_from_rh(struct weather_use use, const struct weather_vapour *vapour,
                                       enum weather_origin t_origin) {
    if (has(use, WEATHER_RH_MAX_PCT) && has(use, WEATHER_RH_MIN_PCT))
        return computed(
            equation_ea_rh_max_min_kpa(vapour->tmax_kpa, vapour->tmin_kpa, rh(use, WEATHER_RH_MAX_PCT),
                                       rh(use, WEATHER_RH_MIN_PCT)),
            lesser(t_origin, lesser(origin_of(use, WEATHER_RH_MAX_PCT), origin_of(use, WEATHER_RH_MIN_PCT))),
            WEATHER_RULE_EA_RH_MAX_MIN);
    if (has(use, WEATHER_RH_MAX_PCT))
        return computed(equation_ea_rh_max_kpa(vapour->tmin_kpa, rh(use, WEATHER_RH_MAX_PCT)),
                        lesser(t_origin, origin_of(use, WEATHER_RH_MAX_PCT)), WEATHER_RULE_EA_RH_MAX);
    double es_kpa = equation_mean_saturation_kpa(vapour->tmax_kpa, vapour->tmin_kpa);
    return computed(equation_ea_rh_mean_kpa(es_kpa, rh(use, WEATHER_RH_MEAN_PCT)),
                    lesser(t_origin, origin_of(use, WEATHER_RH_MEAN_PCT)), WEATHER_RULE_EA_RH_MEAN);
}

static struct weather_value humidity(struct weather_use use, const struct weather_site *site,
                                     const struct weather_vapour *vapour, double pressure_kpa) {
    const double *value = use.day->value;
    if (has(use, WEATHER_EA_KPA))
        return reported(use, WEATHER_EA_KPA);
    if (has(use, WEATHER_TDEW_C))
        return computed(air_ea_dewpoint_kpa(value[WEATHER_TDEW_C]), origin_of(use, WEATHER_TDEW_C),
                        WEATHER_RULE_EA_DEWPOINT);
    if (has(use, WEATHER_TDRY_C) && has(use, WEATHER_TWET_C)) {
        /* Below zero when the wet bulb is impossibly cold. */
        double ea = air_ea_psychrometer_kpa(value[WEATHER_TDRY_C], value[WEATHER_TWET_C], pressure_kpa,
                                            AIR_PSYCHROMETER_VENTILATED);
        if (ea >= 0.0)
            return computed(ea, lesser(origin_of(use, WEATHER_TDRY_C), origin_of(use, WEATHER_TWET_C)),
                            WEATHER_RULE_EA_PSYCHROMETER);
    }
    if (has(use, WEATHER_RH_MAX_PCT) || has(use, WEATHER_RH_MEAN_PCT))
        return ea_from_rh(use, vapour,
                          lesser(origin_of(use, WEATHER_TMAX_C), origin_of(use, WEATHER_TMIN_C)));
    return computed(air_ea_dewpoint_kpa(value[WEATHER_TMIN_C] - site->aridity_c),
                    lesser(ORIGIN_ESTIMATED, origin_of(use, WEATHER_TMIN_C)), WEATHER_RULE_EA_TMIN);
}

static struct weather_value radiation(struct weather_use use, const struct weather_site *site,
                                      const struct weather_full *full) {
    if (has(use, WEATHER_RS_MJ_M2))
        return reported(use, WEATHER_RS_MJ_M2);
    if (has(use, WEATHER_SUN_H))
        return computed(sun_rs_sunshine_mj_m2(full->ra_mj_m2, use.day->value[WEATHER_SUN_H], full->daylight_h,
                                              site->angstrom_as, site->angstrom_bs),
                        origin_of(use, WEATHER_SUN_H), WEATHER_RULE_RS_SUNSHINE);
    double krs = !isnan(site->krs) ? site->krs : site->coastal ? 0.19 : 0.16;
    double rs = sun_rs_temperature_mj_m2(full->ra_mj_m2, use.day->value[WEATHER_TMAX_C],
                                         use.day->value[WEATHER_TMIN_C], krs);
    enum weather_origin t_origin = lesser(origin_of(use, WEATHER_TMAX_C), origin_of(use, WEATHER_TMIN_C));
    return computed(fmin(rs, full->rso_mj_m2), lesser(ORIGIN_ESTIMATED, t_origin),
                    WEATHER_RULE_RS_TEMPERATURE);
}

static struct weather_value wind(struct weather_use use, const struct weather_site *site) {
    if (!has(use, WEATHER_WIND_M_S))
        return computed(site->wind_default_m_s, ORIGIN_ESTIMATED, WEATHER_RULE_WIND_DEFAULT);
    double at_2m = use.day->value[WEATHER_WIND_M_S];
    if (site->wind_height_m != 2.0)
        at_2m = air_wind_2m_m_s(at_2m, site->wind_height_m);
    if (at_2m < WEATHER_WIND_LEAST_M_S)
        return computed(WEATHER_WIND_LEAST_M_S, origin_of(use, WEATHER_WIND_M_S), WEATHER_RULE_WIND_LEAST);
    if (site->wind_height_m == 2.0)
        return reported(use, WEATHER_WIND_M_S);
    return computed(at_2m, origin_of(use, WEATHER_WIND_M_S), WEATHER_RULE_WIND_LOG_PROFILE);
}

static struct weather_value rain(struct weather_use use) {
    struct weather_value none = {(double)NAN, ORIGIN_MISSING, WEATHER_RULE_NONE};
    if (has(use, WEATHER_RAIN_MM))
        return reported(use, WEATHER_RAIN_MM);
    if ((use.set_aside >> WEATHER_RAIN_MM & 1) != 0)
        none.rule = WEATHER_RULE_SUSPECT_REPLACED;
    return none;
}

void weather_apply_rules(struct weather_use use, const struct weather_site *site, double pressure_kpa,
                         const struct weather_vapour *vapour, struct weather_full *full) {
    full->date = use.day->date;
    full->tmax_c = reported(use, WEATHER_TMAX_C);
    full->tmin_c = reported(use, WEATHER_TMIN_C);
    full->tmean_c = computed(equation_mean_c(full->tmax_c.value, full->tmin_c.value),
                             lesser(full->tmax_c.origin, full->tmin_c.origin), WEATHER_RULE_TMEAN_HALF_SUM);
    full->pressure_kpa = pressure(use, pressure_kpa);
    full->ea_kpa = humidity(use, site, vapour, full->pressure_kpa.value);
    full->rso_mj_m2 = equation_clear_sky_mj_m2(full->ra_mj_m2, site->elevation_m);
    full->rs_mj_m2 = radiation(use, site, full);
    full->wind_2m_m_s = wind(use, site);
    full->rain_mm = rain(use);
    full->soil_heat_mj_m2 = 0.0;
    full->set_aside = (uint16_t)use.set_aside;
}

/* `full` has Ra and daylight already. */
static void complete(struct weather_use use, const struct weather_site *site, double pressure_kpa,
                     struct weather_full *full) {
    double tmax_c = use.day->value[WEATHER_TMAX_C], tmin_c = use.day->value[WEATHER_TMIN_C];
    const struct weather_vapour vapour = {equation_saturation_kpa(tmax_c), equation_saturation_kpa(tmin_c)};
    weather_apply_rules(use, site, pressure_kpa, &vapour, full);
    full->rh_min_pct = equation_rh_min_pct(full->ea_kpa.value, vapour.tmax_kpa);
    full->rn_mj_m2 =
        equation_net_mj_m2(tmax_c, tmin_c, full->ea_kpa.value, full->rs_mj_m2.value, full->rso_mj_m2);
}

static enum status use_of(const struct weather_day *day, const struct weather_findings *findings,
                          struct weather_use *use) {
    return weather_use(day, weather_presence_of(day), weather_told(day->origin), weather_suspects(findings),
                       use);
}

enum status weather_complete(const struct weather_day *day, const struct weather_site *site,
                             const struct weather_findings *findings, struct weather_full *full) {
    struct weather_use use;
    enum status status = weather_site_check(site);
    if (status == STATUS_OK)
        status = use_of(day, findings, &use);
    if (status != STATUS_OK)
        return status;
    struct sun_day sun;
    (void)sun_of_day(site->latitude_deg, calendar_day_of_year(day->date), &sun);
    full->ra_mj_m2 = sun.ra_mj_m2;
    full->daylight_h = sun.daylight_h;
    complete(use, site, air_pressure_kpa(site->elevation_m), full);
    return STATUS_OK;
}

/* ---- many days of one place ---- */

enum status weather_place_open(const struct weather_site *site, struct weather_place *place) {
    enum status status = weather_site_check(site);
    if (status != STATUS_OK)
        return status;
    place->site = *site;
    place->pressure_kpa = air_pressure_kpa(site->elevation_m);
    place->new_year = 0;
    place->year_days = 0;
    for (int i = 0; i < 366; i++)
        place->sun[i].ra_mj_m2 = place->sun[i].daylight_h = (double)NAN;
    return STATUS_OK;
}

void weather_sun_learn(struct weather_place *place, int32_t date) {
    if (date < place->new_year || date - place->new_year >= place->year_days) {
        place->new_year = date - calendar_day_of_year(date) + 1;
        place->year_days = calendar_day_of_year(place->new_year + 365) == 366 ? 366 : 365;
    }
    int day = date - place->new_year;
    if (isnan(place->sun[day].ra_mj_m2)) {
        struct sun_day sun;
        (void)sun_of_day(place->site.latitude_deg, day + 1, &sun);
        place->sun[day].ra_mj_m2 = sun.ra_mj_m2;
        place->sun[day].daylight_h = sun.daylight_h;
    }
}

void weather_complete_used(struct weather_use use, struct weather_place *place, struct weather_full *full) {
    weather_sun_at(place, use.day->date, full);
    complete(use, &place->site, place->pressure_kpa, full);
}

enum status weather_complete_at(const struct weather_day *day, struct weather_place *place,
                                const struct weather_findings *findings, struct weather_full *full) {
    struct weather_use use;
    enum status status = use_of(day, findings, &use);
    if (status == STATUS_OK)
        weather_complete_used(use, place, full);
    return status;
}
