/* Copies of the database: made while it is in use, looked through before they count. */
#ifndef WATERTURN_BACKUP_STORE_H
#define WATERTURN_BACKUP_STORE_H

#include "daemon/store/db.h"

/* Writes a copy as of now to `path`, whole or not at all: beside it first, checked, then renamed. A file that
 * is there is replaced, but no database that is in use (STATUS_REFUSED). Readable by its owner alone. */
enum status backup_store_write(struct db *db, const char *path, struct problems *problems);

/* Whether a file is a waterturn database of this version or an older one, and whole. STATUS_REFUSED. */
enum status backup_store_verify(const char *path, struct problems *problems);

/* Puts a copy in the place of the database `to`, which nobody may have open. What was there before is kept as
 * "TO.before-restore". */
enum status backup_store_restore(const char *from, const char *to, struct problems *problems);

#endif
