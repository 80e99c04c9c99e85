/* The search that proves the best plan of a small supply: fields one after the other, all courses of turns of
 * each, hour by hour. A branch is left when what its fields cost so far, and what the others cost at the
 * least, is not below the best plan: without prices, and with the prices of the bound. */
#include "core/decide/turns_bound.h"

#include <math.h>
#include <string.h>

/* A branch must promise this share of the cost to be followed: rounding. */
#define GAIN 1e-11

struct exact {
    struct turns_work *work;
    struct turns_floors floors;
    const int *member;
    int count;
    long nodes;
    double free_rest[TURNS_EXACT_FIELDS + 1];   /* least money of the fields from the i-th on */
    double priced_rest[TURNS_EXACT_FIELDS + 1]; /* the same at prices */
};

/* True when a branch can still beat the best plan: `free` and `priced` are the money of the fields before the
 * i-th; of the i-th and those after it, the least. */
static bool promising(const struct exact *exact, int i, double free, double priced) {
    const struct turns_board *board = &exact->work->board;
    double best = exact->work->best.cost, limit = best - GAIN * fabs(best);
    return free + exact->free_rest[i] + board->hours_run * board->supply->hour_cost < limit &&
           exact->floors.supply_part + priced + exact->priced_rest[i] < limit;
}

/* Money of a field's turns at the bound's prices, its own money included. */
static double priced_money(const struct exact *exact, int i, double money) {
    const struct turns_work *work = exact->work;
    int field = exact->member[i];
    for (int d = 0; d < work->problem->days; d++)
        money += exact->floors.hour_price[i][d] * (work->used[field][d] - work->field[field].pinned[d]);
    for (int j = 0; j < work->current.count; j++)
        if (work->current.job[j].field == field)
            money += exact->floors.start_price[i][work->current.job[j].start / 24];
    return money;
}

static void branch_field(struct exact *exact, int i, double free, double priced);

/* Further turns of the i-th field from hour `from` on; then the next field. */
static void branch_turns(struct exact *exact, int i, int from, double free, double priced) {
    struct turns_work *work = exact->work;
    int field = exact->member[i];
    const struct turns_model_field *model = &work->field[field];
    struct turns_job own[TURNS_OWN_MAX];
    if (exact->nodes <= 0 || !promising(exact, i, free, priced))
        return;
    work->cost[field] = turns_model_cost(work, field, work->used[field]);
    branch_field(exact, i + 1, free + work->cost[field], priced + priced_money(exact, i, work->cost[field]));
    int count = turns_search_own(work, field, own);
    for (int start = from; start < work->hours && model->longest > 0; start++) {
        struct turns_walk walk;
        if (!turns_walk_begin(&walk, work, &work->board, field, start, model->field->setup_hours))
            continue;
        while (walk.hours < model->longest && turns_walk_on(&walk) && exact->nodes > 0 &&
               turns_jobs_apart(work, own, count, start, walk.hour)) {
            if (walk.hours < model->shortest)
                continue;
            exact->nodes--;
            struct turns_job job = {.field = field,
                                    .start = (int16_t)start,
                                    .hours = (int16_t)walk.hours,
                                    .end = (int16_t)walk.hour,
                                    .release = (int16_t)start,
                                    .pin = -1};
            turns_board_put(work, &work->board, &job, 1, work->used[field]);
            work->current.job[work->current.count++] = job;
            branch_turns(exact, i, job.end, free, priced);
            work->current.count--;
            turns_board_put(work, &work->board, &job, -1, work->used[field]);
        }
    }
}

static void branch_field(struct exact *exact, int i, double free, double priced) {
    if (!promising(exact, i, free, priced))
        return;
    if (i == exact->count)
        turns_search_keep(exact->work);
    else
        branch_turns(exact, i, exact->work->problem->first_hour, free, priced);
}

/* About the logarithm of the number of plans. */
static double plans_log10(const struct turns_work *work) {
    double sum = 0;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        struct turns_reach reach;
        turns_price_reach(work, work->member[i], 0, &reach);
        for (int d = 0; d < work->problem->days && work->field[work->member[i]].longest > 0; d++)
            sum += log10(1 + 0.5 * reach.most[d] * (reach.most[d] + 1));
    }
    return sum;
}

bool turns_exact_run(struct turns_work *work) {
    struct exact exact = {.work = work, .nodes = work->problem->effort.nodes};
    exact.member = &work->member[work->first[work->supply]];
    exact.count = work->first[work->supply + 1] - work->first[work->supply];
    /* Bounds leave about the square root of the plans to look at; far more are hopeless. */
    if (exact.count > TURNS_EXACT_FIELDS || exact.nodes < 1 ||
        plans_log10(work) > 2.2 * log10((double)exact.nodes))
        return false;
    turns_bound_floors(work, &exact.floors);
    exact.free_rest[exact.count] = exact.priced_rest[exact.count] = 0;
    for (int i = exact.count - 1; i >= 0; i--) {
        exact.free_rest[i] = exact.free_rest[i + 1] + exact.floors.free[i];
        exact.priced_rest[i] = exact.priced_rest[i + 1] + exact.floors.priced[i];
    }
    turns_search_reset(work);
    branch_field(&exact, 0, 0, 0);
    return exact.nodes > 0;
}
