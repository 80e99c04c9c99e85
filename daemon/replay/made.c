#include "daemon/replay/made.h"

#include <string.h>

#include "daemon/base/version.h"

#define CSV_MARK  "# made: "
#define TEXT_MARK "made: "
#define SVG_OPEN  "<metadata>"
#define SVG_CLOSE "</metadata>"

static const char *const form_name[MADE_FORM_COUNT] = {"text", "csv", "json", "svg", "page"};

const char *made_form_name(enum made_form form) {
    return (unsigned)form < MADE_FORM_COUNT ? form_name[form] : NULL;
}

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

static bool add_inputs(cJSON *inputs, const struct replay *replay, const struct made_input *more,
                       size_t count) {
    const struct made_input farm = {"farm", replay->name, replay->file_sha256};
    bool good = inputs != NULL && add_input(inputs, &farm);
    for (size_t i = 0; good && i < count; i++)
        good = add_input(inputs, &more[i]);
    for (size_t i = 0; good && i < replay->weather.input_count; i++) {
        const struct replay_input *from = &replay->weather.input[i];
        const struct made_input input = {from->what, from->address, from->sha256};
        good = add_input(inputs, &input);
    }
    return good;
}

cJSON *made_new(const struct replay *replay, const char *command, enum made_form form,
                const char *const *argument, size_t arguments, const struct made_input *more, size_t count) {
    cJSON *made = cJSON_CreateObject();
    bool good = cJSON_AddStringToObject(made, "program", "waterturn") != NULL &&
                cJSON_AddStringToObject(made, "version", WATERTURN_VERSION) != NULL &&
                cJSON_AddStringToObject(made, "command", command) != NULL &&
                cJSON_AddStringToObject(made, "form", form_name[form]) != NULL;
    cJSON *words = cJSON_AddArrayToObject(made, "arguments");
    good = good && words != NULL;
    for (size_t i = 0; good && i < arguments; i++)
        good = cJSON_AddItemToArray(words, cJSON_CreateString(argument[i]));
    if (good && add_inputs(cJSON_AddArrayToObject(made, "inputs"), replay, more, count))
        return made;
    cJSON_Delete(made);
    return NULL;
}

/* ---- into an output ---- */

static void add_json(const cJSON *value, struct text *out) {
    char *words = cJSON_PrintUnformatted(value);
    text_puts(out, words != NULL ? words : "");
    out->failed = out->failed || words == NULL;
    cJSON_free(words);
}

static void add_csv(const cJSON *made, struct text *out) {
    text_puts(out, CSV_MARK);
    add_json(made, out);
    text_puts(out, "\r\n");
}

static void add_svg(const cJSON *made, struct text *out) {
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

static void add_input_lines(const cJSON *inputs, struct text *out) {
    const cJSON *input;
    text_puts(out, "[");
    cJSON_ArrayForEach(input, inputs) {
        text_puts(out, input == inputs->child ? "\n    " : ",\n    ");
        add_json(input, out);
    }
    text_puts(out, "]");
}

/* The same object over several lines, an input on each. */
static void add_lines(const cJSON *made, struct text *out) {
    const cJSON *member;
    text_puts(out, TEXT_MARK "{");
    cJSON_ArrayForEach(member, made) {
        const char *before = cJSON_IsArray(member) ? ",\n  " : ", ";
        text_printf(out, "%s\"%s\": ", member == made->child ? "" : before, member->string);
        if (strcmp(member->string, "inputs") == 0)
            add_input_lines(member, out);
        else
            add_json(member, out);
    }
    text_puts(out, "}\n");
}

void made_add(const cJSON *made, struct text *out) {
    enum made_form form = made_form_of(made);
    if (form == MADE_CSV)
        add_csv(made, out);
    else if (form == MADE_SVG)
        add_svg(made, out);
    else
        add_lines(made, out);
}

void made_add_member(const cJSON *made, cJSON *object) {
    cJSON_AddItemToObject(object, "made", cJSON_Duplicate(made, true));
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

/* The closing lines of a text. */
static cJSON *from_text(const char *bytes, size_t size) {
    size_t mark = strlen(TEXT_MARK "{"), at = size;
    while (at-- > 0) {
        if (size - at >= mark && memcmp(bytes + at, TEXT_MARK "{", mark) == 0 &&
            (at == 0 || bytes[at - 1] == '\n'))
            return cJSON_ParseWithLength(bytes + at + mark - 1, size - at - mark + 1);
    }
    return NULL;
}

cJSON *made_find(const char *bytes, size_t size) {
    size_t mark = strlen(CSV_MARK);
    if (size > mark && memcmp(bytes, CSV_MARK, mark) == 0) {
        const char *end = memchr(bytes, '\n', size);
        return cJSON_ParseWithLength(bytes + mark, (end != NULL ? (size_t)(end - bytes) : size) - mark);
    }
    if (size > 0 && bytes[0] == '<')
        return from_svg(bytes, size);
    if (size > 0 && bytes[0] == '{')
        return from_json(bytes, size);
    return from_text(bytes, size);
}

/* ---- comparing ---- */

static const char *string_of(const cJSON *object, const char *key) {
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "nothing";
}

enum made_form made_form_of(const cJSON *made) {
    int form = 0;
    while (form < MADE_FORM_COUNT && strcmp(form_name[form], string_of(made, "form")) != 0)
        form++;
    return (enum made_form)form;
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
