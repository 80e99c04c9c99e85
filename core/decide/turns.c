#include "core/decide/turns_model.h"

#include <glpk.h>
#include <math.h>
#include <stdalign.h>
#include <string.h>

/* A gap between plan and bound, as a share of the cost, that is looked into no further. */
#define CLOSE 0.003
/* Parts of the plan are laid anew in rounds, as long as the n-th brings n times this share of the cost. */
#define RENEW_GAIN 2e-6
/* A turn that gains less than this share of what a field costs is not worth going out for: its water is given
 * with another, or left. A stated default. */
#define TURN_WORTH 0.005
#define ROUNDING   1e-11

struct turns_effort turns_effort_default(void) {
    return (struct turns_effort){.tries = 30000, .rounds = 40, .nodes = 20000};
}

int turns_room(const struct turns_problem *problem) {
    if (turns_check(problem, NULL) != STATUS_OK)
        return 0;
    return problem->field_count * problem->days + problem->pin_count;
}

/* ---- the workspace: pieces cut from one block, or only counted when there is none */
struct cutter {
    char *block;
    size_t used;
};

static void *cut(struct cutter *cutter, size_t count, size_t size) {
    size_t at = cutter->used;
    size_t bytes = count * size, step = alignof(max_align_t);
    cutter->used += (bytes + step - 1) / step * step;
    return cutter->block == NULL ? NULL : cutter->block + at;
}

static void cut_lists(struct cutter *cutter, size_t room, struct turns_work *work) {
    struct turns_list *list[] = {&work->best, &work->current, &work->trial, &work->order};
    for (size_t i = 0; i < sizeof list / sizeof *list; i++)
        list[i]->job = cut(cutter, room, sizeof *list[i]->job);
}

/* Lays out the workspace; returns it, or NULL when only counting. */
static struct turns_work *lay_out(const struct turns_problem *problem, struct cutter *cutter) {
    size_t fields = (size_t)problem->field_count, days = (size_t)problem->days;
    struct turns_work *work = cut(cutter, 1, sizeof *work), counted = {.problem = problem};
    struct turns_work *to = work == NULL ? &counted : work;
    memset(to, 0, sizeof *to);
    to->problem = problem;
    to->hours = 24 * problem->days;
    to->field = cut(cutter, fields, sizeof *to->field);
    struct turns_model_day *day =
        cut(cutter, fields * days * (size_t)problem->courses, sizeof(struct turns_model_day));
    for (size_t i = 0; work != NULL && i < fields; i++)
        to->field[i].day = day + i * days * (size_t)problem->courses;
    to->member = cut(cutter, fields, sizeof *to->member);
    to->first = cut(cutter, (size_t)problem->supply_count + 1, sizeof *to->first);
    to->pinned = cut(cutter, (size_t)problem->pin_count + 1, sizeof *to->pinned);
    cut_lists(cutter, fields * days + 4, to);
    to->cost = cut(cutter, fields, sizeof *to->cost);
    to->trial_cost = cut(cutter, fields, sizeof *to->trial_cost);
    to->used = cut(cutter, fields, sizeof *to->used);
    to->trial_used = cut(cutter, fields, sizeof *to->trial_used);
    to->need_hours = cut(cutter, fields, sizeof *to->need_hours);
    to->bound = turns_bound_lay_out(cut(cutter, turns_bound_size(problem), 1), problem);
    return work;
}

size_t turns_workspace_size(const struct turns_problem *problem) {
    struct cutter cutter = {.block = NULL};
    if (turns_check(problem, NULL) != STATUS_OK)
        return 0;
    lay_out(problem, &cutter);
    return cutter.used;
}

/* Fields by supply. */
static void group(struct turns_work *work) {
    const struct turns_problem *problem = work->problem;
    int count = 0;
    for (int s = 0; s < problem->supply_count; s++) {
        work->first[s] = count;
        for (int i = 0; i < problem->field_count; i++)
            if (problem->field[i].supply == s)
                work->member[count++] = i;
    }
    work->first[problem->supply_count] = count;
}

/* ---- the plan, as the caller gets it */
static bool goes_before(const struct turn *a, const struct turn *b) {
    return a->start != b->start ? a->start < b->start : a->field < b->field;
}

static void write_turn(const struct turns_work *work, const struct turns_job *job, struct turns_plan *plan) {
    const struct turns_field *field = &work->problem->field[job->field];
    double gross_mm = job->hours * field->flow_m3_h * 1000 / field->area_m2;
    struct turn turn = {.field = job->field,
                        .start = job->start,
                        .hours = job->hours,
                        .end = job->end,
                        .pin = job->pin,
                        .net_mm = job->hours * work->field[job->field].rate_mm_h,
                        .gross_mm = gross_mm,
                        .volume_m3 = job->hours * field->flow_m3_h};
    int at = plan->turn_count++;
    for (; at > 0 && goes_before(&turn, &plan->turn[at - 1]); at--)
        plan->turn[at] = plan->turn[at - 1];
    plan->turn[at] = turn;
    plan->field_use[job->field].turns++;
    plan->field_use[job->field].hours += job->hours;
    plan->field_use[job->field].net_mm += turn.net_mm;
}

static void add_cost(struct turns_cost *to, const struct turns_cost *from) {
    to->loss += from->loss;
    to->water += from->water;
    to->pumping += from->pumping;
    to->percolation += from->percolation;
    to->end += from->end;
    to->total += from->total;
}

static void write_field(const struct turns_work *work, int field, struct turns_plan *plan) {
    struct turns_field_use *use = &plan->field_use[field];
    use->cost = turns_model_parts(work, field, work->used[field], use->depletion_mm);
    use->past_allowed_days = 0;
    for (int d = 0; d < work->problem->days; d++)
        use->past_allowed_days +=
            use->depletion_mm[d] > turns_model_allowed(work, field, d) * (1 + TURNS_SLACK);
}

/* The best plan of the work's supply, which is on the board. */
static void write_supply(struct turns_work *work, struct turns_plan *plan) {
    const struct turns_supply *supply = work->board.supply;
    struct turns_supply_use *use = &plan->supply_use[work->supply];
    use->hours_open = 0;
    for (int d = 0; d < work->problem->days; d++)
        use->hours_open += turns_board_hours(&work->board, d);
    use->hours_run = work->board.hours_run;
    use->volume_m3 = 0;
    for (int t = 0; t < work->hours; t++)
        use->volume_m3 += work->board.drawn[t];
    use->season_left_m3 = fmax(supply->season_left_m3 - work->board.season_m3, 0);
    use->season_left_m3 = isnan(supply->season_left_m3) ? NAN : use->season_left_m3;
    for (int p = 0; p < TURNS_PERIODS_MAX; p++)
        use->period_left_m3[p] =
            p < supply->period_count ? fmax(supply->period[p].left_m3 - work->board.period_m3[p], 0) : NAN;
    use->cost = (struct turns_cost){.pumping = use->hours_run * supply->hour_cost};
    use->cost.total = use->cost.pumping;
    for (int i = 0; i < work->pinned_count; i++)
        if (work->problem->field[work->pinned[i].field].supply == work->supply)
            write_turn(work, &work->pinned[i], plan);
    for (int i = 0; i < work->current.count; i++)
        write_turn(work, &work->current.job[i], plan);
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        write_field(work, work->member[i], plan);
        add_cost(&use->cost, &plan->field_use[work->member[i]].cost);
    }
}

/* ---- the parts in order */
static void begin_supply(struct turns_work *work, int supply) {
    work->supply = supply;
    work->random = UINT64_C(0x9E3779B97F4A7C15);
    turns_pins_board(work, supply);
    work->best.count = 0;
    turns_search_reset(work);
    work->best.cost = INFINITY;
    turns_search_keep(work);
}

static bool is_close(const struct turns_work *work, double bound) {
    return work->best.cost - bound <= CLOSE * fabs(work->best.cost);
}

/* Small parts of the plan anew, as long as that brings something. */
static void renew(struct turns_work *work, double bound, long tries) {
    double before;
    int parts = 0;
    do {
        long part = tries / 2;
        before = work->best.cost;
        turns_search_renew(work, &part);
        turns_search_refit(work, &part);
        parts++;
    } while (!is_close(work, bound) && before - work->best.cost > RENEW_GAIN * parts * fabs(work->best.cost));
}

/* Looks on from the plan that the rules and the first refit gave. Returns the bound. */
static double search(struct turns_work *work, long tries) {
    bool priced = !work->problem->effort.quick;
    double bound = priced ? turns_bound_run(work) : -INFINITY;
    if (is_close(work, bound))
        return bound;
    if (priced)
        turns_bound_guide(work, 20);
    long part = tries / 4;
    turns_search_back(work);
    turns_search_refit(work, &part);
    if (is_close(work, bound))
        return bound;
    part = tries / 4;
    turns_search_shuffle(work, &part);
    turns_search_refit(work, &part);
    if (tries > 0 && !is_close(work, bound))
        renew(work, bound, tries);
    return bound;
}

static int16_t within(int value, int least, int most) {
    return (int16_t)(value < least ? least : value > most ? most : value);
}

/* What stood, in the order of its begins: turns that are in each other's way follow each other. */
static void run_standing(struct turns_work *work) {
    const struct turns_problem *problem = work->problem;
    work->order.count = 0;
    for (int i = 0; i < problem->stand_count; i++) {
        const struct turns_pin *turn = &problem->stand[i];
        const struct turns_model_field *model = &work->field[turn->field];
        if (problem->field[turn->field].supply != work->supply || model->longest == 0)
            continue;
        struct turns_job job = {.field = turn->field,
                                .hours = within(turn->hours, model->shortest, model->longest),
                                .release = within(turn->start, problem->first_hour, work->hours),
                                .pin = -1};
        int at = work->order.count++;
        for (; at > 0 && work->order.job[at - 1].release > job.release; at--)
            work->order.job[at] = work->order.job[at - 1];
        work->order.job[at] = job;
    }
    if (work->order.count > 0)
        turns_search_decode(work, &work->order);
}

/* Plans one supply; the best plan is then on the board. Returns its bound. */
static double solve(struct turns_work *work, bool *proven) {
    const struct turns_effort *effort = &work->problem->effort;
    int count = work->first[work->supply + 1] - work->first[work->supply];
    long tries = effort->tries * count, part = tries / 4;
    *proven = count == 0;
    if (count == 0)
        return 0;
    for (int rule = 0; rule < TURNS_RULE_COUNT; rule++)
        turns_rules_run(work, (enum turns_rule)rule);
    double by_rules = work->best.cost;
    run_standing(work);
    turns_search_back(work);
    turns_search_refit(work, &part);
    turns_search_reset(work);
    turns_search_refit(work, &part);
    double bound = search(work, tries);
    *proven = !effort->quick && turns_exact_run(work);
    /* What is proven to cost the least may be had with fewer turns, too. */
    double worth = (*proven ? ROUNDING : TURN_WORTH) * fabs(work->best.cost) / count;
    turns_search_join(work, worth, by_rules, tries / 4);
    turns_search_back(work);
    return effort->quick ? (double)NAN : bound;
}

static void finish(struct turns_plan *plan, int supplies) {
    plan->cost = (struct turns_cost){0};
    plan->bound = 0;
    for (int s = 0; s < supplies; s++) {
        add_cost(&plan->cost, &plan->supply_use[s].cost);
        plan->bound += plan->supply_use[s].bound;
    }
    double apart = plan->cost.total - plan->bound;
    plan->gap = apart == 0 ? 0 : plan->cost.total > 0 ? apart / plan->cost.total : NAN;
}

static enum status begin(const struct turns_problem *problem, void *workspace, size_t size,
                         struct turns_plan *plan, struct turns_work **work) {
    plan->turn_count = plan->limit_count = 0;
    enum status status = turns_check(problem, NULL);
    if (status != STATUS_OK)
        return status;
    if (workspace == NULL || plan->turn == NULL || plan->supply_use == NULL || plan->field_use == NULL ||
        (plan->limit == NULL && plan->limit_room > 0))
        return STATUS_MISSING;
    if (size < turns_workspace_size(problem) || plan->turn_room < turns_room(problem))
        return STATUS_NO_ROOM;
    struct cutter cutter = {.block = workspace};
    *work = lay_out(problem, &cutter);
    (*work)->plan = plan;
    for (int i = 0; i < problem->field_count; i++)
        plan->field_use[i] = (struct turns_field_use){0};
    group(*work);
    turns_model_prepare(*work);
    turns_pins_place(*work);
    return STATUS_OK;
}

enum status turns_plan(const struct turns_problem *problem, void *workspace, size_t size,
                       struct turns_plan *plan) {
    struct turns_work *work;
    enum status status = begin(problem, workspace, size, plan, &work);
    if (status != STATUS_OK)
        return status;
    for (int s = 0; s < problem->supply_count; s++) {
        struct turns_supply_use *use = &plan->supply_use[s];
        begin_supply(work, s);
        use->priced_bound = solve(work, &use->proven);
        write_supply(work, plan);
        turns_limits_report(work);
        /* No part of a cost is below 0, and rounding may lift a bound above the cost that it meets. */
        use->bound = use->proven                ? use->cost.total
                     : isnan(use->priced_bound) ? use->priced_bound
                                                : fmin(fmax(use->priced_bound, 0), use->cost.total);
    }
    finish(plan, problem->supply_count);
    glp_free_env();
    return STATUS_OK;
}

/* Plans of the rules from `first` to `last`; `cheapest`: of these and of the pins alone, else the last. */
static enum status without_search(const struct turns_problem *problem, int first, int last, bool cheapest,
                                  void *workspace, size_t size, struct turns_plan *plan) {
    struct turns_work *work;
    enum status status = begin(problem, workspace, size, plan, &work);
    if (status == STATUS_OK && (first < 0 || last >= TURNS_RULE_COUNT))
        status = STATUS_OUT_OF_RANGE;
    if (status != STATUS_OK)
        return status;
    for (int s = 0; s < problem->supply_count; s++) {
        begin_supply(work, s);
        for (int rule = first; rule <= last; rule++)
            turns_rules_run(work, (enum turns_rule)rule);
        if (cheapest)
            turns_search_back(work);
        write_supply(work, plan);
        plan->supply_use[s].bound = plan->supply_use[s].priced_bound = NAN;
        plan->supply_use[s].proven = false;
    }
    finish(plan, problem->supply_count);
    return STATUS_OK;
}

enum status turns_by_rule(const struct turns_problem *problem, enum turns_rule rule, void *workspace,
                          size_t size, struct turns_plan *plan) {
    return without_search(problem, (int)rule, (int)rule, false, workspace, size, plan);
}

enum status turns_of_pins(const struct turns_problem *problem, void *workspace, size_t size,
                          struct turns_plan *plan) {
    return without_search(problem, 0, TURNS_RULE_COUNT - 1, true, workspace, size, plan);
}
