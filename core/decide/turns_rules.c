/* The simple rules: fields queue in the morning and are served in order. */
#include "core/decide/turns_model.h"

#include <math.h>

struct queue {
    int field[TURNS_FIELDS_MAX];
    double share[TURNS_FIELDS_MAX]; /* of TAW gone this morning */
    double need_mm[TURNS_FIELDS_MAX];
    int count;
};

/* Mean depletion of a morning and of its evening, with the hours so far. */
static void look(const struct turns_work *work, int field, int day, double *morning_mm, double *evening_mm,
                 double *share) {
    const struct turns_problem *problem = work->problem;
    const struct turns_model_field *model = &work->field[field];
    double evenings[TURNS_DAYS_MAX], start = 0, taw = 0;
    turns_model_parts(work, field, work->used[field], evenings);
    for (int c = 0; c < problem->courses; c++) {
        start += problem->weight[c] * model->start_mm[c];
        taw += problem->weight[c] * model->day[c * problem->days + day].taw_mm;
    }
    *morning_mm = day == 0 ? start : evenings[day - 1];
    *evening_mm = evenings[day];
    *share = *morning_mm / taw;
}

static bool watered_on(const struct turns_work *work, int field, int day) {
    struct turns_job own[TURNS_OWN_MAX];
    int count = turns_search_own(work, field, own);
    for (int i = 0; i < count; i++)
        if (own[i].start < 24 * (day + 1) && own[i].end > 24 * day)
            return true;
    return false;
}

/* The queue of a morning: those who waited first, then those who are called now. */
static void gather(const struct turns_work *work, int day, struct queue *queue) {
    const int *member = &work->member[work->first[work->supply]];
    int count = work->first[work->supply + 1] - work->first[work->supply];
    int waiting = queue->count;
    for (int i = 0; i < count; i++) {
        int field = member[i], at = 0;
        double morning, evening, share;
        while (at < waiting && queue->field[at] != field)
            at++;
        look(work, field, day, &morning, &evening, &share);
        bool called = work->field[field].longest > 0 && evening > turns_model_allowed(work, field, day) &&
                      !watered_on(work, field, day);
        if (at == waiting && !called)
            continue;
        at = at == waiting ? queue->count++ : at;
        queue->field[at] = field;
        queue->need_mm[at] = morning;
        queue->share[at] = share;
    }
}

/* The driest first; equal ones keep their order. */
static void sort_by_share(struct queue *queue) {
    for (int i = 1; i < queue->count; i++)
        for (int j = i; j > 0 && queue->share[j] > queue->share[j - 1]; j--) {
            int field = queue->field[j];
            double share = queue->share[j], need = queue->need_mm[j];
            queue->field[j] = queue->field[j - 1];
            queue->share[j] = queue->share[j - 1];
            queue->need_mm[j] = queue->need_mm[j - 1];
            queue->field[j - 1] = field;
            queue->share[j - 1] = share;
            queue->need_mm[j - 1] = need;
        }
}

/* The earliest turn of a field from hour `from` on and on that day, of up to `wanted` hours. */
static bool earliest(const struct turns_work *work, int field, int from, int wanted, struct turns_job *job) {
    struct turns_job own[TURNS_OWN_MAX];
    int count = turns_search_own(work, field, own);
    int shortest = work->field[field].shortest;
    struct turns_walk walk;
    for (int start = from; start / 24 == from / 24; start = turns_walk_next(&walk)) {
        int setup = work->problem->field[field].setup_hours, end = 0, hours = 0;
        if (turns_walk_begin(&walk, work, &work->board, field, start, setup))
            while (walk.hours < wanted && turns_walk_on(&walk) &&
                   turns_jobs_apart(work, own, count, start, walk.hour)) {
                hours = walk.hours;
                end = walk.hour;
            }
        if (hours >= shortest) {
            *job = (struct turns_job){.field = field,
                                      .start = (int16_t)start,
                                      .hours = (int16_t)hours,
                                      .end = (int16_t)end,
                                      .release = (int16_t)start,
                                      .pin = -1};
            return true;
        }
    }
    return false;
}

void turns_rules_run(struct turns_work *work, enum turns_rule rule) {
    struct queue queue = {.count = 0};
    turns_search_reset(work);
    for (int day = 0; day < work->problem->days; day++) {
        int from = day == 0 ? work->problem->first_hour : 24 * day, left = 0;
        gather(work, day, &queue);
        if (rule == TURNS_EARLIEST_DRY)
            sort_by_share(&queue);
        for (int i = 0; i < queue.count; i++) {
            const struct turns_model_field *model = &work->field[queue.field[i]];
            int wanted = (int)floor(queue.need_mm[i] / model->rate_mm_h);
            wanted = wanted > model->longest ? model->longest : wanted;
            wanted = wanted < model->shortest ? model->shortest : wanted;
            struct turns_job job;
            if (earliest(work, queue.field[i], from, wanted, &job)) {
                turns_search_add(work, &job);
                from = job.start;
            } else {
                queue.field[left++] = queue.field[i];
            }
        }
        queue.count = left;
    }
    turns_search_keep(work);
}
