/* What changed between two plans of turns, and what it costs: yesterday's plan and today's, or a plan before
 * and after a turn was pinned.
 *
 * A turn of the later plan is the same as one of the earlier when field, start and hours are, or when the
 * earlier one was under way as the later plan begins and both end at the same hour. What is left of
 * a field is paired, the nearest starts first (of equal ones the earliest): such a turn was moved, or made
 * longer or shorter where it stands. What finds no partner is new, or gone. A turn that was split in two is
 * one that was changed and one that is new. */
#ifndef WATERTURN_TURNS_CHANGE_H
#define WATERTURN_TURNS_CHANGE_H

#include "core/decide/turns.h"

/* Turns of one field in one plan; as turns of a field do not overlap, no plan has more. */
#define TURNS_OF_FIELD_MAX TURNS_HOURS_MAX

enum turns_change_kind {
    TURNS_CHANGE_NEW,    /* only the later plan has it */
    TURNS_CHANGE_GONE,   /* only the earlier one has it */
    TURNS_CHANGE_MOVED,  /* another start; the hours may differ too */
    TURNS_CHANGE_LENGTH, /* the same start, more or fewer hours */
    TURNS_CHANGE_KIND_COUNT
};

struct turns_change {
    enum turns_change_kind kind;
    int field;
    int before, after;           /* index of the turn in either plan; -1: it is not there */
    int later_hours;             /* it starts later by; below 0: earlier. 0 when new or gone */
    int more_hours;              /* it runs longer by; all its hours when new, less all of them when gone */
    double more_net_mm, more_m3; /* the same, as depth and as volume */
};

/* The differences. The array is the caller's. */
struct turns_changes {
    struct turns_change *change; /* in the order of field, then start (the later plan's where it has one) */
    int room;
    int count; /* may pass `room`: the rest was left out */
    int kept;  /* turns that are the same in both */
    int of_kind[TURNS_CHANGE_KIND_COUNT];
    struct turns_cost more; /* what the later plan costs beyond the earlier; NaN in all when time moved on */
};

/* Parts of `after` less those of `before`; `total` too. */
struct turns_cost turns_cost_more(const struct turns_cost *before, const struct turns_cost *after);

/* Compares two plans of the same `field_count` fields (1..TURNS_FIELDS_MAX). `passed_hours`
 * (0..TURNS_HOURS_MAX): the later plan's hour 0 is the earlier one's hour `passed_hours` (24 for yesterday's
 * plan); turns that ended by then are left out, and costs are not compared when it is above 0, as they are of
 * other days. `farthest_hours` (0..TURNS_HOURS_MAX): turns whose starts lie further apart are not paired.
 * STATUS_MISSING: a NULL pointer; STATUS_OUT_OF_RANGE: an argument, or a turn's field, start, hours or end,
 * outside its range; STATUS_NO_ROOM: a field has more than TURNS_OF_FIELD_MAX turns in a plan. Outputs are
 * written on STATUS_OK only. */
enum status turns_compare(const struct turns_plan *before, const struct turns_plan *after, int field_count,
                          int passed_hours, int farthest_hours, struct turns_changes *changes);

#endif
