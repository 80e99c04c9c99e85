#include "daemon/http/wire.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sodium.h>

#define PAGE_LEVEL 6 /* of gzip, for what is packed anew each time */

/* Nothing but the page's own style sheet, pictures and forms; never inside another page. */
static const struct {
    const char *name, *value;
} security_headers[] = {
    {"Content-Security-Policy",
     "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; worker-src 'self'; "
     "img-src 'self'; form-action 'self'; "
     "base-uri 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"X-Frame-Options", "DENY"},
    {"Referrer-Policy", "same-origin"}, /* with no-referrer a form would be sent without its Origin */
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Permissions-Policy", "camera=(), geolocation=(), microphone=()"},
    {"Vary", "Accept-Encoding, Accept-Language, Cookie"},
};

void wire_hash(const void *bytes, size_t size, char out[WIRE_HASH_SIZE]) {
    unsigned char hash[WIRE_HASH_BYTES];
    crypto_generichash(hash, sizeof hash, bytes, size, NULL, 0);
    sodium_bin2hex(out, WIRE_HASH_SIZE, hash, sizeof hash);
}

static void set_tag(struct wire *wire) {
    snprintf(wire->tag, sizeof wire->tag, "\"%s%s\"", wire->hash, wire->packed ? "-gz" : "");
}

static void take_packed(const struct text *packed, struct wire *wire) {
    wire->bytes = text_string(packed);
    wire->size = packed->size;
}

void wire_make(struct compress_store *store, struct MHD_Connection *connection, const struct reply *reply,
               struct wire *wire) {
    const struct asset *asset = reply->asset;
    *wire = (struct wire){.bytes = asset != NULL ? (const char *)asset->bytes : text_string(&reply->body),
                          .size = asset != NULL ? asset->size : reply->body.size};
    text_init(&wire->own, 0);
    wire_hash(wire->bytes, wire->size, wire->hash);
    const char *accepted =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT_ENCODING);
    const struct text *packed = asset != NULL ? compress_store_find(store, asset) : &wire->own;
    wire->packed = wire->size >= COMPRESS_LEAST_BYTES && compress_pays(reply->type) &&
                   compress_accepted(accepted) && packed != NULL;
    if (wire->packed && asset != NULL)
        take_packed(packed, wire);
    set_tag(wire);
}

void wire_pack(const struct reply *reply, struct wire *wire) {
    if (!wire->packed || reply->asset != NULL)
        return;
    wire->packed = compress_gzip(wire->bytes, wire->size, PAGE_LEVEL, &wire->own);
    if (wire->packed)
        take_packed(&wire->own, wire);
    set_tag(wire);
}

void wire_headers(struct MHD_Response *response, const struct reply *reply, const char *tag) {
    for (size_t i = 0; i < sizeof security_headers / sizeof *security_headers; i++)
        MHD_add_response_header(response, security_headers[i].name, security_headers[i].value);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, reply->type);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CACHE_CONTROL,
                            reply->lasting ? "public, max-age=31536000, immutable" : "private, no-cache");
    if (reply->disposition != NULL)
        MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_DISPOSITION, reply->disposition);
    if (reply->status == MHD_HTTP_METHOD_NOT_ALLOWED)
        MHD_add_response_header(response, MHD_HTTP_HEADER_ALLOW, "GET, HEAD");
    if (reply->status == MHD_HTTP_SERVICE_UNAVAILABLE)
        MHD_add_response_header(response, MHD_HTTP_HEADER_RETRY_AFTER, "10");
    if (reply->status == MHD_HTTP_UNAUTHORIZED)
        MHD_add_response_header(response, MHD_HTTP_HEADER_WWW_AUTHENTICATE, "Bearer");
    if (reply->status == MHD_HTTP_TOO_MANY_REQUESTS)
        MHD_add_response_header(response, MHD_HTTP_HEADER_RETRY_AFTER, "60");
    if (reply->cookie[0] != '\0')
        MHD_add_response_header(response, MHD_HTTP_HEADER_SET_COOKIE, reply->cookie);
    if (reply->location[0] != '\0')
        MHD_add_response_header(response, MHD_HTTP_HEADER_LOCATION, reply->location);
    if (tag != NULL)
        MHD_add_response_header(response, MHD_HTTP_HEADER_ETAG, tag);
}

struct MHD_Response *wire_response(struct reply *reply, struct wire *wire, bool unchanged) {
    if (unchanged)
        return MHD_create_response_from_buffer(0, (void *)(uintptr_t) "", MHD_RESPMEM_PERSISTENT);
    if (reply->asset != NULL)
        return MHD_create_response_from_buffer(wire->size, (void *)(uintptr_t)wire->bytes,
                                               MHD_RESPMEM_PERSISTENT);
    char *bytes = text_take(wire->packed ? &wire->own : &reply->body);
    struct MHD_Response *response =
        bytes != NULL ? MHD_create_response_from_buffer(wire->size, bytes, MHD_RESPMEM_MUST_FREE) : NULL;
    if (response == NULL)
        free(bytes);
    return response;
}

bool wire_known(struct MHD_Connection *connection, const char *tag) {
    const char *known =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
    return known != NULL && (strcmp(known, "*") == 0 || strstr(known, tag) != NULL);
}
