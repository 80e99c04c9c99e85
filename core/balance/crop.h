/* The crop: stages, coefficients, height, ground cover and roots through the season (FAO-56 chapters 6, 7,
 * 8). */
#ifndef WATERTURN_CROP_H
#define WATERTURN_CROP_H

#include <stdbool.h>
#include <stdint.h>

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

#define CROP_GROWING_STAGES 4 /* initial, development, mid-season, late season: index 0..3 */

struct crop {
    enum reference_kind reference; /* the reference that the coefficients belong to */
    enum crop_clock clock;
    double stage_days[CROP_GROWING_STAGES];        /* lengths, days (Table 11) */
    double stage_degree_days[CROP_GROWING_STAGES]; /* lengths, degC d, for CLOCK_DEGREE_DAYS */
    double base_c, ceiling_c;                      /* degree-day base and upper limit; NaN when unused */
    double kc_ini, kc_mid, kc_end;                 /* Table 12; kc_ini NaN: by eqs of Annex 7 from wetting */
    double kcb_ini, kcb_mid, kcb_end;              /* Table 17 */
    double height_ini_m, height_max_m;
    double root_ini_m, root_max_m; /* effective rooting depth: at planting, and at the start of mid-season */
    double depletion_fraction;     /* p of Table 22, for ETc = 5 mm/day */
    bool depletion_fixed;          /* true: p is not adjusted for ETc */
    double allowed_depletion[CROP_GROWING_STAGES]; /* share of TAW by stage set by the user; NaN: p */
    double ky_season;                              /* Table 24; NaN: none published */
    double ky_stage[CROP_GROWING_STAGES];          /* FAO-33; NaN: none */
    double salt_threshold_ds_m, salt_slope_pct;    /* Table 23; NaN: none */
    bool forage; /* after a cutting the crop starts again with cut_stage_days */
    double cut_stage_days[CROP_GROWING_STAGES];
    double cut_height_m;
};

/* The crop on one day. */
struct crop_day {
    enum crop_stage stage;
    double days_in_season; /* 1 on the day of planting; 0 before */
    double kc;             /* climate-adjusted single coefficient, before stress */
    double kcb;            /* climate-adjusted basal coefficient */
    double height_m;
    double root_m;
    double cover; /* fc, 0..0.99 (eq. 76, or observed) */
};

/* STATUS_OK when every length is positive, coefficients are in 0..2, depths ordered and positive, ... */
enum status crop_check(const struct crop *crop);

const char *crop_stage_name(enum crop_stage stage);

#endif
