#include "daemon/view/workings_numbers.h"

#include <math.h>
#include <string.h>

#include "core/balance/runoff.h"
#include "core/weather/air.h"
#include "core/weather/sun.h"

#define PI               3.14159265358979323846
#define RH_MOST_PCT      100.0 /* a little more is drift of the sensor, and counts as this */
#define CLIMATE_ADJUSTED 0.45  /* smaller coefficients are not adjusted: eqs 65, 70 */

/* ---- weather ---- */

static double reported(const struct planting_day *day, enum weather_element element) {
    bool aside = (day->weather.full.set_aside >> element & 1) != 0;
    return aside ? (double)NAN : day->weather.reported.value[element];
}

static void fill_humidity(const struct planting_day *day, struct workings_numbers *n) {
    enum weather_rule rule = day->weather.full.ea_kpa.rule;
    n->rh_max = n->rh_min = n->rh_mean = n->tdew = n->tdry = n->twet = NAN;
    if (rule == WEATHER_RULE_EA_RH_MAX_MIN || rule == WEATHER_RULE_EA_RH_MAX)
        n->rh_max = fmin(reported(day, WEATHER_RH_MAX_PCT), RH_MOST_PCT);
    if (rule == WEATHER_RULE_EA_RH_MAX_MIN)
        n->rh_min = fmin(reported(day, WEATHER_RH_MIN_PCT), RH_MOST_PCT);
    if (rule == WEATHER_RULE_EA_RH_MEAN)
        n->rh_mean = fmin(reported(day, WEATHER_RH_MEAN_PCT), RH_MOST_PCT);
    if (rule == WEATHER_RULE_EA_DEWPOINT)
        n->tdew = reported(day, WEATHER_TDEW_C);
    if (rule == WEATHER_RULE_EA_PSYCHROMETER) {
        n->tdry = reported(day, WEATHER_TDRY_C);
        n->twet = reported(day, WEATHER_TWET_C);
    }
    n->ea = day->weather.full.ea_kpa.value;
    n->choice[CHOICE_EA] = (int)rule;
}

static void fill_weather(const struct planting_day *day, const struct weather_site *site,
                         struct workings_numbers *n) {
    const struct weather_full *full = &day->weather.full;
    n->tmax = full->tmax_c.value;
    n->tmin = full->tmin_c.value;
    n->tmean = full->tmean_c.value;
    n->pressure = full->pressure_kpa.value;
    n->e_tmax = air_saturation_kpa(n->tmax);
    n->e_tmin = air_saturation_kpa(n->tmin);
    fill_humidity(day, n);
    n->aridity = site->aridity_c;
    enum weather_rule wind = full->wind_2m_m_s.rule;
    bool profile = wind == WEATHER_RULE_WIND_LOG_PROFILE || wind == WEATHER_RULE_WIND_LEAST;
    n->wind = profile ? reported(day, WEATHER_WIND_M_S) : (double)NAN;
    n->wind_height = profile ? site->wind_height_m : (double)NAN;
    n->u2 = full->wind_2m_m_s.value;
    n->rh_afternoon = full->rh_min_pct;
    n->choice[CHOICE_PRESSURE] = (int)full->pressure_kpa.rule;
    n->choice[CHOICE_WIND] = (int)wind;
}

static void fill_radiation(const struct planting_day *day, const struct weather_site *site,
                           struct workings_numbers *n) {
    const struct weather_full *full = &day->weather.full;
    struct sun_day sun = {0};
    n->latitude_deg = site->latitude_deg;
    n->latitude_rad = site->latitude_deg * (PI / 180.0);
    n->elevation_m = site->elevation_m;
    n->day_of_year = calendar_day_of_year(full->date);
    (void)sun_of_day(site->latitude_deg, calendar_day_of_year(full->date), &sun);
    n->dr = sun.distance_factor;
    n->declination = sun.declination_rad;
    n->sunset = sun.sunset_angle_rad;
    n->choice[CHOICE_SUN] = sun.kind != SUN_RISES_AND_SETS;
    bool sunshine = full->rs_mj_m2.rule == WEATHER_RULE_RS_SUNSHINE;
    bool temperature = full->rs_mj_m2.rule == WEATHER_RULE_RS_TEMPERATURE;
    n->ra = full->ra_mj_m2;
    n->daylight = sunshine ? full->daylight_h : (double)NAN;
    n->sunshine = sunshine ? reported(day, WEATHER_SUN_H) : (double)NAN;
    n->angstrom_as = sunshine ? site->angstrom_as : (double)NAN;
    n->angstrom_bs = sunshine ? site->angstrom_bs : (double)NAN;
    n->krs = !temperature ? (double)NAN : !isnan(site->krs) ? site->krs : site->coastal ? 0.19 : 0.16;
    n->rso = full->rso_mj_m2;
    n->rs = full->rs_mj_m2.value;
    n->clearness = sun_clearness(n->rs, n->rso);
    n->rns = sun_net_short_mj_m2(n->rs);
    n->rnl = sun_net_long_mj_m2(n->tmax, n->tmin, n->ea, n->clearness);
    n->rn = full->rn_mj_m2;
    n->soil_heat = full->soil_heat_mj_m2;
    n->choice[CHOICE_RS] = (int)full->rs_mj_m2.rule;
}

static void fill_reference(const struct planting_day *day, const struct weather_site *site,
                           struct workings_numbers *n) {
    struct reference_et_terms terms = {0};
    (void)reference_et_day(&day->weather.full, site, day->reference, &terms, &n->et0);
    n->es = terms.es_kpa;
    n->delta = terms.delta_kpa_c;
    n->gamma = terms.gamma_kpa_c;
    n->radiation_mm = terms.radiation_mm;
    n->aerodynamic_mm = terms.aerodynamic_mm;
    bool hours = day->weather.hours > 0;
    n->choice[CHOICE_REFERENCE] = hours ? 2 : day->reference == REFERENCE_ASCE_TALL;
    n->choice[CHOICE_STEP] = hours;
    if (hours)
        n->et0 = day->weather.et0_mm[day->reference];
}

/* ---- crop ---- */

/* A stage's coefficients of the day's climate, by the very function of the balance. */
static struct crop_day crop_in(const struct planting_day *day, enum crop_stage stage, double share) {
    struct crop_position position = day->trace.position;
    struct crop_day crop = {0};
    position.stage = stage;
    position.share = share;
    (void)crop_day_at(&day->setup.crop, &position, &day->trace.climate, day->trace.kc_ini, &crop);
    return crop;
}

static void choose_crop(const struct planting_day *day, struct workings_numbers *n) {
    const struct crop *crop = &day->setup.crop;
    enum crop_stage stage = day->row.day.stage;
    const struct crop_density *density = &day->after.density;
    bool growing = crop_growing(stage), tall = day->reference == REFERENCE_ASCE_TALL;
    bool single = day->setup.method == COEFFICIENT_SINGLE && growing;
    bool mid = stage == STAGE_DEVELOPMENT || stage == STAGE_MID || stage == STAGE_LATE;
    bool late = stage == STAGE_LATE;
    n->choice[CHOICE_GROWING] = growing;
    n->choice[CHOICE_METHOD] = single;
    n->choice[CHOICE_COVER] = !growing ? -1 : density->cover_ratio < 1 ? 1 : density->gap_ratio < 1 ? 2 : 0;
    bool seen = n->choice[CHOICE_COVER] > 0;
    n->choice[CHOICE_KC_MAX] = !growing ? -1 : n->choice[CHOICE_COVER] + (tall ? 3 : 0);
    n->choice[CHOICE_EXPECTED] = seen ? (int)stage : -1;
    n->choice[CHOICE_STAGE] = seen ? -1 : (int)stage;
    n->choice[CHOICE_MID] = !mid ? -1 : !tall && crop->kcb_mid >= CLIMATE_ADJUSTED;
    n->choice[CHOICE_END] = !late ? -1 : !tall && crop->kcb_end >= CLIMATE_ADJUSTED;
    bool season = !isnan(day->setup.climate_wind_m_s) || !isnan(day->setup.climate_rh_min_pct);
    bool adjusts = growing && !tall && (n->choice[CHOICE_MID] == 1 || n->choice[CHOICE_END] == 1 || single);
    n->choice[CHOICE_CLIMATE] = adjusts ? season : -1;
}

static void fill_crop(const struct planting_day *day, struct workings_numbers *n) {
    const struct crop *crop = &day->setup.crop;
    const struct season_trace *trace = &day->trace;
    choose_crop(day, n);
    n->days = day->row.day.days_in_season;
    n->share = trace->position.share;
    n->kcb_ini = crop->kcb_ini;
    n->kcb_mid = crop->kcb_mid;
    n->kcb_end = crop->kcb_end;
    n->kc_ini = trace->kc_ini;
    n->kc_mid = crop->kc_mid;
    n->kc_end = crop->kc_end;
    n->height_ini = trace->position.regrowth ? crop->cut_height_m : crop->height_ini_m;
    n->height_max = crop->height_max_m;
    n->climate_u2 = trace->climate.season_wind_m_s;
    n->climate_rh = trace->climate.season_rh_min_pct;
    n->climate_term = NAN;
    (void)crop_climate_term(n->climate_u2, n->climate_rh, n->height_max, &n->climate_term);
    struct crop_day mid = crop_in(day, STAGE_MID, 0), end = crop_in(day, STAGE_LATE, 1);
    n->kcb_mid_adjusted = mid.kcb;
    n->kcb_end_adjusted = end.kcb;
    n->kc_mid_adjusted = mid.kc;
    n->kc_end_adjusted = end.kc;
    n->kcb_expected = trace->expected.kcb;
    n->cover_ratio = day->after.density.cover_ratio;
    n->gap_ratio = day->after.density.gap_ratio;
    n->kcb = trace->crop.kcb;
    n->height = trace->crop.height_m;
    n->kc_max = trace->crop.kc_max;
    n->cover_expected = trace->expected.cover;
    n->cover = trace->crop.cover;
    n->kc_single = trace->crop.kc;
    n->root = day->row.day.root_m;
}

/* ---- water ---- */

static void fill_surface(const struct planting_day *day, const struct farm_field *field,
                         struct workings_numbers *n) {
    const struct soil *soil = &day->setup.soil;
    const struct season_trace *trace = &day->trace;
    const struct season_day *row = &day->row.day;
    n->rew = soil->rew_mm;
    n->tew = soil->tew_mm;
    n->surface_start = day->before.surface.depletion_mm;
    n->rain = row->rain_mm;
    n->runoff = row->runoff_mm;
    n->choice[CHOICE_RUNOFF] = !isnan(trace->curve_number);
    n->curve_number = soil->curve_number;
    n->wetness = trace->wetness;
    n->cn = trace->curve_number;
    n->cn_dry = runoff_cn_dry(soil->curve_number);
    n->cn_wet = runoff_cn_wet(soil->curve_number);
    n->retention = runoff_retention_mm(trace->curve_number);
    n->gross = row->irrigation_gross_mm;
    n->net = row->irrigation_net_mm;
    n->efficiency = field->system.efficiency;
    n->choice[CHOICE_IRRIGATED] = row->irrigation_net_mm > 0;
    n->fw = row->wetted_fraction;
    n->choice[CHOICE_WETTED] = row->rain_mm > SURFACE_WETTING_RAIN_MM ? 1
                               : row->irrigation_net_mm > 0           ? 2
                                                                      : 0;
    n->choice[CHOICE_DRIP] = day->setup.drip_under_canopy && trace->surface.by_system;
    n->surface_wet = trace->surface.depletion_mm;
    n->kr = row->kr;
    n->few = row->exposed_wetted_fraction;
    n->ke = row->ke;
    bool gauge = (day->records & (1U << RECORD_RAIN)) != 0;
    n->choice[CHOICE_RAIN] = gauge ? 1 : isnan(day->weather.full.rain_mm.value) ? 2 : 0;
}

static void fill_stress(const struct planting_day *day, struct workings_numbers *n) {
    const struct season_setup *setup = &day->setup;
    const struct season_day *row = &day->row.day;
    bool growing = crop_growing(row->stage);
    bool one = setup->soil.layer_count == 1;
    n->kc = row->kc;
    n->etc = row->etc_mm;
    n->choice[CHOICE_LAYERS] = one;
    n->theta_fc = one ? setup->soil.layer[0].field_capacity_m3_m3 : (double)NAN;
    n->theta_wp = one ? setup->soil.layer[0].wilting_point_m3_m3 : (double)NAN;
    n->taw = row->taw_mm;
    n->p_table = setup->crop.depletion_fraction;
    n->p = row->p;
    n->choice[CHOICE_P] = growing && !setup->crop.depletion_fixed;
    n->raw = row->raw_mm;
    n->allowed_share = growing ? setup->crop.allowed_depletion[row->stage - STAGE_INITIAL] : (double)NAN;
    n->choice[CHOICE_ALLOWED] = !isnan(n->allowed_share);
    n->allowed = row->allowed_mm;
    n->dr_start = row->depletion_start_mm;
    n->excess_start = row->excess_start_mm;
    n->new_soil = row->new_soil_mm;
    n->capillary = row->capillary_mm;
    n->dr_wet = day->trace.wet_depletion_mm;
    n->ks_water = day->trace.ks_water;
    n->ks_salt = day->trace.ks_salt;
    n->choice[CHOICE_SALT] = growing && !isnan(setup->ece_ds_m);
    n->choice[CHOICE_KS] = growing && isnan(setup->ece_ds_m);
    n->ks = row->ks;
}

static void fill_balance(const struct planting_day *day, struct workings_numbers *n) {
    const struct season_day *row = &day->row.day;
    const struct season_trace *trace = &day->trace;
    bool read = !isnan(day->input.reading_m3_m3);
    n->unmet = row->unmet_mm;
    n->choice[CHOICE_ETA] = 2 * n->choice[CHOICE_METHOD] + (row->unmet_mm > 0);
    n->eta = row->eta_mm;
    n->evaporation = row->evaporation_mm;
    n->transpiration = row->transpiration_mm;
    n->drainage_days = day->setup.drainage_days;
    n->choice[CHOICE_DRAINAGE] = day->setup.drainage_days > 1;
    n->percolation = row->percolation_mm;
    n->choice[CHOICE_READING] = read;
    n->reading_mm = trace->reading.depletion_mm;
    n->reading_sd = trace->reading.sd_mm;
    n->variance = trace->read_variance_mm2;
    n->gain = root_zone_gain(trace->read_variance_mm2, trace->reading.sd_mm);
    n->shift = row->reading_shift_mm;
    n->excess = row->excess_mm;
    n->depletion = row->depletion_mm;
    n->roots_from_surface = trace->surface_transpiration_mm;
    n->surface_end = row->surface_depletion_mm;
    n->closure = season_closure_mm(row);
}

void workings_numbers_fill(const struct planting_day *day, const struct farm_field *field,
                           const struct farm_station *station, struct workings_numbers *out) {
    struct weather_site site = station->site;
    memset(out, 0, sizeof *out);
    fill_weather(day, &site, out);
    fill_radiation(day, &site, out);
    fill_reference(day, &site, out);
    fill_crop(day, out);
    fill_surface(day, field, out);
    fill_stress(day, out);
    fill_balance(day, out);
}
