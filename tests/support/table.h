/* A CSV file of published values, read whole, with its columns found by name. A file, row or column that is
 * not there ends the test program: a check that silently has nothing to check would be worse. */
#ifndef WATERTURN_TESTS_TABLE_H
#define WATERTURN_TESTS_TABLE_H

struct table;

struct table *table_read(const char *path);
void table_free(struct table *table);

/* Rows without the heading. */
int table_rows(const struct table *table);
const char *table_text(const struct table *table, int row, const char *column);
/* NaN for an empty cell or one that does not begin with a number; of "0.45 (early)" it is 0.45. */
double table_number(const struct table *table, int row, const char *column);

#endif
