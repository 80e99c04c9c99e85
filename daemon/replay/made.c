#include "daemon/replay/made.h"

#include <string.h>

#include "daemon/base/version.h"

#define CSV_MARK  "# made: "
#define SVG_OPEN  "<metadata>"
#define SVG_CLOSE "</metadata>"

static bool add_input(cJSON *inputs, const struct made_input *input) {
    cJSON *entry = cJSON_CreateObject();
    if (entry == NULL || !cJSON_AddItemToArray(inputs, entry)) {
        cJSON_Delete(entry);
        return false;
    }
    bool good = cJSON_AddStringToObject(entry, "what", input->what) != NULL;
    if (input->address[0] != '\0')
        good = good && cJSON_AddStringToObject(entry, "address", input->address) != NULL;
    return good && cJSON_AddStringToObject(entry, "sha256", input->sha256) != NULL;
}

cJSON *made_new(const char *command, const char *const *argument, size_t arguments,
                const struct made_input *input, size_t inputs) {
    cJSON *made = cJSON_CreateObject();
    bool good = cJSON_AddStringToObject(made, "program", "waterturn") != NULL &&
                cJSON_AddStringToObject(made, "version", WATERTURN_VERSION) != NULL &&
                cJSON_AddStringToObject(made, "command", command) != NULL;
    cJSON *words = cJSON_AddArrayToObject(made, "arguments");
    for (size_t i = 0; good && i < arguments; i++)
        good = cJSON_AddItemToArray(words, cJSON_CreateString(argument[i]));
    cJSON *list = cJSON_AddArrayToObject(made, "inputs");
    for (size_t i = 0; good && list != NULL && i < inputs; i++)
        good = add_input(list, &input[i]);
    if (good && words != NULL && list != NULL)
        return made;
    cJSON_Delete(made);
    return NULL;
}

/* ---- into an output ---- */

void made_add_csv(const cJSON *made, struct text *out) {
    char *words = cJSON_PrintUnformatted(made);
    text_printf(out, CSV_MARK "%s\r\n", words != NULL ? words : "");
    out->failed = out->failed || words == NULL;
    cJSON_free(words);
}

void made_add_svg(const cJSON *made, struct text *out) {
    char *words = cJSON_PrintUnformatted(made);
    text_puts(out, SVG_OPEN);
    for (const char *at = words; at != NULL && *at != '\0'; at++) {
        if (*at == '<' || *at == '>' || *at == '&')
            text_puts(out, *at == '<' ? "&lt;" : *at == '>' ? "&gt;" : "&amp;");
        else
            text_add(out, at, 1);
    }
    text_puts(out, SVG_CLOSE "\n");
    out->failed = out->failed || words == NULL;
    cJSON_free(words);
}

/* ---- and out of one ---- */

static cJSON *from_json(const char *bytes, size_t size) {
    cJSON *root = cJSON_ParseWithLength(bytes, size);
    cJSON *made = cJSON_DetachItemFromObjectCaseSensitive(root, "made");
    cJSON_Delete(root);
    return made;
}

static cJSON *from_svg(const char *bytes, size_t size) {
    const char *open = memmem(bytes, size, SVG_OPEN, strlen(SVG_OPEN));
    const char *from = open != NULL ? open + strlen(SVG_OPEN) : bytes;
    const char *end = memmem(from, size - (size_t)(from - bytes), SVG_CLOSE, strlen(SVG_CLOSE));
    static const struct {
        const char *entity;
        char letter;
    } entities[] = {{"&lt;", '<'}, {"&gt;", '>'}, {"&amp;", '&'}};
    struct text words;
    if (open == NULL || end == NULL)
        return NULL;
    text_init(&words, 0);
    while (from < end) {
        size_t taken = 1, left = (size_t)(end - from);
        char letter = *from;
        for (size_t i = 0; i < 3; i++) {
            size_t length = strlen(entities[i].entity);
            if (length <= left && memcmp(from, entities[i].entity, length) == 0) {
                letter = entities[i].letter;
                taken = length;
            }
        }
        text_add(&words, &letter, 1);
        from += taken;
    }
    cJSON *made = cJSON_Parse(text_string(&words));
    text_free(&words);
    return made;
}

cJSON *made_find(const char *bytes, size_t size) {
    size_t mark = strlen(CSV_MARK);
    if (size > mark && memcmp(bytes, CSV_MARK, mark) == 0) {
        const char *end = memchr(bytes, '\n', size);
        return cJSON_ParseWithLength(bytes + mark, (end != NULL ? (size_t)(end - bytes) : size) - mark);
    }
    if (size > 0 && bytes[0] == '<')
        return from_svg(bytes, size);
    return from_json(bytes, size);
}

/* ---- comparing ---- */

static const char *string_of(const cJSON *object, const char *key) {
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "nothing";
}

static const cJSON *input_named(const cJSON *made, const char *what) {
    const cJSON *input;
    cJSON_ArrayForEach(input, cJSON_GetObjectItemCaseSensitive(made, "inputs")) {
        if (strcmp(string_of(input, "what"), what) == 0)
            return input;
    }
    return NULL;
}

size_t made_compare(const cJSON *then, const cJSON *now, struct problems *problems) {
    size_t differ = 0;
    if (strcmp(string_of(then, "version"), string_of(now, "version")) != 0) {
        problem_add(problems, NULL, 0, 0, NULL, "it was made by version %s, this is version %s",
                    string_of(then, "version"), string_of(now, "version"));
        differ++;
    }
    const cJSON *input;
    cJSON_ArrayForEach(input, cJSON_GetObjectItemCaseSensitive(then, "inputs")) {
        const char *what = string_of(input, "what"), *hash = string_of(input, "sha256");
        const char *hash_now = string_of(input_named(now, what), "sha256");
        if (strcmp(hash, hash_now) == 0)
            continue;
        problem_add(problems, NULL, 0, 0, what, "it had the SHA-256 %s, and now has %s", hash, hash_now);
        differ++;
    }
    return differ;
}
