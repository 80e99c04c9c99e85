/* The search of one supply: what all of its moves share, and fields laid anew one by one. */
#include "core/decide/turns_model.h"

#include <math.h>
#include <string.h>

/* Less than this share of a cost is rounding, no gain. */
#define GAIN 1e-10
/* Turns no more hours apart are near. So many fields are laid anew at once. */
#define NEAR_HOURS  6
#define NEAR_FIELDS 6

/* xorshift64: G. Marsaglia, Xorshift RNGs, Journal of Statistical Software 8, 2003. */
int turns_random_below(struct turns_work *work, int count) {
    uint64_t x = work->random;
    x ^= x << 13;
    x ^= x >> 7;
    x ^= x << 17;
    work->random = x;
    return (int)((x >> 11) % (uint64_t)count);
}

void turns_search_reset(struct turns_work *work) {
    work->board = work->pins_board;
    work->current.count = 0;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        int field = work->member[i];
        memcpy(work->used[field], work->field[field].pinned, sizeof work->used[field]);
        work->cost[field] = turns_model_cost(work, field, work->used[field]);
    }
}

void turns_search_add(struct turns_work *work, const struct turns_job *job) {
    turns_board_put(work, &work->board, job, 1, work->used[job->field]);
    work->current.job[work->current.count++] = *job;
    work->cost[job->field] = turns_model_cost(work, job->field, work->used[job->field]);
}

/* Takes the i-th job out; the order of the others stays. The field's money is the caller's to renew. */
static void take(struct turns_work *work, int i) {
    struct turns_list *list = &work->current;
    turns_board_put(work, &work->board, &list->job[i], -1, work->used[list->job[i].field]);
    memmove(&list->job[i], &list->job[i + 1], (size_t)(list->count - i - 1) * sizeof *list->job);
    list->count--;
}

void turns_list_copy(struct turns_list *to, const struct turns_list *from) {
    memcpy(to->job, from->job, (size_t)from->count * sizeof *to->job);
    to->count = from->count;
    to->cost = from->cost;
}

void turns_search_keep(struct turns_work *work) {
    double cost = work->board.hours_run * work->board.supply->hour_cost;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        cost += work->cost[work->member[i]];
    work->current.cost = cost;
    if (cost < work->best.cost - GAIN * fabs(cost))
        turns_list_copy(&work->best, &work->current);
}

void turns_search_back(struct turns_work *work) {
    turns_search_reset(work);
    for (int i = 0; i < work->best.count; i++)
        turns_search_add(work, &work->best.job[i]);
    work->current.cost = work->best.cost;
}

int turns_search_own(const struct turns_work *work, int field, struct turns_job own[TURNS_OWN_MAX]) {
    int count = 0;
    for (int i = 0; i < work->pinned_count; i++)
        if (work->pinned[i].field == field)
            own[count++] = work->pinned[i];
    for (int i = 0; i < work->current.count; i++)
        if (work->current.job[i].field == field)
            own[count++] = work->current.job[i];
    return count;
}

/* The best turn that can be added to a field. */
struct addition {
    struct turns_work *work;
    int field;
    struct turns_job own[TURNS_OWN_MAX];
    int own_count;
    struct turns_prefix prefix;
    double cost; /* of the field with it, and its pumping */
    struct turns_job job;
    bool found;
    /* Turns inside one day differ by their hours and what they pump alone; the least of that seen so far. */
    int8_t seen[TURNS_DAYS_MAX][25];
};

static void weigh(struct addition *addition, const struct turns_walk *walk) {
    struct turns_work *work = addition->work;
    int day = walk->start / 24;
    if (walk->by_day[day] == walk->hours) {
        int8_t *seen = &addition->seen[day][walk->hours];
        if (*seen <= walk->fresh)
            return;
        *seen = (int8_t)walk->fresh;
    }
    uint8_t hours[TURNS_DAYS_MAX];
    for (int d = 0; d < TURNS_DAYS_MAX; d++)
        hours[d] = (uint8_t)(work->used[addition->field][d] + walk->by_day[d]);
    double cost = turns_model_tail(work, addition->field, hours, day, &addition->prefix) +
                  walk->fresh * work->board.supply->hour_cost;
    if (addition->found && cost >= addition->cost - GAIN * fabs(cost))
        return;
    addition->found = true;
    addition->cost = cost;
    addition->job = (struct turns_job){.field = addition->field,
                                       .start = (int16_t)walk->start,
                                       .hours = (int16_t)walk->hours,
                                       .end = (int16_t)walk->hour,
                                       .release = (int16_t)walk->start,
                                       .pin = -1};
}

/* Weighs every start and length that fits. Returns the number of starts. */
static long scan(struct addition *addition) {
    struct turns_work *work = addition->work;
    const struct turns_model_field *model = &work->field[addition->field];
    long starts = 0;
    struct turns_walk walk;
    turns_model_prefix(work, addition->field, work->used[addition->field], &addition->prefix);
    memset(addition->seen, INT8_MAX, sizeof addition->seen);
    for (int start = work->problem->first_hour; start < work->hours; start = turns_walk_next(&walk)) {
        starts++;
        if (!turns_walk_begin(&walk, work, &work->board, addition->field, start, model->field->setup_hours))
            continue;
        while (walk.hours < model->longest && turns_walk_on(&walk)) {
            if (!turns_jobs_apart(work, addition->own, addition->own_count, start, walk.hour))
                break;
            if (walk.hours >= model->shortest)
                weigh(addition, &walk);
        }
        if (walk.hours >= model->shortest)
            walk.why = TURNS_LIMIT_PIN_HORIZON; /* the next start may do as well */
    }
    return starts;
}

/* Adds turns to a field as long as one pays. */
static void fill(struct turns_work *work, int field, long *tries) {
    struct addition addition;
    if (work->field[field].longest == 0)
        return;
    for (int i = 0; i < work->problem->days; i++) {
        addition.work = work;
        addition.field = field;
        addition.found = false;
        addition.own_count = turns_search_own(work, field, addition.own);
        *tries -= scan(&addition);
        if (!addition.found || addition.cost >= work->cost[field] - GAIN * fabs(work->cost[field]))
            return;
        turns_search_add(work, &addition.job);
    }
}

static double money(const struct turns_work *work) {
    double cost = work->board.hours_run * work->board.supply->hour_cost;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        cost += work->cost[work->member[i]];
    return cost;
}

/* Takes away the planner's turns of a field: all, or only the k-th. */
static void clear_field(struct turns_work *work, int field, int only) {
    int k = 0;
    for (int i = 0; i < work->current.count;) {
        if (work->current.job[i].field == field && (only < 0 || k++ == only)) {
            take(work, i);
        } else {
            i++;
        }
    }
    work->cost[field] = turns_model_cost(work, field, work->used[field]);
}

/* Makes the current plan what it was before a change, as `trial` kept it. */
static void undo(struct turns_work *work) {
    turns_search_reset(work);
    for (int i = 0; i < work->trial.count; i++) {
        const struct turns_job *job = &work->trial.job[i];
        turns_board_put(work, &work->board, job, 1, work->used[job->field]);
        work->current.job[work->current.count++] = *job;
    }
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        work->cost[work->member[i]] = turns_model_cost(work, work->member[i], work->used[work->member[i]]);
}

/* One change to the current plan: fields a and b (or a alone) without all, or one, of a's turns, then filled
 * again. Undone when it is no gain. */
static bool relay(struct turns_work *work, int a, int b, int only, long *tries) {
    double before = money(work);
    turns_list_copy(&work->trial, &work->current);
    clear_field(work, a, only);
    if (b >= 0) {
        clear_field(work, b, -1);
        fill(work, b, tries);
    }
    fill(work, a, tries);
    if (money(work) < before - GAIN * fabs(before))
        return true;
    undo(work);
    return false;
}

void turns_search_refit(struct turns_work *work, long *tries) {
    const int *member = &work->member[work->first[work->supply]];
    int count = work->first[work->supply + 1] - work->first[work->supply];
    bool gained = true;
    while (gained && *tries > 0) {
        gained = false;
        for (int i = 0; i<count && * tries> 0; i++) {
            struct turns_job own[TURNS_OWN_MAX];
            gained |= relay(work, member[i], -1, -1, tries);
            int other = turns_random_below(work, count);
            if (other != i)
                gained |= relay(work, member[i], member[other], -1, tries);
            int turns = turns_search_own(work, member[i], own);
            for (int k = 0; k<turns && * tries> 0; k++)
                gained |= relay(work, member[i], -1, k, tries);
        }
    }
    turns_search_keep(work);
}

/* Fields whose turns are on near an hour, and at most `room` of them: those met first from any place in the
 * list on. */
static int fields_near(struct turns_work *work, int hour, int field[], int room) {
    const struct turns_list *list = &work->current;
    int count = 0, from = turns_random_below(work, list->count);
    for (int i = 0; i < list->count && count < room; i++) {
        const struct turns_job *job = &list->job[(from + i) % list->count];
        bool known = job->end + NEAR_HOURS < hour || job->start - NEAR_HOURS > hour;
        for (int k = 0; k < count && !known; k++)
            known = field[k] == job->field;
        if (!known)
            field[count++] = job->field;
    }
    return count;
}

void turns_search_renew(struct turns_work *work, long *tries) {
    int field[NEAR_FIELDS];
    while (*tries > 0 && work->current.count > 0) {
        const struct turns_list *list = &work->current;
        int hour = list->job[turns_random_below(work, list->count)].start;
        int count = fields_near(work, hour, field, 2 + turns_random_below(work, NEAR_FIELDS - 1));
        double before = money(work);
        turns_list_copy(&work->trial, &work->current);
        for (int k = 0; k < count; k++)
            clear_field(work, field[k], -1);
        for (int k = 0; k < count; k++)
            fill(work, field[k], tries);
        if (money(work) > before + GAIN * fabs(before))
            undo(work);
        (*tries)--;
    }
    turns_search_keep(work);
}
