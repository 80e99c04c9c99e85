/* What the files of a morning share. */
#ifndef WATERTURN_RUN_INSIDE_H
#define WATERTURN_RUN_INSIDE_H

#include "daemon/morning/plantings.h"
#include "daemon/morning/run.h"
#include "daemon/morning/station_days.h"
#include "daemon/morning/station_outlook.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"

struct morning {
    struct db *db;
    struct farm farm; /* as it is within the transaction: its places, and a part of its fields at a time */
    struct farm_ids ids;
    int32_t today;
    struct morning_time now;
    const char *only;              /* one field; NULL: all */
    bool again;                    /* the morning was run to its end before */
    size_t at_once;                /* fields in a transaction; 0: all */
    const struct morning_how *how; /* NULL: one field, or all within the caller's transaction */
    int64_t changes;               /* db_changes() since the first part */
    bool written;                  /* others wrote between two parts: of some fields, */
    bool disturbed;                /* or so much that all are to be done again */
    struct ledger_writer *writer;
    struct station_days *days;        /* of each station; built when the first field asks */
    struct station_outlook *outlooks; /* likewise */
    int threads;                      /* as in struct morning_how */
    struct plantings *plantings;
    struct turns_run turns;
    char supply[FARM_NAME_SIZE]; /* of the one field; "" none */
    struct morning_result *result;
    struct problems *problems;
};

/* Computes and stores the part of the farm that is loaded. */
enum status morning_part(struct morning *morning);

/* ---- run_parts.c */

/* All parts one after the other, so that memory and the look-ups by name do not grow with the farm. */
enum status morning_parts(struct morning *morning);

/* Plans the turns between two transactions: plans take seconds, for which no form should wait. What forms
 * wrote meanwhile is caught up with; plans that it bears on are left to be made. */
enum status morning_plan_beside(struct morning *morning);

#endif
