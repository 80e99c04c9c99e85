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

/* What was planned of a supply is not right any more. */
static void drop_ready(struct turns_run *run, const char *supply) {
    for (size_t i = 0; supply[0] != '\0' && i < run->ready_count; i++)
        if (strcmp(run->ready[i].supply.name, supply) == 0) {
            turns_made_free(&run->ready[i].made);
            memmove(&run->ready[i], &run->ready[run->ready_count - 1], sizeof run->ready[i]);
            run->ready_count--;
            run->dropped = true;
            return;
        }
}

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
    drop_ready(run, field->supply);
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
            drop_ready(run, run->cases[i].supply);
            run->cases[i].field_name[0] = run->cases[i].supply[0] = '\0';
            run->vacant = i + 1;
        }
}

void turns_run_free(struct turns_run *run) {
    for (size_t i = 0; i < run->ready_count; i++)
        turns_made_free(&run->ready[i].made);
    free(run->ready);
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
    struct farm_supply known; /* as the book has it, to tell later on whether it is the same */
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
    memcpy(&task->known, farm_supply_named(all, name), sizeof task->known);
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

static const struct turns_ready *ready_of(const struct turns_run *run, const struct farm_supply *supply) {
    for (size_t i = 0; i < run->ready_count; i++)
        if (memcmp(&run->ready[i].supply, supply, sizeof *supply) == 0)
            return &run->ready[i];
    return NULL;
}

static bool has_fields(const struct turns_run *run, const char *supply) {
    for (size_t i = 0; i < run->count; i++)
        if (strcmp(run->cases[i].supply, supply) == 0)
            return true;
    return false;
}

/* The plan of a task becomes one that is ready. */
static enum status keep_made(struct turns_run *run, struct supply_task *task) {
    if (task->status != STATUS_OK)
        return task->status;
    if (run->ready_count == run->ready_room) {
        size_t room = run->ready_room == 0 ? 16 : run->ready_room * 2;
        struct turns_ready *grown = realloc(run->ready, room * sizeof *grown);
        if (grown == NULL)
            return STATUS_NO_MEMORY;
        run->ready = grown;
        run->ready_room = room;
    }
    struct turns_ready *ready = &run->ready[run->ready_count++];
    memcpy(&ready->supply, &task->known, sizeof ready->supply);
    ready->made = task->made;
    memset(&task->made, 0, sizeof task->made);
    return STATUS_OK;
}

/* Which supplies are planned. */
struct supplies_asked {
    const struct farm *farm;
    int32_t today;
    const struct morning_time *now;
    const char *only; /* NULL: all */
    bool with_fields; /* only those that have some */
};

/* Plans those that are asked for and not ready, from `*next` on, as many as are planned at once. */
static enum status plan_some(struct supply_tasks *tasks, struct turns_run *run, struct db *db,
                             const struct supplies_asked *asked, size_t *next, struct problems *problems) {
    enum status status = STATUS_OK;
    int count = 0, threads = run->threads > 0 ? run->threads : cores_count();
    for (; status == STATUS_OK && *next < asked->farm->supply_count && count < SUPPLIES_AT_ONCE; (*next)++) {
        const struct farm_supply *supply = &asked->farm->supply[*next];
        if ((asked->only == NULL || strcmp(supply->name, asked->only) == 0) &&
            (!asked->with_fields || has_fields(run, supply->name)) && ready_of(run, supply) == NULL)
            status = load_task(run, db, asked->farm, asked->today, asked->now, supply->name,
                               &tasks->task[count++], problems);
    }
    if (status == STATUS_OK)
        cores_share(threads < count ? threads : count, count, plan_task, tasks);
    for (int i = 0; i < count; i++) {
        if (status == STATUS_OK)
            status = keep_made(run, &tasks->task[i]);
        task_free(&tasks->task[i]);
    }
    return status;
}

static enum status plan_all(struct turns_run *run, struct db *db, const struct supplies_asked *asked,
                            struct problems *problems) {
    enum status status = STATUS_OK;
    struct supply_tasks *tasks = calloc(1, sizeof *tasks);
    if (tasks == NULL)
        return STATUS_NO_MEMORY;
    *tasks = (struct supply_tasks){.run = run, .at = asked->now->at};
    for (size_t i = 0; status == STATUS_OK && i < asked->farm->supply_count;)
        status = plan_some(tasks, run, db, asked, &i, problems);
    free(tasks);
    return status;
}

/* In the farm's order, so that new turns have the same numbers whenever they were planned. */
static enum status store_ready(const struct turns_run *run, struct db *db, const struct farm *farm,
                               int32_t today, struct problems *problems) {
    char seed[17];
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < farm->supply_count; i++) {
        const struct turns_ready *ready = ready_of(run, &farm->supply[i]);
        if (ready == NULL)
            continue;
        seed_of(farm, farm->supply[i].name, today, seed);
        status = turns_store_save(db, &ready->made, seed, problems);
    }
    return status;
}

enum status turns_run_settle(struct db *db, int32_t today, const struct morning_time *now,
                             struct problems *problems) {
    int64_t begun = (int64_t)today * 24, at = (int64_t)now->today * 24 + now->minute / 60;
    return turns_store_settle(db, at > begun ? at : begun, problems);
}

enum status turns_run_beside(struct turns_run *run, struct db *db, int32_t today,
                             const struct morning_time *now, struct problems *problems) {
    struct farm farm;
    enum status status = db_read_begin(db, problems); /* all of one state of the book */
    if (status != STATUS_OK)
        return status;
    status = farm_store_load_field(db, "", &farm, problems);
    if (status == STATUS_OK) {
        const struct supplies_asked asked = {&farm, today, now, NULL, true};
        status = plan_all(run, db, &asked, problems);
        farm_free(&farm);
    }
    db_read_end(db);
    return status;
}

enum status turns_run_recheck(struct turns_run *run, struct db *db, struct problems *problems) {
    struct farm farm;
    enum status status = farm_store_load_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    for (size_t i = run->ready_count; i-- > 0;) {
        const struct farm_supply *is = farm_supply_named(&farm, run->ready[i].supply.name);
        if (is == NULL || memcmp(is, &run->ready[i].supply, sizeof *is) != 0)
            drop_ready(run, run->ready[i].supply.name);
    }
    farm_free(&farm);
    return STATUS_OK;
}

enum status turns_run_plan(struct turns_run *run, struct db *db, int32_t today,
                           const struct morning_time *now, const char *only, struct problems *problems) {
    struct farm farm;
    struct farm_counts counts;
    enum status status = farm_store_count(db, &counts, problems);
    if (status != STATUS_OK || counts.supplies == 0)
        return status; /* the book is not read for nothing: it may be large */
    status = farm_store_load_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    const struct supplies_asked asked = {&farm, today, now, only, false};
    status = turns_run_settle(db, today, now, problems);
    if (status == STATUS_OK)
        status = plan_all(run, db, &asked, problems);
    if (status == STATUS_OK)
        status = store_ready(run, db, &farm, today, problems);
    farm_free(&farm);
    return status;
}
