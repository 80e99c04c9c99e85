/* Rows of a database in memory, and how long a plain insert of them takes: what storing is held against. */
#ifndef WATERTURN_TESTS_RAW_ROWS_H
#define WATERTURN_TESTS_RAW_ROWS_H

#include <stddef.h>
#include <stdint.h>

struct raw_rows;

/* All rows of the ledger, the days ahead, the calls and the outlooks whose day is `from` or later (of the
 * days ahead and the outlooks: all). NULL: it cannot be read. */
struct raw_rows *raw_rows_read(const char *path, int32_t from);
size_t raw_rows_count(const struct raw_rows *rows);

/* Seconds of a processor that one transaction takes which binds and inserts every row, with the same tables
 * and settings but nothing that looks after other tables (foreign keys): into a new file (`among` NULL), or
 * into a copy of the database `among`, from which the rows were taken out, among those that stood before. The
 * file at `path` is removed. -1: it failed. */
double raw_rows_insert(const struct raw_rows *rows, const char *among, const char *path);
void raw_rows_free(struct raw_rows *rows);

#endif
