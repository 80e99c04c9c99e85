#include "daemon/http/template.h"

#include <ctype.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/asset.h"
#include "daemon/view/number.h"

#define DELIMITER_SIZE 16
#define NO_NODE        SIZE_MAX

enum node_kind {
    NODE_TEXT,
    NODE_ESCAPED,
    NODE_RAW,
    NODE_SECTION,
    NODE_INVERTED,
    NODE_CLOSE,
    NODE_PARTIAL,
    NODE_MUTE
};

/* A piece of the template: text as it stands, or the name in a tag. */
struct node {
    enum node_kind kind;
    const char *at;
    size_t size;
    size_t close;       /* of a section: index of its closing node */
    const char *indent; /* of a partial alone on its line: the white space before it */
    size_t indent_size;
};

struct parser {
    const char *name;
    const char *source, *at;
    char open[DELIMITER_SIZE], shut[DELIMITER_SIZE];
    struct node *node;
    size_t count, room;
    size_t line_first; /* first node of the line */
    bool line_has_tag, line_prints;
    size_t section[TEMPLATE_DEPTH_MAX]; /* open ones */
    size_t depth;
    struct problems *problems;
};

struct renderer {
    const struct template_partials *partials;
    const cJSON *stack[TEMPLATE_DEPTH_MAX + 1]; /* contexts, the innermost last */
    size_t stack_size;
    size_t depth;
    struct text *out;
    struct problems *problems;
};

/* ---- parsing */

static enum status refuse(const struct parser *parser, const char *where, const char *what, size_t size,
                          const char *text) {
    int line = 1;
    for (const char *c = parser->source; c < where; c++)
        line += *c == '\n';
    problem_add(parser->problems, parser->name, line, 0, NULL, "%s%s%.*s%s", what, size > 0 ? " \"" : "",
                (int)size, text, size > 0 ? "\"" : "");
    return STATUS_REFUSED;
}

static struct node *node_new(struct parser *parser, enum node_kind kind, const char *at, size_t size) {
    if (parser->count == parser->room) {
        size_t room = parser->room == 0 ? 64 : parser->room * 2;
        struct node *node = realloc(parser->node, room * sizeof *node);
        if (node == NULL)
            return NULL;
        parser->node = node;
        parser->room = room;
    }
    struct node *node = &parser->node[parser->count++];
    *node = (struct node){.kind = kind, .at = at, .size = size, .close = NO_NODE};
    return node;
}

static bool is_blank(const char *text, size_t size) {
    for (size_t i = 0; i < size; i++) {
        if (!isspace((unsigned char)text[i]))
            return false;
    }
    return true;
}

/* A line of nothing but white space and tags that print nothing goes away with its newline; the white space
 * before a partial that opens it becomes the partial's indent. */
static void line_end(struct parser *parser) {
    if (parser->line_has_tag && !parser->line_prints) {
        const struct node *before = NULL;
        for (size_t i = parser->line_first; i < parser->count; i++) {
            struct node *node = &parser->node[i];
            if (node->kind == NODE_PARTIAL && before != NULL && i == parser->line_first + 1) {
                node->indent = before->at;
                node->indent_size = before->size;
            }
            before = node;
        }
        for (size_t i = parser->line_first; i < parser->count; i++) {
            if (parser->node[i].kind == NODE_TEXT)
                parser->node[i].kind = NODE_MUTE;
        }
    }
    parser->line_first = parser->count;
    parser->line_has_tag = parser->line_prints = false;
}

/* Text up to the next tag, one node for each line. */
static enum status parse_text(struct parser *parser, const char *end) {
    while (parser->at < end) {
        const char *newline = memchr(parser->at, '\n', (size_t)(end - parser->at));
        size_t size = (size_t)((newline != NULL ? newline + 1 : end) - parser->at);
        if (node_new(parser, NODE_TEXT, parser->at, size) == NULL)
            return STATUS_NO_MEMORY;
        parser->line_prints = parser->line_prints || !is_blank(parser->at, size);
        parser->at += size;
        if (newline != NULL)
            line_end(parser);
    }
    return STATUS_OK;
}

/* {{=OPEN SHUT=}}: `at` is what stands between the equals signs. */
static enum status set_delimiters(struct parser *parser, const char *at, size_t size) {
    char pair[4 * DELIMITER_SIZE];
    char rest[2];
    if (size >= sizeof pair)
        return refuse(parser, at, "delimiters are too long", 0, "");
    memcpy(pair, at, size);
    pair[size] = '\0';
    char opening[4 * DELIMITER_SIZE], closing[4 * DELIMITER_SIZE];
    if (sscanf(pair, "%63s %63s %1s", opening, closing, rest) != 2 || strchr(pair, '=') != NULL ||
        strlen(opening) >= DELIMITER_SIZE || strlen(closing) >= DELIMITER_SIZE)
        return refuse(parser, at, "expected two delimiters, found", size, at);
    memcpy(parser->open, opening, DELIMITER_SIZE);
    memcpy(parser->shut, closing, DELIMITER_SIZE);
    return STATUS_OK;
}

static enum status open_section(struct parser *parser, enum node_kind kind, const char *name, size_t size) {
    if (parser->depth == TEMPLATE_DEPTH_MAX)
        return refuse(parser, name, "sections nest too deeply at", size, name);
    if (node_new(parser, kind, name, size) == NULL)
        return STATUS_NO_MEMORY;
    parser->section[parser->depth++] = parser->count - 1;
    return STATUS_OK;
}

static enum status close_section(struct parser *parser, const char *name, size_t size) {
    if (parser->depth == 0)
        return refuse(parser, name, "closes a section that is not open:", size, name);
    if (node_new(parser, NODE_CLOSE, name, size) == NULL)
        return STATUS_NO_MEMORY;
    struct node *section = &parser->node[parser->section[--parser->depth]];
    section->close = parser->count - 1;
    if (section->size != size || memcmp(section->at, name, size) != 0)
        return refuse(parser, name, "section is not closed:", section->size, section->at);
    return STATUS_OK;
}

static enum status add_tag(struct parser *parser, char type, const char *name, size_t size) {
    enum node_kind kind = NODE_MUTE;
    switch (type) {
    case '#':
        return open_section(parser, NODE_SECTION, name, size);
    case '^':
        return open_section(parser, NODE_INVERTED, name, size);
    case '/':
        return close_section(parser, name, size);
    case '=':
        return set_delimiters(parser, name, size);
    case '!':
        break;
    case '>':
        kind = NODE_PARTIAL;
        break;
    default:
        kind = type == '&' || type == '{' ? NODE_RAW : NODE_ESCAPED;
        parser->line_prints = true;
    }
    return node_new(parser, kind, name, size) != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

/* One tag; parser->at stands on its opening delimiter. */
static enum status parse_tag(struct parser *parser) {
    const char *tag = parser->at;
    const char *name = tag + strlen(parser->open);
    while (isspace((unsigned char)*name))
        name++;
    char type = *name != '\0' && strchr("#^/>{&=!", *name) != NULL ? *name++ : 'v';
    while (isspace((unsigned char)*name))
        name++;
    char shut[DELIMITER_SIZE + 1];
    snprintf(shut, sizeof shut, "%s%s", type == '{' ? "}" : type == '=' ? "=" : "", parser->shut);
    const char *end = strstr(name, shut);
    if (end == NULL)
        return refuse(parser, tag, "tag is not closed", 0, "");
    size_t size = (size_t)(end - name);
    while (size > 0 && isspace((unsigned char)name[size - 1]))
        size--;
    parser->at = end + strlen(shut);
    parser->line_has_tag = true;
    return add_tag(parser, type, name, size);
}

static enum status parse(struct parser *parser) {
    enum status status = STATUS_OK;
    while (status == STATUS_OK && *parser->at != '\0') {
        const char *tag = strstr(parser->at, parser->open);
        status = parse_text(parser, tag != NULL ? tag : parser->at + strlen(parser->at));
        if (status == STATUS_OK && tag != NULL)
            status = parse_tag(parser);
    }
    line_end(parser);
    if (status == STATUS_OK && parser->depth > 0) {
        const struct node *section = &parser->node[parser->section[parser->depth - 1]];
        status = refuse(parser, section->at, "section is not closed:", section->size, section->at);
    }
    return status;
}

/* ---- rendering */

static enum status render_source(struct renderer *renderer, const char *name, const char *source);

static const cJSON *member(const cJSON *object, const char *name, size_t size) {
    if (!cJSON_IsObject(object))
        return NULL;
    for (const cJSON *item = object->child; item != NULL; item = item->next) {
        if (strncmp(item->string, name, size) == 0 && item->string[size] == '\0')
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
        const char *entity = *c == '&'    ? "&amp;"
                             : *c == '<'  ? "&lt;"
                             : *c == '>'  ? "&gt;"
                             : *c == '"'  ? "&quot;"
                             : *c == '\'' ? "&#39;"
                             : *c == '/'  ? "&#x2F;"
                             : *c == '`'  ? "&#x60;"
                             : *c == '='  ? "&#x3D;"
                                          : NULL;
        if (entity != NULL)
            text_puts(out, entity);
        else
            text_add(out, c, 1);
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

static enum status render_partial(struct renderer *renderer, const struct node *node) {
    char *name = strndup(node->at, node->size);
    if (name == NULL)
        return STATUS_NO_MEMORY;
    enum status status = STATUS_OK;
    const char *source = NULL;
    if (renderer->partials != NULL)
        source = renderer->partials->find(renderer->partials->context, name);
    if (source != NULL && node->indent_size > 0) {
        char *copy = indented(source, node);
        status = copy != NULL ? render_source(renderer, name, copy) : STATUS_NO_MEMORY;
        free(copy);
    } else if (source != NULL) {
        status = render_source(renderer, name, source);
    }
    free(name);
    return status;
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

static enum status render_source(struct renderer *renderer, const char *name, const char *source) {
    if (renderer->depth == TEMPLATE_DEPTH_MAX)
        return too_deep(renderer, name, strlen(name));
    struct parser parser = {.name = name,
                            .source = source,
                            .at = source,
                            .open = "{{",
                            .shut = "}}",
                            .problems = renderer->problems};
    renderer->depth++;
    enum status status = parse(&parser);
    if (status == STATUS_OK)
        status = render_nodes(renderer, parser.node, 0, parser.count);
    renderer->depth--;
    free(parser.node);
    return status;
}

enum status template_render(const char *name, const char *source, const cJSON *view,
                            const struct template_partials *partials, struct text *out,
                            struct problems *problems) {
    struct renderer renderer = {.partials = partials, .out = out, .problems = problems};
    renderer.stack[renderer.stack_size++] = view;
    return render_source(&renderer, name, source);
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
