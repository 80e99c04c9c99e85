#include <stddef.h>

#include "daemon/replay/made.h"
#include "daemon/view/json_add.h"
#include "daemon/view/ledger_columns.h"
#include "daemon/view/replay.h"

static void add_terms(cJSON *object, const struct replay_term *terms, const struct replay_result *result,
                      size_t offset) {
    for (; terms->name != NULL; terms++)
        json_add_number(object, terms->name, replay_term_value(result, offset, terms));
}

static void add_stages(cJSON *out, const struct replay_result *result) {
    const struct budget *budget = &result->budget;
    cJSON *list = cJSON_AddArrayToObject(out, "stages");
    for (int stage = 0; stage < STAGE_ENDED; stage++) {
        if (budget->stage[stage].days == 0)
            continue;
        cJSON *entry = json_add_entry(list);
        cJSON_AddStringToObject(entry, "stage", crop_stage_name((enum crop_stage)stage));
        json_add_date(entry, "first", budget->stage_first[stage]);
        add_terms(entry, replay_budget_terms, result, replay_stage_offset(stage));
    }
}

static void add_harvest(cJSON *out, const struct replay_result *result) {
    cJSON *list = cJSON_AddArrayToObject(out, "harvest");
    for (int i = 0; i < result->harvest_count; i++) {
        const struct harvest_option *option = &result->harvest[i];
        cJSON *entry = json_add_entry(list);
        json_add_date(entry, "date", option->date);
        json_add_number(entry, "days_in_season", option->days_in_season);
        json_add_number(entry, "transpired", option->transpired);
        json_add_number(entry, "relative", option->relative);
        json_add_number(entry, "irrigation_gross_mm", option->irrigation_gross_mm);
        json_add_number(entry, "eta_mm", option->eta_mm);
        json_add_number(entry, "stress_days", option->stress_days);
        json_add_number(entry, "depletion_mm", option->depletion_mm);
    }
}

static void add_days(cJSON *out, const struct replay_result *result) {
    cJSON *list = cJSON_AddArrayToObject(out, "days");
    for (int i = 0; i < result->days; i++) {
        const struct season_day *day = &result->day[i];
        cJSON *entry = json_add_entry(list);
        json_add_date(entry, "date", day->date);
        cJSON_AddStringToObject(entry, "stage", crop_stage_name(day->stage));
        for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++)
            json_add_number(entry, column->member, ledger_value(day, column));
    }
}

static void add_result(const struct replay *replay, const struct replay_result *result, bool with_days,
                       cJSON *list) {
    cJSON *out = json_add_entry(list);
    cJSON_AddStringToObject(out, "field", result->field);
    cJSON_AddStringToObject(out, "crop", result->crop_name);
    json_add_date(out, "planted", result->planting_date);
    cJSON_AddStringToObject(out, "scenario", replay->scenario[result->scenario].name);
    cJSON_AddBoolToObject(out, "as_it_was", result->as_it_was);
    cJSON_AddBoolToObject(out, "finished", result->finished);
    json_add_date(out, "weather_missing", result->weather_missing);
    json_add_date(out, "allotment_spent", result->spent_date);
    cJSON_AddBoolToObject(out, "readings_used", result->readings_used && result->readings > 0);
    json_add_number(out, "area_m2", result->area_m2);
    json_add_date(out, "first", result->budget.first);
    json_add_date(out, "last", result->budget.last);
    add_terms(cJSON_AddObjectToObject(out, "season"), replay_budget_terms, result,
              offsetof(struct replay_result, budget.season));
    json_add_number(out, "closure_max_mm", result->budget.closure_max_mm);
    add_stages(out, result);
    add_terms(cJSON_AddObjectToObject(out, "value"), replay_value_terms, result,
              offsetof(struct replay_result, value));
    json_add_number(out, "measured", result->measured);
    add_harvest(out, result);
    if (with_days)
        add_days(out, result);
}

static void add_money(cJSON *out, const struct money *money) {
    cJSON *object = cJSON_AddObjectToObject(out, "money");
    cJSON_AddStringToObject(object, "currency", money->currency);
    cJSON_AddStringToObject(object, "yield_unit", money->yield_unit);
    json_add_number(object, "max_yield", money->max_yield);
    json_add_number(object, "price", money->price);
    json_add_number(object, "water_cost", money->water_cost);
    json_add_number(object, "pass_cost", money->pass_cost);
    json_add_number(object, "season_cost", money->season_cost);
}

cJSON *view_replay_json(const struct replay *replay, const cJSON *made, bool with_days) {
    cJSON *out = cJSON_CreateObject();
    made_add_member(made, out);
    cJSON_AddStringToObject(out, "farm", replay->farm.name);
    json_add_date(out, "until", replay->until);
    add_money(out, &replay->money);
    cJSON *scenarios = cJSON_AddArrayToObject(out, "scenarios");
    for (size_t i = 0; i < replay->scenario_count; i++) {
        cJSON *entry = json_add_entry(scenarios);
        cJSON_AddStringToObject(entry, "name", replay->scenario[i].name);
        cJSON_AddItemToObject(entry, "set", cJSON_Duplicate(replay->scenario[i].changes, true));
    }
    cJSON *results = cJSON_AddArrayToObject(out, "results");
    for (size_t i = 0; i < replay->result_count; i++)
        add_result(replay, &replay->result[i], with_days, results);
    return out;
}
