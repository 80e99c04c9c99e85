/* A reply as it goes over the wire: packed or not, with its tag and its headers. */
#ifndef WATERTURN_WIRE_H
#define WATERTURN_WIRE_H

#include <stdbool.h>
#include <stddef.h>

#include <microhttpd.h>

#include "daemon/http/compress.h"
#include "daemon/http/request.h"

#define WIRE_HASH_BYTES 16 /* crypto_generichash_BYTES_MIN */
#define WIRE_HASH_SIZE  (2 * WIRE_HASH_BYTES + 1)

/* BLAKE2b, in hexadecimal. */
void wire_hash(const void *bytes, size_t size, char out[WIRE_HASH_SIZE]);

/* The bytes of a reply as they go over the wire. */
struct wire {
    const char *bytes;
    size_t size;
    bool packed;
    char hash[WIRE_HASH_SIZE];    /* of the content */
    char tag[WIRE_HASH_SIZE + 6]; /* ETag: of the content, and how it is packed */
    struct text own;              /* what was packed for this reply alone */
};

/* All but the packing of a body: its tag is known before. `store` has the assets. The caller frees wire->own.
 */
void wire_make(struct compress_store *store, struct MHD_Connection *connection, const struct reply *reply,
               struct wire *wire);
/* A body that cannot be packed for want of memory goes as it is. */
void wire_pack(const struct reply *reply, struct wire *wire);

/* Whether the visitor has what the tag stands for. */
bool wire_known(struct MHD_Connection *connection, const char *tag);

/* The bytes go along instead of being copied; none when `unchanged`. NULL: no memory. */
struct MHD_Response *wire_response(struct reply *reply, struct wire *wire, bool unchanged);

/* `tag` NULL: none. */
void wire_headers(struct MHD_Response *response, const struct reply *reply, const char *tag);

#endif
