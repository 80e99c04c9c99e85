#include "core/balance/season.h"

#include <math.h>
#include <stddef.h>

#include "core/balance/runoff.h"
#include "core/balance/salinity.h"
#include "core/base/extreme.h"

#define COARSE_TEW_MM    15.0 /* TEW of the coarse soils of Annex 7 */
#define SHALLOW_ROOT_M   0.5  /* up to here eq. 77 counts Tew */
#define ET0_MIN_MM       (-5.0)
#define ET0_MAX_MM       30.0
#define WATER_MAX_MM     2000.0
#define START_SD_SHARE   0.10 /* of TAW */
#define DAY_SD_SHARE     0.10 /* of the water that moved */
#define LARGEST_SD_SHARE 0.25 /* of TAW */

static enum status at_fault(const char **member, const char *name, enum status status) {
    if (member != NULL)
        *member = name;
    return status;
}

static enum status check_number(double value, double low, double high) {
    if (value >= low && value <= high)
        return STATUS_OK;
    return isnan(value) ? STATUS_MISSING : isinf(value) ? STATUS_NOT_FINITE : STATUS_OUT_OF_RANGE;
}

struct season_setup season_setup_default(void) {
    return (struct season_setup){
        .method = COEFFICIENT_DUAL,
        .first_date = CALENDAR_NONE,
        .planting_date = CALENDAR_NONE,
        .stage_date = {CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE},
        .system_wetted_fraction = 1,
        .climate_wind_m_s = NAN,
        .climate_rh_min_pct = NAN,
        .water_table_m = NAN,
        .ece_ds_m = NAN,
        .wetting_interval_d = NAN,
        .wetting_depth_mm = NAN,
    };
}

struct season_input season_input_empty(int32_t date) {
    return (struct season_input){.date = date,
                                 .et0_mm = NAN,
                                 .wind_2m_m_s = NAN,
                                 .rh_min_pct = NAN,
                                 .tmax_c = NAN,
                                 .tmin_c = NAN,
                                 .rain_mm = NAN,
                                 .observed_cover = NAN,
                                 .reading_m3_m3 = NAN};
}

/* ---- the setup ---- */

static const struct {
    const char *name;
    size_t offset;
    double low, high;
    bool optional;
} rule[] = {
    {"start_depletion", offsetof(struct season_setup, start_depletion), 0, 1, false},
    {"start_surface", offsetof(struct season_setup, start_surface), 0, 1, false},
    {"system_wetted_fraction", offsetof(struct season_setup, system_wetted_fraction), 0.05, 1, false},
    {"climate_wind_m_s", offsetof(struct season_setup, climate_wind_m_s), 0, 100, true},
    {"climate_rh_min_pct", offsetof(struct season_setup, climate_rh_min_pct), 0, 100, true},
    {"drainage_days", offsetof(struct season_setup, drainage_days), 0, 30, false},
    {"water_table_m", offsetof(struct season_setup, water_table_m), 0, 100, true},
    {"capillary_max_mm", offsetof(struct season_setup, capillary_max_mm), 0, 100, false},
    {"ece_ds_m", offsetof(struct season_setup, ece_ds_m), 0, 100, true},
    {"wetting_interval_d", offsetof(struct season_setup, wetting_interval_d), 0.1, 365, true},
    {"wetting_depth_mm", offsetof(struct season_setup, wetting_depth_mm), 0, 500, true},
};

static enum status check_dates(const struct season_setup *setup, const char **member) {
    if (!calendar_valid(setup->first_date))
        return at_fault(member, "first_date", STATUS_OUT_OF_RANGE);
    if (!calendar_valid(setup->planting_date))
        return at_fault(member, "planting_date", STATUS_OUT_OF_RANGE);
    if (setup->first_date > setup->planting_date)
        return at_fault(member, "first_date", STATUS_ORDER);
    int32_t before = setup->planting_date;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        if (setup->stage_date[k] == CALENDAR_NONE)
            continue;
        if (!calendar_valid(setup->stage_date[k]))
            return at_fault(member, "stage_date", STATUS_OUT_OF_RANGE);
        if (setup->stage_date[k] <= before)
            return at_fault(member, "stage_date", STATUS_ORDER);
        before = setup->stage_date[k];
    }
    return STATUS_OK;
}

static bool from_wetting(const struct season_setup *setup) {
    return !isnan(setup->wetting_interval_d);
}

/* Ks of salt alone, eq. 91. */
static enum status salt_stress(const struct season_setup *setup, double *ks) {
    const struct crop *crop = &setup->crop;
    *ks = 1;
    if (isnan(setup->ece_ds_m))
        return STATUS_OK;
    if (isnan(crop->salt_threshold_ds_m) || isnan(crop->salt_slope_pct))
        return STATUS_MISSING;
    if (setup->method != COEFFICIENT_DUAL)
        return STATUS_ORDER;
    struct salinity_tolerance tolerance = {crop->salt_threshold_ds_m, crop->salt_slope_pct};
    return salinity_stress(&tolerance, isnan(crop->ky_season) ? 1 : crop->ky_season, setup->ece_ds_m, ks);
}

enum status season_setup_check(const struct season_setup *setup, const char **member) {
    if ((unsigned)setup->method > COEFFICIENT_SINGLE)
        return at_fault(member, "method", STATUS_OUT_OF_RANGE);
    enum status status = crop_check_member(&setup->crop, member);
    if (status != STATUS_OK)
        return status;
    status = soil_check(&setup->soil);
    if (status != STATUS_OK)
        return at_fault(member, "soil", status);
    status = check_dates(setup, member);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < sizeof rule / sizeof rule[0]; i++) {
        const char *at = (const char *)setup + rule[i].offset;
        status = check_number(*(const double *)(const void *)at, rule[i].low, rule[i].high);
        if (status != STATUS_OK && !(status == STATUS_MISSING && rule[i].optional))
            return at_fault(member, rule[i].name, status);
    }
    if (isnan(setup->wetting_interval_d) != isnan(setup->wetting_depth_mm))
        return at_fault(member, "wetting_depth_mm", STATUS_MISSING);
    if (setup->method == COEFFICIENT_SINGLE && isnan(setup->crop.kc_ini) && !from_wetting(setup))
        return at_fault(member, "kc_ini", STATUS_MISSING);
    double ks;
    status = salt_stress(setup, &ks);
    return status == STATUS_OK ? STATUS_OK : at_fault(member, "ece_ds_m", status);
}

enum status season_begin(const struct season_setup *setup, struct season_state *state) {
    enum status status = season_setup_check(setup, NULL);
    if (status != STATUS_OK)
        return status;
    const struct soil *soil = &setup->soil;
    double root_m = setup->crop.root_ini_m;
    double taw_mm = soil_available_between_mm(soil, 0, root_m);
    double below_mm = soil_available_between_mm(soil, root_m, setup->crop.root_max_m);
    *state = (struct season_state){
        .next_date = setup->first_date,
        .progress = crop_progress_start(),
        .density = {1, 1},
        .surface = {.depletion_mm = setup->start_surface * soil->tew_mm, .wetted_fraction = 1},
        .root_zone = {.depletion_mm = setup->start_depletion * taw_mm,
                      .below_depletion_mm = setup->start_depletion * below_mm},
        .root_m = root_m,
        .full_height_factor = crop_height_factor(setup->crop.height_max_m),
        .variance_mm2 = START_SD_SHARE * taw_mm * START_SD_SHARE * taw_mm,
    };
    return STATUS_OK;
}

/* ---- one day ---- */

/* Every part sets its members of `trace` and `day` on every path: nothing is cleared beforehand. The state is
 * changed where it stands, and put back when a part refuses. */
struct work {
    const struct season_setup *setup;
    const struct season_input *input;
    struct season_state *state;
    bool thin; /* the stand is another than expected */
    struct season_trace trace;
    struct season_day day; /* what the parts say of it; fill_day() adds what stands elsewhere */
};

static enum status check_optional(double value, double low, double high) {
    return isnan(value) ? STATUS_OK : check_number(value, low, high);
}

static enum status check_input(const struct season_input *input, const struct season_state *state) {
    if (input->date != state->next_date || !calendar_valid(input->date))
        return STATUS_ORDER;
    enum status status = check_number(input->et0_mm, ET0_MIN_MM, ET0_MAX_MM);
    if (status == STATUS_OK)
        status = check_number(input->wind_2m_m_s, 0, 100);
    if (status == STATUS_OK)
        status = check_number(input->rh_min_pct, 0, 100);
    if (status == STATUS_OK)
        status = check_number(input->rain_mm, 0, WATER_MAX_MM);
    if (status == STATUS_OK)
        status = check_number(input->irrigation_gross_mm, 0, WATER_MAX_MM);
    if (status == STATUS_OK)
        status = check_number(input->irrigation_net_mm, 0, WATER_MAX_MM);
    if (status == STATUS_OK)
        status = check_optional(input->observed_cover, 0, 1);
    if (status == STATUS_OK)
        status = check_optional(input->reading_m3_m3, 0, 1);
    if (status == STATUS_OK)
        status = check_optional(input->reading_sd_m3_m3, 0, 1);
    if (status == STATUS_OK && input->irrigation_net_mm > input->irrigation_gross_mm)
        status = STATUS_ORDER;
    return status;
}

static enum status single_kc_ini(const struct work *work, enum crop_stage stage, double *kc_ini) {
    const struct season_setup *setup = work->setup;
    *kc_ini = setup->crop.kc_ini;
    bool used = setup->method == COEFFICIENT_SINGLE && from_wetting(setup);
    if (!used || (stage != STAGE_INITIAL && stage != STAGE_DEVELOPMENT))
        return STATUS_OK;
    return crop_kc_ini(fmax(work->input->et0_mm, 0), setup->wetting_interval_d, setup->wetting_depth_mm,
                       setup->system_wetted_fraction, setup->soil.tew_mm <= COARSE_TEW_MM, kc_ini);
}

/* Stage, coefficients, height and cover of the day. */
static enum status grow(struct work *work) {
    const struct season_setup *setup = work->setup;
    const struct season_input *input = work->input;
    struct crop_stage_input stage_input = {input->date,   setup->planting_date, setup->stage_date,
                                           input->tmax_c, input->tmin_c,        input->cutting};
    struct season_trace *trace = &work->trace;
    enum status status = crop_advance(&setup->crop, &stage_input, &work->state->progress, &trace->position);
    if (status != STATUS_OK)
        return status;
    status = single_kc_ini(work, trace->position.stage, &trace->kc_ini);
    if (status != STATUS_OK)
        return status;
    trace->climate = (struct crop_climate){
        input->wind_2m_m_s, input->rh_min_pct,
        isnan(setup->climate_wind_m_s) ? input->wind_2m_m_s : setup->climate_wind_m_s,
        isnan(setup->climate_rh_min_pct) ? input->rh_min_pct : setup->climate_rh_min_pct,
        work->state->full_height_factor};
    status = crop_day_at(&setup->crop, &trace->position, &trace->climate, trace->kc_ini, &trace->crop);
    if (status != STATUS_OK)
        return status;
    if (input->cutting || !crop_growing(trace->position.stage))
        work->state->density = (struct crop_density){1, 1};
    if (crop_growing(trace->position.stage)) {
        if (!isnan(input->observed_cover))
            work->state->density = crop_density_seen(&trace->crop, input->observed_cover);
        work->thin = work->state->density.cover_ratio < 1 || work->state->density.gap_ratio < 1;
        if (work->thin) {
            trace->expected = trace->crop;
            crop_thin(&trace->crop, work->state->density);
        }
    }
    return STATUS_OK;
}

static enum status run_off(struct work *work, double *runoff_mm) {
    const struct soil *soil = &work->setup->soil;
    *runoff_mm = 0;
    work->trace.wetness = work->trace.curve_number = NAN;
    if (isnan(soil->curve_number) || !(work->input->rain_mm > 0))
        return STATUS_OK;
    work->trace.wetness = runoff_wetness(work->state->surface.depletion_mm, soil->rew_mm, soil->tew_mm);
    work->trace.curve_number = runoff_cn_for_wetness(soil->curve_number, work->trace.wetness);
    return runoff_curve_number_mm(work->input->rain_mm, work->trace.curve_number, runoff_mm);
}

/* The part of the depletion below the roots that lies where they grow to today. */
static double reach_new_soil(struct work *work) {
    const struct season_setup *setup = work->setup;
    struct season_state *state = work->state;
    double root_m = work->trace.crop.root_m;
    if (!(root_m > state->root_m))
        return 0;
    double reached_mm = soil_available_between_mm(&setup->soil, state->root_m, root_m);
    double below_mm = soil_available_between_mm(&setup->soil, state->root_m, setup->crop.root_max_m);
    state->root_m = root_m;
    return state->root_zone.below_depletion_mm * lesser_of(reached_mm / below_mm, 1);
}

/* Runoff, wetting of the surface layer, and what comes into the root zone. */
static enum status wet(struct work *work) {
    const struct season_setup *setup = work->setup;
    const struct season_input *input = work->input;
    struct season_state *state = work->state;
    struct season_day *day = &work->day;
    day->depletion_start_mm = state->root_zone.depletion_mm;
    day->excess_start_mm = state->root_zone.excess_mm;
    enum status status = run_off(work, &day->runoff_mm);
    if (status != STATUS_OK)
        return status;
    struct season_trace *trace = &work->trace;
    struct surface_wetting wetting = {input->rain_mm, input->rain_mm - day->runoff_mm,
                                      input->irrigation_net_mm, setup->system_wetted_fraction};
    trace->surface_drained_mm = surface_wet(&state->surface, &wetting);
    trace->surface = state->surface;
    trace->inflow = (struct root_zone_inflow){.infiltration_mm = wetting.infiltration_mm,
                                              .irrigation_mm = input->irrigation_net_mm};
    trace->inflow.new_soil_mm = reach_new_soil(work);
    trace->inflow.capillary_limit_mm =
        root_zone_capillary_limit_mm(setup->water_table_m, state->root_m, setup->capillary_max_mm);
    day->taw_mm = soil_available_between_mm(&setup->soil, 0, state->root_m);
    return root_zone_open(&state->root_zone, &trace->inflow, day->taw_mm, &trace->flow,
                          &trace->wet_depletion_mm);
}

/* p, RAW, what the user allows, and Ks. */
static enum status stress(struct work *work) {
    const struct crop *crop = &work->setup->crop;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    bool growing = crop_growing(trace->crop.stage);
    day->p = crop->depletion_fixed || !growing
                 ? crop->depletion_fraction
                 : crop_depletion_fraction(crop->depletion_fraction, day->etc_mm);
    day->raw_mm = day->p * day->taw_mm;
    day->allowed_mm = day->raw_mm;
    day->ks = trace->ks_water = trace->ks_salt = 1;
    if (!growing)
        return STATUS_OK;
    double allowed = crop->allowed_depletion[trace->crop.stage - STAGE_INITIAL];
    if (!isnan(allowed))
        day->allowed_mm = allowed * day->taw_mm;
    enum status status = salt_stress(work->setup, &trace->ks_salt);
    trace->ks_water = root_zone_ks(day->taw_mm, day->raw_mm, trace->wet_depletion_mm);
    if (status == STATUS_OK)
        day->ks = trace->ks_salt * trace->ks_water;
    return status;
}

/* Evaporation and transpiration without and with stress: eqs 80 (dual) and 81 (single). */
static enum status demand(struct work *work) {
    const struct season_setup *setup = work->setup;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    const struct crop_day *crop = &trace->crop;
    double et0_mm = work->input->et0_mm > 0 ? work->input->et0_mm : 0;
    struct surface_demand ask = {.kcb = crop->kcb,
                                 .kc_max = crop->kc_max,
                                 .cover = crop->cover,
                                 .et0_mm = et0_mm,
                                 .rew_mm = setup->soil.rew_mm,
                                 .tew_mm = setup->soil.tew_mm,
                                 .drip_under_canopy = setup->drip_under_canopy};
    enum status status = surface_evaporate(&work->state->surface, &ask, &trace->soil);
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
    return transpiration_mm * surface_root_share(work->state->surface.depletion_mm / soil->tew_mm,
                                                 work->trace.wet_depletion_mm / work->day.taw_mm,
                                                 fmin(soil->evaporation_depth_m, work->state->root_m),
                                                 work->state->root_m);
}

/* Takes the day's water out of the root zone and the surface layer, and drains. */
static enum status dry(struct work *work) {
    const struct season_setup *setup = work->setup;
    struct season_state *state = work->state;
    struct season_day *day = &work->day;
    struct season_trace *trace = &work->trace;
    enum status status =
        root_zone_close(&state->root_zone, trace->asked_mm, day->taw_mm, setup->drainage_days, &trace->flow);
    if (status != STATUS_OK)
        return status;
    day->eta_mm = trace->flow.eta_mm;
    day->unmet_mm = trace->asked_mm - day->eta_mm;
    /* When the root zone runs dry both get the same share of what they asked for. */
    double met = day->unmet_mm > 0 ? day->eta_mm / trace->asked_mm : 1;
    day->evaporation_mm = met * trace->evaporation_mm;
    day->transpiration_mm = day->eta_mm - day->evaporation_mm;
    trace->surface_transpiration_mm = surface_transpiration(work, day->transpiration_mm);
    surface_dry(&state->surface, day->evaporation_mm, trace->surface_transpiration_mm,
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
    struct season_state *state = work->state;
    struct season_day *day = &work->day;
    double moved_mm = day->eta_mm + input->rain_mm - day->runoff_mm + input->irrigation_net_mm;
    state->variance_mm2 = lesser_of(state->variance_mm2 + square(DAY_SD_SHARE * moved_mm),
                                    square(LARGEST_SD_SHARE * day->taw_mm));
    work->trace.read_depletion_mm = state->root_zone.depletion_mm - state->root_zone.excess_mm;
    work->trace.read_variance_mm2 = state->variance_mm2;
    work->trace.reading = (struct root_zone_reading){0, 0};
    day->reading_shift_mm = 0;
    if (isnan(input->reading_m3_m3))
        return STATUS_OK;
    double depth_mm = 1000 * state->root_m;
    work->trace.reading = (struct root_zone_reading){
        .depletion_mm = soil_field_capacity_to_mm(soil, state->root_m) - depth_mm * input->reading_m3_m3,
        .sd_mm = isnan(input->reading_sd_m3_m3) ? 0 : depth_mm * input->reading_sd_m3_m3};
    return root_zone_correct(&state->root_zone, &work->trace.reading, day->taw_mm, &state->variance_mm2,
                             &day->reading_shift_mm);
}

/* Member by member into its place: a block of this size is slow to copy. */
static void fill_day(const struct work *work, struct season_day *out) {
    const struct season_input *input = work->input;
    const struct season_state *state = work->state;
    const struct season_trace *trace = &work->trace;
    const struct season_day *day = &work->day;
    out->date = input->date;
    out->stage = trace->crop.stage;
    out->days_in_season = trace->crop.days_in_season;
    out->et0_mm = input->et0_mm;
    out->kc = day->kc;
    out->kcb = trace->crop.kcb;
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
    out->excess_mm = state->root_zone.excess_mm;
    out->root_m = state->root_m;
    out->taw_mm = day->taw_mm;
    out->p = day->p;
    out->raw_mm = day->raw_mm;
    out->allowed_mm = day->allowed_mm;
    out->depletion_start_mm = day->depletion_start_mm;
    out->depletion_mm = state->root_zone.depletion_mm;
    out->surface_depletion_mm = state->surface.depletion_mm;
    out->wetted_fraction = state->surface.wetted_fraction;
    out->exposed_wetted_fraction = trace->soil.exposed_fraction;
    out->below_depletion_mm = state->root_zone.below_depletion_mm;
    out->height_m = trace->crop.height_m;
    out->cover = trace->crop.cover;
}

enum status season_step_traced(const struct season_setup *setup, struct season_state *state,
                               const struct season_input *input, struct season_day *out,
                               struct season_trace *trace) {
    static enum status (*const part[])(struct work *) = {grow, wet, demand, dry, read};
    enum status status = check_input(input, state);
    if (status != STATUS_OK)
        return status;
    struct work work;
    work.setup = setup;
    work.input = input;
    work.state = state;
    work.thin = false;
    const struct season_state morning = *state;
    for (size_t i = 0; i < sizeof part / sizeof part[0]; i++) {
        status = part[i](&work);
        if (status != STATUS_OK) {
            *state = morning;
            return status;
        }
    }
    state->next_date++;
    fill_day(&work, out);
    if (trace != NULL) {
        *trace = work.trace;
        if (!work.thin)
            trace->expected = trace->crop;
    }
    return STATUS_OK;
}

enum status season_step(const struct season_setup *setup, struct season_state *state,
                        const struct season_input *input, struct season_day *out) {
    return season_step_traced(setup, state, input, out, NULL);
}
