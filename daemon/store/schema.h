/* Whether the tables of a database are those that the scripts of its version make. Only for daemon/store/. */
#ifndef WATERTURN_SCHEMA_H
#define WATERTURN_SCHEMA_H

#include "daemon/store/db_inside.h"

/* The script that leads from `version` - 1 to `version` (1 .. DB_VERSION). Once released, none is changed. */
const char *schema_script(int version);

/* STATUS_REFUSED when a table or column lacks, is otherwise or too many: each is told, up to a number.
 * Indexes and views that others added stay theirs. Within a transaction, so that all is of one state. */
enum status schema_check(struct db *db, int version, struct problems *problems);

/* A number of the schema's text, and the one that it has as the scripts make it: schema_check() goes by these
 * where they are the same. */
enum status schema_mark(struct db *db, uint64_t *mark, struct problems *problems);
uint64_t schema_mark_of(int version);

#endif
