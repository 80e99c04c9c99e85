/* Files that ship inside the binary: web/, config/, the schema. Made by web/embed.c at build time. */
#ifndef WATERTURN_ASSET_H
#define WATERTURN_ASSET_H

#include <stddef.h>

struct asset {
    const char *path;           /* as in the source tree: "web/style.css" */
    const unsigned char *bytes; /* a NUL follows the last byte */
    size_t size;
};

/* Ends with an entry whose path is NULL. In the order of the paths. */
extern const struct asset asset_table[];

/* NULL when there is none. */
const struct asset *asset_find(const char *path);

#endif
