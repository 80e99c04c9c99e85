/* A day's weather: as reported (struct weather_day), checked, and made complete for the Penman-Monteith
 * equation by the missing-data rules of FAO-56 chapter 3 (struct weather_full).
 *
 * Units: degC, kPa, %, m s-1, MJ m-2 day-1, h, mm. A missing value is NaN and never zero. Every value
 * of a complete day carries its origin and the rule that gave it. */
#ifndef WATERTURN_WEATHER_H
#define WATERTURN_WEATHER_H

#include <stdbool.h>
#include <stdint.h>

#include "core/base/status.h"

/* What a weather file can report for a day. The order is that of weather_element_name(). */
enum weather_element {
    WEATHER_TMAX_C,
    WEATHER_TMIN_C,
    WEATHER_TMEAN_C,
    WEATHER_TDEW_C,
    WEATHER_TDRY_C, /* psychrometer: dry bulb */
    WEATHER_TWET_C, /* psychrometer: wet bulb */
    WEATHER_RH_MAX_PCT,
    WEATHER_RH_MIN_PCT,
    WEATHER_RH_MEAN_PCT,
    WEATHER_EA_KPA,
    WEATHER_PRESSURE_KPA,
    WEATHER_WIND_M_S, /* day's mean at the station's wind height */
    WEATHER_RS_MJ_M2, /* solar radiation, MJ m-2 day-1 */
    WEATHER_SUN_H,    /* hours of bright sunshine */
    WEATHER_RAIN_MM,
    WEATHER_ELEMENT_COUNT
};

/* How a value came to be. The order is the order of trust. */
enum weather_origin {
    ORIGIN_MISSING,
    ORIGIN_MEASURED,    /* reported by the station itself */
    ORIGIN_DERIVED,     /* computed from measured values of the same day by a physical relation */
    ORIGIN_NEIGHBOUR,   /* measured at another station */
    ORIGIN_FORECAST,    /* from a forecast issued before or on the day */
    ORIGIN_ESTIMATED,   /* by a rule of FAO-56 for missing data */
    ORIGIN_CLIMATOLOGY, /* from the station's own past */
    ORIGIN_COUNT
};

/* The rule that gave a value of a complete day; weather_rule_text() names each with its equation. */
enum weather_rule {
    WEATHER_RULE_NONE,        /* the value is missing */
    WEATHER_RULE_AS_REPORTED, /* taken as it stands */
    WEATHER_RULE_TMEAN_HALF_SUM,    /* eq. 9: (tmax + tmin) / 2 */
    WEATHER_RULE_PRESSURE_ALTITUDE, /* eq. 7 */
    WEATHER_RULE_EA_DEWPOINT,       /* eq. 14 */
    WEATHER_RULE_EA_PSYCHROMETER,   /* eq. 15 */
    WEATHER_RULE_EA_RH_MAX_MIN,     /* eq. 17 */
    WEATHER_RULE_EA_RH_MAX,         /* eq. 18 */
    WEATHER_RULE_EA_RH_MEAN,        /* eq. 19 */
    WEATHER_RULE_EA_TMIN,           /* eq. 48, less the site's aridity adjustment */
    WEATHER_RULE_RS_SUNSHINE,       /* eq. 35 */
    WEATHER_RULE_RS_TEMPERATURE,    /* eq. 50 */
    WEATHER_RULE_WIND_LOG_PROFILE,  /* eq. 47: from the station's height to 2 m */
    WEATHER_RULE_WIND_DEFAULT,      /* 2 m/s, the mean over 2000 stations given in chapter 3, "wind speed" */
    WEATHER_RULE_SUSPECT_REPLACED,  /* reported, judged suspect by a finding, replaced by the next rule */
    WEATHER_RULE_COUNT
};

/* One day as reported. */
struct weather_day {
    int32_t date;
    double value[WEATHER_ELEMENT_COUNT];                       /* NaN where missing */
    uint8_t origin[WEATHER_ELEMENT_COUNT];                     /* enum weather_origin */
};

/* Where the weather is measured. weather_site_default() fills everything but the place. */
struct weather_site {
    double latitude_deg;  /* -90..90, north positive */
    double elevation_m;   /* -430..6000 */
    double wind_height_m; /* height of the anemometer, 0.5..100 m; 2 by default */
    bool coastal;         /* krs 0.19 rather than 0.16 (eq. 50) */
    double krs;           /* eq. 50; NaN: by `coastal` */
    double angstrom_as;   /* eq. 35; 0.25 */
    double angstrom_bs;   /* eq. 35; 0.50 */
    double aridity_c;     /* subtracted from tmin when eq. 48 stands in for humidity: 0 (humid) .. 5 degC */
    double wind_default_m_s; /* 2 */
};

/* A value of a complete day and how it came to be. */
struct weather_value {
    double value;                /* NaN: missing */
    enum weather_origin origin;
    enum weather_rule rule;
};

/* A day complete enough for the balance. */
struct weather_full {
    int32_t date;
    struct weather_value tmax_c, tmin_c, tmean_c, pressure_kpa, ea_kpa, rs_mj_m2, wind_2m_m_s, rain_mm;
    double rh_min_pct;      /* from ea and tmax: 100 ea / e0(tmax), at most 100; eqs 62, 70, 72 want it */
    double ra_mj_m2;        /* eq. 21 */
    double rso_mj_m2;       /* eq. 37 */
    double rn_mj_m2;        /* eq. 40 */
    double daylight_h;      /* eq. 34 */
};

/* Findings of weather_check(), after FAO-56 Annex 5. */
enum weather_finding_kind {
    FINDING_TMAX_BELOW_TMIN,
    FINDING_TMEAN_OUTSIDE_RANGE,
    FINDING_TEMPERATURE_IMPLAUSIBLE, /* outside the record of the earth's surface, -90..57 degC */
    FINDING_TEMPERATURE_SPIKE,       /* far from the days on both sides */
    FINDING_DEWPOINT_ABOVE_TMIN,     /* by more than a few degrees for a whole day */
    FINDING_RH_OUT_OF_BOUNDS,        /* outside 0..100 (a little above 100 is sensor drift, and said so) */
    FINDING_RH_ORDER,                /* rh_max below rh_min */
    FINDING_RS_ABOVE_CLEAR_SKY,      /* Rs above Rso by more than a stated share */
    FINDING_RS_ABOVE_TOP_OF_AIR,     /* Rs above Ra: impossible */
    FINDING_RS_TOO_LOW,              /* Rs below a few per cent of Ra */
    FINDING_SUN_LONGER_THAN_DAY,
    FINDING_WIND_IMPLAUSIBLE,        /* daily mean above 40 m/s or below 0 */
    FINDING_WIND_STUCK,              /* below 0.05 m/s for a whole day: an iced or broken anemometer */
    FINDING_REPEATED_VALUE,          /* the same value on several days running */
    FINDING_RAIN_IMPLAUSIBLE,        /* negative, or above 1900 mm in a day */
    FINDING_EA_ABOVE_SATURATION,
    FINDING_KIND_COUNT
};

struct weather_finding {
    enum weather_finding_kind kind;
    enum weather_element element;
    double value; /* what was found */
    double limit; /* what it was held against */
    bool suspect; /* true: the value is not used as it stands; weather_complete() goes on to the next rule */
};

#define WEATHER_FINDINGS_MAX 32

struct weather_findings {
    int count;
    struct weather_finding finding[WEATHER_FINDINGS_MAX];
};

/* "tmax_c", "rh_max_pct", ...: the names used in files, columns and reports. NULL outside the enum. */
const char *weather_element_name(enum weather_element element);
/* The element of a name, or WEATHER_ELEMENT_COUNT. */
enum weather_element weather_element_of(const char *name);
/* "measured", "derived", ... */
const char *weather_origin_name(enum weather_origin origin);
/* Short name ("from tmin, eq. 48"): what a person reads beside the value. */
const char *weather_rule_text(enum weather_rule rule);
/* Stable key ("tmin_fallback", ...), for files and the store. */
const char *weather_rule_key(enum weather_rule rule);
/* Stable key of a finding ("dewpoint_above_tmin", ...). */
const char *weather_finding_key(enum weather_finding_kind kind);

/* A day on which nothing was reported. */
struct weather_day weather_day_empty(int32_t date);

/* A site at a place with FAO-56's defaults for all else. */
struct weather_site weather_site_default(double latitude_deg, double elevation_m);

/* STATUS_OK when every member is finite and inside its range. */
enum status weather_site_check(const struct weather_site *site);

/* Checks one day after FAO-56 Annex 5. `before` and `after` are the neighbouring days or NULL; `recent`
 * points at the `recent_count` days that end with `day` itself (for stuck and repeated values), or NULL.
 * Finds never change the day. Returns STATUS_NO_ROOM when more than WEATHER_FINDINGS_MAX were found. */
enum status weather_check(const struct weather_day *day, const struct weather_day *before,
                          const struct weather_day *after, const struct weather_day *recent, int recent_count,
                          const struct weather_site *site, struct weather_findings *findings);

/* Makes a day complete: humidity, radiation, wind and pressure by FAO-56's order of preference, each with its
 * origin and rule. An element whose finding (may be NULL: none) says `suspect` is treated as absent.
 * tmax and tmin cannot be done without: STATUS_MISSING. tmin above tmax: STATUS_ORDER. Rain may stay missing
 * (value NaN, ORIGIN_MISSING): the balance decides what that means. The rank of origins is carried: a value
 * derived from a forecast or neighbour value keeps ORIGIN_FORECAST or ORIGIN_NEIGHBOUR. */
enum status weather_complete(const struct weather_day *day, const struct weather_site *site,
                             const struct weather_findings *findings, struct weather_full *full);

#endif
