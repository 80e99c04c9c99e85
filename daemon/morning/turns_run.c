#include "daemon/morning/turns_run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/cores.h"
#include "daemon/store/farm_store.h"

/* Supplies whose plans are made at the same time, and of which memory is held. */
#define SUPPLIES_AT_ONCE 8

#define PRICED_AT_ONCE 20   /* fields of a supply */
#define DEARER_MOST    0.05 /* of what the plan cost */

enum status turns_run_add(struct turns_run *run, const struct farm_field *field,
                          const struct farm_planting *planting, const struct planting_run *from) {
    if (run->count == run->room) {
        size_t room = run->room == 0 ? 16 : run->room * 2;
        struct turns_case *grown = realloc(run->cases, room * sizeof *grown);
        if (grown == NULL)
            return STATUS_NO_MEMORY;
        run->cases = grown;
        run->room = room;
    }
    struct turns_case *out = &run->cases[run->vacant > 0 ? run->vacant - 1 : run->count++];
    run->vacant = 0;
    *out = (struct turns_case){.start_date = planting->start_date,
                               .days = from->field,
                               .prices = from->prices,
                               .later_etc_mm = from->later.etc_mm};
    memcpy(out->field_name, field->name, sizeof out->field_name);
    memcpy(out->supply, field->supply, sizeof out->supply);
    if (from->station_outlook == NULL)
        return STATUS_OK;
    out->weather = &from->station_outlook->weather[planting->crop.reference];
    return turns_courses_choose(out->weather, &out->courses);
}

void turns_run_forget(struct turns_run *run, const char *field) {
    for (size_t i = 0; i < run->count; i++)
        if (strcmp(run->cases[i].field_name, field) == 0) {
            run->cases[i].field_name[0] = run->cases[i].supply[0] = '\0';
            run->vacant = i + 1;
        }
}

void turns_run_free(struct turns_run *run) {
    free(run->cases);
    memset(run, 0, sizeof *run);
}

int turns_hours_passed(int32_t today, const struct morning_time *now) {
    if (now->today != today)
        return now->today > today ? 23 : 0;
    int hours = (now->minute + 59) / 60;
    return hours < 23 ? hours : 23;
}

/* A moment before the morning is none that is known: what the last plan went by stands. */
static enum status first_hour(struct db *db, const char *supply, int32_t today,
                              const struct morning_time *now, int *out, struct problems *problems) {
    int32_t day;
    int hour;
    *out = turns_hours_passed(today, now);
    if (now->today >= today)
        return STATUS_OK;
    enum status status = turns_store_made(db, supply, &day, &hour, problems);
    if (status == STATUS_OK && day == today)
        *out = hour;
    return status == STATUS_NOT_FOUND ? STATUS_OK : status;
}

/* FNV-1a of what is this farm's own: uids are to differ from those of other farms. */
static void seed_of(const struct farm *farm, const char *supply, int32_t today, char out[17]) {
    uint64_t seed = 0xcbf29ce484222325u;
    const char *part[] = {farm->name, supply};
    for (size_t i = 0; i < sizeof part / sizeof part[0]; i++)
        for (const char *c = part[i];; c++) {
            seed = (seed ^ (unsigned char)*c) * 0x100000001b3u;
            if (*c == '\0')
                break;
        }
    seed ^= (uint64_t)(uint32_t)today * 0x9e3779b97f4a7c15u;
    (void)snprintf(out, 17, "%016llx", (unsigned long long)seed);
}

/* What the plan that stood costs, without what was just said. */
static enum status cost_before(const struct turns_run *run, const struct turns_ask *ask,
                               const struct farm_supply *supply, double *cost) {
    struct farm farm = *ask->farm;
    struct turns_ask before = *ask;
    farm.turn_mark = (struct farm_turn_mark *)run->before->mark;
    farm.turn_mark_count = run->before->mark_count;
    before.farm = &farm;
    before.moved = 0;
    struct stored_turn *turns = calloc(ask->turn_count + 1, sizeof *turns);
    if (turns == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < ask->turn_count; i++)
        turns[i] = run->before->turn != NULL && run->before->turn->id == ask->turn[i].id ? *run->before->turn
                                                                                         : ask->turn[i];
    before.turn = turns;
    enum status status = turns_cost_standing(&before, supply, cost);
    free(turns);
    return status;
}

/* Where a case stands in the farm; false: nowhere any more. */
static bool place_case(const struct farm *farm, struct turns_case *the_case) {
    const struct farm_field *field = farm_field_named(farm, the_case->field_name);
    if (field == NULL)
        return false;
    the_case->field = (size_t)(field - farm->field);
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *planting = &farm->planting[i];
        the_case->planting = i;
        if (planting->start_date == the_case->start_date && strcmp(planting->field, field->name) == 0)
            return true;
    }
    return false;
}

/* One supply on its way from the book to its plan and back. */
struct supply_task {
    struct farm own; /* with the records of the supply's own fields alone: of all, they would be many */
    const struct farm *farm;
    const struct farm_supply *supply;
    struct turns_case *cases;
    struct stored_turn *turns;
    struct turns_ask ask;
    struct turns_made made;
    double before; /* what the turns that stood cost; NaN: nothing was said */
    enum status status;
};

static void task_free(struct supply_task *task) {
    turns_made_free(&task->made);
    free(task->turns);
    free(task->cases);
    farm_free(&task->own);
    memset(task, 0, sizeof *task);
}

static enum status choose_cases(const struct turns_run *run, const char *name, struct supply_task *task) {
    size_t count = 0;
    for (size_t i = 0; i < run->count; i++)
        count += strcmp(run->cases[i].supply, name) == 0;
    task->cases = calloc(count + 1, sizeof *task->cases);
    if (task->cases == NULL)
        return STATUS_NO_MEMORY;
    for (size_t i = 0; i < run->count; i++) {
        struct turns_case *the_case = &task->cases[task->ask.case_count];
        if (strcmp(run->cases[i].supply, name) != 0)
            continue;
        *the_case = run->cases[i];
        task->ask.case_count += place_case(task->farm, the_case);
    }
    task->ask.cases = task->cases;
    return STATUS_OK;
}

/* What stands in the book of one supply. */
static enum status load_task(const struct turns_run *run, struct db *db, const struct farm *all,
                             int32_t today, const struct morning_time *now, const char *name,
                             struct supply_task *task, struct problems *problems) {
    enum status status = STATUS_OK;
    size_t first = 0;
    while (first < all->field_count && strcmp(all->field[first].supply, name) != 0)
        first++;
    task->farm = all;
    if (first < all->field_count) {
        status = farm_store_load_sharing(db, all->field[first].name, &task->own, problems);
        task->farm = &task->own;
    }
    if (status != STATUS_OK)
        return status;
    task->supply = farm_supply_named(task->farm, name);
    task->ask = (struct turns_ask){.farm = task->farm,
                                   .today = today,
                                   .fields = (int)run->count,
                                   .at_once = run->at_once,
                                   .about = run->about};
    if (run->before != NULL) {
        task->ask.moved = run->before->moved;
        task->ask.moved_date = run->before->moved_date;
        task->ask.moved_hour = run->before->moved_hour;
    }
    status = choose_cases(run, name, task);
    if (status == STATUS_OK)
        status = first_hour(db, name, today, now, &task->ask.first_hour, problems);
    if (status == STATUS_OK)
        status = turns_store_turns(db, name, today, &task->turns, &task->ask.turn_count, problems);
    task->ask.turn = task->turns;
    return status;
}

struct supply_tasks {
    const struct turns_run *run;
    int64_t at;
    struct supply_task task[SUPPLIES_AT_ONCE];
};

/* A word or a record moves little: the turns around it are laid anew without prices, for which many fields
 * would be waited. Where the plan is much dearer than what stood (NaN: all may be another), they are sought
 * after all. */
static enum status make_about(struct supply_task *task, double stood, int64_t at) {
    task->ask.quick = isfinite(stood) && task->ask.case_count > PRICED_AT_ONCE;
    enum status status = turns_make(&task->ask, task->supply, at, &task->made);
    double dearer = task->made.supply.cost.total - stood;
    if (status != STATUS_OK || !task->ask.quick || dearer <= DEARER_MOST * fabs(stood))
        return status;
    turns_made_free(&task->made);
    task->ask.quick = false;
    return turns_make(&task->ask, task->supply, at, &task->made);
}

/* Reads no book and writes none, so that supplies are planned side by side. */
static void plan_task(void *context, long part) {
    const struct supply_tasks *tasks = context;
    struct supply_task *task = &((struct supply_tasks *)context)->task[part];
    const struct turns_before *before = tasks->run->before;
    double stood = NAN;
    task->before = NAN;
    task->status = STATUS_OK;
    if (before != NULL && before->recorded)
        task->status = turns_cost_standing(&task->ask, task->supply, &stood);
    else if (before != NULL)
        task->status = cost_before(tasks->run, &task->ask, task->supply, &task->before);
    if (task->status == STATUS_OK)
        task->status = make_about(task, isnan(stood) ? task->before : stood, tasks->at);
    if (task->status == STATUS_OK && task->made.supply.days > 0)
        task->made.supply.change_cost = task->made.supply.cost.total - task->before;
}

static enum status store_task(struct db *db, const struct supply_task *task, struct problems *problems) {
    char seed[17];
    if (task->status != STATUS_OK)
        return task->status;
    seed_of(task->farm, task->supply->name, task->ask.today, seed);
    return turns_store_save(db, &task->made, seed, problems);
}

/* Plans those supplies of the farm that are asked for, from `*next` on, as many as are planned at once. */
static enum status plan_some(struct supply_tasks *tasks, struct db *db, const struct farm *farm,
                             int32_t today, const struct morning_time *now, const char *only, size_t *next,
                             struct problems *problems) {
    enum status status = STATUS_OK;
    int count = 0, threads = tasks->run->threads > 0 ? tasks->run->threads : cores_count();
    for (; status == STATUS_OK && *next < farm->supply_count && count < SUPPLIES_AT_ONCE; (*next)++) {
        const char *name = farm->supply[*next].name;
        if (only == NULL || strcmp(name, only) == 0)
            status = load_task(tasks->run, db, farm, today, now, name, &tasks->task[count++], problems);
    }
    if (status == STATUS_OK)
        cores_share(threads < count ? threads : count, count, plan_task, tasks);
    for (int i = 0; i < count; i++) {
        if (status == STATUS_OK)
            status = store_task(db, &tasks->task[i], problems);
        task_free(&tasks->task[i]);
    }
    return status;
}

enum status turns_run_plan(struct turns_run *run, struct db *db, int32_t today,
                           const struct morning_time *now, const char *only, struct problems *problems) {
    struct farm farm;
    struct farm_counts counts;
    int64_t begun = (int64_t)today * 24, at = (int64_t)now->today * 24 + now->minute / 60;
    enum status status = farm_store_count(db, &counts, problems);
    if (status != STATUS_OK || counts.supplies == 0)
        return status; /* the book is not read for nothing: it may be large */
    struct supply_tasks *tasks = calloc(1, sizeof *tasks);
    if (tasks == NULL)
        return STATUS_NO_MEMORY;
    *tasks = (struct supply_tasks){.run = run, .at = now->at};
    status = farm_store_load_field(db, "", &farm, problems);
    if (status == STATUS_OK) {
        status = turns_store_settle(db, at > begun ? at : begun, problems);
        for (size_t i = 0; status == STATUS_OK && i < farm.supply_count;)
            status = plan_some(tasks, db, &farm, today, now, only, &i, problems);
        farm_free(&farm);
    }
    free(tasks);
    return status;
}
