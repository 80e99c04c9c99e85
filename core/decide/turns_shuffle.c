/* The search over orders: a list of jobs is placed one after the other, each as early as its release lets it;
 * the order, the hours and the releases are changed, and what costs less is kept. A change that costs more is
 * accepted when it is no worse than the plan some changes ago (late acceptance: E.K. Burke and Y. Bykov, The
 * late acceptance hill-climbing heuristic, European Journal of Operational Research 258, 2017; from memory).
 */
#include "core/decide/turns_model.h"

#include <math.h>
#include <string.h>

#define MEMORY 64

/* Jobs of the job's field among those already placed, and pins. */
static int placed_own(const struct turns_work *work, const struct turns_list *list, int field,
                      struct turns_job own[TURNS_OWN_MAX]) {
    int count = 0;
    for (int i = 0; i < work->pinned_count; i++)
        if (work->pinned[i].field == field)
            own[count++] = work->pinned[i];
    for (int i = 0; i < list->count; i++)
        if (list->job[i].field == field)
            own[count++] = list->job[i];
    return count;
}

/* Places a job as early as may be, shortened if it does not fit at the end of the horizon. */
static bool settle(struct turns_work *work, const struct turns_list *list, struct turns_job *job) {
    struct turns_job own[TURNS_OWN_MAX];
    const struct turns_model_field *model = &work->field[job->field];
    int count = placed_own(work, list, job->field, own), setup = model->field->setup_hours;
    struct turns_walk walk;
    for (int start = job->release; start < work->hours; start = turns_walk_next(&walk)) {
        if (!turns_walk_begin(&walk, work, &work->board, job->field, start, setup))
            continue;
        while (walk.hours < job->hours && turns_walk_on(&walk))
            ;
        bool rest = walk.hours < job->hours && walk.why != TURNS_LIMIT_PIN_HORIZON &&
                    walk.why != TURNS_LIMIT_PIN_ALLOTMENT;
        if (!rest && walk.hours >= model->shortest) {
            int end = walk.hour;
            if (walk.hours < job->hours) {
                /* Hours since the last that ran are no part of it. */
                struct turns_job shorter = *job;
                shorter.start = (int16_t)start;
                shorter.hours = (int16_t)walk.hours;
                turns_walk_job(&walk, work, &work->board, &shorter);
                end = walk.hour;
            }
            if (turns_jobs_apart(work, own, count, start, end)) {
                job->start = (int16_t)start;
                job->hours = (int16_t)walk.hours;
                job->end = (int16_t)end;
                return true;
            }
            walk.why = TURNS_LIMIT_PIN_HORIZON;
        }
    }
    return false;
}

/* Places all jobs of `list` in their order on the board; those that find no place go. `used` by field. */
static void place(struct turns_work *work, const struct turns_list *list, struct turns_list *out,
                  uint8_t (*used)[TURNS_DAYS_MAX]) {
    work->board = work->pins_board;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        memcpy(used[work->member[i]], work->field[work->member[i]].pinned, sizeof used[0]);
    out->count = 0;
    for (int i = 0; i < list->count; i++) {
        struct turns_job job = list->job[i];
        if (!settle(work, out, &job))
            continue;
        turns_board_put(work, &work->board, &job, 1, used[job.field]);
        out->job[out->count++] = job;
    }
}

void turns_search_decode(struct turns_work *work, const struct turns_list *list) {
    place(work, list, &work->current, work->used);
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        work->cost[work->member[i]] = turns_model_cost(work, work->member[i], work->used[work->member[i]]);
    turns_search_keep(work);
}

static void insert(struct turns_list *list, int at, const struct turns_job *job) {
    memmove(&list->job[at + 1], &list->job[at], (size_t)(list->count - at) * sizeof *job);
    list->job[at] = *job;
    list->count++;
}

static struct turns_job cut_out(struct turns_list *list, int at) {
    struct turns_job job = list->job[at];
    list->count--;
    memmove(&list->job[at], &list->job[at + 1], (size_t)(list->count - at) * sizeof job);
    return job;
}

static void new_hours(struct turns_work *work, struct turns_job *job) {
    const struct turns_model_field *model = &work->field[job->field];
    int span = model->longest - model->shortest + 1;
    switch (turns_random_below(work, 4)) {
    case 0:
        job->hours = (int16_t)(model->shortest + turns_random_below(work, span));
        break;
    case 1:
        job->hours = (int16_t)(job->hours < model->longest ? job->hours + 1 : job->hours);
        break;
    case 2:
        job->hours = (int16_t)(job->hours > model->shortest ? job->hours - 1 : job->hours);
        break;
    default:
        job->hours = (int16_t)(turns_random_below(work, 2) ? model->longest : model->shortest);
        break;
    }
}

static void new_release(struct turns_work *work, struct turns_job *job) {
    int first = work->problem->first_hour;
    switch (turns_random_below(work, 3)) {
    case 0:
        job->release = (int16_t)first;
        break;
    case 1: {
        int to = job->start + turns_random_below(work, 25) - 12;
        job->release = (int16_t)(to < first ? first : to >= work->hours ? work->hours - 1 : to);
        break;
    }
    default: {
        int day = 24 * turns_random_below(work, work->problem->days);
        job->release = (int16_t)(day < first ? first : day);
        break;
    }
    }
}

/* A new job of a field of the supply at any place in the list. */
static void add_any(struct turns_work *work, struct turns_list *list) {
    int count = work->first[work->supply + 1] - work->first[work->supply];
    int field = work->member[work->first[work->supply] + turns_random_below(work, count)];
    const struct turns_model_field *model = &work->field[field];
    if (model->longest == 0)
        return;
    struct turns_job job = {.field = field, .release = (int16_t)work->problem->first_hour, .pin = -1};
    job.hours = (int16_t)(model->shortest + turns_random_below(work, model->longest - model->shortest + 1));
    int at = turns_random_below(work, list->count + 1);
    if (turns_random_below(work, 2) && at < list->count)
        job.release = list->job[at].start;
    insert(list, at, &job);
}

static void change(struct turns_work *work, struct turns_list *list) {
    int kind = list->count == 0 ? 0 : turns_random_below(work, 12);
    int at = list->count == 0 ? 0 : turns_random_below(work, list->count);
    switch (kind) {
    case 0:
        add_any(work, list);
        break;
    case 1:
        cut_out(list, at);
        break;
    case 2:
        new_release(work, &list->job[at]);
        break;
    case 3:
    case 4:
    case 5:
        new_hours(work, &list->job[at]);
        break;
    case 6:
    case 7: { /* two change places, and what they waited for */
        int other = turns_random_below(work, list->count);
        struct turns_job job = list->job[at];
        list->job[at] = list->job[other];
        list->job[other] = job;
        job.release = list->job[at].release;
        list->job[at].release = list->job[other].release;
        list->job[other].release = job.release;
        break;
    }
    case 8: { /* the other field's turn instead */
        int count = work->first[work->supply + 1] - work->first[work->supply];
        int field = work->member[work->first[work->supply] + turns_random_below(work, count)];
        const struct turns_model_field *model = &work->field[field];
        struct turns_job *job = &list->job[at];
        if (model->longest == 0)
            break;
        job->field = field;
        job->hours = (int16_t)(job->hours < model->shortest  ? model->shortest
                               : job->hours > model->longest ? model->longest
                                                             : job->hours);
        break;
    }
    default: {
        struct turns_job job = cut_out(list, at);
        insert(list, turns_random_below(work, list->count + 1), &job);
        break;
    }
    }
}

/* Money of what is on the board; fields whose hours are those of `current` are not reckoned again. */
static double weigh(struct turns_work *work) {
    double cost = work->board.hours_run * work->board.supply->hour_cost;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        int field = work->member[i];
        bool same = memcmp(work->trial_used[field], work->used[field], sizeof work->used[field]) == 0;
        work->trial_cost[field] =
            same ? work->cost[field] : turns_model_cost(work, field, work->trial_used[field]);
        cost += work->trial_cost[field];
    }
    return cost;
}

static void accept(struct turns_work *work, double cost) {
    struct turns_list list = work->current;
    work->current = work->trial;
    work->current.cost = cost;
    work->trial = list;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        int field = work->member[i];
        memcpy(work->used[field], work->trial_used[field], sizeof work->used[field]);
        work->cost[field] = work->trial_cost[field];
    }
}

void turns_search_shuffle(struct turns_work *work, long *tries) {
    double before[MEMORY];
    turns_search_back(work);
    for (int i = 0; i < MEMORY; i++)
        before[i] = work->current.cost;
    for (long step = 0; *tries > 0; step++, *tries -= 1 + work->order.count) {
        double *late = &before[step % MEMORY];
        turns_list_copy(&work->order, &work->current);
        change(work, &work->order);
        if (turns_random_below(work, 3) == 0)
            change(work, &work->order);
        place(work, &work->order, &work->trial, work->trial_used);
        double cost = weigh(work);
        if (cost <= *late || cost <= work->current.cost)
            accept(work, cost);
        if (work->current.cost < *late)
            *late = work->current.cost;
        if (work->current.cost < work->best.cost - 1e-10 * fabs(work->best.cost))
            turns_list_copy(&work->best, &work->current);
    }
    turns_search_back(work);
}

/* ---- fewer turns */

/* Longer turns are no remainders. */
#define JOINED_MOST_HOURS 24

/* Of two turns of a field: one where the earlier begins, one that ends where the later does, or the shorter
 * is left out. */
enum join { JOIN_EARLIER, JOIN_LATER, JOIN_NONE };

/* `current` by begin, each turn to be laid where it stands: in this order it comes out the same. */
static void sort_current(struct turns_work *work) {
    struct turns_job *job = work->current.job;
    for (int i = 0; i < work->current.count; i++) {
        struct turns_job one = job[i];
        int at = i;
        one.release = one.start;
        for (; at > 0 && job[at - 1].start > one.start; at--)
            job[at] = job[at - 1];
        job[at] = one;
    }
}

/* The turn of the same field before (step -1) or after (step 1) the at-th; -1: there is none. */
static int neighbour(const struct turns_list *list, int at, int step) {
    int i = at + step;
    while (i >= 0 && i < list->count && list->job[i].field != list->job[at].field)
        i += step;
    return i < list->count ? i : -1;
}

static void join(const struct turns_work *work, struct turns_list *list, int at, int other, enum join how) {
    int first = at < other ? at : other, second = at < other ? other : at;
    int moved = list->job[first].hours, longest = work->field[list->job[at].field].longest;
    int hours = moved + list->job[second].hours;
    /* What comes between them may begin as much earlier. */
    for (int i = first + 1; how == JOIN_LATER && i <= second; i++) {
        int release = list->job[i].release - moved, least = work->problem->first_hour;
        list->job[i].release = (int16_t)(release > least ? release : least);
    }
    if (how != JOIN_NONE)
        list->job[how == JOIN_EARLIER ? first : second].hours = (int16_t)(hours < longest ? hours : longest);
    cut_out(list, how == JOIN_NONE ? at : how == JOIN_EARLIER ? second : first);
}

/* Joins two turns of `current` where the plan then costs at most that much. */
static bool join_two(struct turns_work *work, int at, int other, enum join how, double most, long *tries) {
    turns_list_copy(&work->order, &work->current);
    join(work, &work->order, at, other, how);
    place(work, &work->order, &work->trial, work->trial_used);
    *tries -= 1 + work->order.count;
    double cost = weigh(work);
    if (cost > most)
        return false;
    accept(work, cost);
    sort_current(work);
    return true;
}

static bool join_one(struct turns_work *work, int at, double most, long *tries) {
    for (int step = -1; step <= 1; step += 2) {
        int other = neighbour(&work->current, at, step);
        if (other >= 0 && (join_two(work, at, other, JOIN_EARLIER, most, tries) ||
                           join_two(work, at, other, JOIN_LATER, most, tries)))
            return true;
    }
    return join_two(work, at, at, JOIN_NONE, most, tries);
}

void turns_search_join(struct turns_work *work, double worth, double most, long tries) {
    turns_search_back(work);
    sort_current(work);
    for (int hours = 1; hours <= JOINED_MOST_HOURS; hours++)
        for (int i = 0; i < work->current.count && tries > 0; i++)
            if (work->current.job[i].hours == hours &&
                join_one(work, i, fmin(work->current.cost + worth, most), &tries)) {
                hours = 1;
                i = -1;
            }
    turns_list_copy(&work->best, &work->current);
}
