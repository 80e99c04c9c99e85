/* Files that ship inside the binary: web/, config/, the schema. Made by web/embed.c at build time. */
#ifndef WATERTURN_ASSET_H
#define WATERTURN_ASSET_H

#include <stddef.h>

struct asset {
    const char *path; /* as in the source tree: "web/style.css" */
    const unsigned char
        *bytes; /* a NUL follows the last byte; NULL: packed, until asset_find() hands it out */
    size_t size;
    const unsigned char *packed; /* by zlib; NULL: not */
    size_t packed_size;
};

/* Ends with an entry whose path is NULL. In the order of the paths. */
extern struct asset asset_table[];

/* NULL when there is none, or no memory to unpack it. Any thread may ask. */
const struct asset *asset_find(const char *path);

#endif
