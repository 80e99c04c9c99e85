#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/decide/turns_change.h"
#include "daemon/morning/turns_plan.h"

struct match {
    const struct turns_ask *ask;
    const struct turns_task *task;
    const struct turns_plan *plan;
    int64_t at;
    int *row_of;   /* of each turn of the plan: its row in ask->turn, -1 none */
    bool *matched; /* of each row */
    struct turns_made *out;
};

static const char *field_name(const struct match *match, int field) {
    return match->ask->farm->field[match->task->of_field[field]->field].name;
}

static int row_hour(const struct match *match, size_t row) {
    const struct stored_turn *turn = &match->ask->turn[row];
    return turns_hour_of(match->ask->today, turn->date, turn->hour);
}

/* From begin to end by the farm's clock. */
static int span_of(const struct match *match, int start, int end) {
    int span = end - start - turns_twice(match->task->supply.open, match->ask->today, start, end);
    return span > 1 ? span : 1;
}

/* The hour of the plan at which a row's turn ends. */
static int row_end(const struct match *match, size_t row) {
    int start = row_hour(match, row), end = start + match->ask->turn[row].span;
    return end + turns_twice(match->task->supply.open, match->ask->today, start, end + 1);
}

/* Planned, and not begun: its place is the plan's to say. */
static bool is_open(const struct match *match, size_t row) {
    return match->ask->turn[row].state == TURN_PLANNED && row_hour(match, row) >= match->ask->first_hour;
}

/* The row of the turn that somebody moved, when the turn of the plan is at its new place; -1: it is not. */
static int moved_row(const struct match *match, const struct turn *turn) {
    const struct turns_ask *ask = match->ask;
    if (ask->moved == 0 || turn->pin < 0 ||
        turn->start != turns_hour_of(ask->today, ask->moved_date, ask->moved_hour))
        return -1;
    for (size_t row = 0; row < ask->turn_count; row++)
        if (ask->turn[row].id == ask->moved && is_open(match, row) &&
            strcmp(ask->turn[row].field, field_name(match, turn->field)) == 0)
            return (int)row;
    return -1;
}

/* Pins that are turns under way or late stand for them; the pin of a moved turn is that turn. */
static void match_pins(struct match *match) {
    for (int i = 0; i < match->plan->turn_count; i++) {
        int pin = match->plan->turn[i].pin;
        const struct stored_turn *turn = pin >= 0 ? match->task->of_pin[pin] : NULL;
        match->row_of[i] = -1;
        if (turn != NULL) {
            match->row_of[i] = (int)(turn - match->ask->turn);
            match->matched[turn - match->ask->turn] = true;
        } else if ((match->row_of[i] = moved_row(match, &match->plan->turn[i])) >= 0) {
            match->matched[match->row_of[i]] = true;
        }
    }
}

/* ---- pairs, by turns_compare() */

/* Turns of either side as it wants them, and where they came from. */
struct side {
    struct turns_plan plan;
    int *from;
};

static enum status side_open(struct side *side, size_t room) {
    side->plan = (struct turns_plan){.turn = calloc(room + 1, sizeof *side->plan.turn)};
    side->from = calloc(room + 1, sizeof *side->from);
    return side->plan.turn != NULL && side->from != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

static void side_close(struct side *side) {
    free(side->plan.turn);
    free(side->from);
}

static void side_add(struct side *side, const struct turn *turn, int from) {
    side->from[side->plan.turn_count] = from;
    side->plan.turn[side->plan.turn_count++] = *turn;
}

/* The turns that stand, have not begun, and are of a field that is planned. */
static void add_rows(const struct match *match, struct side *side) {
    for (size_t row = 0; row < match->ask->turn_count; row++) {
        const struct stored_turn *turn = &match->ask->turn[row];
        int field = 0, fields = match->task->problem.field_count, start = row_hour(match, row);
        while (field < fields && strcmp(field_name(match, field), turn->field) != 0)
            field++;
        if (field < fields && !match->matched[row] && is_open(match, row) &&
            row_end(match, row) <= TURNS_HOURS_MAX)
            side_add(side,
                     &(struct turn){.field = field,
                                    .start = start,
                                    .hours = turn->hours,
                                    .end = row_end(match, row),
                                    .net_mm = turn->net_mm,
                                    .volume_m3 = turn->volume_m3},
                     (int)row);
    }
}

static void pair(struct match *match, int turn, int row) {
    match->row_of[turn] = row;
    match->matched[row] = true;
}

/* Turns that are the same in both are no change: they go together here. */
static void pair_same(struct match *match, const struct side *before, const struct side *after) {
    for (int i = 0; i < after->plan.turn_count; i++)
        for (int k = 0; k < before->plan.turn_count && match->row_of[after->from[i]] < 0; k++)
            if (before->plan.turn[k].field == after->plan.turn[i].field &&
                before->plan.turn[k].start == after->plan.turn[i].start && !match->matched[before->from[k]])
                pair(match, after->from[i], before->from[k]);
}

static enum status match_rest(struct match *match) {
    struct side before, after;
    size_t turns = (size_t)match->plan->turn_count, rows = match->ask->turn_count;
    struct turns_changes changes = {.room = (int)(turns + rows)};
    enum status status = side_open(&before, rows), other = side_open(&after, turns);
    changes.change = calloc(turns + rows + 1, sizeof *changes.change);
    if (status == STATUS_OK)
        status = changes.change != NULL ? other : STATUS_NO_MEMORY;
    if (status == STATUS_OK && match->task->problem.field_count > 0) {
        add_rows(match, &before);
        for (int i = 0; i < match->plan->turn_count; i++)
            if (match->row_of[i] < 0)
                side_add(&after, &match->plan->turn[i], i);
        status = turns_compare(&before.plan, &after.plan, match->task->problem.field_count, 0,
                               TURNS_SAME_HOURS, &changes);
    }
    for (int i = 0; status == STATUS_OK && i < changes.count; i++)
        if (changes.change[i].before >= 0 && changes.change[i].after >= 0)
            pair(match, after.from[changes.change[i].after], before.from[changes.change[i].before]);
    if (status == STATUS_OK)
        pair_same(match, &before, &after);
    side_close(&before);
    side_close(&after);
    free(changes.change);
    return status;
}

/* ---- what is written */

static void add_change(struct match *match, enum turn_change kind, const struct stored_turn *is,
                       const struct stored_turn *was) {
    struct stored_change *change = &match->out->change[match->out->change_count++];
    *change = (struct stored_change){.kind = kind, .date = CALENDAR_NONE, .was_date = CALENDAR_NONE};
    for (int i = 0; i < 2; i++) {
        const struct stored_turn *turn = i == 0 ? was : is;
        if (turn == NULL)
            continue;
        memcpy(change->field, turn->field, sizeof change->field);
        memcpy(change->supply, turn->supply, sizeof change->supply);
        *(i == 0 ? &change->was_date : &change->date) = turn->date;
        *(i == 0 ? &change->was_hour : &change->hour) = turn->hour;
        *(i == 0 ? &change->was_hours : &change->hours) = turn->hours;
    }
}

/* The same turn, at its new place. */
static void note_changes(struct match *match, const struct stored_turn *was, struct stored_turn *is) {
    bool moved = was->date != is->date || was->hour != is->hour;
    if (moved || was->hours != is->hours || was->span != is->span) {
        is->sequence = was->sequence + 1;
        is->changed_at = match->at;
    }
    if (moved)
        add_change(match, TURN_MOVED, is, was);
    else if (was->hours != is->hours)
        add_change(match, was->hours < is->hours ? TURN_LONGER : TURN_SHORTER, is, was);
}

/* The turn of the plan as a row; of one under way or late the row stands, but for its end. */
static void write_turn(struct match *match, int index) {
    const struct turn *turn = &match->plan->turn[index];
    struct stored_turn *out = &match->out->turn[match->out->turn_count++];
    const struct stored_turn *was =
        match->row_of[index] >= 0 ? &match->ask->turn[match->row_of[index]] : NULL;
    if (turn->pin >= 0 && match->task->of_pin[turn->pin] != NULL) {
        *out = *was;
        /* One that is only left where it stands is nobody's pin. */
        out->pinned = was->pinned && !is_open(match, (size_t)match->row_of[index]);
        out->span = span_of(match, row_hour(match, (size_t)match->row_of[index]), turn->end);
        note_changes(match, was, out);
        return;
    }
    *out =
        was != NULL
            ? *was
            : (struct stored_turn){.changed_at = match->at, .state = TURN_PLANNED, .was_date = CALENDAR_NONE};
    (void)snprintf(out->field, sizeof out->field, "%s", field_name(match, turn->field));
    memcpy(out->supply, match->out->supply.supply, sizeof out->supply);
    out->date = match->ask->today + turn->start / 24;
    out->hour = turn->start % 24;
    out->hours = turn->hours;
    out->span = span_of(match, turn->start, turn->end);
    out->net_mm = turn->net_mm;
    out->gross_mm = turn->gross_mm;
    out->volume_m3 = turn->volume_m3;
    out->pinned = turn->pin >= 0;
    if (was != NULL)
        note_changes(match, was, out);
    else
        add_change(match, TURN_NEW, out, NULL);
}

enum status turns_match(const struct turns_ask *ask, const struct turns_task *task,
                        const struct turns_plan *plan, int64_t at, struct turns_made *out) {
    size_t turns = (size_t)plan->turn_count, rows = ask->turn_count;
    struct match match = {.ask = ask, .task = task, .plan = plan, .at = at, .out = out};
    match.row_of = calloc(turns + 1, sizeof *match.row_of);
    match.matched = calloc(rows + 1, sizeof *match.matched);
    out->turn = calloc(turns + 1, sizeof *out->turn);
    out->gone = calloc(rows + 1, sizeof *out->gone);
    out->change = calloc(turns + rows + 1, sizeof *out->change);
    enum status status = match.row_of != NULL && match.matched != NULL && out->turn != NULL &&
                                 out->gone != NULL && out->change != NULL
                             ? STATUS_OK
                             : STATUS_NO_MEMORY;
    if (status == STATUS_OK) {
        match_pins(&match);
        status = match_rest(&match);
    }
    for (int i = 0; status == STATUS_OK && i < plan->turn_count; i++)
        write_turn(&match, i);
    for (size_t row = 0; status == STATUS_OK && row < rows; row++)
        if (!match.matched[row] && is_open(&match, row)) {
            out->gone[out->gone_count++] = ask->turn[row].id;
            add_change(&match, TURN_GONE, NULL, &ask->turn[row]);
        }
    free(match.row_of);
    free(match.matched);
    return status;
}
