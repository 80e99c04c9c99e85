/* The crop: stages, coefficients, height, ground cover and roots through the season (FAO-56 chapters 6 to 9).
 */
#ifndef WATERTURN_CROP_H
#define WATERTURN_CROP_H

#include <stdbool.h>
#include <stdint.h>

#include "core/base/extreme.h"
#include "core/base/status.h"
#include "core/weather/reference_et.h"

enum crop_stage {
    STAGE_BARE,
    STAGE_INITIAL,
    STAGE_DEVELOPMENT,
    STAGE_MID,
    STAGE_LATE,
    STAGE_ENDED,
    STAGE_COUNT
};

/* What drives the stages when no date was observed. */
enum crop_clock { CLOCK_DAYS, CLOCK_DEGREE_DAYS };

#define CROP_GROWING_STAGES 4    /* initial, development, mid-season, late season: index 0..3 */
#define CROP_KC_MIN         0.15 /* coefficient of dry bare soil, eq. 76 */

struct crop {
    enum reference_kind reference; /* the reference that the coefficients belong to */
    enum crop_clock clock;
    double stage_days[CROP_GROWING_STAGES];        /* lengths, days (Table 11): 1..1000 each */
    double stage_degree_days[CROP_GROWING_STAGES]; /* lengths, degC d, for CLOCK_DEGREE_DAYS: 1..20000 each */
    double base_c, ceiling_c;                      /* degree-day base and upper limit; NaN when unused */
    double kc_ini, kc_mid, kc_end; /* Table 12, 0..2; kc_ini NaN: by the equations of Annex 7 from wetting */
    double kcb_ini, kcb_mid, kcb_end;  /* Table 17, 0..2 */
    double height_ini_m, height_max_m; /* 0..10, the range of eqs 62, 65, 70 */
    double root_ini_m,
        root_max_m; /* effective rooting depth: at planting, and at the start of mid-season; 0.05..10 */
    double depletion_fraction; /* p of Table 22, for ETc = 5 mm/day: 0.05..0.95 */
    bool depletion_fixed;      /* true: p is not adjusted for ETc */
    double
        allowed_depletion[CROP_GROWING_STAGES]; /* share of TAW by stage set by the user, 0.01..1; NaN: p */
    double ky_season;                           /* Table 24, 0.1..3; NaN: none published */
    double ky_stage[CROP_GROWING_STAGES];       /* FAO-33, 0..3; NaN: none */
    double salt_threshold_ds_m, salt_slope_pct; /* Table 23; NaN: none */
    bool forage; /* after a cutting the crop starts again with cut_stage_days; it ends only by an observed
                    date */
    double cut_stage_days[CROP_GROWING_STAGES];
    double cut_height_m;
};

/* The crop on one day. */
struct crop_day {
    enum crop_stage stage;
    double days_in_season; /* 1 on the day of planting; 0 before */
    double kc;             /* climate-adjusted single coefficient, before stress; 0 when nothing grows */
    double kcb;            /* climate-adjusted basal coefficient; 0 when nothing grows */
    double kc_max;         /* eq. 72 */
    double height_m;
    double root_m; /* by the stages; the season never lets it shrink */
    double cover;  /* fc, 0..0.99 (eq. 76, or observed) */
};

/* The straight line that a stage is (eq. 66): each from the stage's beginning to its end. */
struct crop_line {
    bool level;                        /* Kcb begins and ends alike */
    double kcb_from, kcb_to;           /* before the climate's term */
    double kcb_from_pull, kcb_to_pull; /* crop_height_factor() of the full height for eq. 70's term; 0: it
                                          leaves the coefficient alone */
    double height_from_m, height_to_m;
    double roots_from,
        roots_by; /* share of the way of the roots on the first morning, and what the stage adds */
};

/* How far the crop has come. Kept from day to day; crop_progress_start() begins it. */
struct crop_progress {
    enum crop_stage stage;
    int32_t cycle_date;  /* first day of the present cycle: planting or the last cutting */
    int32_t began;       /* first day of the present stage */
    int32_t stays_until; /* on days before it nothing but a cutting ends the stage, and days alone move it */
    int cycles;          /* cuttings so far */
    double length_d;     /* of the present stage, as long as days alone move it */
    double degree_days;  /* of the present cycle, up to yesterday */
    double began_degree_days;
    struct crop_line line; /* of the present stage */
};

/* Where that puts one day. Shares are 0..1 and count the present stage. */
struct crop_position {
    enum crop_stage stage;
    double days_in_season;
    double share_morning; /* of the stage gone by before the day */
    double share;         /* of the stage gone by with the day: i of eq. 66 */
    bool regrowth;        /* a cutting began this cycle */
};

/* What a day does to the stages. */
struct crop_stage_input {
    int32_t date;
    int32_t planting_date;
    const int32_t
        *stage_date; /* CROP_GROWING_STAGES observed dates or CALENDAR_NONE, as in struct season_setup */
    double tmax_c, tmin_c; /* only for CLOCK_DEGREE_DAYS */
    bool cutting;
};

/* Observed cover against the cover of eq. 76; 1 and 1 until something is seen. */
struct crop_density {
    double cover_ratio; /* observed / expected cover, when thinner than expected: 0..1 */
    double gap_ratio;   /* observed / expected open ground, when denser than expected: 0..1 */
};

/* STATUS_OK when every length is positive, coefficients are in 0..2, depths and heights ordered and positive,
 * and all else is inside the ranges beside the members. STATUS_MISSING: NaN where it may not be unset.
 * STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. STATUS_ORDER: height or root depth that shrinks, ceiling not above
 * base. The second form also names the member at fault (a static string) unless `member` is NULL. */
enum status crop_check(const struct crop *crop);
enum status crop_check_member(const struct crop *crop, const char **member);

/* "bare", "initial", "development", "mid-season", "late season", "ended"; NULL outside the enum. */
const char *crop_stage_name(enum crop_stage stage);

/* True while the crop stands: initial to late season. */
static inline bool crop_growing(enum crop_stage stage) {
    return stage >= STAGE_INITIAL && stage <= STAGE_LATE;
}

/* Degree-days of a day, degC d: the mean of tmax and tmin, each first limited to base..ceiling, less base.
 * `ceiling_c` NaN: no upper limit. Temperatures -90..60 degC. STATUS_MISSING: NaN elsewhere.
 * STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. STATUS_ORDER: tmin above tmax, base not below ceiling. Reference:
 * G.S. McMaster and W.W. Wilhelm, Growing degree-days: one equation, two interpretations, Agric. For.
 * Meteorol. 87, 1997, method 2 (from memory). */
enum status crop_degree_days(double tmax_c, double tmin_c, double base_c, double ceiling_c,
                             double *degree_days);

/* ---- coefficients ---- */

/* (h / 3)^0.3 of eqs 62, 65, 70 and 72; height 0..10 m, NaN below 0. */
double crop_height_factor(double height_m);

/* [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3 of eqs 62, 65, 70 and 72. Outside 1..6 m/s and 20..80 %
 * the nearer limit is used, as FAO-56 limits the equations to that range. Wind 0..100 m/s, RHmin 0..100 %,
 * height 0..10 m. STATUS_MISSING for NaN, STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. */
enum status crop_climate_term(double wind_2m_m_s, double rh_min_pct, double height_m, double *term);

/* Kc max, eq. 72, of a grass reference: the larger of 1.2 + term and Kcb + 0.05. For the tall reference 1.0
 * takes the place of 1.2 + term (R.G. Allen et al., ASCE J. Irrig. Drain. Eng. 131(1), 2005; from memory). */
double crop_kc_max(enum reference_kind reference, double kcb, double term);

/* Cover fc, eq. 76: ((Kcb - Kc min) / (Kc max - Kc min))^(1 + 0.5 h), with Kcb - Kc min at least 0.01 and the
 * result at most 0.99, both as FAO-56 says. NaN in gives NaN. */
double crop_cover(double kcb, double kc_max, double height_m);

/* Eq. 66: the coefficient on a day of the season from those of its stages. `share` 0..1 as in crop_position.
 * 0 when nothing grows. */
double crop_curve(double ini, double mid, double end, enum crop_stage stage, double share);

/* The figures of Kc ini for wetting of bare soil in chapter 6, by the equations of Annex 7. */
enum crop_wetting {
    WETTING_LIGHT,        /* Fig. 29: 3 to 10 mm, all soils */
    WETTING_HEAVY_COARSE, /* Fig. 30a: 40 mm or more, coarse soils */
    WETTING_HEAVY_FINE    /* Fig. 30b: 40 mm or more, fine and medium soils */
};

/* Kc ini of one figure: eqs 7-1 to 7-3. ET0 0..30 mm/day (below 0.001 gives 1.15, stage 1 never ends), mean
 * interval between wettings 0.1..365 days. STATUS_MISSING for NaN, STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. */
enum status crop_kc_ini_figure(enum crop_wetting figure, double et0_mm, double interval_d, double *kc_ini);

/* Kc ini of a wetting depth over the whole field, mm, 0..500, on a share fw of the ground, 0.05..1. The depth
 * on the wetted part is I / fw (eq. 61): up to 10 mm Fig. 29, from 40 mm on Fig. 30, between them eq. 59;
 * times fw (eq. 60). Statuses as above. */
enum status crop_kc_ini(double et0_mm, double interval_d, double depth_mm, double wetted_fraction,
                        bool coarse, double *kc_ini);

/* Mean interval between rains, days, of a month (or other span of 1..366 days) with `rain_mm`, 0..5000, that
 * falls in events of `event_mm`, 0.1..500: days / (rain / event), the way of Example 23. STATUS_MISSING for
 * NaN and where less than 0.1 mm fell, STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. */
enum status crop_wetting_interval(double days, double rain_mm, double event_mm, double *interval_d);

/* Kcb of a thin stand, eq. 98: Kc min + (Kcb - Kc min) min(1, 2 fc, fc^(1 / (1 + h))). `cover` is the
 * effective cover, 0..1, of a stand that would have Kcb at full cover; height 0..10 m. Kcb at or below Kc min
 * is left as it is. And by leaf area, eq. 97: Kc min + (Kcb - Kc min) (1 - exp(-0.7 LAI)), LAI 0..20. NaN
 * outside. */
double crop_kcb_of_cover(double kcb, double cover, double height_m);
double crop_kcb_of_leaf_area(double kcb, double leaf_area);

/* Kc of an alfalfa reference in terms of grass: Kratio = 1.2 + climate term, with h = 0.5 m. Eq. 68.
 * Arguments and statuses as crop_climate_term(). */
enum status crop_alfalfa_ratio(double wind_2m_m_s, double rh_min_pct, double *ratio);

/* p for the day: p + 0.04 (5 - ETc), limited to 0.1..0.8 (Table 22, footnote). NaN in gives NaN. */
static inline double crop_depletion_fraction(double p, double etc_mm) {
    return lesser_of(0.8, greater_of(0.1, p + 0.04 * (5 - etc_mm))); /* in this order a NaN comes through */
}

/* ---- through the season ---- */

struct crop_progress crop_progress_start(void);

/* Moves `progress` to the day, and says where it stands. Days must be handed over in order, from planting or
 * before. A stage begins on its observed date, else after the length of the one before, in days or
 * degree-days. The stage that an observed date closes is stretched or cut to it (so a date that becomes known
 * later changes days before it). An observed end only ends the season and bends no curve. Once the late
 * season has had its length the coefficients stay at their end until an observed end, and so they do without
 * one in a forage; any other crop is then ended. After a cutting only cut_stage_days and an observed end
 * count. STATUS_MISSING: CLOCK_DEGREE_DAYS without temperatures. STATUS_ORDER: a cutting of what is no
 * forage, or when nothing grows; and as crop_degree_days(). On failure nothing is written. `crop` has passed
 * crop_check(). */
enum status crop_advance(const struct crop *crop, const struct crop_stage_input *input,
                         struct crop_progress *progress, struct crop_position *position);

/* What the climate does to the day's coefficients. */
struct crop_climate {
    double wind_2m_m_s, rh_min_pct;            /* of the day: eq. 72 */
    double season_wind_m_s, season_rh_min_pct; /* for eqs 62, 65, 70: of the day, or of the climate */
};

/* What is the same on all days of a crop. */
struct crop_fixed {
    double full_height_factor; /* crop_height_factor() of the full height */
    double pull;               /* 1: the climate counts; 0 with the tall reference */
    double kc_max_least;       /* eq. 72 without the climate's term */
};

/* crop_height_factor() of the height that was last reckoned. */
struct crop_height_power {
    double height_m, factor;
};

/* Of a crop that passed crop_check(). */
struct crop_fixed crop_fix(const struct crop *crop);

/* Coefficients, height, roots and cover on a day. Kc mid by eq. 62; Kcb mid, Kc end and Kcb end by eqs 65 and
 * 70, which leave values below 0.45 as they are; no coefficient falls below 0. Coefficients of the tall
 * reference are not adjusted. `kc_ini` is the single coefficient of the initial stage (the crop's or
 * crop_kc_ini()'s). Height grows with the development stage, roots from planting to the start of mid-season,
 * both in proportion to the stages. Statuses as crop_climate_term(); STATUS_OUT_OF_RANGE: a stage outside the
 * enum. */
enum status crop_day_at(const struct crop *crop, const struct crop_position *position,
                        const struct crop_climate *climate, double kc_ini, struct crop_day *out);

/* Reckons the factor of tomorrow's height, where days alone move the crop to it: beside today's cover it need
 * not be waited for tomorrow. */
void crop_height_ahead(const struct crop *crop, const struct crop_progress *progress, int32_t today,
                       struct crop_height_power *power);

/* An observed cover, 0..1, against the day's of eq. 76. */
struct crop_density crop_density_seen(const struct crop_day *day, double observed_cover);

/* Puts a density on a day: its cover, and where the stand is thinner than expected its Kcb, by eq. 98 with
 * the ratio of covers for the effective cover (our own choice: on the day's cover itself eq. 98 would reduce
 * a second time what the curve of Kcb before full cover holds already). The single coefficient stays. */
void crop_thin(struct crop_day *day, struct crop_density density);

#endif
