#include "daemon/base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void text_init(struct text *text, size_t limit) {
    memset(text, 0, sizeof *text);
    text->limit = limit != 0 ? limit : TEXT_LIMIT_DEFAULT;
}

void text_free(struct text *text) {
    free(text->data);
    text_init(text, text->limit);
}

void text_clear(struct text *text) {
    text->size = 0;
    text->failed = false;
    if (text->data != NULL)
        text->data[0] = '\0';
}

static bool text_reserve(struct text *text, size_t more) {
    if (text->failed || more > text->limit - text->size) {
        text->failed = true;
        return false;
    }
    size_t need = text->size + more + 1;
    if (need <= text->room)
        return true;
    size_t room = text->room < 64 ? 64 : text->room * 2;
    if (room < need)
        room = need;
    char *data = realloc(text->data, room);
    if (data == NULL) {
        text->failed = true;
        return false;
    }
    text->data = data;
    text->room = room;
    return true;
}

void text_add(struct text *text, const char *bytes, size_t count) {
    if (!text_reserve(text, count))
        return;
    memcpy(text->data + text->size, bytes, count);
    text->size += count;
    text->data[text->size] = '\0';
}

void text_puts(struct text *text, const char *string) {
    text_add(text, string, strlen(string));
}

/* Nearly always there is room at once. */
void text_printf(struct text *text, const char *format, ...) {
    va_list arguments;
    size_t left = text->room - text->size;
    bool there = !text->failed && text->data != NULL && text->limit >= text->room;
    va_start(arguments, format);
    int count = vsnprintf(there ? text->data + text->size : NULL, there ? left : 0, format, arguments);
    va_end(arguments);
    bool whole = there && count >= 0 && (size_t)count < left;
    if (count < 0 || !text_reserve(text, (size_t)count)) {
        if (there)
            text->data[text->size] = '\0';
        text->failed = true;
        return;
    }
    if (!whole) {
        va_start(arguments, format);
        (void)vsnprintf(text->data + text->size, (size_t)count + 1, format, arguments);
        va_end(arguments);
    }
    text->size += (size_t)count;
}

void text_put_int(struct text *text, int value) {
    char digits[12];
    size_t at = sizeof digits;
    unsigned left = value < 0 ? 0U - (unsigned)value : (unsigned)value;
    do
        digits[--at] = (char)('0' + left % 10);
    while ((left /= 10) > 0);
    if (value < 0)
        digits[--at] = '-';
    text_add(text, digits + at, sizeof digits - at);
}

/* Characters of UTF-8. */
static size_t width_of(const char *bytes, size_t size) {
    size_t width = 0;
    for (size_t i = 0; i < size; i++)
        width += ((unsigned char)bytes[i] & 0xC0) != 0x80;
    return width;
}

size_t text_width(const char *string) {
    return width_of(string, strlen(string));
}

void text_put_wrapped(struct text *text, const char *lead, const char *sentence) {
    size_t indent = text_width(lead), at = indent;
    bool begun = false;
    text_puts(text, lead);
    while (*sentence != '\0') {
        size_t size = strcspn(sentence, " \n"), width = width_of(sentence, size);
        if (begun && at + 1 + width > TEXT_LINE_WIDTH) {
            text_printf(text, "\n%*s", (int)indent + 2, "");
            at = indent + 2;
        } else if (begun) {
            text_puts(text, " ");
            at++;
        }
        text_add(text, sentence, size);
        at += width;
        begun = true;
        sentence += size + (sentence[size] != '\0');
    }
    text_puts(text, "\n");
}

const char *text_string(const struct text *text) {
    return text->data != NULL ? text->data : "";
}

bool text_failed(const struct text *text) {
    return text->failed;
}

char *text_take(struct text *text) {
    char *data = NULL;
    if (!text->failed && text_reserve(text, 0)) {
        text->data[text->size] = '\0';
        data = text->data;
        text->data = NULL;
    }
    text_free(text);
    return data;
}

static const char *hole_value(const struct words_hole *holes, size_t count, const char *name, size_t size) {
    for (size_t i = 0; i < count; i++) {
        if (strncmp(holes[i].name, name, size) == 0 && holes[i].name[size] == '\0')
            return holes[i].value;
    }
    return NULL;
}

void text_fill(struct text *text, const char *sentence, const struct words_hole *holes, size_t count) {
    for (const char *at = sentence; *at != '\0';) {
        const char *end = *at == '{' ? strchr(at, '}') : NULL;
        const char *value = end != NULL ? hole_value(holes, count, at + 1, (size_t)(end - at - 1)) : NULL;
        if (value != NULL) {
            text_puts(text, value);
            at = end + 1;
        } else {
            size_t size = 1 + strcspn(at + 1, "{");
            text_add(text, at, size);
            at += size;
        }
    }
}
