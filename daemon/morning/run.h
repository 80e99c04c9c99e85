/* The morning: download, then every planting anew where its inputs changed, the call of every field, stored.
 */
#ifndef WATERTURN_RUN_H
#define WATERTURN_RUN_H

#include <stdint.h>

#include "daemon/base/wall_clock.h"
#include "daemon/morning/ingest.h"
#include "daemon/morning/turns_run.h"

struct morning_result {
    struct ingest_result ingest;
    size_t fields, plantings;
    size_t refused; /* plantings whose inputs contradict each other: their field's call is "cannot say" */
    int ran_at_all; /* 0: the farm book is empty */
};

struct morning_how {
    const struct ingest_options *download; /* NULL: only with what is stored */
    int threads;                           /* that compute; 0: as many as there are cores */
    size_t at_once;                        /* fields in a transaction at most; 0: MORNING_AT_ONCE */
    /* Where there are several: whether one is to end before it has all its fields (NULL: no), and what is
     * done between two, for others to write (NULL: nothing). */
    bool (*enough)(void *context);
    void (*between)(void *context);
    void *context;
};

/* More fields than these are stored in several transactions, so that the log does not grow with the farm. */
#define MORNING_AT_ONCE 8192

/* Runs the morning of a moment: its day; its instant is stored, and turns begin from its hour on. Each source
 * is one transaction, and then the whole computation: of a farm with more fields than fit in one, a
 * transaction for each part of it, and one more where turns are planned; the last notes the morning. A run
 * that was cut short anywhere and is run again leaves what one clean run leaves. */
enum status morning_run(struct db *db, const struct morning_time *now, const struct morning_how *how,
                        struct morning_result *result, struct problems *problems);

/* Computes one field (NULL: all of them) anew as of the newest morning, with the weather that is stored, and
 * the plan of its supply as of `now`; within the caller's transaction. `before`: what people had said of the
 * turns until then, where they just changed it or recorded something; NULL: the book is another. Before the
 * first morning there is nothing to compute. STATUS_NOT_FOUND: no such field. */
enum status morning_field(struct db *db, const char *field, const struct morning_time *now,
                          const struct turns_before *before, struct problems *problems);

#endif
