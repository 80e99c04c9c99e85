#include "core/balance/crop_block.h"

#include <math.h>

#include "core/balance/crop_inside.h"
#include "core/base/vectors.h"

/* Where the days stand, height, and Kcb. Days that were not given are gone through with the others. */
VECTORS_WIDER static void stand(const struct crop_block_input *restrict input,
                                struct crop_block *restrict block) {
    const struct crop_progress *progress = input->progress;
    struct crop_line line = progress->line;
    const double length_d = progress->length_d, gone_d = input->first_date - progress->began;
    const double in_season = input->first_date - input->planting_date + 1;
    const double full_height_factor = input->fixed->full_height_factor;
    line.level = false; /* no branch: along a level line the same bits come out */
    for (int i = 0; i < CROP_BLOCK_DAYS; i++) {
        struct crop_position position;
        crop_share_of_stage(gone_d + i, 1, length_d, &position);
        block->days_in_season[i] = in_season + i;
        block->share_morning[i] = position.share_morning;
        block->height_m[i] = crop_height_inside(&line, position.share);
        block->height_factor[i] = full_height_factor;
        block->slope[i] = crop_climate_slope(block->wind_2m_m_s[i], block->rh_min_pct[i]);
        block->kcb[i] = crop_kcb_inside(&line, position.share, block->slope[i]);
    }
}

/* Kcb once more, where the climate's wind or humidity counts for it in place of the day's. */
static void bend(const struct crop_block_input *restrict input, struct crop_block *restrict block) {
    const double wind_m_s = input->season_wind_m_s, rh_pct = input->season_rh_min_pct;
    const double length_d = input->progress->length_d, gone_d = input->first_date - input->progress->began;
    for (int i = 0; i < CROP_BLOCK_DAYS; i++) {
        struct crop_position position;
        crop_share_of_stage(gone_d + i, 1, length_d, &position);
        double slope = crop_climate_slope(isnan(wind_m_s) ? block->wind_2m_m_s[i] : wind_m_s,
                                          isnan(rh_pct) ? block->rh_min_pct[i] : rh_pct);
        block->kcb[i] = crop_kcb_inside(&input->progress->line, position.share, slope);
    }
}

/* Of the days on which the crop is not as tall as it will be. */
static void reckon_heights(const struct crop_block_input *input, int days, struct crop_height_power *power,
                           struct crop_block *block) {
    double full_m = input->crop->height_max_m;
    if (!(input->progress->line.height_from_m < full_m))
        return;
    for (int i = 0; i < days && block->height_m[i] < full_m; i++)
        block->height_factor[i] = crop_height_factor_inside(power, block->height_m[i]);
}

VECTORS_WIDER static void spread(const struct crop_fixed *restrict fixed, struct crop_block *restrict block) {
    const double least = fixed->kc_max_least, pull = fixed->pull;
    for (int i = 0; i < CROP_BLOCK_DAYS; i++) {
        block->kc_max[i] =
            crop_kc_max_inside(block->kcb[i], least + block->slope[i] * (pull * block->height_factor[i]));
        block->cover_base[i] = crop_cover_base(block->kcb[i], block->kc_max[i]);
        block->cover_exponent[i] = crop_cover_exponent(block->height_m[i]);
    }
}

void crop_block_grow(const struct crop_block_input *input, int days, struct crop_height_power *power,
                     struct crop_block *block) {
    for (int i = days; i < CROP_BLOCK_DAYS; i++)
        block->wind_2m_m_s[i] = block->rh_min_pct[i] = 0;
    stand(input, block);
    if (!isnan(input->season_wind_m_s) || !isnan(input->season_rh_min_pct))
        bend(input, block);
    reckon_heights(input, days, power, block);
    spread(input->fixed, block);
    for (int i = 0; i < days; i++)
        block->cover[i] = crop_cover_power(block->cover_base[i], block->cover_exponent[i]);
    if (input->progress->stage == STAGE_DEVELOPMENT)
        crop_height_ahead(input->crop, input->progress, input->first_date + days - 1, power);
}
