#include "daemon/morning/turns_run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/farm_store.h"

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
    struct turns_case *out = &run->cases[run->count++];
    *out = (struct turns_case){.start_date = planting->start_date,
                               .days = from->field,
                               .prices = from->prices,
                               .later_etc_mm = from->later_etc_mm};
    memcpy(out->field_name, field->name, sizeof out->field_name);
    memcpy(out->supply, field->supply, sizeof out->supply);
    if (from->station_outlook == NULL)
        return STATUS_OK;
    out->weather = &from->station_outlook->weather[planting->crop.reference];
    return turns_courses_choose(out->weather, &out->courses);
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

static enum status plan_supply(const struct turns_run *run, struct db *db, const struct turns_ask *ask,
                               const struct farm_supply *supply, int64_t at, struct problems *problems) {
    struct turns_made made;
    char seed[17];
    double before = NAN;
    enum status status = turns_make(ask, supply, at, &made);
    if (status == STATUS_OK && run->before != NULL)
        status = cost_before(run, ask, supply, &before);
    if (status == STATUS_OK && made.supply.days > 0)
        made.supply.change_cost = made.supply.cost.total - before;
    seed_of(ask->farm, supply->name, ask->today, seed);
    if (status == STATUS_OK)
        status = turns_store_save(db, &made, seed, problems);
    turns_made_free(&made);
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

static enum status run_supply(const struct turns_run *run, struct db *db, const struct farm *farm,
                              int32_t today, const struct morning_time *now, const char *name,
                              struct problems *problems) {
    struct stored_turn *turns = NULL;
    const struct farm_supply *supply = farm_supply_named(farm, name);
    struct turns_ask ask = {.farm = farm, .today = today, .fields = (int)run->count, .at_once = run->at_once};
    if (run->before != NULL) {
        ask.moved = run->before->moved;
        ask.moved_date = run->before->moved_date;
        ask.moved_hour = run->before->moved_hour;
    }
    struct turns_case *cases = calloc(run->count + 1, sizeof *cases);
    enum status status = cases != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < run->count; i++) {
        cases[ask.case_count] = run->cases[i];
        if (strcmp(run->cases[i].supply, name) == 0 && place_case(farm, &cases[ask.case_count]))
            ask.case_count++;
    }
    ask.cases = cases;
    if (status == STATUS_OK)
        status = first_hour(db, name, today, now, &ask.first_hour, problems);
    if (status == STATUS_OK)
        status = turns_store_turns(db, name, today, &turns, &ask.turn_count, problems);
    ask.turn = turns;
    if (status == STATUS_OK)
        status = plan_supply(run, db, &ask, supply, now->at, problems);
    free(turns);
    free(cases);
    return status;
}

/* With the records of the supply's own fields alone: of all, they would be many. */
static enum status load_and_run(const struct turns_run *run, struct db *db, const struct farm *all,
                                int32_t today, const struct morning_time *now, const char *name,
                                struct problems *problems) {
    struct farm farm;
    size_t first = 0;
    while (first < all->field_count && strcmp(all->field[first].supply, name) != 0)
        first++;
    if (first == all->field_count)
        return run_supply(run, db, all, today, now, name, problems);
    enum status status = farm_store_load_sharing(db, all->field[first].name, &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = run_supply(run, db, &farm, today, now, name, problems);
    farm_free(&farm);
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
    status = farm_store_load_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = turns_store_settle(db, at > begun ? at : begun, problems);
    for (size_t i = 0; status == STATUS_OK && i < farm.supply_count; i++)
        if (only == NULL || strcmp(farm.supply[i].name, only) == 0)
            status = load_and_run(run, db, &farm, today, now, farm.supply[i].name, problems);
    farm_free(&farm);
    return status;
}
