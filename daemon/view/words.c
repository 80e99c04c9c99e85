#include "daemon/view/words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <cjson/cJSON.h>

#include "daemon/base/asset.h"

static const char *const languages[] = {"en", "es"};

struct words {
    const char *language;
    cJSON *text;
    const cJSON **by_key; /* its items in the order of their keys */
    size_t count;
};

const char *words_language_at(size_t index) {
    return index < sizeof languages / sizeof *languages ? languages[index] : NULL;
}

/* The language that ships for a tag such as "es-MX", or a locale's name such as "es_MX.UTF-8"; NULL: none.
 * "*" is any: the first. */
static const char *language_of_tag(const char *tag, size_t size) {
    if (size == 1 && tag[0] == '*')
        return languages[0];
    for (size_t i = 0; words_language_at(i) != NULL; i++) {
        size_t length = strlen(languages[i]);
        if (size >= length && strncasecmp(tag, languages[i], length) == 0 &&
            (size == length || strchr("-_.@", tag[length]) != NULL))
            return languages[i];
    }
    return NULL;
}

/* "es-MX;q=0.8, en;q=0.5": RFC 9110, section 12.5.4. The first of those with the largest q wins. */
const char *words_choose(const char *accept_language) {
    const char *best = languages[0];
    double best_weight = 0;
    for (const char *at = accept_language != NULL ? accept_language : ""; *at != '\0';) {
        at += strspn(at, " \t,");
        size_t item = strcspn(at, ",");
        size_t tag = strcspn(at, ";, \t");
        const char *weight_at = strstr(at, "q=");
        double weight = weight_at != NULL && weight_at < at + item ? strtod(weight_at + 2, NULL) : 1;
        const char *language = language_of_tag(at, tag);
        if (language != NULL && weight > best_weight) {
            best = language;
            best_weight = weight;
        }
        at += item;
    }
    return best;
}

static bool all_strings(const cJSON *object) {
    for (const cJSON *item = object->child; item != NULL; item = item->next) {
        if (!cJSON_IsString(item))
            return false;
    }
    return true;
}

static int compare_keys(const void *left, const void *right) {
    return strcmp((*(const cJSON *const *)left)->string, (*(const cJSON *const *)right)->string);
}

/* A page asks for hundreds of words. */
static bool sort_keys(struct words *words) {
    words->by_key = calloc((size_t)cJSON_GetArraySize(words->text) + 1, sizeof *words->by_key);
    if (words->by_key == NULL)
        return false;
    for (const cJSON *item = words->text->child; item != NULL; item = item->next)
        words->by_key[words->count++] = item;
    qsort(words->by_key, words->count, sizeof *words->by_key, compare_keys);
    return true;
}

struct words *words_open(const char *language) {
    const char *known = language_of_tag(language, strlen(language));
    char path[32];
    snprintf(path, sizeof path, "web/words.%s.json", known != NULL ? known : "");
    const struct asset *asset = asset_find(path);
    if (asset == NULL)
        return NULL;
    struct words *words = calloc(1, sizeof *words);
    cJSON *text = cJSON_ParseWithLength((const char *)asset->bytes, asset->size);
    if (words == NULL || !cJSON_IsObject(text) || !all_strings(text)) {
        free(words);
        cJSON_Delete(text);
        return NULL;
    }
    words->language = known;
    words->text = text;
    if (sort_keys(words))
        return words;
    words_close(words);
    return NULL;
}

void words_close(struct words *words) {
    if (words == NULL)
        return;
    cJSON_Delete(words->text);
    free(words->by_key);
    free(words);
}

const char *words_language(const struct words *words) {
    return words->language;
}

const char *words_find(const struct words *words, const char *key) {
    size_t low = 0, high = words->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int order = strcmp(key, words->by_key[middle]->string);
        if (order == 0)
            return words->by_key[middle]->valuestring;
        if (order < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return NULL;
}

const char *words_get(const struct words *words, const char *key) {
    const char *text = words_find(words, key);
    return text != NULL ? text : key;
}

void words_each(const struct words *words, const char *prefix, words_visitor visit, void *context) {
    size_t size = strlen(prefix);
    for (const cJSON *item = words->text->child; item != NULL; item = item->next) {
        if (strncmp(item->string, prefix, size) == 0)
            visit(context, item->string + size, item->valuestring);
    }
}

#define CROP "crop."

const char *words_crop(const struct words *words, const char *name) {
    char key[sizeof CROP + 64];
    int size = snprintf(key, sizeof key, CROP "%s", name);
    const char *text = size > 0 && (size_t)size < sizeof key ? words_find(words, key) : NULL;
    return text != NULL ? text : name;
}

const char *words_crop_named(const struct words *words, const char *called) {
    for (const cJSON *item = words->text->child; item != NULL; item = item->next) {
        if (strncmp(item->string, CROP, strlen(CROP)) == 0 && strcasecmp(item->valuestring, called) == 0)
            return item->string + strlen(CROP);
    }
    return called;
}

void words_fill(const struct words *words, const char *key, const struct words_hole *holes, size_t count,
                struct text *out) {
    text_fill(out, words_get(words, key), holes, count);
}
