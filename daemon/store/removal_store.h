/* What is taken out of the farm book for good: first what would go with it, then the removal, within the
 * caller's transaction. */
#ifndef WATERTURN_REMOVAL_STORE_H
#define WATERTURN_REMOVAL_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* Removes a supply from which no field draws, with its plan and turns. STATUS_NOT_FOUND: there is none such.
 */
enum status removal_store_supply(struct db *db, const char *name, struct problems *problems);

/* What is kept of a field: it goes with it. */
struct field_kept {
    int plantings, ledger_days, records, calls, turns, outlook_days;
    char trial[FARM_NAME_SIZE]; /* the first one of which the field is a treatment, so that it stays; "" */
};
enum status removal_store_field_kept(struct db *db, const char *name, struct field_kept *out,
                                     struct problems *problems);

/* Removes a field that is no treatment of a trial, with all that is kept of it and the messages about its
 * calls that were not sent yet. STATUS_NOT_FOUND: there is none such. A morning that is being stored in parts
 * begins again. */
enum status removal_store_field(struct db *db, const char *name, struct problems *problems);

/* Removes a soil, unless a field has it. */
enum status removal_store_soil(struct db *db, const char *name, struct problems *problems);

/* Weather of a source that is kept: what is reckoned rests on it. */
struct source_kept {
    int days;
    int32_t first, last; /* CALENDAR_NONE: no day */
    int others;          /* sources that its station has besides, of the same kind */
};
enum status removal_store_source_kept(struct db *db, const char *name, struct source_kept *out,
                                      struct problems *problems);

/* A field whose ledgers rest on the weather of a source, and from which day on. */
struct source_bears {
    char field[FARM_NAME_SIZE];
    int32_t from;
};
/* In the order of the fields; a malloc'd array. */
enum status removal_store_source_bears(struct db *db, const char *name, struct source_bears **out,
                                       size_t *count, struct problems *problems);

/* Removes a source with its weather, and marks the ledgers that rest on it. STATUS_NOT_FOUND: there is none
 * such. A morning that is being stored in parts begins again. */
enum status removal_store_source(struct db *db, const char *name, struct problems *problems);

#endif
