/* Changes to the farm book, each with what it makes of the field's call: one transaction, whole or not at
 * all. */
#ifndef WATERTURN_BOOK_H
#define WATERTURN_BOOK_H

#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/store/record_store.h"

/* A form that was filled in. `token` makes a second sending of it harmless. */
struct book_form {
    const char *token;
    int64_t at;
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

#endif
