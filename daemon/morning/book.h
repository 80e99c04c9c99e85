/* Changes to the farm book, each with what it makes of the field's call: one transaction, whole or not at
 * all. */
#ifndef WATERTURN_BOOK_H
#define WATERTURN_BOOK_H

#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/record_store.h"

/* A form that was filled in. `token` makes a second sending of it harmless. */
struct book_form {
    const char *token;
    int64_t at;
    int32_t today;   /* of that instant on the farm's clock, */
    int minute;      /* and the minute of that day */
    const char *who; /* "": not known */
};

/* Adds a record; `replaces`: the record that it corrects, or 0. The record is checked against the book.
 * STATUS_REFUSED: it does not fit, said in `problems`. STATUS_NOT_FOUND: no such field, or nothing to
 * correct. A form that was taken before changes nothing and gives STATUS_OK. */
enum status book_record(struct db *db, const struct book_form *form, const struct farm_record *record,
                        long long replaces, struct problems *problems);

/* Takes a record back. STATUS_NOT_FOUND: it does not hold any more. */
enum status book_undo(struct db *db, const struct book_form *form, long long record_id,
                      struct problems *problems);

/* A change of what is not a record. */
struct book_edit {
    enum entry_act act;
    const char *field;                   /* the field that it concerns, with its name after it; "": all */
    const char *renamed;                 /* the field's name before it; NULL: the same */
    int32_t moved_from, moved_to;        /* the date of a planting of the field; CALENDAR_NONE: the same */
    const char *supply, *supply_renamed; /* of a supply, as above; supply_renamed NULL: the same */
    bool supply_gone;                    /* the supply is removed: `apply` takes it out of the farm */
    const char *source_gone;             /* a source that is removed likewise; NULL: none */
    const char *field_gone;              /* a field likewise, with its plantings; `field` is "" */
    const char *soil_gone;               /* a soil that goes unless a field has it; NULL: none */
    enum farm_mark mark;                 /* whose ledgers are computed anew, and by what name */
    const char *marked;
    bool may_be_empty; /* the book may be empty before it */
    /* Changes the farm as it was read within the transaction, with names and dates from before; *planting:
     * index of the one that is written (SIZE_MAX: none). */
    enum status (*apply)(void *context, struct farm *farm, size_t *planting, struct problems *problems);
    void *context;
};

/* Makes the change, checks the whole farm, and computes anew what it touches. STATUS_REFUSED: it does not
 * hold together, said in `problems` with a path as "fields[2].name". */
enum status book_change(struct db *db, const struct book_form *form, const struct book_edit *edit,
                        struct problems *problems);

#endif
