/* The grammar of JSON (RFC 8259) over a text in memory: notes where each value stands and says what is wrong.
 */
#ifndef WATERTURN_JSON_SCAN_H
#define WATERTURN_JSON_SCAN_H

#include "daemon/farm/json_text.h"

/* A text being read: the position, as an offset and as people count it. */
struct json_scan {
    const char *name;
    const char *text; /* a NUL follows the last byte */
    size_t size, at;
    int line, column;
    int depth;
    struct json_place *place; /* of each value, in the order of the text */
    size_t count, room;
    struct problems *problems;
};

/* Refuses NUL bytes and what is not UTF-8. */
enum status json_scan_bytes(const char *name, const char *text, size_t size, struct problems *problems);

/* Blanks the comments of a text in place, one space for each character, line breaks kept; the size shrinks
 * where a character had several bytes. */
enum status json_scan_comments(const char *name, char *text, size_t *size, struct problems *problems);

/* One value and nothing after it. `scan->place` is the caller's to free, also after a failure. */
enum status json_scan_document(struct json_scan *scan);

#endif
