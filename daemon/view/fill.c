#include "daemon/view/fill.h"

#include <stdlib.h>
#include <string.h>

void fill_init(struct fill *fill) {
    memset(fill, 0, sizeof *fill);
}

void fill_free(struct fill *fill) {
    for (size_t i = 0; i < fill->count; i++) {
        free(fill->item[i].value);
        free(fill->item[i].error);
    }
    fill_init(fill);
}

static const struct fill_item *find(const struct fill *fill, const char *name) {
    for (size_t i = 0; i < fill->count; i++) {
        if (strcmp(fill->item[i].name, name) == 0)
            return &fill->item[i];
    }
    return NULL;
}

/* The item of a name, made when there is none; NULL when there is no room for it. */
static struct fill_item *item(struct fill *fill, const char *name) {
    for (size_t i = 0; i < fill->count; i++) {
        if (strcmp(fill->item[i].name, name) == 0)
            return &fill->item[i];
    }
    if (fill->count == FILL_INPUTS_MAX || strlen(name) >= FILL_NAME_SIZE) {
        fill->failed = true;
        return NULL;
    }
    struct fill_item *fresh = &fill->item[fill->count++];
    memset(fresh, 0, sizeof *fresh);
    memcpy(fresh->name, name, strlen(name) + 1);
    return fresh;
}

void fill_add(struct fill *fill, const char *name, const char *bytes, size_t size) {
    struct fill_item *into = item(fill, name);
    size_t before = into != NULL && into->value != NULL ? strlen(into->value) : 0;
    char *grown =
        into != NULL && before + size <= FILL_VALUE_MAX ? realloc(into->value, before + size + 1) : NULL;
    if (grown == NULL) {
        fill->failed = true;
        return;
    }
    if (size > 0)
        memcpy(grown + before, bytes, size);
    grown[before + size] = '\0';
    into->value = grown;
}

void fill_set(struct fill *fill, const char *name, const char *value) {
    struct fill_item *into = item(fill, name);
    if (into == NULL)
        return;
    free(into->value);
    into->value = NULL;
    fill_add(fill, name, value, strlen(value));
}

void fill_default(struct fill *fill, const char *name, const char *value) {
    if (!fill_given(fill, name))
        fill_set(fill, name, value);
}

void fill_remove(struct fill *fill, const char *name) {
    for (size_t i = 0; i < fill->count; i++) {
        if (strcmp(fill->item[i].name, name) != 0)
            continue;
        free(fill->item[i].value);
        fill->item[i].value = NULL;
    }
}

const char *fill_value(const struct fill *fill, const char *name) {
    const struct fill_item *found = find(fill, name);
    return found != NULL && found->value != NULL ? found->value : "";
}

bool fill_given(const struct fill *fill, const char *name) {
    const struct fill_item *found = find(fill, name);
    return found != NULL && found->value != NULL;
}

void fill_refuse(struct fill *fill, const char *name, const char *error) {
    struct fill_item *into = item(fill, name);
    if (into == NULL || into->error != NULL)
        return;
    into->error = strdup(error);
    fill->failed = fill->failed || into->error == NULL;
}

const char *fill_error(const struct fill *fill, const char *name) {
    const struct fill_item *found = find(fill, name);
    return found != NULL ? found->error : NULL;
}

bool fill_good(const struct fill *fill) {
    bool good = !fill->failed;
    for (size_t i = 0; i < fill->count; i++)
        good = good && fill->item[i].error == NULL;
    return good;
}
