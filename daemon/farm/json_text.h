/* JSON as people write it: with // and block comments, every value with its line and column. Strict in all
 * else (RFC 8259): UTF-8 only, no duplicate keys, no number that a double cannot hold. cJSON makes the
 * values. */
#ifndef WATERTURN_JSON_TEXT_H
#define WATERTURN_JSON_TEXT_H

#include <cjson/cJSON.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/base/problem.h"

#define JSON_TEXT_SIZE_MAX   ((size_t)64 << 20)
#define JSON_TEXT_VALUES_MAX ((size_t)1 << 20)
#define JSON_TEXT_DEPTH_MAX  64

/* Where a value stands. Lines and columns count from 1; a column is a character, not a byte. */
struct json_place {
    const cJSON *item;
    int line, column;         /* of the value */
    int key_line, key_column; /* of its key; 0 outside objects */
    uint32_t offset, size;    /* the value as written, in `text` of struct json_text */
};

struct json_text {
    char *name; /* of the file, for messages */
    char *text; /* the text with its comments blanked */
    cJSON *root;
    struct json_place *place; /* sorted by item */
    size_t count;
};

/* Parses a text. What is wrong goes to `problems` (a syntax error is the only one of its text; duplicate keys
 * and numbers out of range are all told) with STATUS_REFUSED. On anything but STATUS_OK `out` holds nothing.
 */
enum status json_text_parse(const char *name, const char *text, size_t size, struct json_text *out,
                            struct problems *problems);

void json_text_free(struct json_text *json);

/* The place of a value of this text; never NULL for one that json_text_parse() made. */
const struct json_place *json_text_place(const struct json_text *json, const cJSON *item);

/* A value as a message quotes it: as written but cut when long, or "a list of 3", "an object". Returns `out`.
 */
char *json_text_quote(const struct json_text *json, const cJSON *item, char *out, size_t size);

/* Any string as a message may show it: control characters replaced by '?', cut when long. Returns `out`. */
char *json_text_plain(const char *string, char *out, size_t size);

#endif
