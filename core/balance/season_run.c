/* Many days of a season. Most are usual: the crop goes on inside its stage, nothing is seen of it and nothing
 * cut. What of them the weather and the calendar alone decide is reckoned side by side; the water then goes
 * through them one by one. All others are season_step()'s. */
#include <math.h>

#include "core/balance/crop_block.h"
#include "core/balance/crop_inside.h"
#include "core/balance/season.h"
#include "core/balance/season_inside.h"

static int lesser_count(int a, int b) {
    return a < b ? a : b;
}

/* Whether days can be gone through without another look at the state: it was begun with this setup, and holds
 * no NaN that a day after the first would meet. */
static bool is_sound(const struct season_prepared *prepared, const struct season_state *state) {
    const struct root_zone *zone = &state->root_zone;
    return prepared->sound && season_state_fits(prepared, state) &&
           !isnan(zone->excess_mm + zone->below_depletion_mm + state->surface.wetted_fraction +
                  state->root_m + state->variance_mm2);
}

/* Of the days in hand, how many of the first are usual ones; their weather is put into the block. */
static int gather(const struct season_prepared *prepared, const struct season_state *state,
                  const struct season_input *input, int count, struct crop_block *block) {
    const struct crop_progress *progress = &state->progress;
    int32_t date = state->next_date;
    if (!is_sound(prepared, state) || prepared->setup.method != COEFFICIENT_DUAL ||
        !crop_growing(progress->stage) || date >= progress->stays_until ||
        date > CALENDAR_LAST - CROP_BLOCK_DAYS)
        return 0;
    int most = lesser_count(lesser_count(count, CROP_BLOCK_DAYS), progress->stays_until - date);
    for (int i = 0; i < most; i++) {
        if (SELDOM(input[i].date != date + i || input[i].cutting || season_anything_seen(&input[i]) ||
                   !season_in_range(&input[i])))
            return i;
        block->wind_2m_m_s[i] = input[i].wind_2m_m_s;
        block->rh_min_pct[i] = input[i].rh_min_pct;
    }
    return most;
}

static void grow(const struct season_prepared *prepared, struct season_state *state, int days,
                 struct crop_block *block) {
    const struct season_setup *setup = &prepared->setup;
    const struct crop_block_input input = {.crop = &setup->crop,
                                           .fixed = &prepared->crop,
                                           .progress = &state->progress,
                                           .planting_date = setup->planting_date,
                                           .first_date = state->next_date,
                                           .season_wind_m_s = setup->climate_wind_m_s,
                                           .season_rh_min_pct = setup->climate_rh_min_pct};
    crop_block_grow(&input, days, &state->height_power, block);
}

/* What was seen of the cover before. Only what is looked at leaves the registers. */
INLINED void look_back(struct crop_density density, struct crop_day *crop) {
    struct crop_day thinned = {.kcb = crop->kcb, .height_m = crop->height_m, .cover = crop->cover};
    crop_thin(&thinned, density);
    crop->kcb = thinned.kcb;
    crop->cover = thinned.cover;
}

INLINED void water(const struct season_prepared *restrict prepared, struct season_state *restrict state,
                   const struct season_input *restrict input, const struct crop_block *restrict block, int i,
                   bool thin, struct season_day *restrict day) {
    struct season_trace unseen;
    struct crop_day crop = {.stage = state->progress.stage,
                            .days_in_season = block->days_in_season[i],
                            .kc = (double)NAN,
                            .kcb = block->kcb[i],
                            .kc_max = block->kc_max[i],
                            .height_m = block->height_m[i],
                            .cover = block->cover[i]};
    unseen.position.share_morning = block->share_morning[i];
    season_note_day(input, &crop, day);
    season_wet(prepared, input, state, day, &unseen);
    if (SELDOM(thin))
        look_back(state->density, &crop);
    day->kcb = crop.kcb;
    day->cover = crop.cover;
    season_demand(prepared, input, &crop, true, false, state, day, &unseen);
    season_dry(prepared, state, day, &unseen);
    season_widen(input, day, &unseen, state);
    day->reading_shift_mm = 0;
    season_note_evening(state, day);
    state->next_date++;
}

static void water_days(const struct season_prepared *restrict prepared, struct season_state *restrict state,
                       const struct season_input *restrict input, const struct crop_block *restrict block,
                       int days, struct season_day *restrict out) {
    struct season_state now = *state; /* in registers */
    bool thin = now.density.cover_ratio < 1 || now.density.gap_ratio < 1;
    for (int i = 0; i < days; i++)
        water(prepared, &now, &input[i], block, i, thin, &out[i]);
    *state = now;
}

enum status season_run(const struct season_prepared *prepared, struct season_state *state,
                       const struct season_input *input, int count, struct season_day *out, int *done) {
    *done = 0;
    while (*done < count) {
        struct crop_block block;
        int days = gather(prepared, state, &input[*done], count - *done, &block);
        if (days > 0) {
            grow(prepared, state, days, &block);
            water_days(prepared, state, &input[*done], &block, days, &out[*done]);
        } else {
            enum status status = season_step(prepared, state, &input[*done], &out[*done]);
            if (status != STATUS_OK)
                return status;
            days = 1;
        }
        *done += days;
    }
    return STATUS_OK;
}
