#include "daemon/source/json_pointer.h"

#include <limits.h>
#include <stdbool.h>
#include <string.h>

/* Own code, though cJSON_Utils has a function of this kind: the one in Debian 12 (1.7.15) reads past arrays
 * when an index is malformed. */

/* Whether a token, "~1" standing for "/" and "~0" for "~", spells a key (section 4). */
static bool spells(const char *token, size_t size, const char *key) {
    for (size_t i = 0; i < size; i++, key++) {
        char c = token[i];
        if (c == '~') {
            if (i + 1 == size || (token[i + 1] != '0' && token[i + 1] != '1'))
                return false;
            c = token[++i] == '0' ? '~' : '/';
        }
        if (*key != c)
            return false;
    }
    return *key == '\0';
}

/* An array index: digits without a leading zero; -1 when it is none. */
static int index_of(const char *token, size_t size) {
    int index = 0;
    if (size == 0 || size > 9 || (size > 1 && token[0] == '0'))
        return -1;
    for (size_t i = 0; i < size; i++) {
        if (token[i] < '0' || token[i] > '9')
            return -1;
        index = index * 10 + (token[i] - '0');
    }
    return index;
}

static const cJSON *step(const cJSON *from, const char *token, size_t size) {
    const cJSON *item = NULL;
    if (cJSON_IsArray(from)) {
        int index = index_of(token, size);
        return index >= 0 ? cJSON_GetArrayItem(from, index) : NULL;
    }
    if (!cJSON_IsObject(from))
        return NULL;
    cJSON_ArrayForEach(item, from) {
        if (spells(token, size, item->string))
            return item;
    }
    return NULL;
}

const cJSON *json_pointer_get(const cJSON *root, const char *pointer) {
    const cJSON *at = root;
    if (*pointer != '\0' && *pointer != '/')
        return NULL;
    while (at != NULL && *pointer == '/') {
        const char *token = pointer + 1;
        size_t size = strcspn(token, "/");
        at = step(at, token, size);
        pointer = token + size;
    }
    return at;
}
