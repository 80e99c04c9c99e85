/* The lines of a text file, and which of them are rows of its table. */
#ifndef WATERTURN_LINES_H
#define WATERTURN_LINES_H

#include "daemon/source/day_builder.h"

struct lines {
    const struct layout *layout;
    struct raw all, rest;
    int line; /* number of the line that lines_next() gave last, from 1 */
    int skip; /* rows still to be passed over */
    bool in_preamble;
};

void lines_start(struct lines *lines, const struct layout *layout, const unsigned char *bytes, size_t size);

/* The next line with its end; CR, LF and CRLF all end a line. False after the last. */
bool lines_next(struct lines *lines, struct raw *line);

/* False for what stands before the table, for remarks and for blank lines. To be asked once for each line
 * that begins a row. */
bool lines_is_row(struct lines *lines, struct raw line);

/* All before the table, once its first row has been given. */
struct raw lines_preamble(const struct lines *lines, struct raw first_row);

/* Judges the end: a table that never began, and a last line without its end. A file that ends inside a line
 * was cut short, even where the last number looks whole: 12.5 may have become 1. */
void lines_finish(const struct lines *lines, struct day_builder *builder);

#endif
