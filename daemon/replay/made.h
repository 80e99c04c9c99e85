/* How an output was made: version, settings, inputs with their hashes. It stands in every output, and
 * `waterturn replay --verify` makes the output again by it. */
#ifndef WATERTURN_MADE_H
#define WATERTURN_MADE_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stddef.h>

#include "daemon/base/problem.h"
#include "daemon/base/text.h"
#include "daemon/replay/replay.h"

/* What an output is written as. MADE_PAGE: a page's view model, of which only the inputs can be compared. */
enum made_form { MADE_TEXT, MADE_CSV, MADE_JSON, MADE_SVG, MADE_PAGE, MADE_FORM_COUNT };

/* "text", "csv", "json", "svg", "page"; NULL outside the enum. */
const char *made_form_name(enum made_form form);

struct made_input {
    const char *what, *address, *sha256;
};

/* {"program", "version", "command", "form", "arguments": [...], "inputs": [{"what", "address", "sha256"}]}:
 * the farm and the weather of `replay`, and `more` inputs after the farm. `arguments` are those of the
 * command line that make the output again. NULL: no memory. */
cJSON *made_new(const struct replay *replay, const char *command, enum made_form form,
                const char *const *argument, size_t arguments, const struct made_input *more, size_t count);

/* Writes the note as its own form has it: the first line of a CSV file ("# made: {...}"), an element of an
 * SVG picture, the closing lines of a text. */
void made_add(const cJSON *made, struct text *out);

/* As the member "made" of a JSON object. */
void made_add_member(const cJSON *made, cJSON *object);

/* The note out of an output of any form. NULL: there is none. */
cJSON *made_find(const char *bytes, size_t size);

/* MADE_FORM_COUNT: the note names none. */
enum made_form made_form_of(const cJSON *made);

/* Says which inputs differ between two notes; returns how many. */
size_t made_compare(const cJSON *then, const cJSON *now, struct problems *problems);

#endif
