/* Several plantings computed side by side on the cores of the machine. Each is planting_run(), which reads
 * what it is given and writes what is its own: what comes out does not depend on the number of threads. */
#ifndef WATERTURN_PLANTINGS_H
#define WATERTURN_PLANTINGS_H

#include "daemon/morning/planting_run.h"

#define PLANTINGS_AT_ONCE 16

struct planting_task {
    /* Set by the caller. */
    size_t planting; /* in the farm's list */
    const struct station_days *days;
    const struct station_outlook *outlook;
    /* Set by plantings_run(). */
    struct planting_run run;
    enum status status;
    struct problems problems;
};

struct plantings;

/* `threads`: 0 for as many as there are cores. */
enum status plantings_new(int threads, struct plantings **out);
void plantings_free(struct plantings *plantings);

/* The place of a task, 0..PLANTINGS_AT_ONCE - 1. Its storage serves one planting after the other. */
struct planting_task *plantings_task(struct plantings *plantings, size_t index);

/* Computes the first `count` tasks. Their problems are the caller's to move or free. */
void plantings_run(struct plantings *plantings, const struct farm *farm, int32_t today, size_t count);

#endif
