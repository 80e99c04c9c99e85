/* The records of the book one by one: written, corrected, taken back; and the forms that they came with.
 * Nothing is ever erased: a record that no longer holds stays, with when it was withdrawn and what stands in
 * its place. All writing is within the caller's transaction (db_begin). */
#ifndef WATERTURN_RECORD_STORE_H
#define WATERTURN_RECORD_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "core/decide/call.h"
#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* A record with its place in the book. */
struct record_kept {
    long long id;
    struct farm_record record;
    int64_t at;           /* when it was entered; 0: it came with a farm file */
    int64_t withdrawn_at; /* 0: it holds */
    long long replaced_by;
    char who[FARM_NAME_SIZE];
};

/* Adds a record, and marks the planting on which it bears from its day on (a stage: from the first day).
 * `replaces`: the record in whose place it stands, or 0. STATUS_NOT_FOUND: no such field, or `replaces` does
 * not hold any more. */
enum status record_store_add(struct db *db, const struct farm_record *record, long long replaces, int64_t at,
                             const char *who, long long *id, struct problems *problems);

/* Takes a record back: it no longer holds, and if it stood in the place of an older one, a copy of that one
 * holds again (its id in *restored, else 0). STATUS_NOT_FOUND: it does not hold. */
enum status record_store_withdraw(struct db *db, long long id, int64_t at, const char *who,
                                  long long *restored, struct problems *problems);

/* Any record, also one that no longer holds. STATUS_NOT_FOUND. */
enum status record_store_get(struct db *db, long long id, struct record_kept *out, struct problems *problems);

/* How many records like this one hold, of its field, kind and day, and what they add up to. */
enum status record_store_day(struct db *db, const struct farm_record *record, int *count, double *sum,
                             struct problems *problems);

/* The newest `most` records of a field that hold, the newest day first. A malloc'd array. */
enum status record_store_recent(struct db *db, const char *field, size_t most, struct record_kept **out,
                                size_t *count, struct problems *problems);

/* ---- forms ---- */

#define ENTRY_TOKEN_SIZE 33 /* 16 random bytes in hexadecimal */
#define SECRET_SIZE      32

/* What a form did. Kept in the database: the numbers stay. */
enum entry_act {
    ENTRY_RECORD,
    ENTRY_CORRECT,
    ENTRY_UNDO,
    ENTRY_FARM,
    ENTRY_FIELD,
    ENTRY_PLANTING,
    ENTRY_SOURCE,
    ENTRY_SUPPLY,
    ENTRY_TURN /* people's word on turns */
};

struct entry {
    char token[ENTRY_TOKEN_SIZE];
    int64_t at;
    char who[FARM_NAME_SIZE];
    enum entry_act act;
    char field[FARM_NAME_SIZE]; /* "": none */
    long long record_id;        /* 0: none */
    struct call before;         /* the field's call before it; date CALENDAR_NONE: there was none */
};

/* Notes a form as taken. STATUS_REFUSED: its token was taken before. */
enum status entry_store_add(struct db *db, const struct entry *entry, struct problems *problems);
/* STATUS_NOT_FOUND: no form with this token was taken. */
enum status entry_store_find(struct db *db, const char *token, struct entry *out, struct problems *problems);
/* How many forms were ever taken for a field; changes with each one. */
enum status entry_store_count(struct db *db, const char *field, long long *count, struct problems *problems);
/* The field's newest form that added or corrected a record that still holds; STATUS_NOT_FOUND: none. */
enum status entry_store_last(struct db *db, const char *field, struct entry *out, struct problems *problems);

/* Puts another key of that name in the place of the database's own. */
enum status secret_store_renew(struct db *db, const char *name, const unsigned char fresh[SECRET_SIZE],
                               struct problems *problems);
/* The key of that name; `fresh` (SECRET_SIZE bytes) becomes it when there is none yet. NULL: then
 * STATUS_NOT_FOUND. Its own transaction. */
enum status secret_store_key(struct db *db, const char *name, const unsigned char *fresh,
                             unsigned char out[SECRET_SIZE], struct problems *problems);

#endif
