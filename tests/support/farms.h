/* Farm files of the tests, and farms compared member by member. */
#ifndef WATERTURN_TESTS_FARMS_H
#define WATERTURN_TESTS_FARMS_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/farm/farm.h"

/* A whole file, with a NUL after it; NULL when it cannot be read. free() it. */
char *farms_text(const char *path, size_t *size);
/* The paths of a directory's files that end with `ending`, sorted; a NULL ends them. farms_paths_free() them.
 */
char **farms_paths(const char *directory, const char *ending);
void farms_paths_free(char **paths);

/* Whether two farms are the same, bit for bit, with the entries of their lists in the same order. Of a
 * difference `where` (not NULL) gets the first one: "planting[2].crop.kc_mid". */
bool farms_same(const struct farm *a, const struct farm *b, char where[100]);
/* Puts the lists of a farm into the order in which a farm file is written. */
void farms_sort(struct farm *farm);

/* A farm of every kind of entry with arbitrary bits in its numbers, the same for the same seed. */
void farms_arbitrary(struct farm *farm, unsigned seed);

#endif
