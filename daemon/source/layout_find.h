/* A layout by its name: one of the person's own, or one that ships. */
#ifndef WATERTURN_LAYOUT_FIND_H
#define WATERTURN_LAYOUT_FIND_H

#include "daemon/base/text.h"
#include "daemon/source/layout.h"

/* NAME.json in the directory that $WATERTURN_LAYOUTS names, when it is there; else the one that ships.
 * Statuses of layout_parse() and layout_builtin(). */
enum status layout_find(const char *name, struct layout **out, struct problems *problems);

/* The text of that file, to be freed, and where it is; `path` is initialised. STATUS_NOT_FOUND: there is none
 * of that name, without a problem. */
enum status layout_find_file(const char *name, char **json, size_t *size, struct text *path,
                             struct problems *problems);

#endif
