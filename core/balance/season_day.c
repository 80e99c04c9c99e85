/* One day of the season: what comes in, what the crop and the soil ask for, what they get, and the reading.
 * What a day may be refused for is judged first; from then on nothing fails, and each part writes into the
 * row and the state what it finds. The parts are put into both of the steps at the end: what stays unseen is
 * not reckoned. */
#include <math.h>
#include <stddef.h>

#include "core/balance/crop_inside.h"
#include "core/balance/season.h"

#define COARSE_TEW_MM    15.0 /* TEW of the coarse soils of Annex 7 */
#define ET0_MIN_MM       (-5.0)
#define ET0_MAX_MM       30.0
#define WATER_MAX_MM     2000.0
#define WIND_MAX_M_S     100.0
#define DAY_SD_SHARE     0.10 /* of the water that moved */
#define LARGEST_SD_SHARE 0.25 /* of TAW */

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
    } number[] = {{input->et0_mm, ET0_MIN_MM, ET0_MAX_MM, false},
                  {input->wind_2m_m_s, 0, WIND_MAX_M_S, false},
                  {input->rh_min_pct, 0, 100, false},
                  {input->rain_mm, 0, WATER_MAX_MM, false},
                  {input->irrigation_gross_mm, 0, WATER_MAX_MM, false},
                  {input->irrigation_net_mm, 0, WATER_MAX_MM, false},
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

/* On most days nothing was seen in the field. */
INLINED bool anything_seen(const struct season_input *input) {
    return !isnan(input->observed_cover) || !isnan(input->reading_m3_m3) || input->reading_sd_m3_m3 != 0;
}

INLINED enum status check_input(const struct season_input *input) {
    if (!(input->et0_mm >= ET0_MIN_MM && input->et0_mm <= ET0_MAX_MM && input->wind_2m_m_s >= 0 &&
          input->wind_2m_m_s <= WIND_MAX_M_S && input->rh_min_pct >= 0 && input->rh_min_pct <= 100 &&
          input->rain_mm >= 0 && input->rain_mm <= WATER_MAX_MM && input->irrigation_net_mm >= 0 &&
          input->irrigation_net_mm <= input->irrigation_gross_mm &&
          input->irrigation_gross_mm <= WATER_MAX_MM) ||
        (anything_seen(input) && seen_is_outside(input)))
        return refusal(input);
    return STATUS_OK;
}

/* Whether the state is one that was begun with this setup. */
INLINED enum status check_state(const struct season_prepared *prepared, const struct season_state *state) {
    if (state->root_zone.depletion_mm <= state->taw_mm &&
        state->surface.depletion_mm <= prepared->setup.soil.tew_mm)
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

/* ---- water in ---- */

/* What runs off by the curve number for the wetness of the surface layer. */
INLINED double run_off(const struct season_prepared *prepared, const struct season_input *input,
                       const struct surface *surface, struct season_trace *trace) {
    trace->wetness = trace->curve_number = NAN;
    if (MOSTLY(!(input->rain_mm > 0)) || isnan(prepared->runoff.cn_dry))
        return 0;
    trace->wetness = runoff_wetness_inside(&prepared->runoff, surface->depletion_mm);
    trace->curve_number = runoff_cn_inside(&prepared->runoff, trace->wetness);
    return runoff_inside_mm(input->rain_mm, runoff_retention_inside_mm(trace->curve_number),
                            RUNOFF_ABSTRACTION_RATIO);
}

/* Roots grow; what they have reached they keep. The part of the depletion below them that lies where they
 * grow to today. */
INLINED double reach_new_soil(const struct season_setup *setup, double share_morning,
                              struct season_state *state) {
    const struct soil *soil = &setup->soil;
    double before_m = state->root_m;
    if (!(before_m < setup->crop.root_max_m))
        return 0;
    double root_m = crop_root_inside(&setup->crop, &state->progress.line, share_morning);
    if (!(root_m > before_m))
        return 0;
    double reached_mm = soil_available_inside_mm(soil, before_m, root_m);
    double below_mm = soil_available_inside_mm(soil, before_m, setup->crop.root_max_m);
    state->root_m = root_m;
    state->taw_mm = soil_available_inside_mm(soil, 0, root_m);
    return state->root_zone.below_depletion_mm * lesser_of(reached_mm / below_mm, 1);
}

/* Wetting of the surface layer, and what comes into the root zone. */
INLINED void wet(const struct season_prepared *prepared, const struct season_input *input,
                 struct season_state *state, struct season_day *day, struct season_trace *trace) {
    const struct season_setup *setup = &prepared->setup;
    double runoff_mm = run_off(prepared, input, &state->surface, trace);
    day->runoff_mm = runoff_mm;
    day->depletion_start_mm = state->root_zone.depletion_mm;
    day->excess_start_mm = state->root_zone.excess_mm;
    const struct surface_wetting wetting = {input->rain_mm, input->rain_mm - runoff_mm,
                                            input->irrigation_net_mm, setup->system_wetted_fraction};
    trace->surface_drained_mm = surface_wet(&state->surface, &wetting);
    trace->surface = state->surface;
    trace->inflow = (struct root_zone_inflow){
        .new_soil_mm = reach_new_soil(setup, trace->position.share_morning, state),
        .infiltration_mm = wetting.infiltration_mm,
        .irrigation_mm = input->irrigation_net_mm,
        .capillary_limit_mm =
            SELDOM(prepared->water_rises)
                ? root_zone_capillary_limit_mm(setup->water_table_m, state->root_m, setup->capillary_max_mm)
                : 0};
    trace->wet_depletion_mm =
        root_zone_open_inside(&state->root_zone, &trace->inflow, state->taw_mm, &trace->flow);
    day->capillary_mm = trace->flow.capillary_mm;
    day->new_soil_mm = trace->flow.new_soil_mm;
    day->root_m = state->root_m;
    day->taw_mm = state->taw_mm;
}

/* ---- what is asked for ---- */

/* p, RAW, what the user allows, and Ks. */
INLINED double stress(const struct season_prepared *prepared, enum crop_stage stage, double taw_mm,
                      double etc_mm, struct season_day *day, struct season_trace *trace) {
    const struct crop *crop = &prepared->setup.crop;
    bool growing = crop_growing(stage);
    double p = crop->depletion_fixed || !growing ? crop->depletion_fraction
                                                 : crop_depletion_fraction(crop->depletion_fraction, etc_mm);
    double raw_mm = p * taw_mm;
    double allowed = growing ? crop->allowed_depletion[stage - STAGE_INITIAL] : NAN;
    day->p = p;
    day->raw_mm = raw_mm;
    day->allowed_mm = isnan(allowed) ? raw_mm : allowed * taw_mm;
    trace->ks_water = growing ? root_zone_ks_inside(taw_mm, raw_mm, trace->wet_depletion_mm) : 1;
    trace->ks_salt = growing ? prepared->ks_salt : 1;
    double ks = trace->ks_salt * trace->ks_water;
    day->ks = ks;
    return ks;
}

/* Evaporation and transpiration without and with stress: eqs 80 (dual) and 81 (single). */
INLINED void demand(const struct season_prepared *prepared, const struct season_input *input,
                    const struct crop_day *crop, const struct season_state *state, struct season_day *day,
                    struct season_trace *trace) {
    const struct season_setup *setup = &prepared->setup;
    double et0_mm = greater_of(input->et0_mm, 0);
    const struct surface_demand ask = {.kcb = crop->kcb,
                                       .kc_max = crop->kc_max,
                                       .cover = crop->cover,
                                       .et0_mm = et0_mm,
                                       .rew_mm = setup->soil.rew_mm,
                                       .tew_mm = setup->soil.tew_mm,
                                       .drip_under_canopy = setup->drip_under_canopy};
    const struct surface_evaporation soil = surface_evaporate_inside(&state->surface, &ask);
    double transpiration_mm = crop->kcb * et0_mm, both = crop->kcb + soil.ke;
    bool single = setup->method == COEFFICIENT_SINGLE && crop_growing(crop->stage);
    double etc_mm = single ? crop->kc * et0_mm : soil.evaporation_mm + transpiration_mm;
    double ks = stress(prepared, crop->stage, state->taw_mm, etc_mm, day, trace);
    day->kc = single ? crop->kc : both;
    day->etc_mm = etc_mm;
    day->kr = soil.kr;
    day->ke = soil.ke;
    day->wetted_fraction = state->surface.wetted_fraction;
    day->exposed_wetted_fraction = soil.exposed_fraction;
    trace->soil = soil;
    if (single) {
        double share = both > 0 ? soil.ke / both : 0;
        trace->asked_mm = ks * etc_mm;
        trace->evaporation_mm = lesser_of(share * trace->asked_mm, soil.evaporation_mm);
    } else {
        trace->asked_mm = soil.evaporation_mm + ks * transpiration_mm;
        trace->evaporation_mm = soil.evaporation_mm;
    }
}

/* ---- water out ---- */

/* Part of the transpiration that comes from the surface layer. */
INLINED double surface_transpiration(const struct season_prepared *prepared, const struct season_state *state,
                                     double wet_depletion_mm, double transpiration_mm) {
    if (MOSTLY(!prepared->shallow) || !(transpiration_mm > 0))
        return 0;
    const struct soil *soil = &prepared->setup.soil;
    return transpiration_mm *
           surface_root_share(state->surface.depletion_mm / soil->tew_mm, wet_depletion_mm / state->taw_mm,
                              lesser_of(soil->evaporation_depth_m, state->root_m), state->root_m);
}

/* Takes the day's water out of the root zone and the surface layer, and drains. */
INLINED void dry(const struct season_prepared *prepared, struct season_state *state, struct season_day *day,
                 struct season_trace *trace) {
    const struct season_setup *setup = &prepared->setup;
    double asked_mm = trace->asked_mm;
    root_zone_close_inside(&state->root_zone, asked_mm, state->taw_mm, setup->drainage_days, &trace->flow);
    double eta_mm = trace->flow.eta_mm, unmet_mm = asked_mm - eta_mm;
    /* When the root zone runs dry both get the same share of what they asked for. */
    double met = unmet_mm > 0 ? eta_mm / asked_mm : 1;
    double evaporation_mm = met * trace->evaporation_mm, transpiration_mm = eta_mm - evaporation_mm;
    day->eta_mm = eta_mm;
    day->unmet_mm = unmet_mm;
    day->evaporation_mm = evaporation_mm;
    day->transpiration_mm = transpiration_mm;
    day->percolation_mm = trace->flow.percolation_mm;
    trace->surface_transpiration_mm =
        surface_transpiration(prepared, state, trace->wet_depletion_mm, transpiration_mm);
    surface_dry(&state->surface, evaporation_mm, trace->surface_transpiration_mm,
                trace->soil.exposed_fraction, setup->soil.tew_mm);
}

INLINED double square(double x) {
    return x * x;
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
    double moved_mm = trace->flow.eta_mm + input->rain_mm - day->runoff_mm + input->irrigation_net_mm;
    state->variance_mm2 = lesser_of(state->variance_mm2 + square(DAY_SD_SHARE * moved_mm),
                                    square(LARGEST_SD_SHARE * state->taw_mm));
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

/* What the day brought. */
INLINED void note_day(const struct season_input *input, const struct crop_day *crop, struct season_day *day) {
    day->date = input->date;
    day->stage = crop->stage;
    day->days_in_season = crop->days_in_season;
    day->height_m = crop->height_m;
    day->et0_mm = input->et0_mm;
    day->rain_mm = input->rain_mm;
    day->irrigation_gross_mm = input->irrigation_gross_mm;
    day->irrigation_net_mm = input->irrigation_net_mm;
}

/* What it leaves. */
INLINED void note_evening(const struct season_state *state, struct season_day *day) {
    day->excess_mm = state->root_zone.excess_mm;
    day->depletion_mm = state->root_zone.depletion_mm;
    day->below_depletion_mm = state->root_zone.below_depletion_mm;
    day->surface_depletion_mm = state->surface.depletion_mm;
}

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
    note_day(input, &crop, day);
    wet(prepared, input, state, day, trace);
    cover(setup, input, state, &crop, day, trace);
    demand(prepared, input, &crop, state, day, trace);
    dry(prepared, state, day, trace);
    read(setup, input, state, day, trace);
    note_evening(state, day);
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
