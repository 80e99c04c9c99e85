/* Structs as rows: a table that says which member goes into which column, and the few functions that bind,
 * read and list such columns. Only daemon/store/ includes this. */
#ifndef WATERTURN_COLUMNS_H
#define WATERTURN_COLUMNS_H

#include <sqlite3.h>
#include <stddef.h>

#include "daemon/base/text.h"

enum column_type {
    COLUMN_REAL, /* double; NaN is NULL */
    COLUMN_INT,  /* int or an enum of int's size */
    COLUMN_BYTE, /* uint8_t */
    COLUMN_BOOL,
    COLUMN_DAY, /* int32_t; CALENDAR_NONE is NULL */
    COLUMN_TEXT /* char[size] */
};

struct column {
    const char *name;
    enum column_type type;
    size_t offset, size;
};

#define COLUMN(type, struct_name, member, name)                                                              \
    { name, type, offsetof(struct struct_name, member), sizeof(((struct struct_name *)0)->member) }

/* Binds the members of `base` to parameters first, first + 1, ...; SQLITE_OK or the first error. */
int columns_bind(sqlite3_stmt *statement, int first, const struct column *columns, int count,
                 const void *base);

/* Reads result columns first, first + 1, ... into the members of `base`. Text longer than its member is cut
 * at a whole character; that cannot happen with what columns_bind() wrote. */
void columns_read(sqlite3_stmt *statement, int first, const struct column *columns, int count, void *base);

/* Appends "a, b, c" (with `prefix` before each), "?, ?, ?", or "a = excluded.a, b = excluded.b". */
void columns_list(struct text *sql, const char *prefix, const struct column *columns, int count);
void columns_marks(struct text *sql, int count);
void columns_updates(struct text *sql, const struct column *columns, int count);

#endif
