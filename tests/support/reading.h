/* Reads bytes or a fixture by a layout, for tests. */
#ifndef WATERTURN_TEST_READING_H
#define WATERTURN_TEST_READING_H

#include <stddef.h>

#include "daemon/source/layout.h"

struct reading_of {
    enum status status;
    struct weather_days days;
    struct problems problems;
    struct text said; /* the problems as they print */
};

/* By a layout that ships. Free with reading_done(). */
struct reading_of *reading_by(const char *layout, const char *text);
struct reading_of *reading_by_bytes(const char *layout, const void *bytes, size_t size);
/* The bytes of a file below fixtures/. */
struct reading_of *reading_of_fixture(const char *layout, const char *fixture);
/* By a layout given as JSON text. */
struct reading_of *reading_by_json(const char *json, const void *bytes, size_t size);
/* With a layout that the caller keeps. */
struct reading_of *reading_with(const struct layout *layout, const void *bytes, size_t size);
void reading_done(struct reading_of *reading);

/* The value of an element ("tmax_c") on a date ("2021-06-01"); NaN when the day or the value is missing. */
double reading_value(const struct reading_of *reading, const char *date, const char *element);

/* Fails the running test unless the reading was refused, without a day, with words that contain `words`. */
void assert_reading_refused(const struct reading_of *reading, const char *words);
/* Fails the running test, printing what was said, unless the reading gave this many days. */
void assert_reading_days(const struct reading_of *reading, size_t days);

/* A whole file; NULL when it cannot be read. A NUL follows the last byte. free() it. */
char *reading_file(const char *path, size_t *size);

#endif
