#include "daemon/http/template_parse.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/http/template.h"

#define DELIMITER_SIZE 16
#define NO_NODE        SIZE_MAX

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

enum status template_parse(const char *name, const char *source, struct node **out, size_t *count,
                           struct problems *problems) {
    struct parser parser = {
        .name = name, .source = source, .at = source, .open = "{{", .shut = "}}", .problems = problems};
    enum status status = parse(&parser);
    if (status != STATUS_OK) {
        free(parser.node);
        return status;
    }
    *out = parser.node;
    *count = parser.count;
    return STATUS_OK;
}
