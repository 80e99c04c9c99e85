#include "support/sample_mornings.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"

struct sample {
    const char *field, *supply, *crop, *trial, *treatment;
    enum call_kind kind;
    enum call_reason reason;
    int start_in, dry_in; /* days from today; below 0: none */
    double share;         /* of the allowed depletion, this morning; NaN */
    double net_mm, gross_mm, hours, days, rain_mm;
    double et_mm;
};

static const struct sample samples[SAMPLE_FIELDS] = {
    {"Hold & wait", "Well 2", "Alfalfa", "", "", CALL_HOLD, CALL_REASON_ENOUGH, -1, -1, 0.18, 0, 0, 0, 0, 3,
     2.5},
    {"North bottom", "Well 2", "Maize", "", "", CALL_WATER_TODAY, CALL_REASON_PAST_ALLOWED, 0, 0, 1.12, 32,
     37.6, 9.6, 0.4, 0, 6},
    {"Río Alto, parcela número catorce, junto al canal viejo", "Canal", "Cotton", "Deficit 2026",
     "three quarters of full", CALL_WATER_BY, CALL_REASON_PASSES_LATER, 3, 4, 0.71, 55, 78.6, 44.2, 2.2, 4,
     6.5},
    {"<script>alert('x')</script>", "Canal", "Onion", "", "", CALL_CANNOT_SAY, CALL_REASON_RAIN_MISSING, -1,
     -1, NAN, 0, 0, NAN, NAN, NAN, 4},
    {"\"><img src=x onerror=alert(1)> {{name}} &amp;", "Well 2", "Potato", "", "", CALL_RAIN_MAY_COVER,
     CALL_REASON_RAIN_EXPECTED, 2, 3, 0.78, 18, 21.2, 2.18, 0.1, 14, 5},
    {"=1+1/slash", "Ditch", "Bean", "", "", CALL_WATER_TODAY, CALL_REASON_PASSES_TODAY, 0, 0, 0.93, 41, 63,
     NAN, NAN, 0.4, 5},
    {"Hill", "", "Winter wheat", "Deficit 2026", "rainfed", CALL_HOLD, CALL_REASON_RAINFED, -1, -1, 1.3, 0, 0,
     NAN, NAN, 3, 5},
    {"Fallow 3", "", "", "", "", CALL_HOLD, CALL_REASON_NOT_GROWING, -1, -1, NAN, 0, 0, NAN, NAN, NAN, 1},
};

int32_t sample_today(void) {
    int32_t today = CALENDAR_NONE;
    (void)calendar_parse_iso("2026-06-05", &today);
    return today;
}

struct farm_facts sample_facts(void) {
    struct farm_facts facts = {
        .today = sample_today(), .last_run = sample_today(), .last_run_minute = 5 * 60 + 40};
    snprintf(facts.farm_name, sizeof facts.farm_name, "Three <Wells> Farm");
    facts.problem_count = 1;
    snprintf(facts.problem[0].source, sizeof facts.problem[0].source, "Valley station");
    snprintf(facts.problem[0].message, sizeof facts.problem[0].message, "no answer since <yesterday>");
    return facts;
}

static void add_terms(struct season_day *day, double et_mm, int salt) {
    int turn = day->date + salt;
    day->stage = STAGE_MID;
    day->et0_mm = et_mm;
    day->kc = day->kcb = 1.1;
    day->ke = 0.05;
    day->ks = 1;
    day->etc_mm = day->eta_mm = et_mm;
    day->transpiration_mm = et_mm * 0.875;
    day->evaporation_mm = et_mm * 0.125;
    day->rain_mm = turn % 5 == 0 ? 3 + turn % 7 * 2 : 0;
    day->runoff_mm = day->rain_mm / 8;
    day->irrigation_net_mm = turn % 9 == 0 ? 30 : 0;
    day->irrigation_gross_mm = day->irrigation_net_mm / 0.75;
    day->root_m = 0.9;
    day->p = 0.5;
    day->taw_mm = 120;
    day->raw_mm = day->allowed_mm = 60;
}

/* A day whose terms add up: what water is left over percolates. */
static struct season_day day_of(int32_t date, double depletion_start_mm, double et_mm, int salt) {
    struct season_day day = {.date = date, .depletion_start_mm = depletion_start_mm};
    add_terms(&day, et_mm, salt);
    double depletion =
        day.depletion_start_mm - (day.rain_mm - day.runoff_mm) - day.irrigation_net_mm + day.eta_mm;
    day.percolation_mm = depletion < 0 ? -depletion : 0;
    day.depletion_mm = depletion + day.percolation_mm;
    return day;
}

struct ledger_row sample_row(int field, int index, int count) {
    double depletion = 25;
    struct ledger_row row = {.origin.temperature = ORIGIN_MEASURED,
                             .origin.humidity = index % 3 == 0 ? ORIGIN_ESTIMATED : ORIGIN_DERIVED,
                             .origin.radiation = ORIGIN_MEASURED,
                             .origin.wind = field % 2 == 0 ? ORIGIN_ESTIMATED : ORIGIN_MEASURED,
                             .origin.rain = ORIGIN_MEASURED,
                             .rule_humidity = WEATHER_RULE_EA_TMIN,
                             .rule_radiation = WEATHER_RULE_AS_REPORTED,
                             .rule_wind = WEATHER_RULE_WIND_DEFAULT};
    for (int i = 0; i <= index; i++) {
        row.day = day_of(sample_today() - count + i, depletion, samples[field].et_mm, field);
        depletion = row.day.depletion_mm;
    }
    return row;
}

static struct past_day past_of(const struct ledger_row *row) {
    return (struct past_day){.date = row->day.date,
                             .stage = row->day.stage,
                             .rain_mm = row->day.rain_mm,
                             .irrigation_gross_mm = row->day.irrigation_gross_mm,
                             .irrigation_net_mm = row->day.irrigation_net_mm,
                             .root_m = row->day.root_m,
                             .allowed_mm = row->day.allowed_mm,
                             .depletion_mm = row->day.depletion_mm,
                             .origin = row->origin};
}

static void add_days(const struct sample *sample, int index, struct field_morning *morning) {
    int32_t today = sample_today();
    morning->past_count = MORNING_PAST;
    for (int i = 0; i < MORNING_PAST; i++) {
        struct ledger_row row = sample_row(index, i, MORNING_PAST);
        morning->past[i] = past_of(&row);
    }
    morning->ahead_count = MORNING_AHEAD;
    double depletion = isfinite(sample->share) ? sample->share * 60 : 30;
    for (int i = 0; i < MORNING_AHEAD; i++) {
        struct season_day *day = &morning->ahead[i];
        *day = day_of(today + i, depletion, sample->et_mm, index);
        day->irrigation_net_mm = day->irrigation_gross_mm = 0;
        day->rain_mm = i == 2 && isfinite(sample->rain_mm) ? sample->rain_mm : 0;
        day->runoff_mm = day->percolation_mm = 0;
        day->depletion_mm = fmin(fmax(depletion + day->eta_mm - day->rain_mm, 0), day->taw_mm);
        depletion = day->depletion_mm;
    }
}

static void add_call(const struct sample *sample, struct call *call) {
    int32_t today = sample_today();
    bool known = isfinite(sample->share);
    *call = (struct call){.kind = sample->kind,
                          .reason = sample->reason,
                          .date = today,
                          .start_by = sample->start_in >= 0 ? today + sample->start_in : CALENDAR_NONE,
                          .dry_date = sample->dry_in >= 0 ? today + sample->dry_in : CALENDAR_NONE,
                          .depletion_mm = known ? sample->share * 60 : NAN,
                          .allowed_mm = known ? 60 : NAN,
                          .taw_mm = known ? 120 : NAN,
                          .rain_expected_mm = sample->rain_mm};
    call->application = (struct application){.net_mm = sample->net_mm,
                                             .gross_mm = sample->gross_mm,
                                             .volume_m3 = sample->gross_mm * 50,
                                             .hours = sample->hours,
                                             .days = sample->days,
                                             .limited = sample->days > 1};
}

struct field_morning sample_morning(int index) {
    const struct sample *sample = &samples[index];
    struct field_morning morning = {.planting_date = CALENDAR_NONE,
                                    .weather_until =
                                        sample_today() - (sample->kind == CALL_CANNOT_SAY ? 5 : 1),
                                    .forecast_issued = sample_today()};
    snprintf(morning.field, sizeof morning.field, "%s", sample->field);
    snprintf(morning.supply, sizeof morning.supply, "%s", sample->supply);
    snprintf(morning.crop_name, sizeof morning.crop_name, "%s", sample->crop);
    snprintf(morning.trial, sizeof morning.trial, "%s", sample->trial);
    snprintf(morning.treatment, sizeof morning.treatment, "%s", sample->treatment);
    add_call(sample, &morning.call);
    if (sample->crop[0] != '\0') {
        morning.planting_date = sample_today() - 60;
        add_days(sample, index, &morning);
    }
    return morning;
}

struct field_facts sample_field_facts(int index) {
    const struct sample *sample = &samples[index];
    struct field_facts facts = {.planted = sample->crop[0] != '\0', .source_count = 1};
    snprintf(facts.field.name, sizeof facts.field.name, "%s", sample->field);
    snprintf(facts.field.station, sizeof facts.field.station, "Valley <station>");
    snprintf(facts.field.supply, sizeof facts.field.supply, "%s", sample->supply);
    snprintf(facts.soil.name, sizeof facts.soil.name, "bottom & bench");
    snprintf(facts.soil.texture, sizeof facts.soil.texture, "silt loam");
    facts.field.system = system_default(index % 2 == 0 ? SYSTEM_CENTRE_PIVOT : SYSTEM_DRIP);
    facts.field.system.area_m2 = 52e4;
    facts.field.system.flow_m3_h = 180;
    snprintf(facts.planting.crop_name, sizeof facts.planting.crop_name, "%s", sample->crop);
    facts.planting.planting_date = sample_today() - 60;
    facts.source[0] = (struct field_source){.kind = SOURCE_OBSERVED,
                                            .last_day = sample_today() - 1,
                                            .taken_day = sample_today(),
                                            .taken_minute = 5 * 60 + 40};
    snprintf(facts.source[0].name, sizeof facts.source[0].name, "<b>Valley</b>");
    return facts;
}
