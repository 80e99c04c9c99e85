#include "daemon/http/template.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/asset.h"
#include "daemon/http/template_parse.h"
#include "daemon/view/number.h"

/* A partial that was parsed: those that a page has many times are parsed once. */
struct parsed {
    char *name;
    char *copy; /* the source, where it was moved in; NULL: it stands elsewhere */
    const char *indent;
    size_t indent_size;
    struct node *node;
    size_t count;
    struct parsed *next;
};

struct renderer {
    const struct template_partials *partials;
    struct parsed *parsed;
    const cJSON *stack[TEMPLATE_DEPTH_MAX + 1]; /* contexts, the innermost last */
    size_t stack_size;
    size_t depth;
    struct text *out;
    struct problems *problems;
};

/* ---- rendering */

static const cJSON *member(const cJSON *object, const char *name, size_t size) {
    if (!cJSON_IsObject(object))
        return NULL;
    for (const cJSON *item = object->child; item != NULL; item = item->next) {
        if (item->string[0] == name[0] && strncmp(item->string, name, size) == 0 &&
            item->string[size] == '\0')
            return item;
    }
    return NULL;
}

/* The first part of a dotted name is looked for in all contexts, innermost first; the others only in what it
 * gave. */
static const cJSON *look_up(const struct renderer *renderer, const char *name, size_t size) {
    if (size == 1 && name[0] == '.')
        return renderer->stack[renderer->stack_size - 1];
    const char *dot = size > 0 ? memchr(name + 1, '.', size - 1) : NULL;
    size_t head = dot != NULL ? (size_t)(dot - name) : size;
    const cJSON *found = NULL;
    for (size_t i = renderer->stack_size; i > 0 && found == NULL; i--)
        found = member(renderer->stack[i - 1], name, head);
    while (found != NULL && head < size) {
        name += head + 1;
        size -= head + 1;
        dot = memchr(name, '.', size);
        head = dot != NULL ? (size_t)(dot - name) : size;
        found = member(found, name, head);
    }
    return found;
}

static bool is_true(const cJSON *value) {
    if (value == NULL || cJSON_IsNull(value) || cJSON_IsFalse(value))
        return false;
    if (cJSON_IsNumber(value))
        return value->valuedouble < 0 || value->valuedouble > 0;
    if (cJSON_IsString(value))
        return value->valuestring[0] != '\0';
    return !cJSON_IsArray(value) || value->child != NULL;
}

static void add_escaped(struct text *out, const char *string) {
    for (const char *c = string; *c != '\0'; c++) {
        size_t plain = strcspn(c, "&<>\"'/`=");
        text_add(out, c, plain);
        c += plain;
        const char *entity = *c == '&'    ? "&amp;"
                             : *c == '<'  ? "&lt;"
                             : *c == '>'  ? "&gt;"
                             : *c == '"'  ? "&quot;"
                             : *c == '\'' ? "&#39;"
                             : *c == '/'  ? "&#x2F;"
                             : *c == '`'  ? "&#x60;"
                             : *c == '='  ? "&#x3D;"
                                          : NULL;
        if (entity == NULL)
            return;
        text_puts(out, entity);
    }
}

static void add_value(struct text *out, const cJSON *value, bool escape) {
    if (cJSON_IsString(value)) {
        if (escape)
            add_escaped(out, value->valuestring);
        else
            text_puts(out, value->valuestring);
    } else if (cJSON_IsNumber(value)) {
        number_add_shortest(out, value->valuedouble);
    } else if (cJSON_IsBool(value)) {
        text_puts(out, cJSON_IsTrue(value) ? "true" : "false");
    } else if (cJSON_IsObject(value)) {
        text_puts(out, "[object Object]");
    } else if (cJSON_IsArray(value)) {
        for (const cJSON *item = value->child; item != NULL; item = item->next) {
            add_value(out, item, escape);
            if (item->next != NULL)
                text_puts(out, ",");
        }
    }
}

/* The source of a partial with every line that is not empty moved in. */
static char *indented(const char *source, const struct node *node) {
    struct text copy;
    text_init(&copy, 0);
    for (const char *line = source; *line != '\0';) {
        size_t size = strcspn(line, "\n");
        if (size > 0)
            text_add(&copy, node->indent, node->indent_size);
        size += line[size] == '\n';
        text_add(&copy, line, size);
        line += size;
    }
    return text_take(&copy);
}

static enum status render_nodes(struct renderer *renderer, const struct node *node, size_t from, size_t to);

static enum status too_deep(const struct renderer *renderer, const char *name, size_t size) {
    problem_add(renderer->problems, NULL, 0, 0, NULL,
                "partials and sections nest more than %d deep at \"%.*s\"", TEMPLATE_DEPTH_MAX, (int)size,
                name);
    return STATUS_REFUSED;
}

/* The inside of a section once, with `context` (NULL: none) on the stack. */
static enum status render_inside(struct renderer *renderer, const struct node *node, size_t at,
                                 const cJSON *context) {
    if (renderer->depth == TEMPLATE_DEPTH_MAX)
        return too_deep(renderer, node[at].at, node[at].size);
    renderer->depth++;
    if (context != NULL)
        renderer->stack[renderer->stack_size++] = context;
    enum status status = render_nodes(renderer, node, at + 1, node[at].close);
    if (context != NULL)
        renderer->stack_size--;
    renderer->depth--;
    return status;
}

static enum status render_partial(struct renderer *renderer, const struct node *node);

static enum status render_section(struct renderer *renderer, const struct node *node, size_t at) {
    const cJSON *value = look_up(renderer, node[at].at, node[at].size);
    if (is_true(value) == (node[at].kind == NODE_INVERTED))
        return STATUS_OK;
    if (node[at].kind == NODE_INVERTED || cJSON_IsTrue(value))
        return render_inside(renderer, node, at, NULL);
    if (!cJSON_IsArray(value))
        return render_inside(renderer, node, at, value);
    enum status status = STATUS_OK;
    for (const cJSON *item = value->child; item != NULL && status == STATUS_OK; item = item->next)
        status = render_inside(renderer, node, at, item);
    return status;
}

static enum status render_nodes(struct renderer *renderer, const struct node *node, size_t from, size_t to) {
    enum status status = STATUS_OK;
    for (size_t i = from; i < to && status == STATUS_OK; i++) {
        switch (node[i].kind) {
        case NODE_TEXT:
            text_add(renderer->out, node[i].at, node[i].size);
            break;
        case NODE_ESCAPED:
        case NODE_RAW:
            add_value(renderer->out, look_up(renderer, node[i].at, node[i].size),
                      node[i].kind == NODE_ESCAPED);
            break;
        case NODE_SECTION:
        case NODE_INVERTED:
            status = render_section(renderer, node, i);
            i = node[i].close;
            break;
        case NODE_PARTIAL:
            status = render_partial(renderer, &node[i]);
            break;
        case NODE_CLOSE:
        case NODE_MUTE:
            break;
        }
        if (status == STATUS_OK && text_failed(renderer->out))
            status = STATUS_NO_ROOM;
    }
    return status;
}

/* ---- partials, each parsed once */

static void parsed_free(struct parsed *parsed) {
    free(parsed->name);
    free(parsed->copy);
    free(parsed->node);
    free(parsed);
}

/* The source of a partial, as its tag asks for it; NULL: no memory. */
static struct parsed *parsed_begin(const char *name, const char *source, const struct node *tag) {
    struct parsed *parsed = calloc(1, sizeof *parsed);
    if (parsed == NULL)
        return NULL;
    parsed->name = strdup(name);
    parsed->indent = tag->indent;
    parsed->indent_size = tag->indent_size;
    if (tag->indent_size > 0)
        parsed->copy = indented(source, tag);
    if (parsed->name != NULL && (tag->indent_size == 0 || parsed->copy != NULL))
        return parsed;
    parsed_free(parsed);
    return NULL;
}

static enum status parsed_new(struct renderer *renderer, const char *name, const char *source,
                              const struct node *tag, struct parsed **out) {
    struct parsed *parsed = parsed_begin(name, source, tag);
    if (parsed == NULL)
        return STATUS_NO_MEMORY;
    enum status status = template_parse(name, parsed->copy != NULL ? parsed->copy : source, &parsed->node,
                                        &parsed->count, renderer->problems);
    if (status != STATUS_OK) {
        parsed_free(parsed);
        return status;
    }
    parsed->next = renderer->parsed;
    *out = renderer->parsed = parsed;
    return STATUS_OK;
}

static bool is_of(const struct parsed *parsed, const struct node *tag) {
    return strncmp(parsed->name, tag->at, tag->size) == 0 && parsed->name[tag->size] == '\0' &&
           parsed->indent_size == tag->indent_size &&
           (tag->indent_size == 0 || memcmp(parsed->indent, tag->indent, tag->indent_size) == 0);
}

/* NULL with STATUS_OK: there is no such partial. */
static enum status find_partial(struct renderer *renderer, const struct node *tag, struct parsed **out) {
    for (*out = renderer->parsed; *out != NULL && !is_of(*out, tag);)
        *out = (*out)->next;
    if (*out != NULL || renderer->partials == NULL)
        return STATUS_OK;
    char *name = strndup(tag->at, tag->size);
    if (name == NULL)
        return STATUS_NO_MEMORY;
    const char *source = renderer->partials->find(renderer->partials->context, name);
    enum status status = source != NULL ? parsed_new(renderer, name, source, tag, out) : STATUS_OK;
    free(name);
    return status;
}

static enum status render_whole(struct renderer *renderer, const struct node *node, size_t count) {
    renderer->depth++;
    enum status status = render_nodes(renderer, node, 0, count);
    renderer->depth--;
    return status;
}

/* One that is not there prints nothing. */
static enum status render_partial(struct renderer *renderer, const struct node *tag) {
    struct parsed *parsed;
    enum status status = find_partial(renderer, tag, &parsed);
    if (status != STATUS_OK || parsed == NULL)
        return status;
    return renderer->depth < TEMPLATE_DEPTH_MAX ? render_whole(renderer, parsed->node, parsed->count)
                                                : too_deep(renderer, tag->at, tag->size);
}

enum status template_render(const char *name, const char *source, const cJSON *view,
                            const struct template_partials *partials, struct text *out,
                            struct problems *problems) {
    struct renderer renderer = {.partials = partials, .out = out, .problems = problems};
    struct node *node = NULL;
    size_t count = 0;
    renderer.stack[renderer.stack_size++] = view;
    enum status status = template_parse(name, source, &node, &count, problems);
    if (status == STATUS_OK)
        status = render_whole(&renderer, node, count);
    while (renderer.parsed != NULL) {
        struct parsed *next = renderer.parsed->next;
        parsed_free(renderer.parsed);
        renderer.parsed = next;
    }
    free(node);
    return status;
}

static const char *find_asset(void *context, const char *name) {
    (void)context;
    char path[128];
    int size = snprintf(path, sizeof path, "web/%s.mustache", name);
    const struct asset *asset = size > 0 && (size_t)size < sizeof path ? asset_find(path) : NULL;
    return asset != NULL ? (const char *)asset->bytes : NULL;
}

enum status template_render_asset(const char *name, const cJSON *view, struct text *out,
                                  struct problems *problems) {
    const char *source = find_asset(NULL, name);
    if (source == NULL)
        return STATUS_NOT_FOUND;
    const struct template_partials partials = {.find = find_asset};
    return template_render(name, source, view, &partials, out, problems);
}
