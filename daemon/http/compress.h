/* gzip for what goes over the wire (RFC 1952, RFC 9110 section 12.5.3). */
#ifndef WATERTURN_COMPRESS_H
#define WATERTURN_COMPRESS_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/base/asset.h"
#include "daemon/base/text.h"

/* Smaller bodies are sent as they are: they fit in a packet either way. */
#define COMPRESS_LEAST_BYTES 1024

/* Whether an Accept-Encoding header (NULL: none) takes gzip. */
bool compress_accepted(const char *accept_encoding);

/* Whether a media type ("text/css; charset=utf-8") gets smaller by it. */
bool compress_pays(const char *type);

/* Adds the compressed bytes to `out`; level 1 (fast) to 9 (small). The same bytes give the same result. False
 * when memory ran out. */
bool compress_gzip(const void *bytes, size_t size, int level, struct text *out);

/* Assets, each compressed when it is first asked for: what nobody asks for takes no time and no memory. One
 * thread at a time. */
struct compress_store;
struct compress_store *compress_store_new(void);
void compress_store_free(struct compress_store *store);
/* NULL when it does not pay. */
const struct text *compress_store_find(struct compress_store *store, const struct asset *asset);

#endif
