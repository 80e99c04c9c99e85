/* What people said, and what is under way, as pins and hours without turns. */
#include <string.h>

#include "daemon/morning/turns_problem.h"

bool turns_unsettled(const struct stored_turn *turn) {
    return turn->state == TURN_PLANNED || turn->state == TURN_LATE;
}

static int index_of(const struct turns_ask *ask, const struct turns_task *task, const char *field) {
    for (int i = 0; i < task->problem.field_count; i++)
        if (strcmp(ask->farm->field[task->of_field[i]->field].name, field) == 0)
            return i;
    return -1;
}

static void add_pin(struct turns_task *task, int field, int start, int hours, bool under_way,
                    const struct stored_turn *turn) {
    int at = task->problem.pin_count++;
    task->pin[at] = (struct turns_pin){field, start, hours, under_way};
    task->of_pin[at] = turn;
}

static void add_forbid(struct turns_task *task, int field, int first, int last) {
    int end = 24 * task->problem.days;
    first = first > 0 ? first : 0;
    last = last < end ? last : end;
    if (first < last)
        task->forbid[task->problem.forbid_count++] = (struct turns_forbid){field, first, last};
}

/* A turn whose time has come runs, as long as nobody says otherwise. Its water up to now is in the balance
 * only where it was recorded: until then it comes with the first day. */
static void add_under_way(const struct turns_ask *ask, const struct farm_supply *supply, int index,
                          const struct stored_turn *turn, struct turns_task *task) {
    int run = turns_hours_run(supply, turn, ask->today, ask->first_hour);
    const struct turns_field *field = &task->field[index];
    const struct turns_problem *problem = &task->problem;
    double m3 = run * field->flow_m3_h;
    task->under_way_m3 += m3;
    for (int c = 0; c < problem->courses; c++)
        task->day[(index * problem->courses + c) * problem->days].inflow_mm +=
            m3 * 1000 / field->area_m2 * field->efficiency;
    int rest = turn->hours - run, end = 24 * problem->days;
    if (rest > 0)
        add_pin(task, index, ask->first_hour, rest < end ? rest : end, true, turn);
}

static void add_turn(const struct turns_ask *ask, const struct farm_supply *supply,
                     const struct stored_turn *turn, struct turns_task *task) {
    int index = index_of(ask, task, turn->field);
    int start = turns_hour_of(ask->today, turn->date, turn->hour), end = start + turn->span;
    if (index < 0 || end <= ask->first_hour)
        return;
    if (turn->state == TURN_SKIPPED)
        add_forbid(task, index, start > ask->first_hour ? start : ask->first_hour, end);
    else if (turns_unsettled(turn) && start < ask->first_hour)
        add_under_way(ask, supply, index, turn, task);
    else if (turn->state == TURN_LATE && start < 24 * task->problem.days)
        add_pin(task, index, start, turn->hours, false, turn);
}

/* Whether the turn that a mark pinned has its own say: it was done, skipped, or is late. */
static bool is_spent(const struct turns_ask *ask, const struct farm_turn_mark *mark) {
    for (size_t i = 0; i < ask->turn_count; i++) {
        const struct stored_turn *turn = &ask->turn[i];
        bool here = turn->date == mark->date && turn->hour == mark->hour;
        bool was_here = turn->was_date == mark->date && turn->was_hour == mark->hour;
        if (turn->state != TURN_PLANNED && (here || was_here) && strcmp(turn->field, mark->field) == 0)
            return true;
    }
    return false;
}

static void add_mark(const struct turns_ask *ask, const struct farm_turn_mark *mark,
                     struct turns_task *task) {
    int index = index_of(ask, task, mark->field), end = 24 * task->problem.days;
    int start = turns_hour_of(ask->today, mark->date, mark->hour);
    if (index < 0 || start >= end)
        return;
    if (mark->kind == TURN_KEPT_DRY)
        add_forbid(task, index, start, start + mark->hours);
    else if (start >= ask->first_hour && mark->hours <= end && !is_spent(ask, mark))
        add_pin(task, index, start, mark->hours, false, NULL);
}

static bool is_pinned(const struct turns_task *task, int field, int start) {
    for (int i = 0; i < task->problem.pin_count; i++)
        if (task->pin[i].field == field && task->pin[i].start == start)
            return true;
    return false;
}

/* Who waits for a plan wants little of it to be another: the search sets out from the turns that stand. */
static void add_standing(const struct turns_ask *ask, const struct stored_turn *turn,
                         struct turns_task *task) {
    struct turns_problem *problem = &task->problem;
    int index = index_of(ask, task, turn->field), start = turns_hour_of(ask->today, turn->date, turn->hour);
    if (turn->state != TURN_PLANNED || turn->id == ask->moved || index < 0 || start < ask->first_hour ||
        start >= 24 * problem->days || is_pinned(task, index, start) ||
        problem->stand_count == problem->field_count * problem->days)
        return;
    task->stand[problem->stand_count++] = (struct turns_pin){index, start, turn->hours, false};
}

void turns_word_fill(const struct turns_ask *ask, const struct farm_supply *supply, struct turns_task *task) {
    for (size_t i = 0; i < ask->turn_count; i++)
        add_turn(ask, supply, &ask->turn[i], task);
    for (size_t i = 0; i < ask->farm->turn_mark_count; i++)
        add_mark(ask, &ask->farm->turn_mark[i], task);
    for (size_t i = 0; ask->at_once && i < ask->turn_count; i++)
        add_standing(ask, &ask->turn[i], task);
}
