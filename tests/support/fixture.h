/* Published tables of fixtures/: comments ('#'), a line of column names, rows. */
#ifndef WATERTURN_TESTS_FIXTURE_H
#define WATERTURN_TESTS_FIXTURE_H

#include <stdio.h>

/* Opens a table and leaves it at its first row. */
static inline FILE *fixture_open(const char *path) {
    char line[256];
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    do
        assert_non_null(fgets(line, sizeof line, file));
    while (line[0] == '#');
    return file;
}

#endif
