#include "core/balance/season.h"

#include <math.h>
#include <stddef.h>

#include "core/balance/salinity.h"

#define START_SD_SHARE 0.10 /* of TAW */
#define SHALLOW_ROOT_M 0.5  /* up to here eq. 77 counts Tew */

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

/* Ks of salt alone, eq. 91; 1 when salinity is not considered. STATUS_* as season_setup_check(). */
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

enum status season_prepare(const struct season_setup *setup, struct season_prepared *prepared) {
    enum status status = season_setup_check(setup, NULL);
    if (status != STATUS_OK) {
        *prepared = (struct season_prepared){.sound = false, .status = status};
        return status;
    }
    const struct soil *soil = &setup->soil;
    *prepared = (struct season_prepared){
        .sound = true,
        .setup = *setup,
        .crop = crop_fix(&setup->crop),
        .runoff = runoff_surface_of(soil->curve_number, soil->rew_mm, soil->tew_mm),
        .climate_of_the_day = isnan(setup->climate_wind_m_s) && isnan(setup->climate_rh_min_pct),
        .water_rises = !isnan(setup->water_table_m),
        .shallow = setup->crop.root_max_m < SHALLOW_ROOT_M,
    };
    return salt_stress(setup, &prepared->ks_salt);
}

enum status season_begin(const struct season_prepared *prepared, struct season_state *state) {
    if (!prepared->sound)
        return prepared->status != STATUS_OK ? prepared->status : STATUS_MISSING;
    const struct season_setup *setup = &prepared->setup;
    double root_m = setup->crop.root_ini_m;
    double taw_mm = soil_available_between_mm(&setup->soil, 0, root_m);
    double below_mm = soil_available_between_mm(&setup->soil, root_m, setup->crop.root_max_m);
    *state = (struct season_state){
        .next_date = setup->first_date,
        .progress = crop_progress_start(),
        .height_power = {setup->crop.height_max_m, prepared->crop.full_height_factor},
        .density = {1, 1},
        .surface = {.depletion_mm = setup->start_surface * setup->soil.tew_mm, .wetted_fraction = 1},
        .root_zone = {.depletion_mm = setup->start_depletion * taw_mm,
                      .below_depletion_mm = setup->start_depletion * below_mm},
        .root_m = root_m,
        .taw_mm = taw_mm,
        .variance_mm2 = START_SD_SHARE * taw_mm * START_SD_SHARE * taw_mm,
    };
    return STATUS_OK;
}
