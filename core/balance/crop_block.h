/* The crop on days that follow one another, side by side: what the weather and the calendar alone decide of a
 * day. Every bit is that of the same days taken one by one (crop_day_at(), season_step()). */
#ifndef WATERTURN_CROP_BLOCK_H
#define WATERTURN_CROP_BLOCK_H

#include <stdint.h>

#include "core/balance/crop.h"

/* Whole vectors of any processor; most stages are not longer (Table 11). */
#define CROP_BLOCK_DAYS 48

/* What is the same on all of the days. */
struct crop_block_input {
    const struct crop *crop;              /* passed crop_check() */
    const struct crop_fixed *fixed;       /* crop_fix() of it */
    const struct crop_progress *progress; /* in a growing stage that stays until after the last of the days */
    int32_t planting_date, first_date;
    double season_wind_m_s, season_rh_min_pct; /* for eqs 62, 65, 70; NaN: each day's own */
};

struct crop_block {
    double wind_2m_m_s[CROP_BLOCK_DAYS], rh_min_pct[CROP_BLOCK_DAYS]; /* given; 0..100 m/s, 0..100 % */
    /* As in struct crop_position and struct crop_day. */
    double days_in_season[CROP_BLOCK_DAYS], share_morning[CROP_BLOCK_DAYS];
    double height_m[CROP_BLOCK_DAYS], kcb[CROP_BLOCK_DAYS], kc_max[CROP_BLOCK_DAYS], cover[CROP_BLOCK_DAYS];
    /* On the way: the climate's part of eqs 70 and 72, crop_height_factor(), and eq. 76 before its power. */
    double slope[CROP_BLOCK_DAYS], height_factor[CROP_BLOCK_DAYS];
    double cover_base[CROP_BLOCK_DAYS], cover_exponent[CROP_BLOCK_DAYS];
};

/* Fills `block` for its first `days` days, 1..CROP_BLOCK_DAYS. `power`: as crop_height_ahead() left it on the
 * day before, and will leave it. The cover is eq. 76's; a day's row knows more when a cover was seen. */
void crop_block_grow(const struct crop_block_input *input, int days, struct crop_height_power *power,
                     struct crop_block *block);

#endif
