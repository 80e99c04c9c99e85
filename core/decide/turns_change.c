#include "core/decide/turns_change.h"

#include <math.h>
#include <string.h>

/* The turns of one field that are not yet paired. */
struct side {
    const struct turns_plan *plan;
    int passed_hours; /* of this plan's time, when the later one's begins */
    int index[TURNS_OF_FIELD_MAX];
    int count;
};

static const struct turn *turn_at(const struct side *side, int i) {
    return &side->plan->turn[side->index[i]];
}

static int start_of(const struct side *side, int i) {
    return turn_at(side, i)->start - side->passed_hours;
}

static void drop(struct side *side, int i) {
    side->count--;
    memmove(&side->index[i], &side->index[i + 1], (size_t)(side->count - i) * sizeof *side->index);
}

static void gather(struct side *side, int field) {
    side->count = 0;
    for (int i = 0; i < side->plan->turn_count; i++)
        if (side->plan->turn[i].field == field && side->plan->turn[i].end > side->passed_hours)
            side->index[side->count++] = i;
}

/* ---- arguments */
static bool whole(const struct turn *turn, int field_count) {
    return turn->field >= 0 && turn->field < field_count && turn->start >= 0 && turn->hours >= 1 &&
           turn->end <= TURNS_HOURS_MAX && turn->hours <= turn->end - turn->start;
}

static enum status check_plan(const struct turns_plan *plan, int field_count) {
    int count[TURNS_FIELDS_MAX] = {0};
    if (plan == NULL || (plan->turn == NULL && plan->turn_count > 0))
        return STATUS_MISSING;
    for (int i = 0; i < plan->turn_count; i++) {
        if (!whole(&plan->turn[i], field_count))
            return STATUS_OUT_OF_RANGE;
        if (++count[plan->turn[i].field] > TURNS_OF_FIELD_MAX)
            return STATUS_NO_ROOM;
    }
    return plan->turn_count < 0 ? STATUS_OUT_OF_RANGE : STATUS_OK;
}

static bool hours_in_range(int hours) {
    return hours >= 0 && hours <= TURNS_HOURS_MAX;
}

static enum status check(const struct turns_plan *before, const struct turns_plan *after, int field_count,
                         int passed_hours, int farthest_hours, const struct turns_changes *changes) {
    if (changes == NULL || (changes->change == NULL && changes->room > 0))
        return STATUS_MISSING;
    if (changes->room < 0 || field_count < 1 || field_count > TURNS_FIELDS_MAX ||
        !hours_in_range(passed_hours) || !hours_in_range(farthest_hours))
        return STATUS_OUT_OF_RANGE;
    enum status status = check_plan(before, field_count);
    return status == STATUS_OK ? check_plan(after, field_count) : status;
}

/* ---- one field */
static bool same(const struct side *before, int i, const struct side *after, int j) {
    const struct turn *old = turn_at(before, i), *now = turn_at(after, j);
    if (start_of(before, i) < 0)
        return old->end - before->passed_hours == now->end;
    return start_of(before, i) == now->start && old->hours == now->hours;
}

static int drop_kept(struct side *before, struct side *after) {
    int kept = 0;
    for (int i = 0; i < before->count;) {
        int j = 0;
        while (j < after->count && !same(before, i, after, j))
            j++;
        if (j == after->count) {
            i++;
            continue;
        }
        drop(before, i);
        drop(after, j);
        kept++;
    }
    return kept;
}

/* The two turns whose starts are nearest; false when none are within `farthest_hours`. */
static bool nearest(const struct side *before, const struct side *after, int farthest_hours, int *i, int *j) {
    int least = farthest_hours + 1;
    for (int b = 0; b < before->count; b++)
        for (int a = 0; a < after->count; a++) {
            int apart = start_of(after, a) - start_of(before, b);
            apart = apart < 0 ? -apart : apart;
            if (apart >= least)
                continue;
            least = apart;
            *i = b;
            *j = a;
        }
    return least <= farthest_hours;
}

static int hour_of(const struct turns_change *change, const struct side *before, const struct side *after) {
    return change->after >= 0 ? after->plan->turn[change->after].start
                              : before->plan->turn[change->before].start - before->passed_hours;
}

/* Writes a change into its place among those of its field, which begin at `first`. */
static void enter(struct turns_changes *changes, int first, const struct side *before,
                  const struct side *after, const struct turns_change *change) {
    int at = changes->count < changes->room ? changes->count : changes->room, hour;
    hour = hour_of(change, before, after);
    changes->count++;
    changes->of_kind[change->kind]++;
    for (; at > first && hour_of(&changes->change[at - 1], before, after) > hour; at--)
        if (at < changes->room)
            changes->change[at] = changes->change[at - 1];
    if (at < changes->room)
        changes->change[at] = *change;
}

/* The change from the turn `from` to `to`, indices in their plans or -1. */
static struct turns_change describe(const struct side *before, const struct side *after, int from, int to) {
    static const struct turn none;
    const struct turn *old = from < 0 ? &none : &before->plan->turn[from];
    const struct turn *now = to < 0 ? &none : &after->plan->turn[to];
    struct turns_change change = {.field = from < 0 ? now->field : old->field,
                                  .before = from,
                                  .after = to,
                                  .more_hours = now->hours - old->hours,
                                  .more_net_mm = now->net_mm - old->net_mm,
                                  .more_m3 = now->volume_m3 - old->volume_m3};
    if (from < 0 || to < 0) {
        change.kind = from < 0 ? TURNS_CHANGE_NEW : TURNS_CHANGE_GONE;
        return change;
    }
    change.later_hours = now->start - (old->start - before->passed_hours);
    change.kind = change.later_hours == 0 ? TURNS_CHANGE_LENGTH : TURNS_CHANGE_MOVED;
    return change;
}

static void compare_field(struct side *before, struct side *after, int farthest_hours,
                          struct turns_changes *changes) {
    int first = changes->count < changes->room ? changes->count : changes->room, i = 0, j = 0;
    struct turns_change change;
    changes->kept += drop_kept(before, after);
    while (nearest(before, after, farthest_hours, &i, &j)) {
        change = describe(before, after, before->index[i], after->index[j]);
        enter(changes, first, before, after, &change);
        drop(before, i);
        drop(after, j);
    }
    for (i = 0; i < before->count; i++) {
        change = describe(before, after, before->index[i], -1);
        enter(changes, first, before, after, &change);
    }
    for (j = 0; j < after->count; j++) {
        change = describe(before, after, -1, after->index[j]);
        enter(changes, first, before, after, &change);
    }
}

/* ---- the whole */
struct turns_cost turns_cost_more(const struct turns_cost *before, const struct turns_cost *after) {
    return (struct turns_cost){.loss = after->loss - before->loss,
                               .water = after->water - before->water,
                               .pumping = after->pumping - before->pumping,
                               .percolation = after->percolation - before->percolation,
                               .end = after->end - before->end,
                               .total = after->total - before->total};
}

enum status turns_compare(const struct turns_plan *before, const struct turns_plan *after, int field_count,
                          int passed_hours, int farthest_hours, struct turns_changes *changes) {
    enum status status = check(before, after, field_count, passed_hours, farthest_hours, changes);
    if (status != STATUS_OK)
        return status;
    struct side old = {.plan = before, .passed_hours = passed_hours}, now = {.plan = after};
    changes->count = changes->kept = 0;
    memset(changes->of_kind, 0, sizeof changes->of_kind);
    for (int field = 0; field < field_count; field++) {
        gather(&old, field);
        gather(&now, field);
        compare_field(&old, &now, farthest_hours, changes);
    }
    changes->more =
        passed_hours == 0
            ? turns_cost_more(&before->cost, &after->cost)
            : (struct turns_cost){
                  .loss = NAN, .water = NAN, .pumping = NAN, .percolation = NAN, .end = NAN, .total = NAN};
    return STATUS_OK;
}
