/* The work of the daemon's main thread: each day's morning, its messages and its backup. */
#ifndef WATERTURN_MORNINGS_H
#define WATERTURN_MORNINGS_H

#include "daemon/http/metrics.h"
#include "daemon/lifecycle/settings.h"
#include "daemon/morning/ingest.h"

/* What the mornings are run with, and when one whose sources failed is run again. */
struct mornings {
    struct db *db;
    const struct settings *settings;
    const struct credentials *credentials;
    struct ingest_options ingest;
    struct metrics *metrics;
    int32_t given;       /* the date given for now: no morning comes by itself; CALENDAR_NONE */
    int64_t again_at;    /* 0: all sources were read */
    int failures;        /* in a row */
    bool asked;          /* run again at once, due or not: the book has changed */
    bool clock_reported; /* a wrong clock is told once */
};

/* Does what is due at this moment. */
void mornings_look(struct mornings *mornings);

#endif
