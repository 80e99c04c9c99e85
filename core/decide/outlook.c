#include "core/decide/outlook.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "core/balance/runoff.h"
#include "core/decide/outlook_lanes.h"
#include "core/decide/outlook_lines.h"

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

enum status outlook_field_of_path(const struct season_prepared *prepared, const struct season_state *state,
                                  const struct season_input *inputs, const struct season_day *path, int days,
                                  struct outlook_field *out) {
    if (days < 1 || days > OUTLOOK_DAYS_MAX)
        return STATUS_OUT_OF_RANGE;
    prepare_constants(prepared, state, out);
    out->days_in_season = path[0].days_in_season > 0 ? path[0].days_in_season - 1 : 0;
    for (int i = 0; i < days; i++)
        prepare_day(prepared, &inputs[i], &path[i], i > 0 ? path[i - 1].root_m : state->root_m, &out->day[i]);
    out->days = days;
    return STATUS_OK;
}

enum status outlook_field_prepare(const struct season_prepared *prepared, const struct season_state *state,
                                  const struct season_input *inputs, int days, struct outlook_field *out) {
    struct season_state walking = *state;
    struct season_day path[OUTLOOK_DAYS_MAX];
    int done;
    if (days > OUTLOOK_DAYS_MAX)
        return STATUS_OUT_OF_RANGE;
    enum status status = season_run(prepared, &walking, inputs, days, path, &done);
    if (status != STATUS_OK)
        return status;
    return outlook_field_of_path(prepared, state, inputs, path, days, out);
}

/* ---- all members */

/* OUTLOOK_LANES members at most from `first` on. `passed`: so many were dry by the evening of each day, of
 * which `room` then has the depletions, and what each lost below its roots in all. */
static void run_block(const struct outlook_field *field, const struct outlook_weather *weather, int days,
                      const struct light *lights, int first, const struct outlook_room *room,
                      int passed[OUTLOOK_DAYS_MAX]) {
    struct outlook_lanes lanes;
    struct outlook_lanes_room lanes_room;
    int left = weather->members - first, count = left < OUTLOOK_LANES ? left : OUTLOOK_LANES;
    size_t size = (size_t)count * sizeof(double);
    outlook_lanes_begin(field, &lanes);
    for (int day = 0; day < days; day++) {
        int dry = outlook_lanes_step(&lights[day], outlook_lanes_weather_of(weather, day, first, &lanes_room),
                                     &lanes);
        memcpy(&room->depletion_mm[day * weather->members + first], lanes.evening->depletion_mm, size);
        bool last_dry = lanes.evening->dry[OUTLOOK_LANES - 1] > 0;
        passed[day] += dry - (last_dry ? OUTLOOK_LANES - count : 0);
    }
    memcpy(&room->scratch[first], lanes.evening->percolated_mm, size);
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

enum status outlook_run(const struct outlook_field *field, const struct outlook_weather *weather,
                        double turn_net_mm, struct outlook_room *room, struct outlook *out) {
    int days = weather->days < field->days ? weather->days : field->days;
    enum status status = outlook_turn_check(turn_net_mm);
    if (status != STATUS_OK)
        return status;
    if (days < 1 || weather->members < 1 || weather->members > OUTLOOK_MEMBERS_MAX)
        return STATUS_OUT_OF_RANGE;
    struct outlook found = {
        .days = days, .members = weather->members, .lost_chance = NAN, .lost_mm = NAN, .lost_mean_mm = NAN};
    struct light lights[OUTLOOK_DAYS_MAX];
    int passed[OUTLOOK_DAYS_MAX] = {0};
    light_days(field, days, 0, lights);
    for (int m = 0; m < weather->members; m += OUTLOOK_LANES)
        run_block(field, weather, days, lights, m, room, passed);
    for (int day = 0; day < days; day++) {
        found.passes[day] = (double)passed[day] / weather->members;
        outlook_lines(&room->depletion_mm[day * weather->members], weather->members,
                      room->scratch + weather->members, found.depletion_mm[day]);
        found.rain_mean_mm[day] = weather->rain_mean_mm[day];
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
