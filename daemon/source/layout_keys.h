/* Reading the keys of a layout file, with every problem named by its path. */
#ifndef WATERTURN_LAYOUT_KEYS_H
#define WATERTURN_LAYOUT_KEYS_H

#include <cjson/cJSON.h>
#include <stdbool.h>

#include "daemon/base/problem.h"

/* An object of the layout file that is being read. */
struct layout_keys {
    const char *file;
    const char *path; /* "values.tmax_c"; "" for the whole file */
    const cJSON *object;
    struct problems *problems;
};

struct layout_word {
    const char *word; /* NULL ends a table */
    int value;
};

void layout_keys_say(const struct layout_keys *keys, const char *key, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* One problem for each key that is not in `known` (ends with NULL), with the nearest that is. */
void layout_keys_check(const struct layout_keys *keys, const char *const *known);

/* The value of a key, or the fallback where it is absent; a problem and the fallback where it is of another
 * kind. */
const char *layout_keys_text(const struct layout_keys *keys, const char *key, const char *fallback);
bool layout_keys_flag(const struct layout_keys *keys, const char *key, bool fallback);
double layout_keys_number(const struct layout_keys *keys, const char *key, double least, double most,
                          double fallback);
int layout_keys_count(const struct layout_keys *keys, const char *key, int most, int fallback);
/* A single character; "tab" is one too. */
char layout_keys_sign(const struct layout_keys *keys, const char *key, char fallback);
int layout_keys_word(const struct layout_keys *keys, const char *key, const struct layout_word *words,
                     int fallback);
/* A text or a list of texts, or NULL. */
const cJSON *layout_keys_texts(const struct layout_keys *keys, const char *key);
/* A list of texts and numbers, or NULL. */
const cJSON *layout_keys_list(const struct layout_keys *keys, const char *key);

#endif
