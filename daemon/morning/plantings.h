/* Several plantings computed side by side on the cores of the machine, while the caller stores those that are
 * done, in their order. Each is planting_run(), which reads what it is given and writes what is its own: what
 * comes out does not depend on the number of threads. */
#ifndef WATERTURN_PLANTINGS_H
#define WATERTURN_PLANTINGS_H

#include "daemon/morning/planting_run.h"

#define PLANTINGS_AT_ONCE 16

struct planting_task {
    /* Set by the caller. */
    size_t planting; /* in the farm's list */
    const struct station_days *days;
    const struct station_outlook *outlook;
    /* Set by planting_run(). */
    struct planting_run run;
    enum status status;
    struct problems problems;
};

struct plantings;

/* `threads`: 0 for as many as there are cores; the caller's is one of them. */
enum status plantings_new(int threads, struct plantings **out);
void plantings_free(struct plantings *plantings);

/* What the tasks that follow are computed from; it stays as it is until the last of them is released or
 * dropped. None may be open. */
void plantings_begin(struct plantings *plantings, const struct farm *farm, int32_t today);

/* Whether half of the places are free: threads are woken for several tasks at a time. */
bool plantings_wanting(const struct plantings *plantings);

/* A place for the next task, to be set and given; NULL while PLANTINGS_AT_ONCE of them are open. */
struct planting_task *plantings_place(struct plantings *plantings);
void plantings_give(struct plantings *plantings);

/* The oldest task that is open, when it is computed: until then the caller's thread computes others. Its
 * problems are the caller's to move or free. Released, its storage serves another. */
struct planting_task *plantings_take(struct plantings *plantings);
void plantings_release(struct plantings *plantings);

/* Leaves all that are open, once none is under way. */
void plantings_drop(struct plantings *plantings);

#endif
