/* The work of the daemon's main thread: each day's morning, its messages and its backup. The morning itself
 * and the sending are runs of this program beside it. */
#ifndef WATERTURN_MORNINGS_H
#define WATERTURN_MORNINGS_H

#include "daemon/commands/command.h"
#include "daemon/http/metrics.h"
#include "daemon/lifecycle/child.h"
#include "daemon/lifecycle/settings.h"
#include "daemon/store/db.h"

enum mornings_work { WORK_NONE, WORK_MORNING, WORK_TELL };

struct mornings {
    const struct options *options;
    struct db *db;
    const struct settings *settings;
    struct metrics *metrics;
    int32_t given; /* the date given for now: no morning comes by itself; CALENDAR_NONE */
    bool asked;    /* a form changed what the morning works on */
    /* Of a clock that nobody sets: when a morning whose sources failed is run again (0: all were read), and
     * when messages were last sent; a failure waits a minute (0: at once). */
    double again_s, told_s;
    int failures;                    /* in a row */
    bool clock_good, clock_reported; /* a wrong clock is told once */
    bool tell;                       /* people are to be told of a morning that was run */
    enum mornings_work work;
    struct child child;
    double began;
    int32_t today; /* of the morning that runs */
};

/* Does what is due at this moment, or looks after what runs. */
void mornings_look(struct mornings *mornings);

/* Ends what runs. */
void mornings_end(struct mornings *mornings);

#endif
