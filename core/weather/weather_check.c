#include <math.h>
#include <stddef.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/sun.h"
#include "core/weather/weather.h"

struct search {
    const struct weather_day *day;
    struct weather_findings *findings;
    bool overflow;
};

static void found(struct search *search, enum weather_finding_kind kind, enum weather_element element,
                  double limit, bool suspect) {
    struct weather_findings *findings = search->findings;
    if (findings->count == WEATHER_FINDINGS_MAX) {
        search->overflow = true;
        return;
    }
    struct weather_finding *finding = &findings->finding[findings->count++];
    finding->kind = kind;
    finding->element = element;
    finding->value = search->day->value[element];
    finding->limit = limit;
    finding->suspect = suspect;
}

static double value_of(const struct search *search, enum weather_element element) {
    return search->day->value[element];
}

static bool is_temperature(double value) {
    return value >= WEATHER_T_MIN_C && value <= WEATHER_T_MAX_C;
}

/* A temperature of the day, NaN when it is missing or implausible. */
static double temperature(const struct search *search, enum weather_element element) {
    double value = value_of(search, element);
    return is_temperature(value) ? value : (double)NAN;
}

static const enum weather_element temperatures[] = {WEATHER_TMAX_C, WEATHER_TMIN_C, WEATHER_TMEAN_C,
                                                    WEATHER_TDEW_C, WEATHER_TDRY_C, WEATHER_TWET_C};

/* Comparisons with NaN are false: what is missing is never found. */
static void check_temperatures(struct search *search, const struct weather_day *before,
                               const struct weather_day *after) {
    for (size_t i = 0; i < sizeof temperatures / sizeof temperatures[0]; i++) {
        enum weather_element element = temperatures[i];
        double value = value_of(search, element);
        if (value < WEATHER_T_MIN_C)
            found(search, FINDING_TEMPERATURE_IMPLAUSIBLE, element, WEATHER_T_MIN_C, true);
        else if (value > WEATHER_T_MAX_C)
            found(search, FINDING_TEMPERATURE_IMPLAUSIBLE, element, WEATHER_T_MAX_C, true);
        else if (before != NULL && after != NULL) {
            double a = before->value[element], b = after->value[element];
            if (!is_temperature(a) || !is_temperature(b))
                continue;
            if (value > fmax(a, b) + WEATHER_T_SPIKE_C)
                found(search, FINDING_TEMPERATURE_SPIKE, element, fmax(a, b), false);
            else if (value < fmin(a, b) - WEATHER_T_SPIKE_C)
                found(search, FINDING_TEMPERATURE_SPIKE, element, fmin(a, b), false);
        }
    }
    double tmax = temperature(search, WEATHER_TMAX_C), tmin = temperature(search, WEATHER_TMIN_C);
    double tmean = temperature(search, WEATHER_TMEAN_C);
    if (tmax < tmin)
        found(search, FINDING_TMAX_BELOW_TMIN, WEATHER_TMAX_C, tmin, true);
    if (tmean > tmax + WEATHER_TMEAN_SLACK_C)
        found(search, FINDING_TMEAN_OUTSIDE_RANGE, WEATHER_TMEAN_C, tmax, true);
    else if (tmean < tmin - WEATHER_TMEAN_SLACK_C)
        found(search, FINDING_TMEAN_OUTSIDE_RANGE, WEATHER_TMEAN_C, tmin, true);
}

static void check_vapour(struct search *search, const struct weather_site *site) {
    double tmax = temperature(search, WEATHER_TMAX_C), tmin = temperature(search, WEATHER_TMIN_C);
    double tdew = temperature(search, WEATHER_TDEW_C);
    double tdry = temperature(search, WEATHER_TDRY_C), twet = temperature(search, WEATHER_TWET_C);
    if (tdew > tmax)
        found(search, FINDING_EA_ABOVE_SATURATION, WEATHER_TDEW_C, tmax, true);
    else if (tdew > tmin + WEATHER_TDEW_ABOVE_C)
        found(search, FINDING_DEWPOINT_ABOVE_TMIN, WEATHER_TDEW_C, tmin, false);

    double pressure = air_pressure_kpa(site->elevation_m);
    double driest = air_ea_psychrometer_kpa(tdry, twet, pressure, AIR_PSYCHROMETER_VENTILATED);
    if (twet > tdry)
        found(search, FINDING_EA_ABOVE_SATURATION, WEATHER_TWET_C, tdry, true);
    else if (driest < 0.0)
        found(search, FINDING_RH_OUT_OF_BOUNDS, WEATHER_TWET_C, tdry, true);

    double most = air_saturation_kpa(isnan(tmax) ? WEATHER_T_MAX_C : tmax);
    if (value_of(search, WEATHER_EA_KPA) > most)
        found(search, FINDING_EA_ABOVE_SATURATION, WEATHER_EA_KPA, most, true);
    else if (value_of(search, WEATHER_EA_KPA) < 0.0)
        found(search, FINDING_RH_OUT_OF_BOUNDS, WEATHER_EA_KPA, 0.0, true);
}

static void check_relative_humidity(struct search *search) {
    static const enum weather_element elements[] = {WEATHER_RH_MAX_PCT, WEATHER_RH_MIN_PCT,
                                                    WEATHER_RH_MEAN_PCT};
    for (size_t i = 0; i < sizeof elements / sizeof elements[0]; i++) {
        double value = value_of(search, elements[i]);
        if (value < 0.0)
            found(search, FINDING_RH_OUT_OF_BOUNDS, elements[i], 0.0, true);
        else if (value > 100.0)
            found(search, FINDING_RH_OUT_OF_BOUNDS, elements[i], 100.0, value > WEATHER_RH_DRIFT_PCT);
    }
    double highest = value_of(search, WEATHER_RH_MAX_PCT), lowest = value_of(search, WEATHER_RH_MIN_PCT);
    if (highest < lowest) {
        found(search, FINDING_RH_ORDER, WEATHER_RH_MAX_PCT, lowest, true);
        found(search, FINDING_RH_ORDER, WEATHER_RH_MIN_PCT, highest, true);
    }
}

static void check_radiation(struct search *search, const struct weather_site *site) {
    struct sun_day sun;
    (void)sun_of_day(site->latitude_deg, calendar_day_of_year(search->day->date), &sun);
    double rs = value_of(search, WEATHER_RS_MJ_M2), ra = sun.ra_mj_m2;
    double rso = sun_clear_sky_mj_m2(ra, site->elevation_m);
    double least = ra >= WEATHER_RA_LEAST_MJ_M2 ? WEATHER_RS_LEAST * ra : 0.0;
    if (rs > ra + WEATHER_RS_SLACK_MJ_M2)
        found(search, FINDING_RS_ABOVE_TOP_OF_AIR, WEATHER_RS_MJ_M2, ra, true);
    else if (rs > WEATHER_RS_ABOVE_RSO * rso + WEATHER_RS_SLACK_MJ_M2)
        found(search, FINDING_RS_ABOVE_CLEAR_SKY, WEATHER_RS_MJ_M2, rso, false);
    else if (rs < least)
        found(search, FINDING_RS_TOO_LOW, WEATHER_RS_MJ_M2, least, true);

    double n = value_of(search, WEATHER_SUN_H);
    if (n > sun.daylight_h + WEATHER_SUN_SLACK_H)
        found(search, FINDING_SUN_LONGER_THAN_DAY, WEATHER_SUN_H, sun.daylight_h, true);
    else if (n < 0.0)
        found(search, FINDING_SUN_LONGER_THAN_DAY, WEATHER_SUN_H, 0.0, true);
}

static void check_wind_rain_pressure(struct search *search, const struct weather_site *site) {
    double wind = value_of(search, WEATHER_WIND_M_S);
    if (wind > WEATHER_WIND_MAX_M_S)
        found(search, FINDING_WIND_IMPLAUSIBLE, WEATHER_WIND_M_S, WEATHER_WIND_MAX_M_S, true);
    else if (wind < 0.0)
        found(search, FINDING_WIND_IMPLAUSIBLE, WEATHER_WIND_M_S, 0.0, true);
    else if (wind < WEATHER_WIND_STUCK_M_S)
        found(search, FINDING_WIND_STUCK, WEATHER_WIND_M_S, WEATHER_WIND_STUCK_M_S, true);

    double rain = value_of(search, WEATHER_RAIN_MM);
    if (rain > WEATHER_RAIN_MAX_MM)
        found(search, FINDING_RAIN_IMPLAUSIBLE, WEATHER_RAIN_MM, WEATHER_RAIN_MAX_MM, true);
    else if (rain < 0.0)
        found(search, FINDING_RAIN_IMPLAUSIBLE, WEATHER_RAIN_MM, 0.0, true);

    double usual = air_pressure_kpa(site->elevation_m);
    if (fabs(value_of(search, WEATHER_PRESSURE_KPA) - usual) > WEATHER_PRESSURE_SHARE * usual)
        found(search, FINDING_PRESSURE_IMPLAUSIBLE, WEATHER_PRESSURE_KPA, usual, true);
}

/* Values that stay the same for days by nature: dry days, dull days, saturated nights. */
static bool may_repeat(enum weather_element element, double value) {
    return value == 0.0 || element == WEATHER_RAIN_MM || element == WEATHER_SUN_H ||
           (element == WEATHER_RH_MAX_PCT && value >= 100.0);
}

static void check_repeats(struct search *search, const struct weather_day *last) {
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        double value = search->day->value[i];
        bool same = !may_repeat((enum weather_element)i, value);
        for (int back = 0; same && back < WEATHER_REPEAT_DAYS; back++)
            same = (last - back)->value[i] == value;
        if (same)
            found(search, FINDING_REPEATED_VALUE, (enum weather_element)i, WEATHER_REPEAT_DAYS, false);
    }
}

enum status weather_check(const struct weather_day *day, const struct weather_day *before,
                          const struct weather_day *after, const struct weather_day *recent, int recent_count,
                          const struct weather_site *site, struct weather_findings *findings) {
    struct search search = {day, findings, false};
    enum status status = weather_site_check(site);
    findings->count = 0;
    if (status == STATUS_OK && !calendar_valid(day->date))
        status = STATUS_OUT_OF_RANGE;
    if (status != STATUS_OK)
        return status;
    check_temperatures(&search, before, after);
    check_vapour(&search, site);
    check_relative_humidity(&search);
    check_radiation(&search, site);
    check_wind_rain_pressure(&search, site);
    if (recent != NULL && recent_count >= WEATHER_REPEAT_DAYS)
        check_repeats(&search, recent + recent_count - 1);
    return search.overflow ? STATUS_NO_ROOM : STATUS_OK;
}
