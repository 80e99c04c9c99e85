#include "daemon/source/layout_keys.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/nearest.h"

void layout_keys_say(const struct layout_keys *keys, const char *key, const char *format, ...) {
    char path[256];
    const char *dot = keys->path[0] != '\0' && key[0] != '\0' ? "." : "";
    (void)snprintf(path, sizeof path, "%s%s%s", keys->path, dot, key);
    const struct problem_place place = {keys->file, 0, 0, path, NULL};
    va_list arguments;
    va_start(arguments, format);
    problem_add_list(keys->problems, &place, format, arguments);
    va_end(arguments);
}

void layout_keys_check(const struct layout_keys *keys, const char *const *known) {
    const cJSON *item = NULL;
    cJSON_ArrayForEach(item, keys->object) {
        struct nearest nearest;
        bool found = false;
        nearest_begin(&nearest, item->string);
        for (size_t i = 0; known[i] != NULL; i++) {
            found = found || strcmp(known[i], item->string) == 0;
            nearest_offer(&nearest, known[i]);
        }
        if (!found && nearest.name != NULL)
            layout_keys_say(keys, item->string, "found an unknown key, expected perhaps \"%s\"",
                            nearest.name);
        else if (!found)
            layout_keys_say(keys, item->string, "found an unknown key");
    }
}

static const cJSON *get(const struct layout_keys *keys, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(keys->object, key);
}

const char *layout_keys_text(const struct layout_keys *keys, const char *key, const char *fallback) {
    const cJSON *item = get(keys, key);
    if (item == NULL)
        return fallback;
    if (cJSON_IsString(item))
        return item->valuestring;
    layout_keys_say(keys, key, "expected a text in quotes");
    return fallback;
}

bool layout_keys_flag(const struct layout_keys *keys, const char *key, bool fallback) {
    const cJSON *item = get(keys, key);
    if (item == NULL)
        return fallback;
    if (cJSON_IsBool(item))
        return cJSON_IsTrue(item);
    layout_keys_say(keys, key, "expected true or false");
    return fallback;
}

double layout_keys_number(const struct layout_keys *keys, const char *key, double least, double most,
                          double fallback) {
    const cJSON *item = get(keys, key);
    if (item == NULL)
        return fallback;
    if (cJSON_IsNumber(item) && item->valuedouble >= least && item->valuedouble <= most)
        return item->valuedouble;
    layout_keys_say(keys, key, "expected a number from %g to %g", least, most);
    return fallback;
}

int layout_keys_count(const struct layout_keys *keys, const char *key, int most, int fallback) {
    double number = layout_keys_number(keys, key, 0.0, most, fallback);
    if (floor(number) < number) {
        layout_keys_say(keys, key, "found %g, expected a whole number", number);
        return fallback;
    }
    return (int)number;
}

char layout_keys_sign(const struct layout_keys *keys, const char *key, char fallback) {
    const char *text = layout_keys_text(keys, key, NULL);
    if (text == NULL)
        return fallback;
    if (strcmp(text, "tab") == 0)
        return '\t';
    if (text[0] > ' ' && text[0] < 127 && text[1] == '\0')
        return text[0];
    layout_keys_say(keys, key, "found \"%s\", expected one sign, or \"tab\"", text);
    return fallback;
}

int layout_keys_word(const struct layout_keys *keys, const char *key, const struct layout_word *words,
                     int fallback) {
    const char *text = layout_keys_text(keys, key, NULL);
    if (text == NULL)
        return fallback;
    char known[256] = "";
    size_t used = 0;
    for (size_t i = 0; words[i].word != NULL; i++) {
        if (strcmp(words[i].word, text) == 0)
            return words[i].value;
        int count = snprintf(known + used, sizeof known - used, "%s\"%s\"", i > 0 ? ", " : "", words[i].word);
        if (count > 0 && (size_t)count < sizeof known - used)
            used += (size_t)count;
    }
    layout_keys_say(keys, key, "found \"%s\", expected one of %s", text, known);
    return fallback;
}

const cJSON *layout_keys_list(const struct layout_keys *keys, const char *key) {
    const cJSON *list = get(keys, key);
    if (list == NULL)
        return NULL;
    bool good = cJSON_IsArray(list);
    const cJSON *item = NULL;
    cJSON_ArrayForEach(item, list) {
        good = good && (cJSON_IsString(item) || cJSON_IsNumber(item));
    }
    if (good)
        return list;
    layout_keys_say(keys, key, "expected a list of texts and numbers");
    return NULL;
}

const cJSON *layout_keys_texts(const struct layout_keys *keys, const char *key) {
    const cJSON *value = get(keys, key), *item = NULL;
    bool good = cJSON_IsString(value) || (cJSON_IsArray(value) && value->child != NULL);
    if (cJSON_IsArray(value)) {
        cJSON_ArrayForEach(item, value) {
            good = good && cJSON_IsString(item);
        }
    }
    if (value == NULL || good)
        return value;
    layout_keys_say(keys, key, "expected a text in quotes, or a list of them");
    return NULL;
}
