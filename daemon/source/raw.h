/* Bytes of a weather file before they mean anything: are they text, is this a number, how are they quoted in
 * a message. */
#ifndef WATERTURN_RAW_H
#define WATERTURN_RAW_H

#include <stdbool.h>
#include <stddef.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"

/* A piece of the file; not NUL-terminated. */
struct raw {
    const char *text;
    size_t size;
};

/* Judges whether the bytes are the text of a weather file, and steps over a byte order mark. Refuses an empty
 * file, a web page, packed and office files, UTF-16, NUL bytes, and what is not UTF-8 unless latin1. */
enum status raw_check(const char *where, const unsigned char **bytes, size_t *size, bool latin1,
                      struct problems *problems);

struct raw raw_of(const char *string);
struct raw raw_trim(struct raw raw);
/* Case of ASCII letters does not count. */
bool raw_equals(struct raw raw, const char *string);

/* A decimal number and nothing else: 12, -0.5, +3.2e1. Finite. No thousands separators, no hexadecimal. */
bool raw_number(struct raw raw, char decimal, double *out);
/* Digits and nothing else, at most nine. */
bool raw_digits(struct raw raw, int *out);

/* The piece in quotes, shortened and with strange bytes replaced, for a message. Returns `room`. */
#define RAW_SHOWN_SIZE 64
const char *raw_show(struct raw raw, char room[RAW_SHOWN_SIZE]);

#endif
