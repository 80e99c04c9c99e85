#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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

/* Planned, and not begun: its place is the plan's to say. */
static bool is_open(const struct match *match, size_t row) {
    return match->ask->turn[row].state == TURN_PLANNED && row_hour(match, row) >= match->ask->first_hour;
}

/* Pins that are turns under way or late stand for them. */
static void match_pins(struct match *match) {
    for (int i = 0; i < match->plan->turn_count; i++) {
        int pin = match->plan->turn[i].pin;
        const struct stored_turn *turn = pin >= 0 ? match->task->of_pin[pin] : NULL;
        match->row_of[i] = -1;
        if (turn != NULL) {
            match->row_of[i] = (int)(turn - match->ask->turn);
            match->matched[turn - match->ask->turn] = true;
        }
    }
}

/* The nearest pair of a field that is left; false when there is none. */
static bool match_nearest(struct match *match, int field) {
    int least = TURNS_SAME_HOURS, best = -1;
    size_t best_row = 0;
    for (int i = 0; i < match->plan->turn_count; i++) {
        if (match->plan->turn[i].field != field || match->row_of[i] >= 0)
            continue;
        for (size_t row = 0; row < match->ask->turn_count; row++) {
            int apart = abs(match->plan->turn[i].start - row_hour(match, row));
            if (apart >= least || match->matched[row] || !is_open(match, row) ||
                strcmp(match->ask->turn[row].field, field_name(match, field)) != 0)
                continue;
            least = apart;
            best = i;
            best_row = row;
        }
    }
    if (best < 0)
        return false;
    match->row_of[best] = (int)best_row;
    match->matched[best_row] = true;
    return true;
}

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
        out->span = turn->end - row_hour(match, (size_t)match->row_of[index]);
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
    out->span = turn->end - turn->start;
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
        for (int field = 0; field < task->problem.field_count; field++)
            while (match_nearest(&match, field))
                continue;
        for (int i = 0; i < plan->turn_count; i++)
            write_turn(&match, i);
        for (size_t row = 0; row < rows; row++)
            if (!match.matched[row] && is_open(&match, row)) {
                out->gone[out->gone_count++] = ask->turn[row].id;
                add_change(&match, TURN_GONE, NULL, &ask->turn[row]);
            }
    }
    free(match.row_of);
    free(match.matched);
    return status;
}
