/* The turns as they were planned, and what became of them: one plan for each supply, made anew by every
 * morning and whenever people change what it rests on. A turn keeps its row, and its uid, as long as it is
 * the same turn. All SQL is behind this; all writing is within the caller's transaction (db_begin). */
#ifndef WATERTURN_TURNS_STORE_H
#define WATERTURN_TURNS_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/decide/turns.h"
#include "daemon/base/wall_clock.h"
#include "daemon/farm/farm.h"
#include "daemon/store/db.h"
#include "daemon/store/ledger_store.h"

#define TURN_UID_SIZE 96

/* What people said of a turn. Kept in the database: the numbers stay. */
enum turn_state { TURN_PLANNED, TURN_DONE, TURN_LATE, TURN_SKIPPED, TURN_STATE_COUNT };

/* Times are a day and a full hour of the farm's clock. */
struct stored_turn {
    long long id; /* 0: not stored yet */
    char uid[TURN_UID_SIZE];
    char field[FARM_NAME_SIZE], supply[FARM_NAME_SIZE];
    int32_t date; /* it begins on this day */
    int hour;     /* at this hour, 0..23 */
    int hours;    /* in which water runs */
    int span;     /* from its begin to its end, clock hours: more than `hours` where it pauses */
    double net_mm, gross_mm, volume_m3;
    bool pinned;
    enum turn_state state;
    int32_t was_date; /* of one that is late: where it stood; CALENDAR_NONE */
    int was_hour;
    int sequence;        /* how often its time or hours changed */
    int64_t changed_at;  /* when it was made, or last changed */
    long long record_id; /* the irrigation that was recorded for it; 0: none */
};

/* Why a supply has no plan. Kept in the database. */
enum turns_reason {
    TURNS_REASON_NONE,    /* it has one */
    TURNS_REASON_FIELDS,  /* nothing grows on its fields that could be watered, or it is not known how they
                             stand */
    TURNS_REASON_FLOW,    /* its flow is not known */
    TURNS_REASON_UNKNOWN, /* nothing can be said of any of its fields */
    TURNS_REASON_COUNT
};

/* The plan of one supply. */
struct stored_supply {
    char supply[FARM_NAME_SIZE];
    int32_t day;    /* its first day */
    int first_hour; /* hours of it that had passed */
    int days;       /* 0: no plan */
    int64_t at;     /* when it was made */
    enum turns_reason reason;
    bool money; /* costs are in the user's money; else they only weigh the yield against water */
    struct turns_cost cost;
    double bound;
    double worth; /* of the full yield of its fields, in the same money */
    bool proven;
    double change_cost; /* what people's last word on the turns made it dearer; NaN: nothing was said */
    int hours_open[MORNING_AHEAD], hours_run[MORNING_AHEAD];
    /* The season's allotment and that of the period that holds the first day; NaN: none. `used`: recorded;
     * `later`: what the crops are still to draw after the days planned, on the present course. */
    double season_m3, season_used_m3, season_later_m3;
    double period_m3, period_used_m3;
    int32_t period_from, period_to; /* CALENDAR_NONE: no period */
    double planned_m3;              /* of all turns of the plan, and of the rest of those under way */
    double period_planned_m3;       /* of those in the period */
};

/* The evenings of a field under the plan, mean over the courses of the weather. */
struct stored_path {
    char field[FARM_NAME_SIZE];
    int days;
    double depletion_mm[MORNING_AHEAD], allowed_mm[MORNING_AHEAD];
};

/* struct turns_limit with names and days in place of indices. */
struct stored_limit {
    char supply[FARM_NAME_SIZE], field[FARM_NAME_SIZE]; /* field: "" where it does not apply */
    enum turns_limit_kind kind;
    int32_t day;      /* CALENDAR_NONE */
    int32_t pin_date; /* of a pin: where it stands; CALENDAR_NONE */
    int pin_hour, pin_hours;
    int32_t cure_date; /* the nearest start at which it fits; CALENDAR_NONE */
    int cure_hour;
    double over, more_hours_per_day, more_flow_m3_h, more_m3;
    char dry_field[FARM_NAME_SIZE];
    double dry_cost;
};

/* What the newest plan changed. */
enum turn_change { TURN_NEW, TURN_GONE, TURN_MOVED, TURN_LONGER, TURN_SHORTER, TURN_CHANGE_COUNT };
struct stored_change {
    char supply[FARM_NAME_SIZE], field[FARM_NAME_SIZE];
    enum turn_change kind;
    int32_t date, was_date; /* CALENDAR_NONE: there is none */
    int hour, hours, was_hour, was_hours;
};

/* All of it; the lists are malloc'd. */
struct stored_turns {
    struct stored_supply *supply; /* in the farm's order */
    size_t supply_count;
    struct stored_turn *turn; /* by begin, then field */
    size_t turn_count;
    struct stored_path *path;
    size_t path_count;
    struct stored_limit *limit;
    size_t limit_count;
    struct stored_change *change;
    size_t change_count;
};

void stored_turns_free(struct stored_turns *turns);

/* What a new plan of one supply leaves: turns that stand keep their id and uid, new ones have id 0. */
struct turns_made {
    struct stored_supply supply;
    struct stored_turn *turn; /* those of the plan, by begin, then field */
    size_t turn_count;
    long long *gone; /* planned turns that are no longer */
    size_t gone_count;
    struct stored_path *path;
    size_t path_count;
    struct stored_limit *limit;
    size_t limit_count;
    struct stored_change *change;
    size_t change_count;
};
void turns_made_free(struct turns_made *made);

/* ---- reading */

/* All plans, and the turns that end on `since` or later. */
enum status turns_store_load(struct db *db, int32_t since, struct stored_turns *out,
                             struct problems *problems);

/* Turns that end on `since` or later, of a supply or (NULL) of all. A malloc'd array. */
enum status turns_store_turns(struct db *db, const char *supply, int32_t since, struct stored_turn **out,
                              size_t *count, struct problems *problems);

/* STATUS_NOT_FOUND: there is none. */
enum status turns_store_turn(struct db *db, long long id, struct stored_turn *out, struct problems *problems);

/* Turns that ended so many days ago are still shown, where nobody said what became of them. */
#define TURNS_PAST_DAYS 7

/* Fills the turns of each of the mornings, which are in the farm's order, as of an hour (since 1970-01-01, on
 * the farm's clock). One that ended is asked about until a later irrigation of its field is recorded. */
enum status turns_store_next(struct db *db, int64_t hour, struct field_morning *mornings, size_t count,
                             struct problems *problems);

/* The day and first hour of the newest plan of a supply. STATUS_NOT_FOUND: it has none. */
enum status turns_store_made(struct db *db, const char *supply, int32_t *day, int *first_hour,
                             struct problems *problems);

/* The hour (since 1970-01-01, on the farm's clock) from which a turn can be said to be done: where its set-up
 * begins, and an hour before its start at least, for a crew that is early. */
int64_t turns_done_from(const struct stored_turn *turn, const struct farm_field *field);

/* Whether such an hour has come. */
bool turns_hour_came(int64_t hour, const struct morning_time *now);

/* ---- writing */

/* Puts a plan in the place of the supply's last one. Where it changes nothing of that, and nobody said
 * anything, what that one had changed stays to be read. `seed` (hexadecimal) begins the uids of new turns. */
enum status turns_store_save(struct db *db, const struct turns_made *made, const char *seed,
                             struct problems *problems);

/* Settles turns by the book: one that has begun (`hour`: hours since 1970-01-01 on the farm's clock), or to
 * which at least half its depth was given, is done by the irrigation that was recorded for its field on its
 * days, one to one; one whose record was taken back is open again. */
enum status turns_store_settle(struct db *db, int64_t hour, struct problems *problems);

enum status turns_store_done(struct db *db, long long id, long long record_id, struct problems *problems);
enum status turns_store_late(struct db *db, const struct stored_turn *turn, int32_t date, int hour,
                             int64_t at, struct problems *problems);
enum status turns_store_skipped(struct db *db, long long id, int64_t at, struct problems *problems);

#endif
