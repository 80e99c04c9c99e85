#include "daemon/base/asset.h"

#include <string.h>

const struct asset *asset_find(const char *path) {
    for (const struct asset *asset = asset_table; asset->path != NULL; asset++) {
        if (strcmp(asset->path, path) == 0)
            return asset;
    }
    return NULL;
}
