#include "core/decide/outlook.h"

#include <math.h>
#include <stddef.h>

#include "core/balance/runoff.h"

#define LOST_LEAST_MM 1.0
#define TURN_MAX_MM   2000.0

/* ---- preparing */

static void prepare_constants(const struct season_prepared *prepared, const struct season_state *state,
                              struct outlook_field *field) {
    const struct season_setup *setup = &prepared->setup;
    const struct soil *soil = &setup->soil;
    *field = (struct outlook_field){
        .today = state->next_date,
        .start = {.depletion_mm = state->root_zone.depletion_mm,
                  .excess_mm = state->root_zone.excess_mm,
                  .below_mm = state->root_zone.below_depletion_mm,
                  .surface_mm = state->surface.depletion_mm,
                  .wetted_fraction = state->surface.wetted_fraction,
                  .by_system = state->surface.by_system},
        .p = setup->crop.depletion_fraction,
        .p_fixed = setup->crop.depletion_fixed,
        .drip_under_canopy = setup->drip_under_canopy,
        .shallow = prepared->shallow,
        .rew_mm = soil->rew_mm,
        .tew_mm = soil->tew_mm,
        .evaporation_m = soil->evaporation_depth_m,
        .cn_dry = prepared->runoff.cn_dry,
        .cn_wet = prepared->runoff.cn_wet,
        .system_wetted_fraction = setup->system_wetted_fraction,
        .drainage_days = setup->drainage_days,
    };
}

static void prepare_day(const struct season_prepared *prepared, const struct season_input *input,
                        const struct season_day *walked, double root_before_m, struct outlook_day *day) {
    const struct season_setup *setup = &prepared->setup;
    const struct crop *crop = &setup->crop;
    bool growing = crop_growing(walked->stage);
    double term = 0;
    if (growing)
        (void)crop_climate_term(input->wind_2m_m_s, input->rh_min_pct, walked->height_m, &term);
    *day = (struct outlook_day){
        .stage = walked->stage,
        .growing = growing,
        .single = growing && setup->method == COEFFICIENT_SINGLE,
        .kcb = walked->kcb,
        .kc = walked->kc,
        .kc_max = crop_kc_max(crop->reference, walked->kcb, term),
        .cover = walked->cover,
        .root_m = walked->root_m,
        .taw_mm = walked->taw_mm,
        .capillary_limit_mm =
            root_zone_capillary_limit_mm(setup->water_table_m, walked->root_m, setup->capillary_max_mm),
        .allowed_share = growing ? crop->allowed_depletion[walked->stage - STAGE_INITIAL] : NAN,
        .ks_salt = growing ? prepared->ks_salt : 1,
        .et0_mm = input->et0_mm,
        .rain_mm = input->rain_mm,
        .irrigation_net_mm = input->irrigation_net_mm,
        .etc_mm = walked->etc_mm,
        .reading_shift_mm = walked->reading_shift_mm,
    };
    if (walked->root_m > root_before_m)
        day->reached_share = soil_available_between_mm(&setup->soil, root_before_m, walked->root_m) /
                             soil_available_between_mm(&setup->soil, root_before_m, crop->root_max_m);
}

enum status outlook_field_prepare(const struct season_prepared *prepared, const struct season_state *state,
                                  const struct season_input *inputs, int days, struct outlook_field *out) {
    if (days < 1 || days > OUTLOOK_DAYS_MAX)
        return STATUS_OUT_OF_RANGE;
    struct season_state walking = *state;
    struct outlook_field field;
    prepare_constants(prepared, state, &field);
    for (int i = 0; i < days; i++) {
        struct season_day walked;
        double root_before_m = walking.root_m;
        enum status status = season_step(prepared, &walking, &inputs[i], &walked);
        if (status != STATUS_OK)
            return status;
        if (i == 0)
            field.days_in_season = walked.days_in_season > 0 ? walked.days_in_season - 1 : 0;
        prepare_day(prepared, &inputs[i], &walked, root_before_m, &field.day[i]);
    }
    field.days = days;
    *out = field;
    return STATUS_OK;
}

/* ---- the light step */

/* Runoff by the curve number for the wetness of the surface layer (runoff.h), without its checks. */
static double run_off_mm(const struct outlook_field *field, double surface_mm, double rain_mm) {
    double wet_mm = 0.5 * field->rew_mm, dry_mm = 0.7 * field->rew_mm + 0.3 * field->tew_mm;
    double wetness = surface_mm <= wet_mm  ? 1
                     : surface_mm < dry_mm ? (dry_mm - surface_mm) / (dry_mm - wet_mm)
                                           : 0;
    double cn = field->cn_dry + wetness * (field->cn_wet - field->cn_dry);
    double retention_mm = runoff_retention_mm(cn < field->cn_wet ? cn : field->cn_wet);
    double excess_mm = rain_mm - RUNOFF_ABSTRACTION_RATIO * retention_mm;
    return excess_mm > 0 ? excess_mm * (excess_mm / (excess_mm + retention_mm)) : 0;
}

/* Water in: surface layer and root zone. Returns the depletion that Ks counts with. */
static double water_in(const struct outlook_field *field, const struct outlook_day *day, double rain_mm,
                       double net_mm, struct outlook_state *state, struct outlook_step *out) {
    out->runoff_mm = rain_mm > 0 && !isnan(field->cn_dry) ? run_off_mm(field, state->surface_mm, rain_mm) : 0;
    double in_mm = rain_mm - out->runoff_mm;
    if (rain_mm > SURFACE_WETTING_RAIN_MM) {
        state->wetted_fraction = 1;
        state->by_system = false;
    } else if (net_mm > 0) {
        state->wetted_fraction = field->system_wetted_fraction;
        state->by_system = true;
    }
    double surface_mm = state->surface_mm - in_mm;
    if (net_mm > 0)
        surface_mm -= net_mm / state->wetted_fraction;
    state->surface_mm = surface_mm < 0 ? 0 : surface_mm;

    double room_mm = day->taw_mm - state->depletion_mm;
    double reached_mm = state->below_mm * day->reached_share;
    double new_soil_mm = reached_mm < room_mm ? reached_mm : room_mm;
    double balance_mm = state->depletion_mm - state->excess_mm + new_soil_mm - in_mm - net_mm;
    if (balance_mm > 0)
        balance_mm -= day->capillary_limit_mm < balance_mm ? day->capillary_limit_mm : balance_mm;
    state->below_mm -= new_soil_mm;
    state->depletion_mm = balance_mm > 0 ? (balance_mm < day->taw_mm ? balance_mm : day->taw_mm) : 0;
    state->excess_mm = balance_mm < 0 ? -balance_mm : 0;
    return state->depletion_mm;
}

/* Evaporation as the surface layer lets it through (eqs 71 to 75), and the wetted exposed fraction. */
static double evaporation_mm(const struct outlook_field *field, const struct outlook_day *day,
                             const struct outlook_state *state, double et0_mm, double *ke, double *few) {
    double kr = surface_kr_inside(state->surface_mm, field->rew_mm, field->tew_mm);
    *few = surface_exposed_inside(day->cover, state->wetted_fraction,
                                  field->drip_under_canopy && state->by_system);
    *ke = surface_ke_inside(kr, day->kcb, day->kc_max, *few);
    double asked_mm = *ke * et0_mm, held_mm = *few * (field->tew_mm - state->surface_mm);
    if (asked_mm <= held_mm)
        return asked_mm;
    *ke = held_mm / et0_mm;
    return held_mm;
}

/* RAW, the allowed depletion and Ks. */
static void stress(const struct outlook_field *field, const struct outlook_day *day, double wet_mm,
                   struct outlook_step *out) {
    double p = field->p;
    if (day->growing && !field->p_fixed) {
        p += 0.04 * (5 - out->etc_mm);
        p = p < 0.1 ? 0.1 : p > 0.8 ? 0.8 : p;
    }
    out->raw_mm = p * day->taw_mm;
    out->allowed_mm = isnan(day->allowed_share) ? out->raw_mm : day->allowed_share * day->taw_mm;
    out->ks = 1;
    if (!day->growing)
        return;
    double ks = wet_mm <= out->raw_mm ? 1 : (day->taw_mm - wet_mm) / (day->taw_mm - out->raw_mm);
    out->ks = day->ks_salt * ks;
}

static double from_surface_mm(const struct outlook_field *field, const struct outlook_day *day,
                              const struct outlook_state *state, double wet_mm, double transpiration_mm) {
    if (!field->shallow || !(transpiration_mm > 0))
        return 0;
    double depth_m = field->evaporation_m < day->root_m ? field->evaporation_m : day->root_m;
    return transpiration_mm *
           surface_root_share(state->surface_mm / field->tew_mm, wet_mm / day->taw_mm, depth_m, day->root_m);
}

/* Water out of the root zone and the surface layer; drainage. */
static void water_out(const struct outlook_field *field, const struct outlook_day *day, double evaporation,
                      double transpiration, double tew_share, double few, struct outlook_state *state,
                      struct outlook_step *out) {
    double asked_mm = evaporation + transpiration;
    double balance_mm = state->depletion_mm - state->excess_mm, held_mm = day->taw_mm - balance_mm;
    out->eta_mm = asked_mm < held_mm ? asked_mm : held_mm;
    balance_mm = asked_mm < held_mm ? balance_mm + asked_mm : day->taw_mm;
    state->depletion_mm = balance_mm > 0 ? balance_mm : 0;
    double excess_mm = balance_mm < 0 ? -balance_mm : 0;
    out->percolation_mm = field->drainage_days > 1 ? excess_mm / field->drainage_days : excess_mm;
    state->excess_mm = excess_mm - out->percolation_mm;
    state->below_mm -= out->percolation_mm < state->below_mm ? out->percolation_mm : state->below_mm;
    double met = out->eta_mm < asked_mm ? out->eta_mm / asked_mm : 1;
    double surface_mm = state->surface_mm + (met * evaporation + met * tew_share) / few;
    state->surface_mm = surface_mm > field->tew_mm ? field->tew_mm : surface_mm;
}

void outlook_step(const struct outlook_field *field, int index, double et0_mm, double rain_mm, double net_mm,
                  struct outlook_state *state, struct outlook_step *out) {
    const struct outlook_day *day = &field->day[index];
    double et0 = et0_mm > 0 ? et0_mm : 0, ke, few;
    if (day->rain_known)
        rain_mm = day->rain_mm;
    double wet_mm = water_in(field, day, rain_mm, net_mm + day->irrigation_net_mm, state, out);
    double evaporation = evaporation_mm(field, day, state, et0, &ke, &few), transpiration;
    double kc = day->single ? day->kc : day->kcb + ke;
    out->etc_mm = kc * et0;
    stress(field, day, wet_mm, out);
    if (day->single) {
        double both = day->kcb + ke, eta_mm = out->ks * out->etc_mm;
        double share_mm = both > 0 ? ke / both * eta_mm : 0;
        evaporation = share_mm < evaporation ? share_mm : evaporation;
        transpiration = eta_mm - evaporation;
    } else {
        transpiration = out->ks * day->kcb * et0;
    }
    double tew_mm = from_surface_mm(field, day, state, wet_mm, transpiration);
    water_out(field, day, evaporation, transpiration, tew_mm, few, state, out);
    if (day->reading_shift_mm < 0 || day->reading_shift_mm > 0)
        state->depletion_mm = fmin(fmax(state->depletion_mm + day->reading_shift_mm, 0), day->taw_mm);
}

/* ---- all members */

/* Brings the values below `pivot` (with `equal`: up to it) of those from `low` to `high` to the front; the
 * place behind them. Without a branch that the processor would guess wrong half of the time. */
static int split(double *value, int low, int high, double pivot, bool equal) {
    int end = low;
    for (int i = low; i <= high; i++) {
        double moved = value[i];
        value[i] = value[end];
        value[end] = moved;
        end += (moved < pivot) | (equal & (moved == pivot));
    }
    return end;
}

static double middle_of(double a, double b, double c) {
    return a < b ? (b < c ? b : a < c ? c : a) : (a < c ? a : b < c ? c : b);
}

/* The k-th smallest (from 0) of `count` values, of which those before `low` are the smallest in any order. It
 * moves them about, so that the k smallest come first: quickselect. */
static double select_kth(double *value, int low, int count, int k) {
    int high = count - 1;
    while (low < high) {
        double pivot = middle_of(value[low], value[low + (high - low) / 2], value[high]);
        int below = split(value, low, high, pivot, false);
        if (k < below) {
            high = below - 1;
            continue;
        }
        low = split(value, below, high, pivot, true);
        if (k < low)
            return pivot;
    }
    return value[k];
}

static void quantiles(double *value, int count, double out[OUTLOOK_LINES]) {
    static const double share[OUTLOOK_LINES] = {0.1, 0.5, 0.9};
    int low = 0;
    for (int line = 0; line < OUTLOOK_LINES; line++) {
        int k = (int)(share[line] * (count - 1) + 0.5);
        out[line] = select_kth(value, low, count, k);
        low = k;
    }
}

/* Members that go through the days side by side: a processor reckons what does not wait for each other at the
 * same time. */
#define SIDE_BY_SIDE 8

/* `count` members from `first` on, with a turn of `net_mm` on the first day; what each loses below its roots.
 */
static void run_some(const struct outlook_field *field, const struct outlook_weather *weather, int days,
                     int first, int count, double net_mm, const struct outlook_room *room,
                     double percolation_mm[SIDE_BY_SIDE]) {
    struct outlook_state state[SIDE_BY_SIDE];
    struct outlook_step step;
    for (int i = 0; i < count; i++) {
        state[i] = field->start;
        percolation_mm[i] = 0;
    }
    for (int day = 0; day < days; day++) {
        int at = day * weather->members + first;
        for (int i = 0; i < count; i++) {
            outlook_step(field, day, weather->et0_mm[at + i], weather->rain_mm[at + i], day == 0 ? net_mm : 0,
                         &state[i], &step);
            percolation_mm[i] += step.percolation_mm;
            if (room == NULL)
                continue;
            room->depletion_mm[at + i] = state[i].depletion_mm;
            /* Nothing is dry that does not grow. */
            room->allowed_mm[at + i] = field->day[day].growing ? step.allowed_mm : HUGE_VAL;
        }
    }
}

static int side_by_side(int members, int first) {
    return members - first < SIDE_BY_SIDE ? members - first : SIDE_BY_SIDE;
}

static void count_passes(const struct outlook_field *field, const struct outlook_weather *weather, int days,
                         const struct outlook_room *room, struct outlook *out) {
    int members = weather->members, passed = 0, first[OUTLOOK_DAYS_MAX] = {0};
    double morning_mm = field->start.depletion_mm - field->settled_mm;
    for (int m = 0; m < members; m++) {
        int day = 0;
        if (!(morning_mm >= room->allowed_mm[m]))
            while (day < days &&
                   !(room->depletion_mm[day * members + m] >= room->allowed_mm[day * members + m]))
                day++;
        if (day < days)
            first[day]++;
    }
    for (int day = 0; day < days; day++) {
        passed += first[day];
        out->passes[day] = (double)passed / members;
    }
}

static void find_dates(struct outlook *out, int32_t today) {
    static const double share[OUTLOOK_LINES] = {0.1, 0.5, 0.9};
    for (int line = 0; line < OUTLOOK_LINES; line++) {
        out->dry_date[line] = CALENDAR_NONE;
        for (int day = out->days - 1; day >= 0; day--)
            if (out->passes[day] >= share[line])
                out->dry_date[line] = today + day;
    }
}

static enum status check_turn(double net_mm) {
    if (isnan(net_mm))
        return STATUS_MISSING;
    return net_mm >= 0 && net_mm <= TURN_MAX_MM ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

enum status outlook_add_turn(const struct outlook_field *field, const struct outlook_weather *weather,
                             double turn_net_mm, const struct outlook_room *room, struct outlook *out) {
    int count = 0;
    double all_mm = 0, lost_mm = 0, with_mm[SIDE_BY_SIDE];
    enum status status = check_turn(turn_net_mm);
    if (status != STATUS_OK)
        return status;
    out->turn_net_mm = turn_net_mm;
    if (!(turn_net_mm > 0))
        return STATUS_OK;
    for (int m = 0; m < out->members; m++) {
        double more_mm;
        if (m % SIDE_BY_SIDE == 0)
            run_some(field, weather, out->days, m, side_by_side(out->members, m), turn_net_mm, NULL, with_mm);
        more_mm = with_mm[m % SIDE_BY_SIDE] - room->scratch[m];
        all_mm += more_mm;
        if (more_mm >= LOST_LEAST_MM) {
            lost_mm += more_mm;
            count++;
        }
    }
    out->lost_chance = (double)count / out->members;
    out->lost_mm = count > 0 ? lost_mm / count : 0;
    out->lost_mean_mm = all_mm / out->members;
    return STATUS_OK;
}

enum status outlook_run(const struct outlook_field *field, const struct outlook_weather *weather,
                        double turn_net_mm, struct outlook_room *room, struct outlook *out) {
    int days = weather->days < field->days ? weather->days : field->days;
    enum status status = check_turn(turn_net_mm);
    if (status != STATUS_OK)
        return status;
    if (days < 1 || weather->members < 1)
        return STATUS_OUT_OF_RANGE;
    struct outlook found = {
        .days = days, .members = weather->members, .lost_chance = NAN, .lost_mm = NAN, .lost_mean_mm = NAN};
    for (int m = 0; m < weather->members; m += SIDE_BY_SIDE)
        run_some(field, weather, days, m, side_by_side(weather->members, m), 0, room, &room->scratch[m]);
    count_passes(field, weather, days, room, &found);
    for (int day = 0; day < days; day++) {
        quantiles(&room->depletion_mm[day * weather->members], weather->members, found.depletion_mm[day]);
        found.rain_mean_mm[day] = outlook_weather_mean_rain_mm(weather, day);
    }
    find_dates(&found, field->today);
    status = outlook_add_turn(field, weather, turn_net_mm, room, &found);
    *out = found;
    return status;
}

int outlook_tenths(double chance) {
    if (isnan(chance))
        return -1;
    int tenths = (int)floor(10 * chance + 0.5);
    if (tenths < 1 && chance >= 0.01)
        return 1;
    if (tenths > 9 && chance <= 0.99)
        return 9;
    return tenths < 0 ? 0 : tenths > 10 ? 10 : tenths;
}
