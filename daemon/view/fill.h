/* What a person wrote into a form, and what is wrong with it: texts by the names of the inputs. */
#ifndef WATERTURN_FILL_H
#define WATERTURN_FILL_H

#include <stdbool.h>
#include <stddef.h>

#include "core/base/status.h"

#define FILL_INPUTS_MAX 192
#define FILL_NAME_SIZE  32
#define FILL_VALUE_MAX  4096 /* longest value, bytes */

struct fill {
    size_t count;
    struct fill_item {
        char name[FILL_NAME_SIZE];
        char *value; /* NULL: not given */
        char *error; /* NULL: none */
    } item[FILL_INPUTS_MAX];
    bool failed; /* no memory, or too much of it */
};

void fill_init(struct fill *fill);
void fill_free(struct fill *fill);

/* Sets a value; `size` bytes of it are added to what the input has already (values may come in pieces). */
void fill_add(struct fill *fill, const char *name, const char *bytes, size_t size);
void fill_set(struct fill *fill, const char *name, const char *value);
/* Sets it only when the input was not given at all. */
void fill_default(struct fill *fill, const char *name, const char *value);
/* It was not given. */
void fill_remove(struct fill *fill, const char *name);
/* "" when not given. Never NULL. */
const char *fill_value(const struct fill *fill, const char *name);
bool fill_given(const struct fill *fill, const char *name);

/* Notes what is wrong with an input; the first error stays. */
void fill_refuse(struct fill *fill, const char *name, const char *error);
/* NULL: none. */
const char *fill_error(const struct fill *fill, const char *name);
bool fill_good(const struct fill *fill);

#endif
