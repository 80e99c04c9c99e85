#include "daemon/farm/json_scan.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* cJSON reads at most 63 characters of a number; no double needs more. */
#define NUMBER_SIZE_MAX 60

static bool continuation(char c) {
    return ((unsigned char)c & 0xC0) == 0x80;
}

/* Moves over one byte. */
static void step(struct json_scan *scan) {
    char c = scan->text[scan->at++];
    if (c == '\n') {
        scan->line++;
        scan->column = 1;
    } else if (!continuation(c)) {
        scan->column++;
    }
}

static void step_many(struct json_scan *scan, size_t count) {
    while (count-- > 0)
        step(scan);
}

/* The byte at the position; 0 at the end (NUL bytes were refused before). */
static char peek(const struct json_scan *scan) {
    return scan->at < scan->size ? scan->text[scan->at] : '\0';
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

static bool is_word(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' || is_digit(c);
}

/* What stands at the position: a word, a character, the end. */
static void describe(const struct json_scan *scan, char *out, size_t size) {
    size_t left = scan->size - scan->at;
    const char *from = scan->text + scan->at;
    size_t length = 0;
    while (length < left && length < 24 && is_word(from[length]))
        length++;
    if (left == 0) {
        (void)snprintf(out, size, "the end of the file");
    } else if (*from == '\n' || *from == '\r') {
        (void)snprintf(out, size, "a line break");
    } else if ((unsigned char)*from < 0x20) {
        (void)snprintf(out, size, "the control character 0x%02x", (unsigned)(unsigned char)*from);
    } else if (length > 0) {
        (void)snprintf(out, size, "%.*s", (int)length, from);
    } else {
        do
            length++;
        while (length < left && continuation(from[length]));
        (void)snprintf(out, size, "%.*s", (int)length, from);
    }
}

static enum status refuse(struct json_scan *scan, const char *expected) {
    char found[40];
    describe(scan, found, sizeof found);
    problem_add(scan->problems, scan->name, scan->line, scan->column, NULL, "found %s, expected %s", found,
                expected);
    return STATUS_REFUSED;
}

/* ---- bytes ---- */

/* Length of the UTF-8 sequence at `s` (RFC 3629: no overlong forms, surrogates or values past U+10FFFF); 0:
 * none. */
static size_t sequence(const unsigned char *s, size_t left) {
    static const struct {
        unsigned char first, last, second_first, second_last, length;
    } form[] = {
        {0x01, 0x7F, 0, 0, 1},       {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3},
        {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3},
        {0xF0, 0xF0, 0x90, 0xBF, 4}, {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
    };
    for (size_t i = 0; i < sizeof form / sizeof form[0]; i++) {
        if (s[0] < form[i].first || s[0] > form[i].last)
            continue;
        size_t length = form[i].length;
        if (length > left || (length > 1 && (s[1] < form[i].second_first || s[1] > form[i].second_last)))
            return 0;
        for (size_t k = 2; k < length; k++)
            if (!continuation((char)s[k]))
                return 0;
        return length;
    }
    return 0;
}

enum status json_scan_bytes(const char *name, const char *text, size_t size, struct problems *problems) {
    const unsigned char *s = (const unsigned char *)text;
    if (size >= 2 && ((s[0] == 0xFF && s[1] == 0xFE) || (s[0] == 0xFE && s[1] == 0xFF))) {
        problem_add(problems, name, 1, 1, NULL,
                    "found a UTF-16 text, expected UTF-8: save it again as UTF-8");
        return STATUS_REFUSED;
    }
    struct json_scan scan = {.text = text, .size = size, .line = 1, .column = 1};
    while (scan.at < size) {
        const unsigned char *here = s + scan.at;
        size_t length = sequence(here, size - scan.at);
        if (length == 0) {
            const char *what = *here == 0 ? "a text without NUL bytes" : "UTF-8";
            problem_add(problems, name, scan.line, scan.column, NULL, "found the byte 0x%02x, expected %s",
                        (unsigned)*here, what);
            return STATUS_REFUSED;
        }
        step_many(&scan, length);
    }
    return STATUS_OK;
}

/* ---- comments ---- */

/* Moves over a string, so that comment marks in it are left alone; an open one ends with the text. */
static void pass_string(struct json_scan *scan) {
    step(scan);
    while (scan->at < scan->size && peek(scan) != '"' && peek(scan) != '\n') {
        if (peek(scan) == '\\' && scan->at + 1 < scan->size)
            step(scan);
        step(scan);
    }
    if (peek(scan) == '"')
        step(scan);
}

/* Moves over a comment and writes its blanks at `*to`, which never passes the position. */
static enum status blank_comment(struct json_scan *scan, char **to) {
    bool block = scan->text[scan->at + 1] == '*';
    int line = scan->line, column = scan->column;
    size_t inside = scan->at + 2;
    char before = '\0';
    while (scan->at < scan->size) {
        char c = peek(scan);
        if (!block && c == '\n')
            return STATUS_OK;
        bool end = block && scan->at > inside && before == '*' && c == '/';
        step(scan);
        if (!continuation(c))
            *(*to)++ = c == '\n' ? '\n' : ' ';
        if (end)
            return STATUS_OK;
        before = c;
    }
    if (!block)
        return STATUS_OK;
    problem_add(scan->problems, scan->name, line, column, NULL,
                "found a comment without an end, expected a star and a slash after it");
    return STATUS_REFUSED;
}

enum status json_scan_comments(const char *name, char *text, size_t *size, struct problems *problems) {
    struct json_scan scan = {
        .name = name, .text = text, .size = *size, .line = 1, .column = 1, .problems = problems};
    char *to = text;
    while (scan.at < scan.size) {
        size_t from = scan.at;
        char c = peek(&scan), next = scan.at + 1 < scan.size ? text[scan.at + 1] : '\0';
        if (c == '/' && (next == '/' || next == '*')) {
            if (blank_comment(&scan, &to) != STATUS_OK)
                return STATUS_REFUSED;
            continue;
        }
        if (c == '"')
            pass_string(&scan);
        else
            step(&scan);
        memmove(to, text + from, scan.at - from);
        to += scan.at - from;
    }
    *to = '\0';
    *size = (size_t)(to - text);
    return STATUS_OK;
}

/* ---- grammar ---- */

static enum status scan_value(struct json_scan *scan, int key_line, int key_column);

static void blanks(struct json_scan *scan) {
    while (peek(scan) == ' ' || peek(scan) == '\t' || peek(scan) == '\n' || peek(scan) == '\r')
        step(scan);
}

/* Four hexadecimal digits; -1 when they are not. */
static long hex4(const struct json_scan *scan, size_t at) {
    char digits[5] = "";
    if (at + 4 > scan->size)
        return -1;
    memcpy(digits, scan->text + at, 4);
    return strspn(digits, "0123456789abcdefABCDEF") == 4 ? strtol(digits, NULL, 16) : -1;
}

/* A \u escape: one that is not a surrogate, or a pair of them. The position is on the backslash. */
static enum status unicode_escape(struct json_scan *scan) {
    long unit = hex4(scan, scan->at + 2);
    if (unit < 0)
        return refuse(scan, "\\u and four hexadecimal digits");
    if (unit == 0)
        return refuse(scan, "a string without \\u0000");
    bool high = unit >= 0xD800 && unit < 0xDC00, low = unit >= 0xDC00 && unit < 0xE000;
    long second = high && scan->at + 12 <= scan->size && memcmp(scan->text + scan->at + 6, "\\u", 2) == 0
                      ? hex4(scan, scan->at + 8)
                      : -1;
    if (low || (high && (second < 0xDC00 || second >= 0xE000)))
        return refuse(scan, "the two halves of a surrogate pair together");
    step_many(scan, high ? 12 : 6);
    return STATUS_OK;
}

static enum status scan_string(struct json_scan *scan) {
    step(scan);
    while (peek(scan) != '"') {
        unsigned char c = (unsigned char)peek(scan);
        if (scan->at == scan->size || c < 0x20)
            return refuse(scan, "the closing \" of a string");
        if (c != '\\') {
            step(scan);
            continue;
        }
        char kind = scan->at + 1 < scan->size ? scan->text[scan->at + 1] : '\0';
        if (kind == 'u') {
            if (unicode_escape(scan) != STATUS_OK)
                return STATUS_REFUSED;
        } else if (kind != '\0' && strchr("\"\\/bfnrt", kind) != NULL) {
            step_many(scan, 2);
        } else {
            return refuse(scan, "it before one of \" \\ / b f n r t u");
        }
    }
    step(scan);
    return STATUS_OK;
}

static enum status digits(struct json_scan *scan) {
    if (!is_digit(peek(scan)))
        return refuse(scan, "a digit");
    while (is_digit(peek(scan)))
        step(scan);
    return STATUS_OK;
}

static enum status scan_number(struct json_scan *scan) {
    size_t start = scan->at;
    enum status status = STATUS_OK;
    if (peek(scan) == '-')
        step(scan);
    if (peek(scan) == '0') {
        step(scan);
        if (is_digit(peek(scan)))
            return refuse(scan, "no digit after a leading 0");
    } else {
        status = digits(scan);
    }
    if (status == STATUS_OK && peek(scan) == '.') {
        step(scan);
        status = digits(scan);
    }
    if (status == STATUS_OK && (peek(scan) == 'e' || peek(scan) == 'E')) {
        step(scan);
        if (peek(scan) == '+' || peek(scan) == '-')
            step(scan);
        status = digits(scan);
    }
    if (status == STATUS_OK && scan->at - start > NUMBER_SIZE_MAX)
        return refuse(scan, "a number of at most 60 characters before it");
    return status;
}

static enum status scan_word(struct json_scan *scan) {
    static const char *const word[] = {"true", "false", "null"};
    for (size_t i = 0; i < sizeof word / sizeof word[0]; i++) {
        size_t length = strlen(word[i]), left = scan->size - scan->at;
        if (length <= left && memcmp(scan->text + scan->at, word[i], length) == 0 &&
            (length == left || !is_word(scan->text[scan->at + length]))) {
            step_many(scan, length);
            return STATUS_OK;
        }
    }
    return refuse(scan, "a value: a \"string\", a number, true, false, null, { or [");
}

static enum status scan_key(struct json_scan *scan, int *line, int *column) {
    if (peek(scan) != '"')
        return refuse(scan, "a key in double quotes");
    *line = scan->line;
    *column = scan->column;
    enum status status = scan_string(scan);
    if (status != STATUS_OK)
        return status;
    blanks(scan);
    if (peek(scan) != ':')
        return refuse(scan, "a colon after the key");
    step(scan);
    blanks(scan);
    return STATUS_OK;
}

/* An object or a list, from its opening bracket to its closing one. */
static enum status scan_members(struct json_scan *scan, char close) {
    int line = scan->line, column = scan->column;
    if (++scan->depth > JSON_TEXT_DEPTH_MAX)
        return refuse(scan, "at most 64 levels of brackets");
    step(scan);
    blanks(scan);
    bool empty = peek(scan) == close;
    while (!empty) {
        int key_line = 0, key_column = 0;
        enum status status = close == '}' ? scan_key(scan, &key_line, &key_column) : STATUS_OK;
        if (status == STATUS_OK)
            status = scan_value(scan, key_line, key_column);
        if (status != STATUS_OK)
            return status;
        blanks(scan);
        if (peek(scan) == close)
            break;
        if (peek(scan) != ',') {
            char expected[80];
            (void)snprintf(expected, sizeof expected, "a comma or the %c for the %c at %d:%d", close,
                           close == '}' ? '{' : '[', line, column);
            return refuse(scan, expected);
        }
        step(scan);
        blanks(scan);
    }
    step(scan);
    scan->depth--;
    return STATUS_OK;
}

/* Room for one more place. */
static enum status more_room(struct json_scan *scan) {
    if (scan->count == JSON_TEXT_VALUES_MAX)
        return refuse(scan, "at most 1048576 values in a file");
    if (scan->count < scan->room)
        return STATUS_OK;
    size_t room = scan->room == 0 ? 256 : scan->room * 2;
    struct json_place *place = realloc(scan->place, room * sizeof *place);
    if (place == NULL)
        return STATUS_NO_MEMORY;
    scan->place = place;
    scan->room = room;
    return STATUS_OK;
}

static enum status scan_value(struct json_scan *scan, int key_line, int key_column) {
    enum status status = more_room(scan);
    if (status != STATUS_OK)
        return status;
    size_t index = scan->count++;
    scan->place[index] = (struct json_place){.line = scan->line,
                                             .column = scan->column,
                                             .key_line = key_line,
                                             .key_column = key_column,
                                             .offset = (uint32_t)scan->at};
    char c = peek(scan);
    if (c == '{' || c == '[')
        status = scan_members(scan, c == '{' ? '}' : ']');
    else if (c == '"')
        status = scan_string(scan);
    else if (c == '-' || is_digit(c))
        status = scan_number(scan);
    else
        status = scan_word(scan);
    scan->place[index].size = (uint32_t)scan->at - scan->place[index].offset;
    return status;
}

enum status json_scan_document(struct json_scan *scan) {
    blanks(scan);
    if (peek(scan) == '<')
        return refuse(scan, "JSON that begins with {; this looks like a web page");
    enum status status = scan_value(scan, 0, 0);
    if (status != STATUS_OK)
        return status;
    blanks(scan);
    return scan->at == scan->size ? STATUS_OK : refuse(scan, "nothing after the end of the first value");
}
