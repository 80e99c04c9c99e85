/* The turns of a morning, or of a moment at which people said something: every plan that it bears on, made
 * anew and stored. Within the caller's transaction. */
#ifndef WATERTURN_TURNS_RUN_H
#define WATERTURN_TURNS_RUN_H

#include "daemon/base/wall_clock.h"
#include "daemon/morning/turns_plan.h"

/* People's word before it changed: what it costs is told against the plan that it would have left. */
struct turns_before {
    bool recorded; /* what came in or was seen, and no word: it costs nothing, and the rest says nothing */
    const struct farm_turn_mark *mark;
    size_t mark_count;
    const struct stored_turn *turn; /* one turn as it was; NULL: only marks changed */
    long long moved;                /* a turn that was moved to this pinned place; 0: none */
    int32_t moved_date;
    int moved_hour;
};

/* A plan that is made and not stored yet, and the supply as it was then. */
struct turns_ready {
    struct farm_supply supply;
    struct turns_made made;
};

struct turns_run {
    struct turns_case *cases;
    size_t count, room;
    size_t vacant; /* 1 more than the place of a field that was forgotten; 0: none was */
    struct turns_ready *ready;
    size_t ready_count, ready_room;
    bool dropped; /* a plan that was ready was, since a field of its supply was noted again */
    const struct turns_before *before; /* NULL: nothing was said */
    const char *about;                 /* the field that was recorded or changed; NULL: none, or all */
    bool at_once;                      /* somebody waits for it */
    int threads;                       /* that plan supplies side by side; 0: as many as there are cores */
};

/* Notes a field whose planting was just run. STATUS_NO_MEMORY. */
enum status turns_run_add(struct turns_run *run, const struct farm_field *field,
                          const struct farm_planting *planting, const struct planting_run *from);

/* Forgets a field that was noted: it is run again, and the next that is noted takes its place. */
void turns_run_forget(struct turns_run *run, const char *field);

/* Settles turns by the book. `today`: the morning; `now`: the moment, which may be another day. */
enum status turns_run_settle(struct db *db, int32_t today, const struct morning_time *now,
                             struct problems *problems);

/* Plans all supplies that have fields and no plan yet, outside of a transaction, and writes nothing: a plan
 * is ready until a field of its supply is noted or forgotten again. */
enum status turns_run_beside(struct turns_run *run, struct db *db, int32_t today,
                             const struct morning_time *now, struct problems *problems);

/* Drops the plans of supplies that are not what they were. */
enum status turns_run_recheck(struct turns_run *run, struct db *db, struct problems *problems);

/* Settles turns by the book, then plans the supply `only` (NULL: all of them) from the fields that were
 * noted, where no plan is ready, and stores all plans. */
enum status turns_run_plan(struct turns_run *run, struct db *db, int32_t today,
                           const struct morning_time *now, const char *only, struct problems *problems);
void turns_run_free(struct turns_run *run);

/* Hours of a morning's day that have passed at a moment, as whole hours from which turns can begin: 0..23. */
int turns_hours_passed(int32_t today, const struct morning_time *now);

#endif
