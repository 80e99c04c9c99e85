/* One day of the season: what comes in, what the crop and the soil ask for, what they get, and the reading.
 * What a day may be refused for is judged first; from then on nothing fails, and each part writes into the
 * row and the state what it finds. The parts are put into both of the steps at the end: what stays unseen is
 * not reckoned. */
#include <math.h>
#include <stddef.h>

#include "core/balance/crop_inside.h"
#include "core/balance/season.h"
#include "core/balance/season_inside.h"

#define COARSE_TEW_MM 15.0 /* TEW of the coarse soils of Annex 7 */

/* ---- what a day may be refused for ---- */

static enum status check_number(double value, double low, double high) {
    if (value >= low && value <= high)
        return STATUS_OK;
    return isnan(value) ? STATUS_MISSING : isinf(value) ? STATUS_NOT_FINITE : STATUS_OUT_OF_RANGE;
}

/* Why an input is refused. */
static enum status refusal(const struct season_input *input) {
    const struct {
        double value, low, high;
        bool optional;
    } number[] = {{input->et0_mm, SEASON_ET0_MIN_MM, SEASON_ET0_MAX_MM, false},
                  {input->wind_2m_m_s, 0, SEASON_WIND_MAX_M_S, false},
                  {input->rh_min_pct, 0, 100, false},
                  {input->rain_mm, 0, SEASON_WATER_MAX_MM, false},
                  {input->irrigation_gross_mm, 0, SEASON_WATER_MAX_MM, false},
                  {input->irrigation_net_mm, 0, SEASON_WATER_MAX_MM, false},
                  {input->observed_cover, 0, 1, true},
                  {input->reading_m3_m3, 0, 1, true},
                  {input->reading_sd_m3_m3, 0, 1, true}};
    for (size_t i = 0; i < sizeof number / sizeof number[0]; i++) {
        enum status status = check_number(number[i].value, number[i].low, number[i].high);
        if (status != STATUS_OK && !(status == STATUS_MISSING && number[i].optional))
            return status;
    }
    return STATUS_ORDER; /* net above gross */
}

/* NaN, where it may stand, is in every range that is asked for by what lies outside. */
static bool seen_is_outside(const struct season_input *input) {
    return input->observed_cover < 0 || input->observed_cover > 1 || input->reading_m3_m3 < 0 ||
           input->reading_m3_m3 > 1 || input->reading_sd_m3_m3 < 0 || input->reading_sd_m3_m3 > 1;
}

INLINED enum status check_input(const struct season_input *input) {
    return !season_in_range(input) || (season_anything_seen(input) && seen_is_outside(input)) ? refusal(input)
                                                                                              : STATUS_OK;
}

INLINED enum status check_state(const struct season_prepared *prepared, const struct season_state *state) {
    if (season_state_fits(prepared, state))
        return STATUS_OK;
    return isnan(state->root_zone.depletion_mm + state->surface.depletion_mm) ? STATUS_MISSING
                                                                              : STATUS_OUT_OF_RANGE;
}

/* Where the day stands in the season. */
INLINED enum status advance(const struct season_setup *setup, const struct season_input *input,
                            struct season_state *state, struct crop_position *position) {
    struct crop_progress *progress = &state->progress;
    if (MOSTLY(input->date < progress->stays_until && !input->cutting)) {
        crop_position_by_days(progress, input->date, setup->planting_date, position);
        return STATUS_OK;
    }
    struct crop_position there;
    const struct crop_stage_input stage_input = {input->date,   setup->planting_date, setup->stage_date,
                                                 input->tmax_c, input->tmin_c,        input->cutting};
    enum status status = crop_advance(&setup->crop, &stage_input, progress, &there);
    if (status != STATUS_OK)
        return status;
    *position = there;
    if (!crop_growing(there.stage) || input->cutting)
        state->density = (struct crop_density){1, 1};
    return STATUS_OK;
}

/* ---- the crop ---- */

/* Of bare soil's wetting, where the setup has one. */
static double wetted_kc_ini(const struct season_setup *setup, double et0_mm) {
    double kc_ini = NAN;
    /* All of it lies inside its range. */
    (void)crop_kc_ini(greater_of(et0_mm, 0), setup->wetting_interval_d, setup->wetting_depth_mm,
                      setup->system_wetted_fraction, setup->soil.tew_mm <= COARSE_TEW_MM, &kc_ini);
    return kc_ini;
}

INLINED double kc_ini_of(const struct season_setup *setup, const struct season_input *input,
                         enum crop_stage stage) {
    bool from_wetting = setup->method == COEFFICIENT_SINGLE && !isnan(setup->wetting_interval_d) &&
                        (stage == STAGE_INITIAL || stage == STAGE_DEVELOPMENT);
    return from_wetting ? wetted_kc_ini(setup, input->et0_mm) : setup->crop.kc_ini;
}

static void see(double observed_cover, struct crop_density *density, struct crop_day *crop) {
    if (!isnan(observed_cover))
        *density = crop_density_seen(crop, observed_cover);
    crop_thin(crop, *density);
}

/* What was seen of the cover, today or before. */
INLINED void look(const struct season_input *input, struct crop_density *density, struct crop_day *crop) {
    bool thin = density->cover_ratio < 1 || density->gap_ratio < 1;
    if (MOSTLY(!thin && isnan(input->observed_cover)) || !crop_growing(crop->stage))
        return;
    /* Only what is looked at leaves the registers. */
    struct crop_day looked_at = {.kcb = crop->kcb, .height_m = crop->height_m, .cover = crop->cover};
    see(input->observed_cover, density, &looked_at);
    crop->kcb = looked_at.kcb;
    crop->cover = looked_at.cover;
}

/* The climate's wind and humidity in place of the day's, where the setup has them. */
static double slope_of_climate(const struct season_setup *setup, struct crop_climate *climate) {
    if (!isnan(setup->climate_wind_m_s))
        climate->season_wind_m_s = setup->climate_wind_m_s;
    if (!isnan(setup->climate_rh_min_pct))
        climate->season_rh_min_pct = setup->climate_rh_min_pct;
    return crop_climate_slope(climate->season_wind_m_s, climate->season_rh_min_pct);
}

/* Coefficients and height of the day. */
INLINED struct crop_day grow(const struct season_prepared *prepared, const struct season_input *input,
                             bool single, struct season_state *state, struct season_trace *trace) {
    const struct season_setup *setup = &prepared->setup;
    const struct crop_line *line = &state->progress.line;
    double height_m = crop_height_inside(line, trace->position.share);
    double factor = height_m < setup->crop.height_max_m
                        ? crop_height_factor_inside(&state->height_power, height_m)
                        : prepared->crop.full_height_factor;
    double slope = crop_climate_slope(input->wind_2m_m_s, input->rh_min_pct), season_slope = slope;
    trace->climate =
        (struct crop_climate){input->wind_2m_m_s, input->rh_min_pct, input->wind_2m_m_s, input->rh_min_pct};
    if (SELDOM(!prepared->climate_of_the_day)) {
        struct crop_climate climate = trace->climate;
        season_slope = slope_of_climate(setup, &climate);
        trace->climate = climate;
    }
    trace->kc_ini = single ? kc_ini_of(setup, input, trace->position.stage) : NAN;
    struct crop_day crop;
    crop_coefficients_inside(&setup->crop, &prepared->crop, line, &trace->position, slope, season_slope,
                             factor, trace->kc_ini, single, &crop);
    return crop;
}

/* Its cover, and what was seen of it. */
INLINED void cover(const struct season_setup *setup, const struct season_input *input,
                   struct season_state *state, struct crop_day *crop, struct season_day *day,
                   struct season_trace *trace) {
    crop->cover = crop_growing(crop->stage) ? crop_cover_inside(crop->kcb, crop->kc_max, crop->height_m) : 0;
    if (crop->stage == STAGE_DEVELOPMENT)
        crop_height_ahead(&setup->crop, &state->progress, input->date, &state->height_power);
    trace->expected = *crop;
    look(input, &state->density, crop);
    trace->crop = *crop;
    day->kcb = crop->kcb;
    day->cover = crop->cover;
}

/* Weighs a reading of the soil's water; returns how far it moved the balance. */
static double correct(const struct season_setup *setup, const struct season_input *input,
                      struct season_state *state, struct root_zone_reading *reading) {
    double depth_mm = 1000 * state->root_m, shift_mm = 0;
    reading->depletion_mm =
        soil_field_capacity_to_mm(&setup->soil, state->root_m) - depth_mm * input->reading_m3_m3;
    reading->sd_mm = isnan(input->reading_sd_m3_m3) ? 0 : depth_mm * input->reading_sd_m3_m3;
    /* Nothing of it is without a number or below zero. */
    (void)root_zone_correct(&state->root_zone, reading, state->taw_mm, &state->variance_mm2, &shift_mm);
    return shift_mm;
}

/* How sure the balance is, and a reading. */
INLINED void read(const struct season_setup *setup, const struct season_input *input,
                  struct season_state *state, struct season_day *day, struct season_trace *trace) {
    season_widen(input, day, trace, state);
    trace->read_depletion_mm = state->root_zone.depletion_mm - state->root_zone.excess_mm;
    trace->read_variance_mm2 = state->variance_mm2;
    trace->reading = (struct root_zone_reading){0, 0};
    day->reading_shift_mm = 0;
    if (MOSTLY(isnan(input->reading_m3_m3)))
        return;
    struct season_state read_state = *state;
    struct root_zone_reading reading;
    day->reading_shift_mm = correct(setup, input, &read_state, &reading);
    *state = read_state;
    trace->reading = reading;
}

/* ---- the day ---- */

INLINED enum status step(const struct season_prepared *restrict prepared, struct season_state *restrict state,
                         const struct season_input *restrict input, struct season_day *restrict day,
                         struct season_trace *restrict trace, bool traced) {
    if (SELDOM(!prepared->sound))
        return prepared->status != STATUS_OK ? prepared->status : STATUS_MISSING;
    if (SELDOM(input->date != state->next_date || input->date > CALENDAR_LAST))
        return STATUS_ORDER;
    const struct season_setup *setup = &prepared->setup;
    enum status status = check_input(input);
    if (status == STATUS_OK)
        status = check_state(prepared, state);
    if (status == STATUS_OK)
        status = advance(setup, input, state, &trace->position);
    if (SELDOM(status != STATUS_OK))
        return status;
    struct crop_day crop = grow(prepared, input, traced || setup->method == COEFFICIENT_SINGLE, state, trace);
    /* The cover is a power, which takes longest: what does not wait for it stands before it. */
    season_note_day(input, &crop, day);
    season_wet(prepared, input, state, day, trace);
    cover(setup, input, state, &crop, day, trace);
    bool growing = crop_growing(crop.stage);
    season_demand(prepared, input, &crop, growing, growing && setup->method == COEFFICIENT_SINGLE, state, day,
                  trace);
    season_dry(prepared, state, day, trace);
    read(setup, input, state, day, trace);
    season_note_evening(state, day);
    state->next_date++;
    return STATUS_OK;
}

/* Of a day that somebody looks at: it is made small, not quick. */
__attribute__((cold)) enum status season_step_traced(const struct season_prepared *prepared,
                                                     struct season_state *state,
                                                     const struct season_input *input, struct season_day *out,
                                                     struct season_trace *trace) {
    return step(prepared, state, input, out, trace, true);
}

enum status season_step(const struct season_prepared *prepared, struct season_state *state,
                        const struct season_input *input, struct season_day *out) {
    struct season_trace unseen;
    return step(prepared, state, input, out, &unseen, false);
}
