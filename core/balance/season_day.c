/* One day of the season: what comes in, what the crop and the soil ask for, what they get, and the reading.
 */
#include <math.h>
#include <stddef.h>

#include "core/balance/runoff.h"
#include "core/balance/salinity.h"
#include "core/balance/season.h"
#include "core/balance/season_inside.h"
#include "core/base/extreme.h"

#define COARSE_TEW_MM    15.0 /* TEW of the coarse soils of Annex 7 */
#define SHALLOW_ROOT_M   0.5  /* up to here eq. 77 counts Tew */
#define ET0_MIN_MM       (-5.0)
#define ET0_MAX_MM       30.0
#define WATER_MAX_MM     2000.0
#define WIND_MAX_M_S     100.0
#define DAY_SD_SHARE     0.10 /* of the water that moved */
#define LARGEST_SD_SHARE 0.25 /* of TAW */

/* The crop of the day. It stands apart from `work`, for other files write into it: what only this file
 * touches stays in the processor's registers. */
struct stand {
    struct crop_progress progress;
    struct crop_density density;
    struct crop_position position;
    struct crop_climate climate;
    double kc_ini;
    struct crop_day expected, crop; /* `expected` is set when thin */
    bool thin;                      /* the stand is another than expected */
};

/* Every part sets its members of `trace` and `day` on every path: nothing is cleared beforehand. What is
 * carried on is a copy until no part has refused. */
struct work {
    const struct season_setup *setup;
    const struct season_input *input;
    const struct crop_day *crop;
    struct surface surface;
    struct root_zone root_zone;
    double root_m, variance_mm2;
    struct season_trace trace; /* all but the stand */
    struct season_day day;     /* what the parts say of it; fill_day() adds what stands elsewhere */
};

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
static enum status check_input(const struct season_input *input) {
    bool good = input->et0_mm >= ET0_MIN_MM && input->et0_mm <= ET0_MAX_MM && input->wind_2m_m_s >= 0 &&
                input->wind_2m_m_s <= WIND_MAX_M_S && input->rh_min_pct >= 0 && input->rh_min_pct <= 100 &&
                input->rain_mm >= 0 && input->rain_mm <= WATER_MAX_MM &&
                input->irrigation_gross_mm <= WATER_MAX_MM && input->irrigation_net_mm >= 0 &&
                input->irrigation_net_mm <= input->irrigation_gross_mm;
    bool outside = input->observed_cover < 0 || input->observed_cover > 1 || input->reading_m3_m3 < 0 ||
                   input->reading_m3_m3 > 1 || input->reading_sd_m3_m3 < 0 || input->reading_sd_m3_m3 > 1;
    return good && !outside ? STATUS_OK : refusal(input);
}

static enum status single_kc_ini(const struct season_setup *setup, const struct season_input *input,
                                 enum crop_stage stage, double *kc_ini) {
    *kc_ini = setup->crop.kc_ini;
    if (setup->method != COEFFICIENT_SINGLE || isnan(setup->wetting_interval_d) ||
        (stage != STAGE_INITIAL && stage != STAGE_DEVELOPMENT))
        return STATUS_OK;
    return crop_kc_ini(fmax(input->et0_mm, 0), setup->wetting_interval_d, setup->wetting_depth_mm,
                       setup->system_wetted_fraction, setup->soil.tew_mm <= COARSE_TEW_MM, kc_ini);
}

/* What was seen of the cover, today or before. */
static void look(const struct season_input *input, struct stand *stand) {
    struct crop_density *density = &stand->density;
    bool growing = crop_growing(stand->position.stage);
    if (input->cutting || !growing)
        *density = (struct crop_density){1, 1};
    if (growing && !isnan(input->observed_cover))
        *density = crop_density_seen(&stand->crop, input->observed_cover);
    stand->thin = growing && (density->cover_ratio < 1 || density->gap_ratio < 1);
    if (stand->thin) {
        stand->expected = stand->crop;
        crop_thin(&stand->crop, *density);
    }
}

/* Stage, coefficients, height and cover of the day. */
static enum status grow(const struct season_setup *setup, const struct season_input *input,
                        const struct season_state *state, struct stand *stand) {
    struct crop_stage_input stage_input = {input->date,   setup->planting_date, setup->stage_date,
                                           input->tmax_c, input->tmin_c,        input->cutting};
    stand->progress = state->progress;
    stand->density = state->density;
    enum status status = crop_advance(&setup->crop, &stage_input, &stand->progress, &stand->position);
    if (status == STATUS_OK)
        status = single_kc_ini(setup, input, stand->position.stage, &stand->kc_ini);
    if (status != STATUS_OK)
        return status;
    stand->climate = (struct crop_climate){
        input->wind_2m_m_s, input->rh_min_pct,
        isnan(setup->climate_wind_m_s) ? input->wind_2m_m_s : setup->climate_wind_m_s,
        isnan(setup->climate_rh_min_pct) ? input->rh_min_pct : setup->climate_rh_min_pct,
        state->full_height_factor};
    status = crop_day_at(&setup->crop, &stand->position, &stand->climate, stand->kc_ini, &stand->crop);
    if (status == STATUS_OK)
        look(input, stand);
    return status;
}

static enum status run_off(const struct season_state *state, struct work *work) {
    const struct soil *soil = &work->setup->soil;
    work->day.runoff_mm = 0;
    work->trace.wetness = work->trace.curve_number = NAN;
    if (isnan(soil->curve_number) || !(work->input->rain_mm > 0))
        return STATUS_OK;
    double runoff_mm = 0;
    work->trace.wetness = runoff_wetness(state->surface.depletion_mm, soil->rew_mm, soil->tew_mm);
    work->trace.curve_number = runoff_cn_for_wetness(soil->curve_number, work->trace.wetness);
    enum status status = runoff_curve_number_mm(work->input->rain_mm, work->trace.curve_number, &runoff_mm);
    work->day.runoff_mm = runoff_mm;
    return status;
}

/* Where the roots are today, and the part of the depletion below them that lies where they grow to. */
static void reach_new_soil(const struct season_state *state, struct work *work) {
    const struct season_setup *setup = work->setup;
    double root_m = work->crop->root_m;
    work->root_m = state->root_m;
    work->trace.inflow.new_soil_mm = 0;
    if (!(root_m > state->root_m))
        return;
    double reached_mm = soil_available_between_mm(&setup->soil, state->root_m, root_m);
    double below_mm = soil_available_between_mm(&setup->soil, state->root_m, setup->crop.root_max_m);
    work->root_m = root_m;
    work->trace.inflow.new_soil_mm =
        state->root_zone.below_depletion_mm * lesser_of(reached_mm / below_mm, 1);
}

/* What runs off, and the ground that the roots have: all that other files reckon comes before what is
 * reckoned here, so that this stays in registers. */
static enum status measure(const struct season_state *state, struct work *work) {
    const struct season_setup *setup = work->setup;
    enum status status = run_off(state, work);
    reach_new_soil(state, work);
    work->day.taw_mm = soil_available_between_mm(&setup->soil, 0, work->root_m);
    work->trace.inflow.capillary_limit_mm =
        isnan(setup->water_table_m)
            ? 0
            : root_zone_capillary_limit_mm(setup->water_table_m, work->root_m, setup->capillary_max_mm);
    work->surface = state->surface;
    work->root_zone = state->root_zone;
    work->variance_mm2 = state->variance_mm2;
    return status;
}

/* Wetting of the surface layer, and what comes into the root zone. */
static enum status wet(struct work *work) {
    const struct season_input *input = work->input;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    day->depletion_start_mm = work->root_zone.depletion_mm;
    day->excess_start_mm = work->root_zone.excess_mm;
    struct surface_wetting wetting = {input->rain_mm, input->rain_mm - day->runoff_mm,
                                      input->irrigation_net_mm, work->setup->system_wetted_fraction};
    trace->surface_drained_mm = surface_wet(&work->surface, &wetting);
    trace->surface = work->surface;
    trace->inflow.infiltration_mm = wetting.infiltration_mm;
    trace->inflow.irrigation_mm = input->irrigation_net_mm;
    return root_zone_open(&work->root_zone, &trace->inflow, day->taw_mm, &trace->flow,
                          &trace->wet_depletion_mm);
}

/* p, RAW, what the user allows, and Ks. */
static enum status stress(struct work *work) {
    const struct crop *crop = &work->setup->crop;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    bool growing = crop_growing(work->crop->stage);
    day->p = crop->depletion_fixed || !growing
                 ? crop->depletion_fraction
                 : crop_depletion_fraction(crop->depletion_fraction, day->etc_mm);
    day->raw_mm = day->p * day->taw_mm;
    day->allowed_mm = day->raw_mm;
    day->ks = trace->ks_water = trace->ks_salt = 1;
    if (!growing)
        return STATUS_OK;
    double allowed = crop->allowed_depletion[work->crop->stage - STAGE_INITIAL];
    if (!isnan(allowed))
        day->allowed_mm = allowed * day->taw_mm;
    trace->ks_water = root_zone_ks(day->taw_mm, day->raw_mm, trace->wet_depletion_mm);
    double ks_salt = 1;
    enum status status = isnan(work->setup->ece_ds_m) ? STATUS_OK : season_salt_stress(work->setup, &ks_salt);
    trace->ks_salt = ks_salt;
    day->ks = ks_salt * trace->ks_water;
    return status;
}

/* Evaporation and transpiration without and with stress: eqs 80 (dual) and 81 (single). */
static enum status demand(struct work *work) {
    const struct season_setup *setup = work->setup;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    const struct crop_day *crop = work->crop;
    double et0_mm = work->input->et0_mm > 0 ? work->input->et0_mm : 0;
    struct surface_demand ask = {.kcb = crop->kcb,
                                 .kc_max = crop->kc_max,
                                 .cover = crop->cover,
                                 .et0_mm = et0_mm,
                                 .rew_mm = setup->soil.rew_mm,
                                 .tew_mm = setup->soil.tew_mm,
                                 .drip_under_canopy = setup->drip_under_canopy};
    enum status status = surface_evaporate(&work->surface, &ask, &trace->soil);
    if (status != STATUS_OK)
        return status;
    bool single = setup->method == COEFFICIENT_SINGLE && crop_growing(crop->stage);
    double evaporation_mm = trace->soil.evaporation_mm, transpiration_mm = crop->kcb * et0_mm;
    day->kc = single ? crop->kc : crop->kcb + trace->soil.ke;
    day->etc_mm = single ? crop->kc * et0_mm : evaporation_mm + transpiration_mm;
    status = stress(work);
    if (single) {
        double both = crop->kcb + trace->soil.ke, share = both > 0 ? trace->soil.ke / both : 0;
        trace->asked_mm = day->ks * day->etc_mm;
        trace->evaporation_mm = fmin(share * trace->asked_mm, evaporation_mm);
    } else {
        trace->evaporation_mm = evaporation_mm;
        trace->asked_mm = evaporation_mm + day->ks * transpiration_mm;
    }
    return status;
}

/* Part of the transpiration that comes from the surface layer. */
static double surface_transpiration(const struct work *work, double transpiration_mm) {
    const struct soil *soil = &work->setup->soil;
    if (work->setup->crop.root_max_m >= SHALLOW_ROOT_M || !(transpiration_mm > 0))
        return 0;
    return transpiration_mm * surface_root_share(work->surface.depletion_mm / soil->tew_mm,
                                                 work->trace.wet_depletion_mm / work->day.taw_mm,
                                                 fmin(soil->evaporation_depth_m, work->root_m), work->root_m);
}

/* Takes the day's water out of the root zone and the surface layer, and drains. */
static enum status dry(struct work *work) {
    const struct season_setup *setup = work->setup;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    enum status status =
        root_zone_close(&work->root_zone, trace->asked_mm, day->taw_mm, setup->drainage_days, &trace->flow);
    if (status != STATUS_OK)
        return status;
    day->eta_mm = trace->flow.eta_mm;
    day->unmet_mm = trace->asked_mm - day->eta_mm;
    /* When the root zone runs dry both get the same share of what they asked for. */
    double met = day->unmet_mm > 0 ? day->eta_mm / trace->asked_mm : 1;
    day->evaporation_mm = met * trace->evaporation_mm;
    day->transpiration_mm = day->eta_mm - day->evaporation_mm;
    trace->surface_transpiration_mm = surface_transpiration(work, day->transpiration_mm);
    surface_dry(&work->surface, day->evaporation_mm, trace->surface_transpiration_mm,
                trace->soil.exposed_fraction, setup->soil.tew_mm);
    return STATUS_OK;
}

static double square(double x) {
    return x * x;
}

/* How sure the balance is, and a reading. */
static enum status read(struct work *work) {
    const struct soil *soil = &work->setup->soil;
    const struct season_input *input = work->input;
    struct season_day *day = &work->day;
    double moved_mm = day->eta_mm + input->rain_mm - day->runoff_mm + input->irrigation_net_mm;
    work->variance_mm2 = lesser_of(work->variance_mm2 + square(DAY_SD_SHARE * moved_mm),
                                   square(LARGEST_SD_SHARE * day->taw_mm));
    work->trace.read_depletion_mm = work->root_zone.depletion_mm - work->root_zone.excess_mm;
    work->trace.read_variance_mm2 = work->variance_mm2;
    work->trace.reading = (struct root_zone_reading){0, 0};
    day->reading_shift_mm = 0;
    if (isnan(input->reading_m3_m3))
        return STATUS_OK;
    double depth_mm = 1000 * work->root_m;
    const struct root_zone_reading reading = {
        .depletion_mm = soil_field_capacity_to_mm(soil, work->root_m) - depth_mm * input->reading_m3_m3,
        .sd_mm = isnan(input->reading_sd_m3_m3) ? 0 : depth_mm * input->reading_sd_m3_m3};
    struct root_zone zone = work->root_zone;
    double variance_mm2 = work->variance_mm2, shift_mm = 0;
    enum status status = root_zone_correct(&zone, &reading, day->taw_mm, &variance_mm2, &shift_mm);
    work->root_zone = zone;
    work->variance_mm2 = variance_mm2;
    work->trace.reading = reading;
    day->reading_shift_mm = shift_mm;
    return status;
}

/* Member by member into its place: a block of this size is slow to copy. */
static void fill_day(const struct work *work, struct season_day *out) {
    const struct season_input *input = work->input;
    const struct season_trace *trace = &work->trace;
    const struct season_day *day = &work->day;
    out->date = input->date;
    out->stage = work->crop->stage;
    out->days_in_season = work->crop->days_in_season;
    out->et0_mm = input->et0_mm;
    out->kc = day->kc;
    out->kcb = work->crop->kcb;
    out->ke = trace->soil.ke;
    out->ks = day->ks;
    out->kr = trace->soil.kr;
    out->etc_mm = day->etc_mm;
    out->eta_mm = day->eta_mm;
    out->evaporation_mm = day->evaporation_mm;
    out->transpiration_mm = day->transpiration_mm;
    out->rain_mm = input->rain_mm;
    out->runoff_mm = day->runoff_mm;
    out->irrigation_gross_mm = input->irrigation_gross_mm;
    out->irrigation_net_mm = input->irrigation_net_mm;
    out->capillary_mm = trace->flow.capillary_mm;
    out->percolation_mm = trace->flow.percolation_mm;
    out->new_soil_mm = trace->flow.new_soil_mm;
    out->reading_shift_mm = day->reading_shift_mm;
    out->unmet_mm = day->unmet_mm;
    out->excess_start_mm = day->excess_start_mm;
    out->excess_mm = work->root_zone.excess_mm;
    out->root_m = work->root_m;
    out->taw_mm = day->taw_mm;
    out->p = day->p;
    out->raw_mm = day->raw_mm;
    out->allowed_mm = day->allowed_mm;
    out->depletion_start_mm = day->depletion_start_mm;
    out->depletion_mm = work->root_zone.depletion_mm;
    out->surface_depletion_mm = work->surface.depletion_mm;
    out->wetted_fraction = work->surface.wetted_fraction;
    out->exposed_wetted_fraction = trace->soil.exposed_fraction;
    out->below_depletion_mm = work->root_zone.below_depletion_mm;
    out->height_m = work->crop->height_m;
    out->cover = work->crop->cover;
}

static void carry_on(const struct work *work, const struct stand *stand, struct season_state *state) {
    state->next_date++;
    state->progress = stand->progress;
    state->density = stand->density;
    state->surface = work->surface;
    state->root_zone = work->root_zone;
    state->root_m = work->root_m;
    state->variance_mm2 = work->variance_mm2;
}

static void fill_trace(const struct work *work, const struct stand *stand, struct season_trace *trace) {
    *trace = work->trace;
    trace->position = stand->position;
    trace->climate = stand->climate;
    trace->kc_ini = stand->kc_ini;
    trace->expected = stand->thin ? stand->expected : stand->crop;
    trace->crop = stand->crop;
}

enum status season_step_traced(const struct season_setup *setup, struct season_state *state,
                               const struct season_input *input, struct season_day *out,
                               struct season_trace *trace) {
    if (input->date != state->next_date || !calendar_valid(input->date))
        return STATUS_ORDER;
    /* The crop's powers take longest, and the processor goes on beside them: so they come first, before the
     * input is judged, and what they make of a wrong one is thrown away. */
    struct stand stand;
    enum status grown = grow(setup, input, state, &stand), status = check_input(input);
    if (status == STATUS_OK)
        status = grown;
    struct work work;
    work.setup = setup;
    work.input = input;
    work.crop = &stand.crop;
    if (status == STATUS_OK)
        status = measure(state, &work);
    if (status == STATUS_OK)
        status = wet(&work);
    if (status == STATUS_OK)
        status = demand(&work);
    if (status == STATUS_OK)
        status = dry(&work);
    if (status == STATUS_OK)
        status = read(&work);
    if (status != STATUS_OK)
        return status;
    carry_on(&work, &stand, state);
    fill_day(&work, out);
    if (trace != NULL)
        fill_trace(&work, &stand, trace);
    return STATUS_OK;
}

enum status season_step(const struct season_setup *setup, struct season_state *state,
                        const struct season_input *input, struct season_day *out) {
    return season_step_traced(setup, state, input, out, NULL);
}
