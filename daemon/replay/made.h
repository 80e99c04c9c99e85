/* How an output was made: version, inputs with their hashes, settings. It stands in the output, and
 * `waterturn replay
 * --verify` makes the output again by it. */
#ifndef WATERTURN_MADE_H
#define WATERTURN_MADE_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stddef.h>

#include "daemon/base/problem.h"
#include "daemon/base/text.h"
#include "daemon/store/weather_store.h"

struct made_input {
    const char *what, *address, *sha256;
};

/* {"program", "version", "command", "arguments": [...], "inputs": [{"what", "address", "sha256"}]}.
 * `arguments` are those of the command line that make the output again. NULL: no memory. */
cJSON *made_new(const char *command, const char *const *argument, size_t arguments,
                const struct made_input *input, size_t inputs);

/* As the first line of a CSV file ("# made: {...}"), and as an element of an SVG picture. */
void made_add_csv(const cJSON *made, struct text *out);
void made_add_svg(const cJSON *made, struct text *out);

/* The note out of an output: a JSON object with "made", a CSV file, an SVG picture. NULL: there is none. */
cJSON *made_find(const char *bytes, size_t size);

/* Says which inputs differ between two notes; returns how many. */
size_t made_compare(const cJSON *then, const cJSON *now, struct problems *problems);

#endif
