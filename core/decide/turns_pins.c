/* Pinned turns: placed first, in their order; one that breaks a limit is left out and reported. */
#include "core/decide/turns_model.h"

#include <math.h>
#include <stdlib.h>

void turns_report(struct turns_work *work, const struct turns_limit *limit) {
    struct turns_plan *plan = work->plan;
    if (plan->limit_count < plan->limit_room)
        plan->limit[plan->limit_count] = *limit;
    plan->limit_count++;
}

struct turns_limit turns_limit_empty(enum turns_limit_kind kind) {
    return (struct turns_limit){.kind = kind,
                                .supply = -1,
                                .field = -1,
                                .pin = -1,
                                .period = -1,
                                .hour = -1,
                                .day = -1,
                                .over = NAN,
                                .more_hours_per_day = NAN,
                                .more_flow_m3_h = NAN,
                                .more_m3 = NAN,
                                .dry_field = -1,
                                .dry_cost = NAN,
                                .start = -1};
}

/* Hours by which a pin's run lies outside its field's ranges. */
static int out_of_range(const struct turns_model_field *model, const struct turns_pin *pin) {
    if (pin->hours > model->longest)
        return pin->hours - model->longest;
    return pin->under_way || pin->hours >= model->shortest ? 0 : model->shortest - pin->hours;
}

/* True when no accepted pin of the same field is on between the job's set-up and its end. */
static bool apart(const struct turns_work *work, const struct turns_job *job, int *hour) {
    const struct turns_supply *supply = &work->problem->supply[work->problem->field[job->field].supply];
    int begin = turns_setup_begin(supply, job->start, turns_job_setup(work, job));
    for (int i = 0; i < work->pinned_count; i++) {
        const struct turns_job *other = &work->pinned[i];
        int other_begin = turns_setup_begin(supply, other->start, turns_job_setup(work, other));
        if (other->field != job->field || begin >= other->end || other_begin >= job->end)
            continue;
        *hour = begin > other_begin ? begin : other_begin;
        return false;
    }
    return true;
}

static bool fits(const struct turns_work *work, const struct turns_board *board, struct turns_job *job,
                 struct turns_walk *walk) {
    if (!turns_walk_job(walk, work, board, job))
        return false;
    if (apart(work, job, &walk->hour))
        return true;
    walk->why = TURNS_LIMIT_PIN_OVERLAP;
    walk->over = NAN;
    return false;
}

/* The start nearest to the pin's at which it fits, the earlier of two; -1. */
static int nearest_start(const struct turns_work *work, const struct turns_board *board,
                         const struct turns_job *job) {
    struct turns_walk walk;
    for (int away = 1; away < work->hours; away++)
        for (int side = -1; side <= 1; side += 2) {
            struct turns_job moved = *job;
            moved.start = (int16_t)(job->start + side * away);
            if (moved.start >= 0 && moved.start < work->hours && fits(work, board, &moved, &walk))
                return moved.start;
        }
    return -1;
}

static void refuse(struct turns_work *work, const struct turns_board *board, const struct turns_job *job,
                   const struct turns_walk *walk) {
    struct turns_limit limit = turns_limit_empty(walk->why);
    limit.supply = work->problem->field[job->field].supply;
    limit.field = job->field;
    limit.pin = job->pin;
    limit.over = walk->over;
    limit.hour = walk->hour < work->hours ? walk->hour : -1;
    limit.day = limit.hour < 0 ? -1 : limit.hour / 24;
    limit.period = walk->period;
    if (walk->why == TURNS_LIMIT_PIN_FLOW)
        limit.more_flow_m3_h = walk->over;
    if (walk->why == TURNS_LIMIT_PIN_HOURS)
        limit.more_hours_per_day = walk->over;
    if (walk->why == TURNS_LIMIT_PIN_ALLOTMENT) {
        /* The first hour without water is known; all the rest of the run is needed too. */
        double rest = job->hours - walk->hours - 1;
        limit.over += rest * work->problem->field[job->field].flow_m3_h;
        limit.more_m3 = limit.over;
    }
    if (walk->why != TURNS_LIMIT_PIN_RANGE)
        limit.start = nearest_start(work, board, job);
    turns_report(work, &limit);
}

/* Places the pins of one supply on `board`, which is clear. */
static void place(struct turns_work *work, struct turns_board *board, int supply) {
    const struct turns_problem *problem = work->problem;
    for (int i = 0; i < problem->pin_count; i++) {
        const struct turns_pin *pin = &problem->pin[i];
        struct turns_model_field *model = &work->field[pin->field];
        if (problem->field[pin->field].supply != supply)
            continue;
        struct turns_job job = {.field = pin->field,
                                .start = (int16_t)pin->start,
                                .hours = (int16_t)pin->hours,
                                .release = (int16_t)pin->start,
                                .pin = i};
        struct turns_walk walk = {.why = TURNS_LIMIT_PIN_RANGE, .period = -1, .hour = pin->start};
        walk.over = out_of_range(model, pin);
        if (walk.over > 0 || !fits(work, board, &job, &walk)) {
            refuse(work, board, &job, &walk);
            continue;
        }
        turns_board_put(work, board, &job, 1, model->pinned);
        work->pinned[work->pinned_count++] = job;
    }
}

void turns_pins_place(struct turns_work *work) {
    for (int s = 0; s < work->problem->supply_count; s++) {
        turns_board_clear(work, &work->pins_board, s);
        place(work, &work->pins_board, s);
    }
    for (int i = 0; i < work->problem->field_count; i++)
        for (int d = 0; work->problem->field[i].pins_only && d < work->problem->days; d++)
            work->field[i].barred[d] = UINT32_MAX;
}

void turns_pins_board(struct turns_work *work, int supply) {
    turns_board_clear(work, &work->pins_board, supply);
    for (int i = 0; i < work->pinned_count; i++)
        if (work->problem->field[work->pinned[i].field].supply == supply)
            turns_board_put(work, &work->pins_board, &work->pinned[i], 1, NULL);
}
