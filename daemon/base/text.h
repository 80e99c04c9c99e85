/* A string that grows, with a limit. Once an append failed (no memory, or past the limit) the text stays as
 * it was and text_failed() is true; callers check once at the end. */
#ifndef WATERTURN_TEXT_H
#define WATERTURN_TEXT_H

#include <stdbool.h>
#include <stddef.h>

struct text {
    char *data; /* NUL-terminated; NULL while empty */
    size_t size, room, limit;
    bool failed;
};

#define TEXT_LIMIT_DEFAULT ((size_t)64 << 20)

/* limit: most bytes it may hold; 0: TEXT_LIMIT_DEFAULT. */
void text_init(struct text *text, size_t limit);
void text_free(struct text *text);
void text_clear(struct text *text);
void text_add(struct text *text, const char *bytes, size_t count);
void text_puts(struct text *text, const char *string);
void text_printf(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
void text_put_int(struct text *text, int value); /* as "%d" */
/* Fills one hole of a sentence. */
struct words_hole {
    const char *name;
    const char *value;
};
/* A sentence with its holes filled: "run {hours} for {gross}". A hole that no entry of `holes` fills is kept
 * as it is written. */
void text_fill(struct text *text, const char *sentence, const struct words_hole *holes, size_t count);
/* Characters of a UTF-8 string. */
size_t text_width(const char *string);
/* A sentence behind `lead`, in lines of at most TEXT_LINE_WIDTH characters where its blanks allow it; further
 * lines stand two deeper than the first. No-break spaces hold. */
#define TEXT_LINE_WIDTH 78
void text_put_wrapped(struct text *text, const char *lead, const char *sentence);
/* The string, "" while empty; valid until the next change. */
const char *text_string(const struct text *text);
bool text_failed(const struct text *text);
/* Hands the buffer (free() it) to the caller and leaves the text empty; NULL when it failed. */
char *text_take(struct text *text);

#endif
