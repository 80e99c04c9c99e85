#include "core/decide/watering.h"

#include <math.h>
#include <stddef.h>

#define ROUNDING_MM 1e-9

struct watering_rule watering_rule_default(void) {
    return (struct watering_rule){.kind = WATERING_RECORDED,
                                  .share = 1,
                                  .trigger = 1,
                                  .refill = 1,
                                  .limit_gross_mm = NAN,
                                  .stop_stage = STAGE_COUNT,
                                  .stop_date = CALENDAR_NONE};
}

const char *watering_kind_name(enum watering_kind kind) {
    static const char *const name[WATERING_KIND_COUNT] = {"recorded", "none", "automatic"};
    return (unsigned)kind < WATERING_KIND_COUNT ? name[kind] : NULL;
}

static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

enum status watering_rule_check(const struct watering_rule *rule, const char **member) {
    const char *wrong = NULL;
    if ((unsigned)rule->kind >= WATERING_KIND_COUNT)
        wrong = "kind";
    else if (!within(rule->share, 0, 5))
        wrong = "share";
    else if (!within(rule->trigger, 0.01, 5))
        wrong = "trigger";
    else if (!within(rule->refill, 0.01, 1))
        wrong = "refill";
    else if (rule->limit_gross_mm < 0)
        wrong = "limit_gross_mm";
    else if (rule->stop_stage != STAGE_COUNT && !crop_growing(rule->stop_stage))
        wrong = "stop_stage";
    else if (rule->stop_date != CALENDAR_NONE && !calendar_valid(rule->stop_date))
        wrong = "stop_date";
    if (wrong != NULL && member != NULL)
        *member = wrong;
    return wrong == NULL ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

struct watering_supply watering_supply_unbounded(void) {
    return (struct watering_supply){NAN, NAN, NAN};
}

enum status watering_supply_check(const struct watering_supply *supply, const char **member) {
    const char *wrong = NULL;
    if (supply->flow_m3_h <= 0)
        wrong = "flow_m3_h";
    else if (!isnan(supply->hours_per_day) && !within(supply->hours_per_day, 0, 24))
        wrong = "hours_per_day";
    else if (supply->allotment_m3 < 0)
        wrong = "allotment_m3";
    if (wrong != NULL && member != NULL)
        *member = wrong;
    return wrong == NULL ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

struct work {
    const struct watering_season *season;
    struct watering_denied denied;
    struct season_prepared prepared;
    struct season_state state;
    struct season_day last; /* yesterday, once there is one */
    bool any, stopped;
    double given_mm; /* gross, so far */
    double owed_mm;  /* gross, denied and still lacking in the soil */
};

/* What the system gives this morning when left to itself. */
static enum status automatic(const struct work *work, struct season_input *input) {
    const struct watering_rule *rule = work->season->rule;
    if (!work->any || !crop_growing(work->last.stage) || !(work->last.depletion_mm > 0) ||
        work->last.depletion_mm < rule->trigger * work->last.allowed_mm)
        return STATUS_OK;
    struct application plan;
    enum status status =
        application_plan(work->season->system, rule->refill * work->last.depletion_mm, &plan);
    if (status != STATUS_OK)
        return status;
    /* What runs for more than a day's hours is cut to them. */
    double days = plan.days > 1 ? plan.days : 1;
    input->irrigation_gross_mm = plan.gross_mm / days;
    input->irrigation_net_mm = plan.net_mm / days;
    return STATUS_OK;
}

static void scale(struct season_input *input, double share) {
    input->irrigation_gross_mm *= share;
    input->irrigation_net_mm *= share;
}

/* Cuts the day's depth; NaN: no limit. */
static void cut(struct season_input *input, double most_mm) {
    if (input->irrigation_gross_mm > most_mm)
        scale(input, most_mm > 0 ? most_mm / input->irrigation_gross_mm : 0);
}

/* What the supply denies of a day's depth. What it owed is asked for again, until rain has filled the soil.
 */
static void count_denied(struct work *work, double asked_mm, double given_mm) {
    const struct watering_season *season = work->season;
    double needed_mm =
        work->any ? season->rule->refill * work->last.depletion_mm / season->system->efficiency : 0;
    double owed_mm = fmin(work->owed_mm, fmax(needed_mm, 0)), lack_mm = asked_mm - given_mm;
    if (lack_mm > ROUNDING_MM) {
        work->denied.gross_mm += fmax(lack_mm - owed_mm, 0);
        work->denied.days++;
        owed_mm = lack_mm;
    }
    work->owed_mm = asked_mm > 0 && lack_mm <= ROUNDING_MM ? 0 : owed_mm;
}

/* Cuts the day's depth to the hours of a turn at the flow, and to what is left of the allotment. */
static void draw(struct work *work, struct season_input *input) {
    const struct watering_supply *supply = work->season->supply;
    const struct system *system = work->season->system;
    double asked_mm = input->irrigation_gross_mm, mm_of_m3 = 1000 / system->area_m2;
    double flow_m3_h = fmin(supply->flow_m3_h, system->flow_m3_h);
    double hours = fmin(supply->hours_per_day, system->hours_per_day);
    double left_mm = supply->allotment_m3 * mm_of_m3 - work->given_mm;
    /* The system's own bounds are in the depth already. */
    if (supply->flow_m3_h < system->flow_m3_h || isnan(system->flow_m3_h) ||
        supply->hours_per_day < system->hours_per_day)
        cut(input, flow_m3_h * hours * mm_of_m3);
    if (input->irrigation_gross_mm > 0 && input->irrigation_gross_mm >= left_mm &&
        work->denied.spent_date == CALENDAR_NONE)
        work->denied.spent_date = input->date;
    cut(input, left_mm);
    count_denied(work, asked_mm, input->irrigation_gross_mm);
}

/* Whether the day is in the stage from which no water is given, or past it. Watering does not move stages. */
static enum status look_for_stop(struct work *work, const struct season_input *input) {
    const struct watering_rule *rule = work->season->rule;
    if (rule->stop_date != CALENDAR_NONE && input->date >= rule->stop_date)
        work->stopped = true;
    if (work->stopped || rule->stop_stage == STAGE_COUNT)
        return STATUS_OK;
    struct season_state state = work->state;
    struct season_day day;
    enum status status = season_step(&work->prepared, &state, input, &day);
    work->stopped = status == STATUS_OK && day.stage >= rule->stop_stage;
    return status;
}

static enum status water(struct work *work, struct season_input *input) {
    const struct watering_rule *rule = work->season->rule;
    enum status status = STATUS_OK;
    if (rule->kind != WATERING_RECORDED)
        scale(input, 0);
    if (rule->kind == WATERING_AUTOMATIC)
        status = automatic(work, input);
    if (status == STATUS_OK)
        status = look_for_stop(work, input);
    if (status != STATUS_OK)
        return status;
    scale(input, work->stopped ? 0 : rule->share);
    cut(input, rule->limit_gross_mm - work->given_mm);
    if (rule->kind == WATERING_AUTOMATIC && work->season->supply != NULL)
        draw(work, input);
    work->given_mm += input->irrigation_gross_mm;
    return STATUS_OK;
}

static enum status run_day(struct work *work, const struct season_input *given) {
    struct season_input input = *given;
    enum status status = water(work, &input);
    if (status == STATUS_OK)
        status = season_step(&work->prepared, &work->state, &input, &work->last);
    work->any = true;
    return status;
}

enum status watering_run(const struct watering_season *season, struct season_day *day, int *days,
                         struct budget *budget, int32_t *failed_date) {
    struct work work = {.season = season, .denied = {.spent_date = CALENDAR_NONE}};
    *days = 0;
    *budget = budget_empty();
    if (season->denied != NULL)
        *season->denied = work.denied;
    if (failed_date != NULL)
        *failed_date = CALENDAR_NONE;
    enum status status = watering_rule_check(season->rule, NULL);
    if (status == STATUS_OK && season->supply != NULL)
        status = watering_supply_check(season->supply, NULL);
    if (status == STATUS_OK)
        status = season_prepare(season->setup, &work.prepared);
    if (status == STATUS_OK)
        status = season_begin(&work.prepared, &work.state);
    for (int i = 0; status == STATUS_OK && i < season->count; i++) {
        status = run_day(&work, &season->input[i]);
        if (status != STATUS_OK && failed_date != NULL)
            *failed_date = season->input[i].date;
        if (status != STATUS_OK || budget_add(budget, &work.last) != STATUS_OK)
            break; /* a day past the end of the season belongs to no stage */
        if (day != NULL)
            day[*days] = work.last;
        if (season->denied != NULL)
            *season->denied = work.denied;
        ++*days;
    }
    return status;
}
