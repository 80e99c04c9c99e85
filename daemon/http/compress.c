#include "daemon/http/compress.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <zlib.h>

#define GZIP_WINDOW_BITS (MAX_WBITS + 16) /* 16: with a gzip header and trailer (zlib.h) */
#define MEMORY_LEVEL     8                /* zlib's own default */

/* "q=0", "q=0.0": the client does not want it. */
static bool refused(const char *parameters, size_t size) {
    for (size_t i = 0; i + 2 < size; i++) {
        if ((parameters[i] == 'q' || parameters[i] == 'Q') && parameters[i + 1] == '=')
            return strtod(parameters + i + 2, NULL) <= 0;
    }
    return false;
}

bool compress_accepted(const char *accept_encoding) {
    bool any = false;
    for (const char *at = accept_encoding != NULL ? accept_encoding : ""; *at != '\0';) {
        at += strspn(at, " \t,");
        size_t item = strcspn(at, ","), name = strcspn(at, ";, \t");
        bool wanted = !refused(at + name, item - name);
        if (name == 4 && strncasecmp(at, "gzip", name) == 0)
            return wanted;
        if (name == 1 && at[0] == '*')
            any = wanted;
        at += item;
    }
    return any;
}

bool compress_pays(const char *type) {
    static const char *const types[] = {"text/", "application/json", "application/manifest+json",
                                        "image/svg+xml"};
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        if (strncmp(type, types[i], strlen(types[i])) == 0)
            return true;
    }
    return false;
}

bool compress_gzip(const void *bytes, size_t size, int level, struct text *out) {
    z_stream stream = {0};
    if (size > UINT32_MAX ||
        deflateInit2(&stream, level, Z_DEFLATED, GZIP_WINDOW_BITS, MEMORY_LEVEL, Z_DEFAULT_STRATEGY) != Z_OK)
        return false;
    uLong room = deflateBound(&stream, (uLong)size);
    unsigned char *packed = malloc(room);
    bool done = false;
    if (packed != NULL) {
        stream.next_in = (z_const Bytef *)(uintptr_t)bytes;
        stream.avail_in = (uInt)size;
        stream.next_out = packed;
        stream.avail_out = (uInt)room;
        done = deflate(&stream, Z_FINISH) == Z_STREAM_END;
    }
    if (done)
        text_add(out, (const char *)packed, stream.total_out);
    deflateEnd(&stream);
    free(packed);
    return done && !text_failed(out);
}

struct compress_store {
    size_t count;
    struct packed {
        bool done;
        struct text bytes; /* empty where it does not pay */
    } * packed;            /* as asset_table */
};

static bool asset_pays(const struct asset *asset) {
    static const char *const endings[] = {".css", ".js", ".json", ".svg"};
    const char *ending = strrchr(asset->path, '.');
    if (strncmp(asset->path, "web/", 4) != 0 || asset->size < COMPRESS_LEAST_BYTES || ending == NULL)
        return false;
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
        if (strcmp(ending, endings[i]) == 0)
            return true;
    }
    return false;
}

struct compress_store *compress_store_new(void) {
    struct compress_store *store = calloc(1, sizeof *store);
    if (store == NULL)
        return NULL;
    while (asset_table[store->count].path != NULL)
        store->count++;
    store->packed = calloc(store->count + 1, sizeof *store->packed);
    if (store->packed == NULL) {
        free(store);
        return NULL;
    }
    for (size_t i = 0; i < store->count; i++)
        text_init(&store->packed[i].bytes, 0);
    return store;
}

void compress_store_free(struct compress_store *store) {
    if (store == NULL)
        return;
    for (size_t i = 0; i < store->count; i++)
        text_free(&store->packed[i].bytes);
    free(store->packed);
    free(store);
}

const struct text *compress_store_find(struct compress_store *store, const struct asset *asset) {
    size_t index = (size_t)(asset - asset_table);
    if (index >= store->count)
        return NULL;
    struct packed *packed = &store->packed[index];
    if (!packed->done) {
        packed->done = true;
        if (asset_pays(asset) &&
            !compress_gzip(asset->bytes, asset->size, Z_BEST_COMPRESSION, &packed->bytes)) {
            text_clear(&packed->bytes);
            packed->done = false; /* for want of memory: another time */
        }
    }
    return packed->bytes.size > 0 ? &packed->bytes : NULL;
}
