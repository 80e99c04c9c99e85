#include "daemon/base/asset.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* What is unpacked stays so. */
static const struct asset *unpack(struct asset *asset) {
    uLongf size = asset->size;
    unsigned char *bytes = malloc(asset->size + 1);
    if (bytes == NULL || uncompress(bytes, &size, asset->packed, asset->packed_size) != Z_OK ||
        size != asset->size) {
        free(bytes);
        return NULL;
    }
    bytes[size] = '\0';
    asset->bytes = bytes;
    return asset;
}

static const struct asset *whole(struct asset *asset) {
    static pthread_mutex_t one_at_a_time = PTHREAD_MUTEX_INITIALIZER;
    if (asset->packed == NULL)
        return asset;
    (void)pthread_mutex_lock(&one_at_a_time);
    const struct asset *found = asset->bytes != NULL ? asset : unpack(asset);
    (void)pthread_mutex_unlock(&one_at_a_time);
    return found;
}

const struct asset *asset_find(const char *path) {
    for (struct asset *asset = asset_table; asset->path != NULL; asset++) {
        if (strcmp(asset->path, path) == 0)
            return whole(asset);
    }
    return NULL;
}
