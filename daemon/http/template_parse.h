/* The parsing half of template.c; nobody else includes this. */
#ifndef WATERTURN_TEMPLATE_PARSE_H
#define WATERTURN_TEMPLATE_PARSE_H

#include <stddef.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"

enum node_kind {
    NODE_TEXT,
    NODE_ESCAPED,
    NODE_RAW,
    NODE_SECTION,
    NODE_INVERTED,
    NODE_CLOSE,
    NODE_PARTIAL,
    NODE_MUTE
};

/* A piece of the template: text as it stands, or the name in a tag. */
struct node {
    enum node_kind kind;
    const char *at;
    size_t size;
    size_t close;       /* of a section: index of its closing node */
    const char *indent; /* of a partial alone on its line: the white space before it */
    size_t indent_size;
};

/* The pieces of a source, in order, which point into it; freed with free(). STATUS_REFUSED: it is malformed.
 */
enum status template_parse(const char *name, const char *source, struct node **out, size_t *count,
                           struct problems *problems);

#endif
