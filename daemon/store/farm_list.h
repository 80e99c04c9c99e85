/* How lists of the farm book are read: what farm_load.c and farm_parts.c share. */
#ifndef WATERTURN_FARM_LIST_H
#define WATERTURN_FARM_LIST_H

#include "daemon/store/db_inside.h"
#include "daemon/store/farm_columns.h"

/* How one list of the farm is read: the names that stand for other rows, then the columns of the struct. */
struct farm_list {
    enum farm_table table;
    const char *before, *prefix, *after; /* SELECT before, prefix.columns after */
    size_t size;
    size_t name_offset[3]; /* where the names of `before` go, FARM_NAME_SIZE each */
    int names;
};

/* Which fields are meant: ?1 of a list is the name, or ?1 and ?2 are the first and the last id. */
struct farm_scope {
    const char *name; /* NULL: by id */
    long long first, last;
};

void farm_scope_bind(sqlite3_stmt *statement, const struct farm_scope *scope);

/* NULL (and a problem) when that fails. */
sqlite3_stmt *farm_list_prepare(struct db *db, const struct farm_list *list, struct problems *problems);

/* All rows of a bound statement. `member` is the address of a pointer to the list's struct; it is written by
 * its bytes, whatever its type. */
enum status farm_list_rows(struct db *db, const struct farm_list *list, sqlite3_stmt *statement, void *member,
                           size_t *count, struct problems *problems);

/* At most `count` ids of a bound statement, 0 behind the last, and as many days when they are asked for. */
enum status farm_list_ids(sqlite3_stmt *statement, size_t count, long long **ids, int32_t **days);

#endif
