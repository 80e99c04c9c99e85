#include "daemon/farm/json_text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/json_scan.h"

#define QUOTE_SIZE_MAX 60

/* Gives the places, which stand in the order of the text, their items: the same order, walked through the
 * tree. */
static void pair(struct json_text *json, const cJSON *item, size_t *index) {
    json->place[(*index)++].item = item;
    for (const cJSON *child = item->child; child != NULL; child = child->next)
        pair(json, child, index);
}

static int by_item(const void *a, const void *b) {
    uintptr_t x = (uintptr_t)((const struct json_place *)a)->item;
    uintptr_t y = (uintptr_t)((const struct json_place *)b)->item;
    return x < y ? -1 : x > y;
}

static const struct json_place *place_of(const struct json_text *json, const cJSON *item) {
    struct json_place key = {.item = item};
    return bsearch(&key, json->place, json->count, sizeof key, by_item);
}

const struct json_place *json_text_place(const struct json_text *json, const cJSON *item) {
    return place_of(json, item);
}

char *json_text_quote(const struct json_text *json, const cJSON *item, char *out, size_t size) {
    const struct json_place *place = place_of(json, item);
    if (place == NULL || cJSON_IsArray(item) || cJSON_IsObject(item)) {
        int count = cJSON_GetArraySize(item);
        if (cJSON_IsArray(item) && count > 0)
            (void)snprintf(out, size, "a list of %d", count);
        else
            (void)snprintf(out, size, cJSON_IsArray(item) ? "an empty list" : "an object");
        return out;
    }
    size_t length = place->size;
    if (length > QUOTE_SIZE_MAX) {
        length = QUOTE_SIZE_MAX;
        while (((unsigned char)json->text[place->offset + length] & 0xC0) == 0x80)
            length--;
    }
    (void)snprintf(out, size, "%.*s%s", (int)length, json->text + place->offset,
                   length < place->size ? "..." : "");
    return out;
}

char *json_text_plain(const char *string, char *out, size_t size) {
    size_t length = strlen(string);
    if (length >= size) {
        length = size - 1;
        while (length > 0 && ((unsigned char)string[length] & 0xC0) == 0x80)
            length--;
    }
    for (size_t i = 0; i < length; i++)
        out[i] = (unsigned char)string[i] < 0x20 || string[i] == 0x7F ? '?' : string[i];
    out[length] = '\0';
    return out;
}

/* ---- what the grammar lets through ---- */

/* Same key: the one that stands later comes later. */
static int by_key(const void *a, const void *b) {
    const struct json_place *x = *(const struct json_place *const *)a;
    const struct json_place *y = *(const struct json_place *const *)b;
    int order = strcmp(x->item->string, y->item->string);
    return order != 0 ? order : x->offset < y->offset ? -1 : x->offset > y->offset;
}

static enum status check_keys(const struct json_text *json, const cJSON *object, struct problems *problems) {
    size_t count = (size_t)cJSON_GetArraySize(object);
    if (count < 2)
        return STATUS_OK;
    const struct json_place **key = malloc(count * sizeof *key);
    if (key == NULL)
        return STATUS_NO_MEMORY;
    size_t index = 0;
    for (const cJSON *child = object->child; child != NULL; child = child->next)
        key[index++] = place_of(json, child);
    qsort(key, count, sizeof *key, by_key);
    for (size_t i = 1; i < count; i++) {
        const struct json_place *first = key[i - 1], *second = key[i];
        char plain[QUOTE_SIZE_MAX];
        if (strcmp(first->item->string, second->item->string) == 0)
            problem_add(problems, json->name, second->key_line, second->key_column, NULL,
                        "found the key \"%s\" again, expected it once: it stands at %d:%d too",
                        json_text_plain(second->item->string, plain, sizeof plain), first->key_line,
                        first->key_column);
    }
    free(key);
    return STATUS_OK;
}

/* Down the tree, so that the first problems of a text are the ones that are kept. */
static enum status check_values(const struct json_text *json, const cJSON *item, struct problems *problems) {
    enum status status = STATUS_OK;
    if (cJSON_IsNumber(item) && !isfinite(item->valuedouble)) {
        const struct json_place *place = place_of(json, item);
        char found[QUOTE_SIZE_MAX + 8];
        problem_add(problems, json->name, place->line, place->column, NULL,
                    "found %s, expected a number below 1.8e308",
                    json_text_quote(json, item, found, sizeof found));
    } else if (cJSON_IsObject(item)) {
        status = check_keys(json, item, problems);
    }
    for (const cJSON *child = item->child; child != NULL && status == STATUS_OK; child = child->next)
        status = check_values(json, child, problems);
    return status;
}

/* ---- the whole ---- */

/* A copy without comments and byte order mark; a NUL follows it. */
static enum status copy_text(const char *name, const char *text, size_t *size, char **out,
                             struct problems *problems) {
    size_t mark = *size >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    *size -= mark;
    *out = malloc(*size + 1);
    if (*out == NULL)
        return STATUS_NO_MEMORY;
    memcpy(*out, text + mark, *size);
    (*out)[*size] = '\0';
    return json_scan_comments(name, *out, size, problems);
}

static enum status parse(struct json_text *json, size_t size, struct problems *problems) {
    struct json_scan scan = {
        .name = json->name, .text = json->text, .size = size, .line = 1, .column = 1, .problems = problems};
    enum status status = json_scan_document(&scan);
    json->place = scan.place;
    json->count = scan.count;
    if (status != STATUS_OK)
        return status;
    /* The grammar was checked, so that memory is all that can be lacking. */
    json->root = cJSON_ParseWithLengthOpts(json->text, size + 1, NULL, 0);
    if (json->root == NULL)
        return STATUS_NO_MEMORY;
    size_t index = 0;
    pair(json, json->root, &index);
    qsort(json->place, json->count, sizeof *json->place, by_item);
    size_t count = problems->count, kept = problems->kept;
    status = check_values(json, json->root, problems);
    problems_sort(problems, kept);
    return status == STATUS_OK && problems->count > count ? STATUS_REFUSED : status;
}

enum status json_text_parse(const char *name, const char *text, size_t size, struct json_text *out,
                            struct problems *problems) {
    memset(out, 0, sizeof *out);
    if (size > JSON_TEXT_SIZE_MAX) {
        problem_add(problems, name, 0, 0, NULL, "found %zu bytes, expected at most %zu", size,
                    JSON_TEXT_SIZE_MAX);
        return STATUS_REFUSED;
    }
    struct json_text json = {.name = strdup(name)};
    enum status status = json.name != NULL ? json_scan_bytes(name, text, size, problems) : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = copy_text(name, text, &size, &json.text, problems);
    if (status == STATUS_OK)
        status = parse(&json, size, problems);
    if (status == STATUS_OK)
        *out = json;
    else
        json_text_free(&json);
    return status;
}

void json_text_free(struct json_text *json) {
    free(json->name);
    free(json->text);
    free(json->place);
    cJSON_Delete(json->root);
    memset(json, 0, sizeof *json);
}
