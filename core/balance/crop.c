#include "core/balance/crop.h"

#include <math.h>
#include <stddef.h>

#include "core/balance/crop_inside.h"
#include "core/balance/soil.h"
#include "core/base/calendar.h"
#include "core/base/extreme.h"

#define HEIGHT_MAX_M     10.0 /* range of eqs 62, 65, 70 */
#define WIND_MAX_M_S     100.0
#define ET0_NOTHING_MM   0.001
#define ET0_MAX_MM       30.0
#define KC_INI_LARGEST   1.15 /* Annex 7: Eso = 1.15 ET0 */
#define LIGHT_WETTING_MM 10.0
#define HEAVY_WETTING_MM 40.0

static enum status check_number(double value, double low, double high) {
    if (value >= low && value <= high)
        return STATUS_OK;
    return isnan(value) ? STATUS_MISSING : isinf(value) ? STATUS_NOT_FINITE : STATUS_OUT_OF_RANGE;
}

static enum status at_fault(const char **member, const char *name, enum status status) {
    if (member != NULL)
        *member = name;
    return status;
}

/* ---- the crop's own members ---- */

struct rule {
    const char *name;
    size_t offset;
    int count;
    double low, high;
    bool optional;
};

#define RULE(member, count, low, high, optional)                                                             \
    { #member, offsetof(struct crop, member), count, low, high, optional }

static const struct rule always[] = {
    RULE(stage_days, CROP_GROWING_STAGES, 1, 1000, false),
    RULE(kc_ini, 1, 0, 2, true),
    RULE(kc_mid, 1, 0, 2, false),
    RULE(kc_end, 1, 0, 2, false),
    RULE(kcb_ini, 1, 0, 2, false),
    RULE(kcb_mid, 1, 0, 2, false),
    RULE(kcb_end, 1, 0, 2, false),
    RULE(height_ini_m, 1, 0, HEIGHT_MAX_M, false),
    RULE(height_max_m, 1, 0.01, HEIGHT_MAX_M, false),
    RULE(root_ini_m, 1, 0.05, SOIL_DEPTH_MAX_M, false),
    RULE(root_max_m, 1, 0.05, SOIL_DEPTH_MAX_M, false),
    RULE(depletion_fraction, 1, 0.05, 0.95, false),
    RULE(allowed_depletion, CROP_GROWING_STAGES, 0.01, 1, true),
    RULE(ky_season, 1, 0.1, 3, true),
    RULE(ky_stage, CROP_GROWING_STAGES, 0, 3, true),
    RULE(salt_threshold_ds_m, 1, 0, 100, true),
    RULE(salt_slope_pct, 1, 0.1, 100, true),
};
static const struct rule thermal[] = {
    RULE(stage_degree_days, CROP_GROWING_STAGES, 1, 20000, false),
    RULE(base_c, 1, -20, 40, false),
    RULE(ceiling_c, 1, -20, 60, true),
};
static const struct rule regrowing[] = {
    RULE(cut_stage_days, CROP_GROWING_STAGES, 1, 1000, false),
    RULE(cut_height_m, 1, 0, HEIGHT_MAX_M, false),
};

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static enum status check_rules(const struct crop *crop, const struct rule *rule, size_t rules,
                               const char **member) {
    for (size_t i = 0; i < rules; i++) {
        const double *value = (const double *)(const void *)((const char *)crop + rule[i].offset);
        for (int k = 0; k < rule[i].count; k++) {
            enum status status = check_number(value[k], rule[i].low, rule[i].high);
            if (status != STATUS_OK && !(status == STATUS_MISSING && rule[i].optional))
                return at_fault(member, rule[i].name, status);
        }
    }
    return STATUS_OK;
}

enum status crop_check_member(const struct crop *crop, const char **member) {
    if ((unsigned)crop->reference > REFERENCE_ASCE_TALL)
        return at_fault(member, "reference", STATUS_OUT_OF_RANGE);
    if ((unsigned)crop->clock > CLOCK_DEGREE_DAYS)
        return at_fault(member, "clock", STATUS_OUT_OF_RANGE);
    enum status status = check_rules(crop, always, LENGTH(always), member);
    if (status == STATUS_OK && crop->clock == CLOCK_DEGREE_DAYS)
        status = check_rules(crop, thermal, LENGTH(thermal), member);
    if (status == STATUS_OK && crop->forage)
        status = check_rules(crop, regrowing, LENGTH(regrowing), member);
    if (status != STATUS_OK)
        return status;
    if (crop->height_ini_m > crop->height_max_m)
        return at_fault(member, "height_max_m", STATUS_ORDER);
    if (crop->root_ini_m > crop->root_max_m)
        return at_fault(member, "root_max_m", STATUS_ORDER);
    if (crop->clock == CLOCK_DEGREE_DAYS && crop->ceiling_c <= crop->base_c)
        return at_fault(member, "ceiling_c", STATUS_ORDER);
    if (crop->forage && crop->cut_height_m > crop->height_max_m)
        return at_fault(member, "cut_height_m", STATUS_ORDER);
    return STATUS_OK;
}

enum status crop_check(const struct crop *crop) {
    return crop_check_member(crop, NULL);
}

const char *crop_stage_name(enum crop_stage stage) {
    static const char *const name[STAGE_COUNT] = {"bare",       "initial",     "development",
                                                  "mid-season", "late season", "ended"};
    return (unsigned)stage < STAGE_COUNT ? name[stage] : NULL;
}

enum status crop_degree_days(double tmax_c, double tmin_c, double base_c, double ceiling_c,
                             double *degree_days) {
    double upper_c = isnan(ceiling_c) ? 60 : ceiling_c;
    const double given[] = {tmax_c, tmin_c, base_c, upper_c};
    for (size_t i = 0; i < LENGTH(given); i++) {
        enum status status = check_number(given[i], -90, 60);
        if (status != STATUS_OK)
            return status;
    }
    if (tmin_c > tmax_c || base_c >= upper_c)
        return STATUS_ORDER;
    double warm_c = fmin(fmax(tmax_c, base_c), upper_c), cool_c = fmin(fmax(tmin_c, base_c), upper_c);
    *degree_days = (warm_c + cool_c) / 2 - base_c;
    return STATUS_OK;
}

/* ---- coefficients ---- */

double crop_height_factor(double height_m) {
    return pow(height_m / 3, 0.3);
}

static enum status check_climate(double wind_2m_m_s, double rh_min_pct) {
    enum status status = check_number(wind_2m_m_s, 0, WIND_MAX_M_S);
    return status == STATUS_OK ? check_number(rh_min_pct, 0, 100) : status;
}

enum status crop_climate_term(double wind_2m_m_s, double rh_min_pct, double height_m, double *term) {
    enum status status = check_climate(wind_2m_m_s, rh_min_pct);
    if (status == STATUS_OK)
        status = check_number(height_m, 0, HEIGHT_MAX_M);
    if (status == STATUS_OK)
        *term = crop_climate_slope(wind_2m_m_s, rh_min_pct) * crop_height_factor(height_m);
    return status;
}

double crop_kc_max(enum reference_kind reference, double kcb, double term) {
    return crop_kc_max_inside(kcb,
                              reference == REFERENCE_ASCE_TALL ? CROP_KC_MAX_TALL : CROP_KC_MAX_GRASS + term);
}

double crop_cover(double kcb, double kc_max, double height_m) {
    return isnan(kcb) ? NAN : greater_of(0, crop_cover_inside(kcb, kc_max, height_m));
}

double crop_curve(double ini, double mid, double end, enum crop_stage stage, double share) {
    return crop_curve_inside(ini, mid, end, stage, share);
}

/* TEW and REW of the figures, Annex 7. */
static void figure_water(enum crop_wetting figure, double et0_mm, double *tew_mm, double *rew_mm) {
    double root = sqrt(et0_mm);
    if (figure == WETTING_LIGHT) {
        *tew_mm = 10;
        *rew_mm = fmin(fmax(2.5, 6 / root), 7);
        return;
    }
    bool coarse = figure == WETTING_HEAVY_COARSE;
    *tew_mm = coarse ? fmin(15, 7 * root) : fmin(28, 13 * root);
    *rew_mm = fmin(coarse ? 6 : 9, *tew_mm - 0.01);
}

enum status crop_kc_ini_figure(enum crop_wetting figure, double et0_mm, double interval_d, double *kc_ini) {
    if ((unsigned)figure > WETTING_HEAVY_FINE)
        return STATUS_OUT_OF_RANGE;
    enum status status = check_number(et0_mm, 0, ET0_MAX_MM);
    if (status == STATUS_OK)
        status = check_number(interval_d, 0.1, 365);
    if (status != STATUS_OK)
        return status;
    double tew_mm, rew_mm, eso_mm = KC_INI_LARGEST * et0_mm;
    figure_water(figure, et0_mm, &tew_mm, &rew_mm);
    double t1_d = rew_mm / eso_mm; /* length of stage 1, eq. 7-2 */
    if (et0_mm < ET0_NOTHING_MM || interval_d <= t1_d) {
        *kc_ini = KC_INI_LARGEST;
        return STATUS_OK;
    }
    double rate = eso_mm * (1 + rew_mm / (tew_mm - rew_mm)) / tew_mm;
    double water_mm = tew_mm - (tew_mm - rew_mm) * exp(-(interval_d - t1_d) * rate); /* eq. 7-3 */
    *kc_ini = fmin(water_mm / (interval_d * et0_mm), KC_INI_LARGEST);
    return STATUS_OK;
}

enum status crop_kc_ini(double et0_mm, double interval_d, double depth_mm, double wetted_fraction,
                        bool coarse, double *kc_ini) {
    double light, heavy;
    enum status status = check_number(depth_mm, 0, 500);
    if (status == STATUS_OK)
        status = check_number(wetted_fraction, 0.05, 1);
    if (status == STATUS_OK)
        status = crop_kc_ini_figure(WETTING_LIGHT, et0_mm, interval_d, &light);
    if (status != STATUS_OK)
        return status;
    (void)crop_kc_ini_figure(coarse ? WETTING_HEAVY_COARSE : WETTING_HEAVY_FINE, et0_mm, interval_d, &heavy);
    double wetted_mm = crop_limited(depth_mm / wetted_fraction, LIGHT_WETTING_MM, HEAVY_WETTING_MM);
    double share = (wetted_mm - LIGHT_WETTING_MM) / (HEAVY_WETTING_MM - LIGHT_WETTING_MM);
    *kc_ini = wetted_fraction * (light + share * (heavy - light));
    return STATUS_OK;
}

enum status crop_wetting_interval(double days, double rain_mm, double event_mm, double *interval_d) {
    enum status status = check_number(days, 1, 366);
    if (status == STATUS_OK)
        status = check_number(rain_mm, 0, 5000);
    if (status == STATUS_OK)
        status = check_number(event_mm, 0.1, 500);
    if (status != STATUS_OK)
        return status;
    if (rain_mm < 0.1)
        return STATUS_MISSING;
    *interval_d = days / (rain_mm / event_mm);
    return STATUS_OK;
}

double crop_kcb_of_cover(double kcb, double cover, double height_m) {
    if (!(cover >= 0 && cover <= 1 && height_m >= 0 && height_m <= HEIGHT_MAX_M))
        return NAN;
    if (kcb <= CROP_KC_MIN)
        return kcb;
    double share = fmin(fmin(1, 2 * cover), pow(cover, 1 / (1 + height_m)));
    return CROP_KC_MIN + (kcb - CROP_KC_MIN) * share;
}

double crop_kcb_of_leaf_area(double kcb, double leaf_area) {
    if (!(leaf_area >= 0 && leaf_area <= 20))
        return NAN;
    return kcb <= CROP_KC_MIN ? kcb : CROP_KC_MIN + (kcb - CROP_KC_MIN) * (1 - exp(-0.7 * leaf_area));
}

enum status crop_alfalfa_ratio(double wind_2m_m_s, double rh_min_pct, double *ratio) {
    double term;
    enum status status = crop_climate_term(wind_2m_m_s, rh_min_pct, 0.5, &term);
    if (status == STATUS_OK)
        *ratio = 1.2 + term;
    return status;
}

/* ---- through the season ---- */

struct crop_progress crop_progress_start(void) {
    return (struct crop_progress){.stage = STAGE_BARE,
                                  .cycle_date = CALENDAR_NONE,
                                  .began = CALENDAR_NONE,
                                  .stays_until = CALENDAR_NONE};
}

static void begin_stage(struct crop_progress *progress, enum crop_stage stage, int32_t date,
                        double degree_days) {
    progress->stage = stage;
    progress->began = date;
    progress->began_degree_days = degree_days;
}

static void begin_cycle(struct crop_progress *progress, int32_t date) {
    progress->cycle_date = date;
    progress->degree_days = 0;
    begin_stage(progress, STAGE_INITIAL, date, 0);
}

static bool by_degree_days(const struct crop *crop, const struct crop_progress *progress) {
    return crop->clock == CLOCK_DEGREE_DAYS && progress->cycles == 0;
}

/* Length of the present stage: degree-days, or days. */
static double stage_length(const struct crop *crop, const struct crop_progress *progress) {
    int k = (int)progress->stage - STAGE_INITIAL;
    if (progress->cycles > 0)
        return crop->cut_stage_days[k];
    return by_degree_days(crop, progress) ? crop->stage_degree_days[k] : crop->stage_days[k];
}

/* The observed date on which the present stage closes, or CALENDAR_NONE. */
static int32_t observed_close(const int32_t *stage_date, const struct crop_progress *progress) {
    bool last = progress->stage == STAGE_LATE;
    return last || progress->cycles == 0 ? stage_date[progress->stage - STAGE_INITIAL] : CALENDAR_NONE;
}

/* Observed dates that have come. */
static void follow_dates(const struct crop_stage_input *input, struct crop_progress *progress) {
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        enum crop_stage next = (enum crop_stage)(STAGE_DEVELOPMENT + k);
        if (input->stage_date[k] == CALENDAR_NONE || input->date < input->stage_date[k])
            continue;
        bool counts = progress->cycles == 0 || next == STAGE_ENDED;
        if (counts && progress->stage < next)
            begin_stage(progress, next, input->date, progress->degree_days);
    }
}

/* Stages whose length is over, when no date was observed for their close. */
static void follow_lengths(const struct crop *crop, const struct crop_stage_input *input,
                           struct crop_progress *progress) {
    while (crop_growing(progress->stage) && observed_close(input->stage_date, progress) == CALENDAR_NONE) {
        if (crop->forage && progress->stage == STAGE_LATE)
            return;
        bool thermal_clock = by_degree_days(crop, progress);
        double length = stage_length(crop, progress);
        double gone = thermal_clock ? progress->degree_days - progress->began_degree_days
                                    : (double)(input->date - progress->began);
        if (gone < length)
            return;
        begin_stage(progress, (enum crop_stage)(progress->stage + 1), input->date,
                    thermal_clock ? progress->began_degree_days + length : progress->degree_days);
    }
}

/* Height has no end value: a ripe crop stays as tall as it grew. Roots grow from planting to the start of
 * mid-season, and not again after a cutting. */
static struct crop_line line_of(const struct crop *crop, enum crop_stage stage, bool regrowth) {
    if (!crop_growing(stage))
        return (struct crop_line){.level = true};
    const double *length = crop->clock == CLOCK_DEGREE_DAYS ? crop->stage_degree_days : crop->stage_days;
    double first_m = regrowth ? crop->cut_height_m : crop->height_ini_m, full_m = crop->height_max_m;
    double initial = length[0] / (length[0] + length[1]);
    const double kcb[] = {crop->kcb_ini, crop->kcb_ini, crop->kcb_mid, crop->kcb_mid, crop->kcb_end};
    const double height_m[] = {first_m, first_m, full_m, full_m, full_m};
    const double roots[] = {0, initial, 1, 1, 1};
    /* Where the stage begins and ends: a stage without a slope ends where it began. */
    int to = stage == STAGE_INITIAL ? 1 : stage == STAGE_DEVELOPMENT ? 2 : stage == STAGE_MID ? 3 : 4;
    int from = to - 1;
    bool pulled = crop->reference != REFERENCE_ASCE_TALL && stage != STAGE_INITIAL;
    double full_pull = pulled ? crop_height_factor(full_m) : 0;
    double roots_from = regrowth ? 1 : roots[from], roots_to = regrowth ? 1 : roots[to];
    return (struct crop_line){
        .level = stage == STAGE_INITIAL || stage == STAGE_MID,
        .kcb_from = kcb[from],
        .kcb_to = kcb[to],
        .kcb_from_pull = from >= 2 && kcb[from] >= CROP_ADJUSTED_FROM ? full_pull : 0,
        .kcb_to_pull = to >= 2 && kcb[to] >= CROP_ADJUSTED_FROM ? full_pull : 0,
        .height_from_m = height_m[from],
        .height_to_m = height_m[to],
        .roots_from = roots_from,
        .roots_by = roots_to - roots_from,
    };
}

/* The first observed date after `date`, or the end of time. */
static int32_t next_observed(const int32_t *stage_date, int32_t date) {
    int32_t next = INT32_MAX;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        if (stage_date[k] > date && stage_date[k] < next)
            next = stage_date[k];
    return next;
}

/* How long the present stage goes on for sure. */
static void settle(const struct crop *crop, const struct crop_stage_input *input,
                   struct crop_progress *progress) {
    progress->length_d = 1;
    progress->stays_until = progress->stage == STAGE_BARE ? input->planting_date : INT32_MAX;
    if (!crop_growing(progress->stage))
        return;
    int32_t close = observed_close(input->stage_date, progress);
    bool thermal_clock = by_degree_days(crop, progress), late = progress->stage == STAGE_LATE;
    progress->length_d = stage_length(crop, progress);
    progress->stays_until = next_observed(input->stage_date, input->date);
    if (close != CALENDAR_NONE && !late)
        progress->length_d = close - progress->began;
    if (thermal_clock)
        progress->stays_until = input->date;
    else if (close == CALENDAR_NONE && !(late && crop->forage))
        progress->stays_until =
            (int32_t)lesser_of(progress->stays_until, progress->began + ceil(progress->length_d));
}

static void position_of(const struct crop *crop, const struct crop_stage_input *input,
                        const struct crop_progress *progress, double today_degree_days,
                        struct crop_position *position) {
    crop_position_by_days(progress, input->date, input->planting_date, position);
    if (!crop_growing(progress->stage))
        return;
    bool closed = observed_close(input->stage_date, progress) != CALENDAR_NONE;
    if (by_degree_days(crop, progress) && (!closed || progress->stage == STAGE_LATE))
        crop_share_of_stage(progress->degree_days - progress->began_degree_days, today_degree_days,
                            progress->length_d, position);
}

enum status crop_advance(const struct crop *crop, const struct crop_stage_input *input,
                         struct crop_progress *progress, struct crop_position *position) {
    struct crop_progress now = *progress;
    double today_degree_days = 0;
    if (now.stage == STAGE_BARE && input->date >= input->planting_date)
        begin_cycle(&now, input->date);
    if (now.stage != STAGE_BARE) {
        follow_dates(input, &now);
        follow_lengths(crop, input, &now);
    }
    if (input->cutting) {
        if (!crop->forage || !crop_growing(now.stage))
            return STATUS_ORDER;
        now.cycles++;
        begin_cycle(&now, input->date);
    }
    if (crop_growing(now.stage) && by_degree_days(crop, &now)) {
        enum status status =
            crop_degree_days(input->tmax_c, input->tmin_c, crop->base_c, crop->ceiling_c, &today_degree_days);
        if (status != STATUS_OK)
            return status;
    }
    settle(crop, input, &now);
    if (now.stage != progress->stage || now.cycles != progress->cycles)
        now.line = line_of(crop, now.stage, now.cycles > 0);
    position_of(crop, input, &now, today_degree_days, position);
    now.degree_days += today_degree_days;
    *progress = now;
    return STATUS_OK;
}

struct crop_fixed crop_fix(const struct crop *crop) {
    bool tall = crop->reference == REFERENCE_ASCE_TALL;
    return (struct crop_fixed){.full_height_factor = crop_height_factor(crop->height_max_m),
                               .pull = !tall,
                               .kc_max_least = tall ? CROP_KC_MAX_TALL : CROP_KC_MAX_GRASS};
}

enum status crop_day_at(const struct crop *crop, const struct crop_position *position,
                        const struct crop_climate *climate, double kc_ini, struct crop_day *out) {
    enum status status = check_climate(climate->wind_2m_m_s, climate->rh_min_pct);
    if (status == STATUS_OK)
        status = check_climate(climate->season_wind_m_s, climate->season_rh_min_pct);
    if (status != STATUS_OK)
        return status;
    struct crop_fixed fixed = crop_fix(crop);
    struct crop_line line = line_of(crop, position->stage, position->regrowth);
    double height_m = crop_height_inside(&line, position->share);
    double factor = height_m < crop->height_max_m ? crop_height_factor(height_m) : fixed.full_height_factor;
    crop_coefficients_inside(
        crop, &fixed, &line, position, crop_climate_slope(climate->wind_2m_m_s, climate->rh_min_pct),
        crop_climate_slope(climate->season_wind_m_s, climate->season_rh_min_pct), factor, kc_ini, true, out);
    out->cover = crop_growing(out->stage) ? crop_cover_inside(out->kcb, out->kc_max, out->height_m) : 0;
    return STATUS_OK;
}

void crop_height_ahead(const struct crop *crop, const struct crop_progress *progress, int32_t today,
                       struct crop_height_power *power) {
    if (today + 1 >= progress->stays_until)
        return;
    double share = lesser_of((today - progress->began + 2) / progress->length_d, 1);
    double height_m = crop_height_inside(&progress->line, share);
    if (height_m < crop->height_max_m)
        (void)crop_height_factor_inside(power, height_m);
}

struct crop_density crop_density_seen(const struct crop_day *day, double observed_cover) {
    struct crop_density density = {1, 1};
    if (observed_cover < day->cover)
        density.cover_ratio = observed_cover / day->cover;
    else if (observed_cover > day->cover)
        density.gap_ratio = (1 - observed_cover) / (1 - day->cover);
    return density;
}

void crop_thin(struct crop_day *day, struct crop_density density) {
    if (density.cover_ratio < 1) {
        day->kcb = crop_kcb_of_cover(day->kcb, density.cover_ratio, day->height_m);
        day->cover *= density.cover_ratio;
    } else if (density.gap_ratio < 1) {
        day->cover = fmin(1 - (1 - day->cover) * density.gap_ratio, CROP_COVER_MAX);
    }
}
