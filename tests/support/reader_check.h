/* What must hold for any bytes that a reader is given. */
#ifndef WATERTURN_TEST_READER_CHECK_H
#define WATERTURN_TEST_READER_CHECK_H

#include <stddef.h>

#include "daemon/source/layout_rules.h"

/* Reads the bytes and aborts unless: what is taken is sorted, each date once, every value finite or missing,
 * with an origin just where there is a value; what is refused leaves no day and a problem. */
void reader_check(const struct layout *layout, const unsigned char *bytes, size_t size);

/* The layouts that ship of one kind, made once; their number goes to *count. */
#define READER_CHECK_LAYOUTS_MAX 32
struct layout *const *reader_check_layouts(enum layout_kind kind, size_t *count);

#endif
