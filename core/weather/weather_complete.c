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

/* `full` has Ra and daylight already. */
static void complete(struct weather_use use, const struct weather_site *site, double pressure_kpa,
                     struct weather_full *full) {
    double tmax_c = use.day->value[WEATHER_TMAX_C], tmin_c = use.day->value[WEATHER_TMIN_C];
    const struct weather_vapour vapour = {equation_saturation_kpa(tmax_c), equation_saturation_kpa(tmin_c)};
    struct weather_plan plan;
    weather_plan_make(&use, site, &plan);
    weather_plan_follow(&plan, &use, site, pressure_kpa, &vapour, full);
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
    place->latitude = sun_latitude_of(site->latitude_deg);
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
        struct sun_day sun = sun_of_day_at(place->latitude, day + 1);
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
