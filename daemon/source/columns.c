/* Rows without separators: fields parted by blanks, or fields at fixed characters. A row may hold a month, as
 * groups that repeat along it. */
#include <stdio.h>
#include <string.h>

#include "daemon/source/lines.h"
#include "daemon/source/readers.h"

#define FIELDS_MAX 1024

struct columns {
    struct day_builder *builder;
    const struct layout *layout;
    int line;
    struct raw row;
    struct raw field[FIELDS_MAX];
    int count;
};

static bool blank(char c) {
    return c == ' ' || c == '\t';
}

static bool split(struct columns *file) {
    const char *at = file->row.text, *end = at + file->row.size;
    file->count = 0;
    for (;;) {
        while (at < end && blank(*at))
            at++;
        if (at == end)
            return true;
        if (file->count == FIELDS_MAX)
            return false;
        const char *start = at;
        while (at < end && !blank(*at))
            at++;
        file->field[file->count++] = (struct raw){start, (size_t)(at - start)};
    }
}

/* A piece of the row. Characters past its end are blank: editors take blanks off the ends of lines. */
static struct raw piece(const struct columns *file, const struct layout_place *place, int shift) {
    if (place->from == 0)
        return place->number >= 1 && place->number <= file->count ? file->field[place->number - 1]
                                                                  : (struct raw){NULL, 0};
    size_t from = (size_t)(place->from - 1 + shift), to = (size_t)(place->to + shift);
    if (to > file->row.size)
        to = file->row.size;
    return from < to ? (struct raw){file->row.text + from, to - from} : (struct raw){"", 0};
}

static int column_number(const struct layout_place *place, int shift) {
    return place->from > 0 ? place->from + shift : place->number;
}

static struct raw flag_of(const struct columns *file, const struct layout_value *value, int shift) {
    return value->flag.places.count > 0 ? piece(file, &value->flag.places.at[0], shift)
                                        : (struct raw){NULL, 0};
}

/* Whether the element column says that the row holds this value. */
static bool holds(const struct columns *file, const struct layout_value *value) {
    if (value->key == NULL)
        return true;
    return raw_equals(raw_trim(piece(file, &file->layout->element, 0)), value->key);
}

static enum status put(struct columns *file, int rule, const struct stamp_parts *parts, int shift) {
    const struct layout_value *value = &file->layout->value[rule];
    const struct layout_place *at = &value->places.at[0];
    struct raw text = piece(file, at, shift);
    struct raw flag = flag_of(file, value, shift);
    struct stamp stamp;
    struct piece_place place = {file->line, column_number(at, shift), weather_element_name(value->element)};
    if (text.text == NULL || day_builder_missing(file->builder, rule, text, flag))
        return STATUS_OK;
    /* A row of a month has a place for 30 February too. */
    if (file->layout->repeat.count > 0 && !stamp_read(file->builder->time, parts, &stamp)) {
        problem_add(file->builder->problems, file->builder->where, file->line, place.column, place.name,
                    "found a value for day %d of a month that has no such day", parts->day_of_month);
        return STATUS_OK;
    }
    if (!day_builder_stamp(file->builder, parts, &place, &stamp))
        return STATUS_OK;
    return day_builder_put(file->builder, rule, &stamp, text, flag, NULL, &place);
}

static bool has_place(const struct layout_place *place) {
    return place->number > 0 || place->from > 0;
}

static enum status take_row(struct columns *file) {
    const struct layout *layout = file->layout;
    if (has_place(&layout->station) &&
        !day_builder_station(file->builder, piece(file, &layout->station, 0), file->line))
        return STATUS_REFUSED;
    int groups = layout->repeat.count > 0 ? layout->repeat.count : 1;
    enum status status = STATUS_OK;
    struct stamp_parts parts = {.day_of_month = 1};
    for (int i = 0; i < layout->time.column_count; i++)
        parts.part[i] = piece(file, &layout->time.column[i], 0);
    if (has_place(&layout->time.clock))
        parts.clock = piece(file, &layout->time.clock, 0);
    struct stamp ignored;
    struct piece_place place = {file->line, column_number(&layout->time.column[0], 0), "date"};
    if (!day_builder_stamp(file->builder, &parts, &place, &ignored))
        return STATUS_OK;
    for (int rule = 0; rule < layout->value_count && status == STATUS_OK; rule++) {
        for (int group = 0; group < groups && holds(file, &layout->value[rule]) && status == STATUS_OK;
             group++) {
            parts.day_of_month = group + 1;
            status = put(file, rule, &parts, group * layout->repeat.width);
        }
    }
    return status;
}

/* Whether the row is as long as the layout says. */
static bool whole(struct columns *file) {
    const struct layout *layout = file->layout;
    if (!split(file)) {
        problem_add(file->builder->problems, file->builder->where, file->line, 0, NULL,
                    "found more than %d fields in a row, expected a table of weather", FIELDS_MAX);
        return false;
    }
    if (layout->fields > 0 && file->count != layout->fields) {
        problem_add(file->builder->problems, file->builder->where, file->line, 0, NULL,
                    "found %d field%s, expected %d; %s", file->count, file->count == 1 ? "" : "s",
                    layout->fields,
                    file->count < layout->fields ? "the row is cut short, or the file is of another layout"
                                                 : "is the file of another layout?");
        return false;
    }
    if (layout->length > 0 && file->row.size < (size_t)layout->length) {
        problem_add(file->builder->problems, file->builder->where, file->line, 0, NULL,
                    "found %zu characters, expected %d; the row is cut short, or the file is of another "
                    "layout",
                    file->row.size, layout->length);
        return false;
    }
    return true;
}

static struct raw without_end(struct raw line) {
    while (line.size > 0 && (line.text[line.size - 1] == '\n' || line.text[line.size - 1] == '\r'))
        line.size--;
    return line;
}

enum status columns_file_read(struct day_builder *builder, const unsigned char *bytes, size_t size) {
    struct columns file = {.builder = builder, .layout = builder->layout};
    struct lines lines;
    struct raw line;
    enum status status = STATUS_OK;
    bool first = builder->layout->header;
    lines_start(&lines, builder->layout, bytes, size);
    while (status == STATUS_OK && lines_next(&lines, &line)) {
        if (!lines_is_row(&lines, line))
            continue;
        if (first) {
            first = false;
            continue;
        }
        file.line = lines.line;
        file.row = without_end(line);
        if (whole(&file))
            status = take_row(&file);
    }
    if (status == STATUS_OK)
        lines_finish(&lines, builder);
    return status;
}
