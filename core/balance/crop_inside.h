/* The crop's day of what is known to lie inside its ranges: what crop.c, crop_block.c and the season's files
 * share. Nobody else includes this. What each function stands for is told in crop.h. */
#ifndef WATERTURN_CROP_INSIDE_H
#define WATERTURN_CROP_INSIDE_H

#include <math.h>

#include "core/balance/crop.h"
#include "core/base/extreme.h"
#include "core/base/inlined.h"

#define CROP_COVER_MAX 0.99 /* eq. 76 */
/* Eqs 65 and 70 leave smaller coefficients alone. */
#define CROP_ADJUSTED_FROM 0.45
/* Eq. 72 without the climate's term, and what takes its place for the tall reference. */
#define CROP_KC_MAX_GRASS 1.2
#define CROP_KC_MAX_TALL  1.0

INLINED double crop_limited(double value, double low, double high) {
    return lesser_of(high, greater_of(low, value)); /* in this order a NaN comes through */
}

/* ---- stages ---- */

INLINED void crop_share_of_stage(double gone, double today, double length, struct crop_position *position) {
    position->share_morning = lesser_of(gone / length, 1);
    position->share = lesser_of((gone + today) / length, 1);
}

/* Where a day stands whose stage is settled and goes by days. */
INLINED void crop_position_by_days(const struct crop_progress *progress, int32_t date, int32_t planting_date,
                                   struct crop_position *position) {
    position->stage = progress->stage;
    position->regrowth = progress->cycles > 0;
    position->days_in_season = progress->stage == STAGE_BARE ? 0 : date - planting_date + 1;
    if (crop_growing(progress->stage))
        crop_share_of_stage(date - progress->began, 1, progress->length_d, position);
    else
        position->share_morning = position->share = 0;
}

/* ---- coefficients ---- */

/* The climate's part of eqs 62, 65, 70 and 72. */
INLINED double crop_climate_slope(double wind_2m_m_s, double rh_min_pct) {
    return 0.04 * (crop_limited(wind_2m_m_s, 1, 6) - 2) - 0.004 * (crop_limited(rh_min_pct, 20, 80) - 45);
}

/* Eq. 72; `least`: 1.2 + term, or what takes its place for the tall reference. */
INLINED double crop_kc_max_inside(double kcb, double least) {
    return greater_of(kcb + 0.05, least);
}

/* Eq. 76 before its power, which is the dearest of a day. */
INLINED double crop_cover_base(double kcb, double kc_max) {
    return greater_of(kcb - CROP_KC_MIN, 0.01) / (kc_max - CROP_KC_MIN);
}
INLINED double crop_cover_exponent(double height_m) {
    return 1 + 0.5 * height_m;
}
INLINED double crop_cover_power(double base, double exponent) {
    return lesser_of(CROP_COVER_MAX, pow(base, exponent));
}

INLINED double crop_cover_inside(double kcb, double kc_max, double height_m) {
    return crop_cover_power(crop_cover_base(kcb, kc_max), crop_cover_exponent(height_m));
}

/* Eq. 66. */
INLINED double crop_curve_inside(double ini, double mid, double end, enum crop_stage stage, double share) {
    if (stage == STAGE_DEVELOPMENT)
        return ini + share * (mid - ini);
    if (stage == STAGE_LATE)
        return mid + share * (end - mid);
    return stage == STAGE_INITIAL ? ini : stage == STAGE_MID ? mid : 0;
}

/* Eqs 62 and 65 on the single coefficient, and its curve; `term`: the climate's. */
INLINED double crop_kc_inside(const struct crop *crop, const struct crop_position *position, double kc_ini,
                              double term) {
    double end = crop->kc_end >= CROP_ADJUSTED_FROM ? greater_of(crop->kc_end + term, 0) : crop->kc_end;
    return crop_curve_inside(kc_ini, greater_of(crop->kc_mid + term, 0), end, position->stage,
                             position->share);
}

/* Eq. 70 on both ends of the stage's line, and eq. 66 between them. What is pulled is 0.45 or more, and no
 * term is below -0.26 (10 m, 1 m/s, 80 %): nothing falls below 0. */
INLINED double crop_kcb_inside(const struct crop_line *line, double share, double season_slope) {
    double from = line->kcb_from + season_slope * line->kcb_from_pull;
    if (line->level)
        return from;
    double to = line->kcb_to + season_slope * line->kcb_to_pull;
    return from + share * (to - from);
}

INLINED double crop_root_inside(const struct crop *crop, const struct crop_line *line, double share_morning) {
    double roots = line->roots_from + line->roots_by * share_morning;
    return roots < 1 ? crop->root_ini_m + roots * (crop->root_max_m - crop->root_ini_m) : crop->root_max_m;
}

INLINED double crop_height_inside(const struct crop_line *line, double share) {
    return line->height_from_m + share * (line->height_to_m - line->height_from_m);
}

/* crop_height_factor(), reckoned once for days of the same height. */
INLINED double crop_height_factor_inside(struct crop_height_power *power, double height_m) {
    if (height_m != power->height_m)
        *power = (struct crop_height_power){height_m, pow(height_m / 3, 0.3)};
    return power->factor;
}

/* crop_day_at() without the cover; `factor`: crop_height_factor() of the day's height; the slopes: of the
 * day's climate and of what counts for eqs 62, 65 and 70. The single coefficient is NaN when nobody asks for
 * it. Bare soil has a line too, along which nothing grows. */
INLINED void crop_coefficients_inside(const struct crop *crop, const struct crop_fixed *fixed,
                                      const struct crop_line *line, const struct crop_position *position,
                                      double slope, double season_slope, double factor, double kc_ini,
                                      bool single, struct crop_day *out) {
    out->stage = position->stage;
    out->days_in_season = position->days_in_season;
    out->height_m = crop_height_inside(line, position->share);
    out->root_m = crop_root_inside(crop, line, position->share_morning);
    out->kc = single ? crop_kc_inside(crop, position, kc_ini,
                                      season_slope * (fixed->pull * fixed->full_height_factor))
                     : NAN;
    out->kcb = crop_kcb_inside(line, position->share, season_slope);
    out->kc_max = crop_kc_max_inside(out->kcb, fixed->kc_max_least + slope * (fixed->pull * factor));
}

#endif
