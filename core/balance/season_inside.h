/* One day of the season's water, and what a day may be: what season_day.c and season_run.c share, of inputs
 * that were judged. Nobody else includes this. Each part writes into the row and the state what it finds. */
#ifndef WATERTURN_SEASON_INSIDE_H
#define WATERTURN_SEASON_INSIDE_H

#include <math.h>

#include "core/balance/season.h"
#include "core/base/inlined.h"

#define SEASON_ET0_MIN_MM       (-5.0)
#define SEASON_ET0_MAX_MM       30.0
#define SEASON_WATER_MAX_MM     2000.0
#define SEASON_WIND_MAX_M_S     100.0
#define SEASON_DAY_SD_SHARE     0.10 /* of the water that moved */
#define SEASON_LARGEST_SD_SHARE 0.25 /* of TAW */

/* ---- what a day may be ---- */

/* Whether what every day must have is there, and inside its range. */
INLINED bool season_in_range(const struct season_input *input) {
    return input->et0_mm >= SEASON_ET0_MIN_MM && input->et0_mm <= SEASON_ET0_MAX_MM &&
           input->wind_2m_m_s >= 0 && input->wind_2m_m_s <= SEASON_WIND_MAX_M_S && input->rh_min_pct >= 0 &&
           input->rh_min_pct <= 100 && input->rain_mm >= 0 && input->rain_mm <= SEASON_WATER_MAX_MM &&
           input->irrigation_net_mm >= 0 && input->irrigation_net_mm <= input->irrigation_gross_mm &&
           input->irrigation_gross_mm <= SEASON_WATER_MAX_MM;
}

/* On most days nothing was seen in the field. */
INLINED bool season_anything_seen(const struct season_input *input) {
    return !isnan(input->observed_cover) || !isnan(input->reading_m3_m3) || input->reading_sd_m3_m3 != 0;
}

/* Whether the state is one that was begun with this setup. */
INLINED bool season_state_fits(const struct season_prepared *prepared, const struct season_state *state) {
    return state->root_zone.depletion_mm <= state->taw_mm &&
           state->surface.depletion_mm <= prepared->setup.soil.tew_mm;
}

/* ---- water in ---- */

/* What runs off by the curve number for the wetness of the surface layer. */
INLINED double season_run_off(const struct season_prepared *prepared, const struct season_input *input,
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
INLINED double season_reach_new_soil(const struct season_setup *setup, double share_morning,
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
INLINED void season_wet(const struct season_prepared *prepared, const struct season_input *input,
                        struct season_state *state, struct season_day *day, struct season_trace *trace) {
    const struct season_setup *setup = &prepared->setup;
    double runoff_mm = season_run_off(prepared, input, &state->surface, trace);
    day->runoff_mm = runoff_mm;
    day->depletion_start_mm = state->root_zone.depletion_mm;
    day->excess_start_mm = state->root_zone.excess_mm;
    const struct surface_wetting wetting = {input->rain_mm, input->rain_mm - runoff_mm,
                                            input->irrigation_net_mm, setup->system_wetted_fraction};
    trace->surface_drained_mm = surface_wet(&state->surface, &wetting);
    trace->surface = state->surface;
    trace->inflow = (struct root_zone_inflow){
        .new_soil_mm = season_reach_new_soil(setup, trace->position.share_morning, state),
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

/* p, RAW, what the user allows, and Ks. `growing`: crop_growing() of the stage. */
INLINED double season_stress(const struct season_prepared *prepared, enum crop_stage stage, bool growing,
                             double taw_mm, double etc_mm, struct season_day *day,
                             struct season_trace *trace) {
    const struct crop *crop = &prepared->setup.crop;
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

/* Evaporation and transpiration without and with stress: eqs 80 (dual) and 81 (single). `growing`:
 * crop_growing() of the day's stage; `single`: and the method is the single one. */
INLINED void season_demand(const struct season_prepared *prepared, const struct season_input *input,
                           const struct crop_day *crop, bool growing, bool single,
                           const struct season_state *state, struct season_day *day,
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
    double etc_mm = single ? crop->kc * et0_mm : soil.evaporation_mm + transpiration_mm;
    double ks = season_stress(prepared, crop->stage, growing, state->taw_mm, etc_mm, day, trace);
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
INLINED double season_surface_transpiration(const struct season_prepared *prepared,
                                            const struct season_state *state, double wet_depletion_mm,
                                            double transpiration_mm) {
    if (MOSTLY(!prepared->shallow) || !(transpiration_mm > 0))
        return 0;
    const struct soil *soil = &prepared->setup.soil;
    return transpiration_mm *
           surface_root_share(state->surface.depletion_mm / soil->tew_mm, wet_depletion_mm / state->taw_mm,
                              lesser_of(soil->evaporation_depth_m, state->root_m), state->root_m);
}

/* Takes the day's water out of the root zone and the surface layer, and drains. */
INLINED void season_dry(const struct season_prepared *prepared, struct season_state *state,
                        struct season_day *day, struct season_trace *trace) {
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
        season_surface_transpiration(prepared, state, trace->wet_depletion_mm, transpiration_mm);
    surface_dry(&state->surface, evaporation_mm, trace->surface_transpiration_mm,
                trace->soil.exposed_fraction, setup->soil.tew_mm);
}

INLINED double season_square(double x) {
    return x * x;
}

/* How sure the balance is: each day adds to what is not known, up to a part of TAW. */
INLINED void season_widen(const struct season_input *input, const struct season_day *day,
                          const struct season_trace *trace, struct season_state *state) {
    double moved_mm = trace->flow.eta_mm + input->rain_mm - day->runoff_mm + input->irrigation_net_mm;
    state->variance_mm2 = lesser_of(state->variance_mm2 + season_square(SEASON_DAY_SD_SHARE * moved_mm),
                                    season_square(SEASON_LARGEST_SD_SHARE * state->taw_mm));
}

/* ---- the row ---- */

/* What the day brought. */
INLINED void season_note_day(const struct season_input *input, const struct crop_day *crop,
                             struct season_day *day) {
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
INLINED void season_note_evening(const struct season_state *state, struct season_day *day) {
    day->excess_mm = state->root_zone.excess_mm;
    day->depletion_mm = state->root_zone.depletion_mm;
    day->below_depletion_mm = state->root_zone.below_depletion_mm;
    day->surface_depletion_mm = state->surface.depletion_mm;
}

#endif
