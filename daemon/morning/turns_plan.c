#include "daemon/morning/turns_plan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LIMITS_MAX 64
/* Turns that stand stay while they cost no more than this above a new plan. A stated default: people rather
 * keep to a plan that they know. */
#define KEPT_WITHIN 0.02
#define RAIN_MET_LEAST                                                                                       \
    0.2 /* of what crops use after the days planned, irrigation has to meet this at least */

struct solved {
    void *workspace;
    struct turns_supply_use supply_use;
    struct turns_plan plan;
};

static void solved_free(struct solved *solved) {
    free(solved->workspace);
    free(solved->plan.turn);
    free(solved->plan.field_use);
    free(solved->plan.limit);
}

/* `search`: for the best plan; else what is pinned is laid. */
static enum status solve(const struct turns_problem *problem, bool search, struct solved *solved) {
    size_t size = turns_workspace_size(problem);
    struct turns_plan *plan = &solved->plan;
    memset(solved, 0, sizeof *solved);
    plan->turn_room = turns_room(problem);
    plan->limit_room = LIMITS_MAX;
    solved->workspace = malloc(size);
    plan->turn = calloc((size_t)plan->turn_room + 1, sizeof *plan->turn);
    plan->field_use = calloc((size_t)problem->field_count, sizeof *plan->field_use);
    plan->limit = calloc(LIMITS_MAX, sizeof *plan->limit);
    plan->supply_use = &solved->supply_use;
    if (solved->workspace == NULL || plan->turn == NULL || plan->field_use == NULL || plan->limit == NULL)
        return STATUS_NO_MEMORY;
    return (search ? turns_plan : turns_of_pins)(problem, solved->workspace, size, plan);
}

static const char *field_name(const struct turns_ask *ask, const struct turns_task *task, int field) {
    return ask->farm->field[task->of_field[field]->field].name;
}

/* ---- the supply */

/* Hours of each day in which it can run, and runs. */
static void write_hours(const struct turns_task *task, const struct turns_plan *plan,
                        struct stored_supply *out) {
    const struct turns_problem *problem = &task->problem;
    bool runs[TURNS_HOURS_MAX] = {false};
    for (int i = 0; i < plan->turn_count; i++) {
        int own = 0;
        for (int t = plan->turn[i].start; t < plan->turn[i].end; t++) {
            own = t % 24 == 0 ? 0 : own;
            if ((task->supply.open[t / 24] >> t % 24 & 1U) == 0 || own >= task->supply.hours_per_day)
                continue;
            own++;
            runs[t] = true;
        }
    }
    for (int t = problem->first_hour; t < 24 * problem->days; t++) {
        out->hours_open[t / 24] += (int)(task->supply.open[t / 24] >> t % 24 & 1U);
        out->hours_run[t / 24] += runs[t];
    }
    for (int d = 0; d < problem->days; d++)
        if (out->hours_open[d] > task->supply.hours_per_day)
            out->hours_open[d] = task->supply.hours_per_day;
}

/* What the crops draw after the days planned. Irrigation meets the share of their use that rain leaves to it
 * within these days. */
static double later_m3(const struct turns_task *task) {
    const struct turns_problem *problem = &task->problem;
    double sum_m3 = 0;
    for (int i = 0; i < problem->field_count; i++) {
        const struct turns_field *field = &task->field[i];
        double in_mm = 0, etc_mm = 0;
        for (int c = 0; c < problem->courses; c++)
            for (int d = 0; d < problem->days; d++) {
                in_mm += problem->weight[c] * field->day[c * problem->days + d].inflow_mm;
                etc_mm += problem->weight[c] * field->day[c * problem->days + d].etc_mm;
            }
        double share = etc_mm > 0 ? fmin(fmax(1 - in_mm / etc_mm, RAIN_MET_LEAST), 1) : RAIN_MET_LEAST;
        sum_m3 += share * task->of_field[i]->later_etc_mm / field->efficiency * field->area_m2 / 1000;
    }
    return sum_m3;
}

static void write_allotments(const struct turns_ask *ask, const struct farm_supply *supply,
                             const struct turns_task *task, const struct turns_plan *plan,
                             struct stored_supply *out) {
    struct farm_span season = turns_season_of(ask->farm, supply, ask->today);
    const struct farm_allotment *period = turns_period_on(supply, ask->today);
    bool begun = season.from == CALENDAR_NONE || season.from <= ask->today;
    if (!isnan(supply->allotment_m3) && begun && (season.to == CALENDAR_NONE || season.to >= ask->today)) {
        out->season_m3 = supply->allotment_m3;
        out->season_used_m3 =
            turns_drawn_m3(ask->farm, supply, season.from != CALENDAR_NONE ? season.from : CALENDAR_FIRST,
                           ask->today) +
            task->under_way_m3;
        out->season_later_m3 = later_m3(task);
    }
    if (period != NULL) {
        out->period_m3 = period->volume_m3;
        out->period_from = period->days.from;
        out->period_to = period->days.to;
        out->period_used_m3 =
            turns_drawn_m3(ask->farm, supply, period->days.from, ask->today) + task->under_way_m3;
    }
    for (int i = 0; i < plan->turn_count; i++) {
        const struct turn *turn = &plan->turn[i];
        out->planned_m3 += turn->volume_m3;
        if (period != NULL && ask->today + turn->start / 24 <= period->days.to)
            out->period_planned_m3 += turn->volume_m3;
    }
}

static void begin_supply(const struct turns_ask *ask, const struct farm_supply *supply, int64_t at,
                         struct stored_supply *out) {
    *out = (struct stored_supply){.day = ask->today,
                                  .first_hour = ask->first_hour,
                                  .at = at,
                                  .bound = NAN,
                                  .change_cost = NAN,
                                  .season_m3 = NAN,
                                  .season_used_m3 = NAN,
                                  .season_later_m3 = NAN,
                                  .period_m3 = NAN,
                                  .period_used_m3 = NAN,
                                  .period_from = CALENDAR_NONE,
                                  .period_to = CALENDAR_NONE};
    memcpy(out->supply, supply->name, sizeof out->supply);
}

/* ---- paths and limits */

static enum status write_paths(const struct turns_ask *ask, const struct turns_task *task,
                               const struct turns_plan *plan, struct turns_made *out) {
    const struct turns_problem *problem = &task->problem;
    out->path = calloc((size_t)problem->field_count + 1, sizeof *out->path);
    if (out->path == NULL)
        return STATUS_NO_MEMORY;
    for (int i = 0; i < problem->field_count; i++) {
        struct stored_path *path = &out->path[out->path_count++];
        memcpy(path->field, field_name(ask, task, i), sizeof path->field);
        path->days = problem->days;
        for (int d = 0; d < problem->days; d++) {
            path->depletion_mm[d] = plan->field_use[i].depletion_mm[d];
            for (int c = 0; c < problem->courses; c++)
                path->allowed_mm[d] +=
                    problem->weight[c] * task->field[i].day[c * problem->days + d].allowed_mm;
        }
    }
    return STATUS_OK;
}

static void copy_field(const struct turns_ask *ask, const struct turns_task *task, int field,
                       char out[FARM_NAME_SIZE]) {
    if (field >= 0)
        memcpy(out, field_name(ask, task, field), FARM_NAME_SIZE);
}

static enum status write_limits(const struct turns_ask *ask, const struct turns_task *task,
                                const struct turns_plan *plan, struct turns_made *out) {
    int count = plan->limit_count < plan->limit_room ? plan->limit_count : plan->limit_room;
    out->limit = calloc((size_t)count + 1, sizeof *out->limit);
    if (out->limit == NULL)
        return STATUS_NO_MEMORY;
    for (int i = 0; i < count; i++) {
        const struct turns_limit *limit = &plan->limit[i];
        struct stored_limit *to = &out->limit[out->limit_count++];
        *to = (struct stored_limit){.kind = limit->kind,
                                    .day = limit->day >= 0 ? ask->today + limit->day : CALENDAR_NONE,
                                    .pin_date = CALENDAR_NONE,
                                    .cure_date = CALENDAR_NONE,
                                    .over = limit->over,
                                    .more_hours_per_day = limit->more_hours_per_day,
                                    .more_flow_m3_h = limit->more_flow_m3_h,
                                    .more_m3 = limit->more_m3,
                                    .dry_cost = limit->dry_cost};
        memcpy(to->supply, out->supply.supply, sizeof to->supply);
        copy_field(ask, task, limit->field, to->field);
        copy_field(ask, task, limit->dry_field, to->dry_field);
        if (limit->pin >= 0) {
            to->pin_date = ask->today + task->pin[limit->pin].start / 24;
            to->pin_hour = task->pin[limit->pin].start % 24;
            to->pin_hours = task->pin[limit->pin].hours;
        }
        if (limit->start >= 0) {
            to->cure_date = ask->today + limit->start / 24;
            to->cure_hour = limit->start % 24;
        }
    }
    return STATUS_OK;
}

/* ---- all of it */

/* No plan: what stood and has not begun is gone. */
static enum status make_none(const struct turns_ask *ask, const struct turns_task *task, int64_t at,
                             struct turns_made *out) {
    const struct turns_plan none = {.turn_count = 0};
    struct turns_task empty = *task;
    empty.problem.field_count = 0;
    return turns_match(ask, &empty, &none, at, out);
}

/* Whether a mark pins it where it stands. */
static bool is_marked(const struct farm *farm, const struct stored_turn *turn) {
    for (size_t i = 0; i < farm->turn_mark_count; i++) {
        const struct farm_turn_mark *mark = &farm->turn_mark[i];
        if (mark->kind == TURN_PINNED && mark->date == turn->date && mark->hour == turn->hour &&
            strcmp(mark->field, turn->field) == 0)
            return true;
    }
    return false;
}

/* The turns that stand, each pinned where it is; those of the field `but` (NULL: of none) are laid anew
 * around them. `turns` is as long as ask->turn. */
static enum status lay_standing(const struct turns_ask *ask, const struct farm_supply *supply,
                                const char *but, struct stored_turn *turns, struct turns_task *task,
                                struct solved *solved, bool *possible) {
    struct turns_ask standing = *ask;
    enum turns_reason reason;
    memset(solved, 0, sizeof *solved);
    for (size_t i = 0; i < ask->turn_count; i++) {
        turns[i] = ask->turn[i];
        /* As one that somebody put off stays where it was put. */
        if (turns_unsettled(&turns[i]) && turns[i].id != ask->moved && !is_marked(ask->farm, &turns[i]) &&
            (but == NULL || strcmp(turns[i].field, but) != 0))
            turns[i].state = TURN_LATE;
    }
    standing.turn = turns;
    enum status status = turns_task_make(&standing, supply, task, &reason);
    *possible = status == STATUS_OK && reason == TURNS_REASON_NONE;
    if (!*possible)
        return status;
    for (int i = 0; i < task->problem.pin_count; i++)
        if (task->of_pin[i] != NULL)
            task->of_pin[i] = ask->turn + (task->of_pin[i] - turns);
    for (int i = 0; but != NULL && i < task->problem.field_count; i++)
        task->field[i].pins_only = strcmp(field_name(ask, task, i), but) != 0;
    task->problem.effort.quick = true;
    return solve(&task->problem, but != NULL, solved);
}

/* Whether all of them can stay. */
static bool all_laid(const struct turns_plan *plan) {
    for (int i = 0; i < plan->limit_count && i < plan->limit_room; i++)
        if (plan->limit[i].kind >= TURNS_LIMIT_PIN_RANGE)
            return false;
    return plan->limit_count <= plan->limit_room;
}

/* What the plan leaves of turns, hours, water and evenings. */
static enum status write_plan(const struct turns_ask *ask, const struct farm_supply *supply,
                              const struct turns_task *task, const struct turns_plan *plan, int64_t at,
                              struct turns_made *out) {
    out->supply.cost = plan->cost;
    write_hours(task, plan, &out->supply);
    write_allotments(ask, supply, task, plan, &out->supply);
    enum status status = write_paths(ask, task, plan, out);
    return status == STATUS_OK ? turns_match(ask, task, plan, at, out) : status;
}

/* One way to keep turns, ready to be written. */
struct kept {
    struct stored_turn *turns;
    struct turns_task task;
    struct solved solved;
    bool stays; /* every turn finds its place, and it costs little more than a plan of its own */
};

static void kept_free(struct kept *kept) {
    solved_free(&kept->solved);
    turns_task_free(&kept->task);
    free(kept->turns);
}

/* Of turns that stand, in place of a plan that costs `total`. */
static enum status keep(const struct turns_ask *ask, const struct farm_supply *supply, const char *but,
                        double total, struct kept *out) {
    memset(out, 0, sizeof *out);
    out->turns = calloc(ask->turn_count + 1, sizeof *out->turns);
    if (out->turns == NULL)
        return STATUS_NO_MEMORY;
    enum status status = lay_standing(ask, supply, but, out->turns, &out->task, &out->solved, &out->stays);
    out->stays = out->stays && status == STATUS_OK && all_laid(&out->solved.plan) &&
                 out->solved.plan.cost.total <= total * (1 + KEPT_WITHIN);
    return status;
}

/* Whether the turns of one field are wrong where they stand: with others it costs less, and takes less water
 * or gains much by what the field costs. What the whole supply costs hides that of a field. */
static bool is_wrong(const struct turns_ask *ask, const struct kept *standing, const struct kept *anew) {
    for (int i = 0; i < standing->task.problem.field_count; i++) {
        const struct turns_field_use *is = &standing->solved.plan.field_use[i];
        double gain = standing->solved.plan.cost.total - anew->solved.plan.cost.total;
        if (strcmp(field_name(ask, &standing->task, i), ask->about) == 0)
            return gain > 0 && (anew->solved.plan.field_use[i].hours < is->hours ||
                                gain > KEPT_WITHIN * fabs(is->cost.total));
    }
    return false;
}

/* The turns that stand in place of a plan that costs `total`, where that gains little; *kept: they do. */
static enum status keep_standing(const struct turns_ask *ask, const struct farm_supply *supply, double total,
                                 int64_t at, struct turns_made *out, bool *kept) {
    struct kept standing, anew = {.stays = false};
    enum status status = keep(ask, supply, NULL, total, &standing);
    if (status == STATUS_OK && ask->about != NULL)
        status = keep(ask, supply, ask->about, total, &anew);
    bool other = anew.stays && (!standing.stays || is_wrong(ask, &standing, &anew));
    const struct kept *use = other ? &anew : &standing;
    *kept = status == STATUS_OK && use->stays;
    if (*kept)
        status = write_plan(ask, supply, &use->task, &use->solved.plan, at, out);
    kept_free(&standing);
    kept_free(&anew);
    return status;
}

static enum status make_plan(const struct turns_ask *ask, const struct farm_supply *supply,
                             const struct turns_task *task, int64_t at, struct turns_made *out) {
    struct solved solved;
    struct stored_supply *to = &out->supply;
    bool kept = false;
    enum status status = solve(&task->problem, true, &solved);
    if (status == STATUS_OK) {
        to->days = task->problem.days;
        to->money = task->money;
        to->bound = solved.plan.bound;
        to->proven = solved.supply_use.proven;
        for (int i = 0; i < task->problem.field_count; i++)
            to->worth += task->field[i].value_m2 * task->field[i].area_m2;
        status = write_limits(ask, task, &solved.plan, out);
    }
    if (status == STATUS_OK && ask->at_once)
        status = keep_standing(ask, supply, solved.plan.cost.total, at, out, &kept);
    if (status == STATUS_OK && !kept)
        status = write_plan(ask, supply, task, &solved.plan, at, out);
    to->proven = to->proven && !kept;
    solved_free(&solved);
    return status;
}

enum status turns_make(const struct turns_ask *ask, const struct farm_supply *supply, int64_t at,
                       struct turns_made *out) {
    struct turns_task task;
    memset(out, 0, sizeof *out);
    begin_supply(ask, supply, at, &out->supply);
    enum status status = turns_task_make(ask, supply, &task, &out->supply.reason);
    if (status == STATUS_OK)
        status = out->supply.reason == TURNS_REASON_NONE ? make_plan(ask, supply, &task, at, out)
                                                         : make_none(ask, &task, at, out);
    turns_task_free(&task);
    return status;
}

enum status turns_cost_standing(const struct turns_ask *ask, const struct farm_supply *supply, double *cost) {
    struct turns_task task;
    struct solved solved;
    bool possible;
    struct stored_turn *turns = calloc(ask->turn_count + 1, sizeof *turns);
    *cost = NAN;
    if (turns == NULL)
        return STATUS_NO_MEMORY;
    enum status status = lay_standing(ask, supply, NULL, turns, &task, &solved, &possible);
    if (status == STATUS_OK && possible)
        *cost = solved.plan.cost.total;
    solved_free(&solved);
    turns_task_free(&task);
    free(turns);
    return status;
}
