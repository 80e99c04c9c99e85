#include "daemon/morning/turns_problem.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Where a price is missing, money only weighs: the full yield of 1 m2 is 1, and water costs of it what
 * outlook_prices_default() says. */
#define YIELD_WEIGHT 1.0
/* So many fields are planned with all the effort; with more of them each gets its share of that, and some at
 * least. While somebody waits there are fewer rounds of prices and fewer tries, so many for all fields of the
 * supply together: the plans are as good, the bound is lower. */
#define FIELDS_IN_FULL 40
#define TRIES_LEAST    500
#define ROUNDS_LEAST   8
#define ROUNDS_AT_ONCE 120
#define ROUNDS_FEWEST  4
#define TRIES_AT_ONCE  30000
#define M2_HA          1e4
#define MM_M3          1000.0 /* 1 m3 is so many mm on 1 m2 */

static const struct farm_field *field_of(const struct turns_ask *ask, const struct turns_case *the_case) {
    return &ask->farm->field[the_case->field];
}

static bool can_be_planned(const struct turns_ask *ask, const struct turns_case *the_case) {
    const struct system *system = &field_of(ask, the_case)->system;
    return the_case->days.days > 0 && system->kind != SYSTEM_NONE && !isnan(system->flow_m3_h);
}

/* ---- money */

static double price_of_water(const struct turns_ask *ask, const struct farm_supply *supply) {
    return isnan(supply->water_price) ? ask->farm->water_price : supply->water_price;
}

static bool money_known(const struct turns_ask *ask, const struct farm_supply *supply,
                        const struct turns_task *task) {
    for (int i = 0; i < task->problem.field_count; i++)
        if (isnan(ask->farm->planting[task->of_field[i]->planting].yield_value))
            return false;
    return !isnan(price_of_water(ask, supply));
}

static void fill_prices(const struct turns_ask *ask, const struct farm_supply *supply,
                        struct turns_task *task) {
    struct outlook_prices usual = outlook_prices_default();
    task->money = money_known(ask, supply, task);
    task->supply.water_cost_m3 = YIELD_WEIGHT * usual.gross_per_mm / usual.yield * MM_M3;
    if (task->money) {
        task->supply.water_cost_m3 = price_of_water(ask, supply);
        task->supply.hour_cost = isnan(supply->hour_price) ? 0 : supply->hour_price;
    }
    task->problem.percolation_cost_m3 =
        task->supply.water_cost_m3 * usual.leached_per_mm / usual.gross_per_mm;
    for (int i = 0; i < task->problem.field_count; i++)
        task->field[i].value_m2 =
            task->money ? ask->farm->planting[task->of_field[i]->planting].yield_value / M2_HA : YIELD_WEIGHT;
}

/* ---- the days of a field */

/* One day from what the light step made of it. `before_mm`: depletion less excess in the morning. */
static struct turns_day day_of(const struct turns_case *the_case, int day, double before_mm,
                               const struct outlook_state *after, const struct outlook_step *step) {
    const struct outlook_day *own = &the_case->days.day[day];
    /* All that came in, by the balance of the day. */
    double after_mm = after->depletion_mm - after->excess_mm;
    struct turns_day out = {.etc_mm = step->etc_mm,
                            .inflow_mm = before_mm - after_mm + step->eta_mm + step->percolation_mm,
                            .taw_mm = own->taw_mm,
                            .raw_mm = step->raw_mm,
                            .allowed_mm = own->growing ? fmin(step->allowed_mm, own->taw_mm) : own->taw_mm,
                            .ky = 0,
                            .etc_stage_mm = 1};
    double per_mm = own->growing ? the_case->prices.yield_per_mm[own->stage - STAGE_INITIAL] : 0;
    /* Only ky / etc_stage_mm counts. */
    if (per_mm > 0) {
        out.ky = 1;
        out.etc_stage_mm = 1 / per_mm;
    }
    return out;
}

/* The field through one course; member -1: the path with the expected rain. */
static void fill_course(const struct turns_case *the_case, int member, int days, struct turns_day *out) {
    const struct outlook_field *field = &the_case->days;
    struct outlook_state state = field->start;
    double before_mm = state.depletion_mm;
    for (int d = 0; d < days; d++) {
        struct outlook_step step;
        const struct outlook_weather *weather = the_case->weather;
        int at = member >= 0 ? d * weather->members + member : 0;
        outlook_step(field, d, member >= 0 ? weather->et0_mm[at] : field->day[d].et0_mm,
                     member >= 0 ? weather->rain_mm[at] : field->day[d].rain_mm, 0, &state, &step);
        out[d] = day_of(the_case, d, before_mm, &state, &step);
        before_mm = state.depletion_mm - state.excess_mm;
    }
}

static void fill_days(struct turns_task *task) {
    const struct turns_problem *problem = &task->problem;
    for (int i = 0; i < problem->field_count; i++) {
        const struct turns_case *the_case = task->of_field[i];
        for (int c = 0; c < problem->courses; c++)
            fill_course(the_case,
                        the_case->courses.count > 0 && problem->courses > 1 ? the_case->courses.member[c]
                                                                            : -1,
                        problem->days, &task->day[(i * problem->courses + c) * problem->days]);
    }
}

/* ---- fields */

static void fill_field(const struct turns_ask *ask, const struct farm_supply *supply, int index,
                       struct turns_task *task) {
    const struct turns_case *the_case = task->of_field[index];
    const struct farm_field *own = field_of(ask, the_case);
    const struct system *system = &own->system;
    int days = task->problem.days;
    struct turns_field *field = &task->field[index];
    *field = (struct turns_field){
        .supply = 0,
        .area_m2 = system->area_m2,
        .efficiency = system->efficiency,
        .flow_m3_h = system->flow_m3_h,
        .net_min_mm = system->net_min_mm,
        .net_max_mm = system->net_max_mm,
        .run_min_hours = own->turning.shortest_hours > 0 ? own->turning.shortest_hours : 1,
        .run_max_hours = own->turning.longest_hours > 0 ? own->turning.longest_hours : 24 * days,
        .setup_hours = own->turning.setup_hours,
        .may_pause = own->turning.may_pause,
        .depletion_mm = the_case->days.start.depletion_mm,
        /* Water that the crop will not live to use is worth nothing. */
        .end_worth_m3 = the_case->days.day[days - 1].growing ? (double)NAN : 0,
        .day = &task->day[index * task->problem.courses * days],
    };
    /* A field that can run for fewer hours of a day than its supply does not run longer at a time, unless
     * its longest run says so. */
    int own_hours = isnan(system->hours_per_day) ? 24 : (int)floor(system->hours_per_day + 1e-9);
    if (own->turning.longest_hours == 0 && own_hours < turns_day_hours(supply))
        field->run_max_hours = own_hours > field->run_min_hours ? own_hours : field->run_min_hours;
}

/* How many days, and how many courses, all fields have. */
static void fill_extent(struct turns_task *task) {
    struct turns_problem *problem = &task->problem;
    problem->days = MORNING_AHEAD;
    problem->courses = TURNS_COURSES_MAX;
    for (int i = 0; i < problem->field_count; i++) {
        const struct turns_case *the_case = task->of_field[i];
        if (the_case->courses.count < TURNS_COURSES_MAX)
            problem->courses = 1;
        if (the_case->days.days < problem->days)
            problem->days = the_case->days.days;
    }
    for (int i = 0; problem->courses > 1 && i < problem->field_count; i++)
        if (task->of_field[i]->weather->days < problem->days)
            problem->days = task->of_field[i]->weather->days;
    for (int c = 0; c < problem->courses; c++)
        problem->weight[c] = problem->courses == 1 ? 1 : task->of_field[0]->courses.weight[c];
}

static enum status make_room(const struct turns_ask *ask, struct turns_task *task) {
    size_t fields = ask->case_count, pins = ask->turn_count + ask->farm->turn_mark_count;
    task->of_field = calloc(fields + 1, sizeof *task->of_field);
    task->field = calloc(fields + 1, sizeof *task->field);
    task->day = calloc(fields * TURNS_COURSES_MAX * MORNING_AHEAD + 1, sizeof *task->day);
    task->pin = calloc(pins + 1, sizeof *task->pin);
    task->of_pin = calloc(pins + 1, sizeof *task->of_pin);
    task->forbid = calloc(pins + 1, sizeof *task->forbid);
    task->stand = calloc(ask->turn_count + 1, sizeof *task->stand);
    return task->of_field != NULL && task->field != NULL && task->day != NULL && task->pin != NULL &&
                   task->of_pin != NULL && task->forbid != NULL && task->stand != NULL
               ? STATUS_OK
               : STATUS_NO_MEMORY;
}

void turns_task_free(struct turns_task *task) {
    free(task->of_field);
    free(task->field);
    free(task->day);
    free(task->pin);
    free(task->of_pin);
    free(task->forbid);
    free(task->stand);
    memset(task, 0, sizeof *task);
}

static struct turns_effort effort_of(const struct turns_ask *ask, int supply_fields) {
    struct turns_effort effort = turns_effort_default();
    if (ask->fields > FIELDS_IN_FULL) {
        double share = (double)FIELDS_IN_FULL / ask->fields;
        effort.tries = (long)fmax((double)effort.tries * share, TRIES_LEAST);
        effort.rounds = (int)fmax(effort.rounds * share, ROUNDS_LEAST);
        effort.nodes = (long)((double)effort.nodes * share);
    }
    int at_once =
        ROUNDS_AT_ONCE / supply_fields > ROUNDS_FEWEST ? ROUNDS_AT_ONCE / supply_fields : ROUNDS_FEWEST;
    if (!ask->at_once)
        return effort;
    if (effort.rounds > at_once)
        effort.rounds = at_once;
    if (effort.tries > TRIES_AT_ONCE / supply_fields)
        effort.tries = TRIES_AT_ONCE / supply_fields;
    effort.quick = ask->quick;
    return effort;
}

enum status turns_task_make(const struct turns_ask *ask, const struct farm_supply *supply,
                            struct turns_task *task, enum turns_reason *reason) {
    memset(task, 0, sizeof *task);
    struct turns_problem *problem = &task->problem;
    enum status status = make_room(ask, task);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < ask->case_count; i++)
        if (can_be_planned(ask, &ask->cases[i]))
            task->of_field[problem->field_count++] = &ask->cases[i];
    *reason = isnan(supply->flow_m3_h)    ? TURNS_REASON_FLOW
              : problem->field_count == 0 ? TURNS_REASON_FIELDS
                                          : TURNS_REASON_NONE;
    if (*reason != TURNS_REASON_NONE)
        return STATUS_OK;
    fill_extent(task);
    fill_days(task);
    for (int i = 0; i < problem->field_count; i++)
        fill_field(ask, supply, i, task);
    turns_word_fill(ask, supply, task);
    turns_supply_fill(ask->farm, supply, ask->today, problem->days, task->under_way_m3, &task->supply);
    if (task->supply.users == 0)
        task->supply.users = problem->field_count;
    fill_prices(ask, supply, task);
    problem->first_hour = ask->first_hour;
    problem->supply = &task->supply;
    problem->supply_count = 1;
    problem->field = task->field;
    problem->pin = task->pin;
    problem->forbid = task->forbid;
    problem->stand = task->stand;
    problem->effort = effort_of(ask, problem->field_count);
    if (turns_check(problem, NULL) != STATUS_OK)
        *reason = TURNS_REASON_UNKNOWN;
    return STATUS_OK;
}
