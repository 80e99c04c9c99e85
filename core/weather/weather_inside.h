/* What weather_complete.c, weather_rules.c, reference_et.c and day_block.c share. Nobody else includes this.
 */
#ifndef WATERTURN_WEATHER_INSIDE_H
#define WATERTURN_WEATHER_INSIDE_H

#include <math.h>

#include "core/base/calendar.h"
#include "core/weather/reference_et.h"
#include "core/weather/weather.h"

/* What is in use of a day: bits (1 << element) of what is reported and neither missing nor suspect. */
struct weather_use {
    const struct weather_day *day;
    unsigned present, set_aside;
};

/* What of a day goes through the exponential, eq. 11, and no rule has a say in. */
struct weather_vapour {
    double tmax_kpa, tmin_kpa; /* e0 of tmax and of tmin */
};

/* The ranges of weather_complete(), by enum weather_element. */
extern const double weather_low[WEATHER_ELEMENT_COUNT], weather_high[WEATHER_ELEMENT_COUNT];

/* Of a day as reported, bits (1 << element): what is there, and of that what lies outside its range. */
struct weather_presence {
    unsigned there, outside;
};

/* Nothing branches, and the loop goes over the first eight elements and the last eight, so that it becomes
 * vectors. What is there and what lies outside are the lower and the upper half of one number. */
static inline struct weather_presence weather_presence_of(const struct weather_day *day) {
    enum { HALF = 8, NEXT = WEATHER_ELEMENT_COUNT - HALF, UPPER = 32 };
    static const uint64_t bit[] = {1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048, 4096, 8192, 16384};
    uint64_t bits = 0;
    for (int i = 0, j = NEXT; i < HALF; i++, j++) {
        double a = day->value[i], b = day->value[j];
        bits |= (isnan(a) ? 0 : bit[i]) | (isnan(b) ? 0 : bit[j]) |
                (((a < weather_low[i]) | (a > weather_high[i])) ? bit[i] << UPPER : 0) |
                (((b < weather_low[j]) | (b > weather_high[j])) ? bit[j] << UPPER : 0);
    }
    return (struct weather_presence){(unsigned)bits, (unsigned)(bits >> UPPER)};
}

/* Bits of the elements that say where they come from. */
static inline unsigned weather_told(const uint8_t origin[WEATHER_ELEMENT_COUNT]) {
    unsigned told = 0;
    for (unsigned i = 0; i < WEATHER_ELEMENT_COUNT; i++)
        told |= (unsigned)(origin[i] != ORIGIN_MISSING && origin[i] < ORIGIN_COUNT) << i;
    return told;
}

/* Why a day with this presence is refused; `wrong`: bits of what is there and cannot be used. */
enum status weather_refusal(const struct weather_day *day, unsigned present, unsigned wrong);

/* STATUS_OK: the day has all that it cannot do without; else as weather_complete(). `told`: of its origins.
 */
static inline enum status weather_use(const struct weather_day *day, struct weather_presence is,
                                      unsigned told, unsigned suspect, struct weather_use *use) {
    enum { NEEDED = 1 << WEATHER_TMAX_C | 1 << WEATHER_TMIN_C };
    unsigned present = is.there & ~suspect, wrong = present & (is.outside | ~told);
    *use = (struct weather_use){day, present, is.there & suspect};
    if (wrong == 0 && (present & NEEDED) == NEEDED && calendar_valid(day->date) &&
        day->value[WEATHER_TMIN_C] <= day->value[WEATHER_TMAX_C])
        return STATUS_OK;
    return weather_refusal(day, present, wrong);
}

/* Ra and daylight of a day of the year that the place does not know yet. */
void weather_sun_learn(struct weather_place *place, int32_t date);

/* Ra and daylight of the day's date at the place. */
static inline void weather_sun_at(struct weather_place *place, int32_t date, struct weather_full *full) {
    if (date < place->new_year || date - place->new_year >= place->year_days ||
        isnan(place->sun[date - place->new_year].ra_mj_m2))
        weather_sun_learn(place, date);
    int day = date - place->new_year;
    full->ra_mj_m2 = place->sun[day].ra_mj_m2;
    full->daylight_h = place->sun[day].daylight_h;
}

/* Where a value of a complete day comes from. */
struct weather_source {
    enum weather_origin origin;
    enum weather_rule rule;
};

/* Which rule gives each value of a day: the same on all days of a place that have the same in use and set
 * aside, of the same origins. A rule that cannot be followed on a day (a wet bulb that is impossibly cold,
 * hardly any wind) is replaced on that day. */
struct weather_plan {
    struct weather_source tmax_c, tmin_c, tmean_c, pressure_kpa, ea_kpa, rs_mj_m2, wind_2m_m_s, rain_mm;
};

void weather_plan_make(const struct weather_use *use, const struct weather_site *site,
                       struct weather_plan *plan);

/* Everything of a day but rh_min and Rn, by the rules: `full` has Ra and daylight already. `pressure_kpa`:
 * what is usual at the site. */
void weather_plan_follow(const struct weather_plan *plan, const struct weather_use *use,
                         const struct weather_site *site, double pressure_kpa,
                         const struct weather_vapour *vapour, struct weather_full *full);

/* A day in use, completed on its own. */
void weather_complete_used(struct weather_use use, struct weather_place *place, struct weather_full *full);

/* Numerator and denominator constants of a day, by enum reference_kind: FAO-56 eq. 6, ASCE-EWRI 2005 Table 1.
 */
struct reference_constants {
    double cn, cd;
};
extern const struct reference_constants reference_daily[REFERENCE_ASCE_TALL + 1];

#endif
