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
#include "core/weather/sun.h"

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
    WEATHER_RULE_NONE,              /* the value is missing */
    WEATHER_RULE_AS_REPORTED,       /* taken as it stands */
    WEATHER_RULE_TMEAN_HALF_SUM,    /* eq. 9: (tmax + tmin) / 2 */
    WEATHER_RULE_PRESSURE_ALTITUDE, /* eq. 7 */
    WEATHER_RULE_EA_DEWPOINT,       /* eq. 14 */
    WEATHER_RULE_EA_PSYCHROMETER,   /* eq. 15 */
    WEATHER_RULE_EA_RH_MAX_MIN,     /* eq. 17 */
    WEATHER_RULE_EA_RH_MAX,         /* eq. 18 */
    WEATHER_RULE_EA_RH_MEAN,        /* eq. 19 */
    WEATHER_RULE_EA_TMIN,           /* eq. 48, less the site's aridity adjustment */
    WEATHER_RULE_RS_SUNSHINE,       /* eq. 35 */
    WEATHER_RULE_RS_TEMPERATURE,    /* eq. 50, at most the clear-sky radiation of eq. 37 */
    WEATHER_RULE_WIND_LOG_PROFILE,  /* eq. 47: from the station's height to 2 m */
    WEATHER_RULE_WIND_DEFAULT,      /* 2 m/s, the mean over 2000 stations given in chapter 3, "wind speed" */
    WEATHER_RULE_SUSPECT_REPLACED,  /* missing: reported, judged suspect, and no rule stands in for it */
    WEATHER_RULE_WIND_LEAST,        /* a calmer day is taken as 0.5 m/s, chapter 3, "wind speed" */
    WEATHER_RULE_COUNT
};

/* One day as reported. */
struct weather_day {
    int32_t date;
    double value[WEATHER_ELEMENT_COUNT];   /* NaN where missing */
    uint8_t origin[WEATHER_ELEMENT_COUNT]; /* enum weather_origin */
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
    double value; /* NaN: missing */
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
    double soil_heat_mj_m2; /* G: 0 for a day (eq. 42); whoever works with a month's means may set it (eqs 43,
                               44) */
    uint16_t set_aside;     /* bit (1 << element): reported, but judged suspect by a finding and not used */
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
    FINDING_WIND_IMPLAUSIBLE, /* daily mean above 40 m/s or below 0 */
    FINDING_WIND_STUCK,       /* below 0.05 m/s for a whole day: an iced or broken anemometer */
    FINDING_REPEATED_VALUE,   /* the same value on several days running */
    FINDING_RAIN_IMPLAUSIBLE, /* negative, or above 1900 mm in a day */
    FINDING_EA_ABOVE_SATURATION,
    FINDING_PRESSURE_IMPLAUSIBLE, /* far from eq. 7: a pressure reduced to sea level, as a rule */
    FINDING_KIND_COUNT
};

/* What weather_check() holds a day against. Annex 5 of FAO-56 names the checks and gives few figures; where
 * no source stands beside a limit it is common practice. World records: WMO weather and climate extremes
 * archive. A finding is suspect unless said otherwise here. */
#define WEATHER_T_MIN_C        (-90.0) /* lowest and highest measured on earth: -89.2, 56.7 degC */
#define WEATHER_T_MAX_C        57.0
#define WEATHER_T_SPIKE_C      15.0  /* above, or below, both neighbouring days by more; not suspect */
#define WEATHER_TMEAN_SLACK_C  0.5   /* a mean of hours may be rounded */
#define WEATHER_TDEW_ABOVE_C   3.0   /* tdew above tmin by more; suspect only above tmax */
#define WEATHER_RH_DRIFT_PCT   105.0 /* 100..105 % is drift, not suspect, and taken as 100 */
#define WEATHER_RS_ABOVE_RSO   1.10  /* times Rso; not suspect (Annex 5: 3..5 % on clear days) */
#define WEATHER_RS_SLACK_MJ_M2 0.1   /* Rs above Ra by more; Rs below zero is too low at any time */
#define WEATHER_RS_LEAST       0.03  /* share of Ra (darkest overcast: some 0.05) ... */
#define WEATHER_RA_LEAST_MJ_M2 1.0   /* ... where Ra is at least this */
#define WEATHER_SUN_SLACK_H    0.5   /* beyond N; eq. 34 knows no refraction. Up to it counts as N */
#define WEATHER_WIND_MAX_M_S   40.0
#define WEATHER_WIND_STUCK_M_S 0.05
#define WEATHER_REPEAT_DAYS    5      /* not for 0, rain, sunshine, rh_max of 100 %; not suspect */
#define WEATHER_RAIN_MAX_MM    1900.0 /* most in a day on earth: 1825 mm */
#define WEATHER_PRESSURE_SHARE 0.10   /* of eq. 7; weather moves it by some 5 % */

/* Ranges of weather_complete() for values in use: temperatures as above, relative humidity 0..105 %, ea 0..20
 * kPa, pressure 30..120 kPa, wind 0..100 m/s, Rs 0..60 MJ m-2, sunshine 0..24.5 h, rain 0..3000 mm. Whatever
 * lies outside them is found suspect by weather_check(). */
#define WEATHER_WIND_LEAST_M_S 0.5 /* see WEATHER_RULE_WIND_LEAST */

struct weather_finding {
    enum weather_finding_kind kind;
    enum weather_element element;
    double value; /* what was found */
    double limit; /* what it was held against */
    bool suspect; /* true: the value is not used as it stands; weather_complete() goes on to the next rule
                   * (FINDING_TMAX_BELOW_TMIN: it returns STATUS_ORDER) */
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
/* Stable key ("ea_tmin", ...), for files and the store. */
const char *weather_rule_key(enum weather_rule rule);
/* Stable key of a finding ("dewpoint_above_tmin", ...). */
const char *weather_finding_key(enum weather_finding_kind kind);

/* A site with what is the same there on every day, or on every such day of the year: for whoever completes
 * many days. Plain storage of the caller's; its members are weather_complete_at()'s own. */
struct weather_place {
    struct weather_site site;
    struct sun_latitude latitude;
    double pressure_kpa; /* eq. 7 */
    int32_t new_year;    /* of the year that was asked for last, ... */
    int year_days;       /* ... and how long it is */
    struct {
        double ra_mj_m2, daylight_h; /* eqs 21, 34; both NaN until such a day comes */
    } sun[366];
};

/* A day on which nothing was reported. */
struct weather_day weather_day_empty(int32_t date);

/* A site at a place with FAO-56's defaults for all else. */
struct weather_site weather_site_default(double latitude_deg, double elevation_m);

/* STATUS_OK when every member is finite and inside its range: krs (when not NaN) 0.05..0.3, angstrom_as and
 * angstrom_bs 0..1 with a sum of 0.2..1, aridity_c 0..5, wind_default_m_s 0.5..10, the others as above. */
enum status weather_site_check(const struct weather_site *site);

/* Checks one day after FAO-56 Annex 5. `before` and `after` are the neighbouring days or NULL; `recent`
 * points at the `recent_count` days that end with `day` itself (for stuck and repeated values), or NULL.
 * Finds never change the day. Infinite values are found implausible. Returns STATUS_NO_ROOM when more than
 * WEATHER_FINDINGS_MAX were found (the first ones are kept); STATUS_OUT_OF_RANGE for an invalid date or what
 * weather_site_check() says of the site (then nothing is found). */
enum status weather_check(const struct weather_day *day, const struct weather_day *before,
                          const struct weather_day *after, const struct weather_day *recent, int recent_count,
                          const struct weather_site *site, struct weather_findings *findings);

/* Bits (1 << element) of the elements that a finding calls suspect; 0 for NULL. A tmax below tmin is left
 * out: weather_complete() judges the order itself. */
unsigned weather_suspects(const struct weather_findings *findings);

/* Makes a day complete: humidity, radiation, wind and pressure by FAO-56's order of preference, each with its
 * origin and rule. An element whose finding (may be NULL: none) says `suspect` is treated as absent.
 * tmax and tmin cannot be done without: STATUS_MISSING. tmin above tmax: STATUS_ORDER. Rain may stay missing
 * (value NaN, ORIGIN_MISSING): the balance decides what that means. The rank of origins is carried: a value
 * derived from a forecast or neighbour value keeps ORIGIN_FORECAST or ORIGIN_NEIGHBOUR, and where values or
 * rules of several ranks meet the least trusted one stands.
 *
 * Humidity: ea as reported, dew point, psychrometer (ventilated), rh_max and rh_min, rh_max, rh_mean, tmin.
 * Rs: as reported, sunshine, range of temperature. Wind: as reported at the site's height, site default.
 * Pressure: as reported, eq. 7. tmean is always the half sum, "for standardization" (chapter 3, eq. 9).
 * STATUS_NOT_FINITE: an infinite value that no finding sets aside; STATUS_OUT_OF_RANGE: a value outside the
 * ranges above, an invalid date, an origin outside the enum; STATUS_ORDER also for a value of ORIGIN_MISSING;
 * the site as weather_site_check(). On anything but STATUS_OK `full` is not written. */
enum status weather_complete(const struct weather_day *day, const struct weather_site *site,
                             const struct weather_findings *findings, struct weather_full *full);

/* The same for the days of one place, to the last bit. weather_place_open(): STATUS_OK, or as
 * weather_site_check(), and then the place is not to be used. */
enum status weather_place_open(const struct weather_site *site, struct weather_place *place);
enum status weather_complete_at(const struct weather_day *day, struct weather_place *place,
                                const struct weather_findings *findings, struct weather_full *full);

#endif
