/* What the files that change the book share: forms that were taken, and records. Within the caller's
 * transaction. */
#ifndef WATERTURN_BOOK_INSIDE_H
#define WATERTURN_BOOK_INSIDE_H

#include <stdbool.h>

#include "daemon/base/wall_clock.h"
#include "daemon/morning/book.h"

/* Whether the form was taken before. */
enum status book_taken_before(struct db *db, const struct book_form *form, bool *taken,
                              struct problems *problems);

/* What is noted of a form, with the field's call before it; entry_store_add() writes it. */
enum status book_entry_begin(struct db *db, const struct book_form *form, enum entry_act act,
                             const char *field, struct entry *entry, struct problems *problems);

/* When the form was filled in. */
struct morning_time book_moment(const struct book_form *form);

/* Checks and adds a record, and notes the form; entry->record_id is the record's. */
enum status book_add_record(struct db *db, const struct book_form *form, const struct farm_record *record,
                            long long replaces, struct entry *entry, struct problems *problems);

#endif
