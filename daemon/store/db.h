/* The database file: opening, its version, transactions. SQLite in WAL mode; each thread opens its own. */
#ifndef WATERTURN_DB_H
#define WATERTURN_DB_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/base/problem.h"

struct db;

enum db_mode {
    DB_READ,  /* the file must exist, and be of this version */
    DB_CHECK, /* the same, but older versions too, and nothing is written, not even beside it */
    DB_WRITE, /* the file must exist; it is brought up to this version */
    DB_CREATE /* made when it is not there */
};

#define DB_VERSION 6

/* STATUS_NOT_FOUND, STATUS_REFUSED (not our file, a newer version, other tables than its version has,
 * damaged), STATUS_BUSY, STATUS_IO, STATUS_STORE; what is wrong is added to `problems`. */
enum status db_open(const char *path, enum db_mode mode, struct db **out, struct problems *problems);
void db_close(struct db *db);
/* Closes it; a file that this very db_open() made is taken away again. */
void db_discard(struct db *db);

/* What SQLite refused since it was last asked: STATUS_OK nothing. It is added to `problems`, unless it stands
 * there. */
enum status db_trouble_taken(struct db *db, struct problems *problems);

/* How long a lock of another process or thread is waited for, in place of the usual ten seconds. */
void db_patience(struct db *db, int milliseconds);

/* A number that is another after any other connection, of this process or another, changed the database.
 * False: it cannot be read. */
bool db_changes(struct db *db, int64_t *number);

/* What is read between the two is of one state of the database; pairs may stand inside each other. */
enum status db_read_begin(struct db *db, struct problems *problems);
void db_read_end(struct db *db);

/* One transaction at a time. db_begin() takes the write lock; db_end() commits when `status` is STATUS_OK,
 * rolls back otherwise, and returns `status` or what the commit said. */
enum status db_begin(struct db *db, struct problems *problems);
/* The same for many rows that stand below rows which the transaction read itself: that those are there is not
 * looked up again for each. */
enum status db_begin_many(struct db *db, struct problems *problems);
enum status db_end(struct db *db, enum status status, struct problems *problems);

#endif
