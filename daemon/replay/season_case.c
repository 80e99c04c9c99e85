#include "daemon/replay/season_case.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/morning/planting_run.h"

int32_t season_case_shift(int32_t date, int years) {
    struct calendar_civil civil = calendar_to_civil(date);
    int32_t shifted = CALENDAR_NONE;
    if (years == 0)
        return date;
    if (calendar_from_civil(civil.year + years, civil.month, civil.day, &shifted) != STATUS_OK &&
        civil.month == 2 && civil.day == 29)
        (void)calendar_from_civil(civil.year + years, 2, 28, &shifted);
    return shifted;
}

static struct season_input *add_input(struct season_case *season) {
    if (season->count == season->room) {
        int room = season->room == 0 ? 256 : season->room * 2;
        struct season_input *grown = realloc(season->input, (size_t)room * sizeof *grown);
        if (grown == NULL)
            return NULL;
        season->input = grown;
        season->room = room;
    }
    return &season->input[season->count++];
}

/* The day on which the season is over for sure, so that no more inputs are made than it can use. Only a
 * forage and a crop that counts degree-days leave it open. */
static int32_t end_for_sure(const struct season_setup *setup) {
    const struct crop *crop = &setup->crop;
    if (crop->forage || crop->clock != CLOCK_DAYS)
        return CALENDAR_LAST;
    double days = 2;
    int32_t last = setup->planting_date;
    for (int i = 0; i < CROP_GROWING_STAGES; i++) {
        days += ceil(crop->stage_days[i]);
        if (setup->stage_date[i] != CALENDAR_NONE)
            last = setup->stage_date[i];
    }
    return days < CALENDAR_LAST - last ? last + (int32_t)days : CALENDAR_LAST;
}

/* Water on the given days in place of the records'. */
static void water_on_days(const struct scenario_water *water, const struct season_case *season,
                          struct season_input *input) {
    int32_t from = water->from != CALENDAR_NONE ? water->from : season->setup.planting_date;
    bool within = input->date >= from && (water->to == CALENDAR_NONE || input->date <= water->to);
    bool due = within && water->every_d > 0 && (input->date - from) % water->every_d == 0;
    for (int i = 0; i < water->date_count; i++)
        due = due || water->date[i] == input->date;
    input->irrigation_gross_mm = due ? water->depth_mm : 0;
    input->irrigation_net_mm = due ? application_net_of_gross_mm(&season->field->system, water->depth_mm) : 0;
}

static void fill_input(const struct scenario *scenario, const struct scenario_water *water,
                       const struct station_day *day, struct season_case *season,
                       struct season_input *input) {
    input->et0_mm = day->et0_mm[season->planting->crop.reference];
    input->wind_2m_m_s = day->full.wind_2m_m_s.value;
    input->rh_min_pct = day->full.rh_min_pct;
    input->tmax_c = day->full.tmax_c.value;
    input->tmin_c = day->full.tmin_c.value;
    input->rain_mm = day->full.rain_mm.value;
    struct season_input weather = *input;
    (void)farm_records_apply(&scenario->farm, season->field, input->date, input);
    season->readings += !isnan(input->reading_m3_m3);
    if (!scenario->use_readings) {
        input->reading_m3_m3 = weather.reading_m3_m3;
        input->reading_sd_m3_m3 = weather.reading_sd_m3_m3;
    }
    if (!scenario->use_stages)
        input->observed_cover = weather.observed_cover;
    if (scenario->weather_years != 0)
        input->rain_mm = weather.rain_mm; /* the gauge stood in the rain of its own year */
    if (isnan(input->rain_mm))
        input->rain_mm = 0.0;
    if (!isnan(water->depth_mm) && season->field->system.kind != SYSTEM_NONE)
        water_on_days(water, season, input);
}

static enum status add_days(const struct scenario *scenario, const struct station_days *days, int32_t until,
                            int32_t end, struct season_case *season) {
    const struct scenario_water *water = scenario_water_of(scenario, season->planting->field);
    season->count = 0;
    season->readings = 0;
    season->weather_missing = CALENDAR_NONE;
    season->open = true;
    for (int32_t date = season->setup.first_date; date < end; date++) {
        int32_t from = season_case_shift(date, scenario->weather_years);
        if (from >= until)
            return STATUS_OK;
        const struct station_day *day = station_days_at(days, from);
        if (day == NULL || isnan(day->et0_mm[season->planting->crop.reference])) {
            season->weather_missing = date;
            return STATUS_OK;
        }
        struct season_input *input = add_input(season);
        if (input == NULL)
            return STATUS_NO_MEMORY;
        *input = season_input_empty(date);
        fill_input(scenario, water, day, season, input);
    }
    season->open = false;
    return STATUS_OK;
}

/* A rule that gives water wants a system to give it with; one for all fields of a farm means those that have
 * one. */
static enum status check_system(const struct scenario *scenario, const struct season_case *season,
                                const struct scenario_water *water, bool whole_farm,
                                struct problems *problems) {
    bool gives = water->rule.kind == WATERING_AUTOMATIC || !isnan(water->depth_mm);
    bool for_all = water == &scenario->water[0];
    if (!gives || season->field->system.kind != SYSTEM_NONE || (whole_farm && for_all))
        return STATUS_OK;
    const struct problem_place place = {scenario->name, 0, 0, season->field->name, NULL};
    problem_tell_at(problems, &place, "replay_no_system",
                    "found a field without an irrigation system, expected one to water it with, as "
                    "\"field:{field}.system.kind = solid set; field:{field}.system.flow = 20 m3/h\"",
                    "field", season->field->name, PROBLEM_END);
    return STATUS_REFUSED;
}

static struct watering_supply supply_of(const struct farm *farm, const struct farm_field *field) {
    const struct farm_supply *supply = farm_supply_named(farm, field->supply);
    if (field->supply[0] == '\0' || supply == NULL)
        return watering_supply_unbounded();
    return (struct watering_supply){supply->flow_m3_h, supply->hours_per_day, supply->allotment_m3};
}

bool season_case_draws(const struct season_case *season) {
    return season->field->supply[0] != '\0' && season->rule.kind == WATERING_AUTOMATIC;
}

enum status season_case_make(const struct scenario *scenario, size_t planting,
                             const struct station_days *days, int32_t until, bool whole_farm,
                             struct season_case *out, struct problems *problems) {
    const struct farm *farm = &scenario->farm;
    out->planting = &farm->planting[planting];
    out->field = farm_field_named(farm, out->planting->field);
    const struct farm_soil *soil = out->field != NULL ? farm_soil_named(farm, out->field->soil) : NULL;
    if (soil == NULL)
        return STATUS_NOT_FOUND;
    const struct scenario_water *water = scenario_water_of(scenario, out->planting->field);
    enum status status = check_system(scenario, out, water, whole_farm, problems);
    if (status != STATUS_OK)
        return status;
    out->rule = water->rule;
    if (out->field->system.kind == SYSTEM_NONE && out->rule.kind == WATERING_AUTOMATIC)
        out->rule.kind = WATERING_RECORDED;
    out->supply = supply_of(farm, out->field);
    if (scenario->use_stages)
        status = farm_planting_setup_seen(farm, out->planting, until, &out->setup);
    else
        farm_setup_of(out->planting, out->field, soil, &out->setup);
    if (status != STATUS_OK)
        return status;
    int32_t end = end_for_sure(&out->setup), next = planting_until(farm, planting);
    if (next != CALENDAR_NONE && next < end)
        end = next;
    return add_days(scenario, days, until, end, out);
}

void season_case_free(struct season_case *season) {
    free(season->input);
    memset(season, 0, sizeof *season);
}

enum status season_case_run(const struct season_case *season, const char *name, struct season_day *day,
                            int *days, struct budget *budget, struct watering_denied *denied,
                            struct problems *problems) {
    const struct watering_season run = {.setup = &season->setup,
                                        .input = season->input,
                                        .count = season->count,
                                        .system = &season->field->system,
                                        .rule = &season->rule,
                                        .supply = &season->supply,
                                        .denied = denied};
    int32_t failed;
    char iso[CALENDAR_ISO_SIZE];
    enum status status = watering_run(&run, day, days, budget, &failed);
    if (status == STATUS_OK)
        return STATUS_OK;
    const char *member = "the rule of watering";
    (void)season_setup_check(&season->setup, &member);
    const struct problem_place place = {name, 0, 0, season->field->name, NULL};
    if (failed == CALENDAR_NONE)
        problem_tell_at(problems, &place, "replay_begin",
                        "the season of {crop} cannot begin: {member}, {status}", "crop/crop.",
                        season->planting->crop_name, "member", member, "status/problem.status.",
                        status_name(status), PROBLEM_END);
    else
        problem_tell_at(problems, &place, "replay_day",
                        "the balance of {crop} cannot be kept on {date}: {status}", "crop/crop.",
                        season->planting->crop_name, "date", calendar_format_iso(failed, iso),
                        "status/problem.status.", status_name(status), PROBLEM_END);
    return status;
}
