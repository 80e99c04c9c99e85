#include "daemon/source/lines.h"

#include <string.h>

void lines_start(struct lines *lines, const struct layout *layout, const unsigned char *bytes, size_t size) {
    struct raw all = {(const char *)bytes, size};
    *lines = (struct lines){.layout = layout,
                            .all = all,
                            .rest = all,
                            .skip = layout->skip_rows,
                            .in_preamble = layout->skip_to != NULL};
}

bool lines_next(struct lines *lines, struct raw *line) {
    const char *text = lines->rest.text;
    size_t size = lines->rest.size, i = 0;
    if (size == 0)
        return false;
    while (i < size && text[i] != '\n' && text[i] != '\r')
        i++;
    if (i + 1 < size && text[i] == '\r' && text[i + 1] == '\n')
        i++;
    if (i < size)
        i++;
    *line = (struct raw){text, i};
    lines->rest = (struct raw){text + i, size - i};
    lines->line++;
    return true;
}

bool lines_is_row(struct lines *lines, struct raw line) {
    struct raw text = raw_trim(line);
    if (lines->in_preamble) {
        lines->in_preamble = !raw_equals(text, lines->layout->skip_to);
        return false;
    }
    if (lines->skip > 0) {
        lines->skip--;
        return false;
    }
    return text.size > 0 && (lines->layout->comment == '\0' || text.text[0] != lines->layout->comment);
}

struct raw lines_preamble(const struct lines *lines, struct raw first_row) {
    return (struct raw){lines->all.text, (size_t)(first_row.text - lines->all.text)};
}

void lines_finish(const struct lines *lines, struct day_builder *builder) {
    char last = lines->all.text[lines->all.size - 1];
    if (lines->in_preamble) {
        problem_add(builder->problems, builder->where, lines->line, 0, NULL,
                    "found no line \"%s\" before the table; is this file of another layout?",
                    lines->layout->skip_to);
    } else if (!lines->layout->any_last_line && last != '\n' && last != '\r') {
        problem_add(
            builder->problems, builder->where, lines->line, 0, NULL,
            "found a last line without a line end, expected one: the file may be cut short; if it is whole, "
            "add a line end");
    }
}
