/* Rows with a separator between their fields. libcsv takes the fields apart; a row is judged when it is
 * whole. */
#include <csv.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/nearest.h"
#include "daemon/source/lines.h"
#include "daemon/source/readers.h"

#define FIELDS_MAX 1024
#define NAME_SHOWN 64

/* One row: its fields one behind the other in `text`. */
struct row {
    char *text;
    size_t used, room;
    size_t start[FIELDS_MAX + 1];
    int count;
    bool too_many, no_memory, ended;
};

struct columns_of_value {
    int value, flag; /* field numbers from 0; -1: not in this file */
};

struct delimited {
    struct day_builder *builder;
    const struct layout *layout;
    struct row row;
    int line; /* on which the row begins */
    int unit_rows;
    bool have_header;
    int field_count; /* 0: not known yet */
    char *header;    /* the header's fields, NUL-terminated, one behind the other */
    const char *name[FIELDS_MAX];
    int time[3], clock, element, station;
    struct columns_of_value column[LAYOUT_VALUES_MAX];
    const struct unit *unit[LAYOUT_VALUES_MAX]; /* that the file itself names, or NULL */
    struct raw preamble;
    enum status status;
};

/* Libcsv's callbacks. */

static void take_field(void *bytes, size_t size, void *context) {
    struct row *row = &((struct delimited *)context)->row;
    if (row->count == FIELDS_MAX) {
        row->too_many = true;
        return;
    }
    if (row->used + size > row->room) {
        size_t room = (row->used + size) * 2 + 256;
        char *text = realloc(row->text, room);
        if (text == NULL) {
            row->no_memory = true;
            return;
        }
        row->text = text;
        row->room = room;
    }
    if (size > 0)
        memcpy(row->text + row->used, bytes, size);
    row->start[row->count++] = row->used;
    row->used += size;
    row->start[row->count] = row->used;
}

static void end_row(int end, void *context) {
    (void)end;
    ((struct delimited *)context)->row.ended = true;
}

static struct raw field(const struct delimited *file, int index) {
    const struct row *row = &file->row;
    if (index < 0 || index >= row->count)
        return (struct raw){NULL, 0};
    return (struct raw){row->text == NULL ? "" : row->text + row->start[index],
                        row->start[index + 1] - row->start[index]};
}

/* The header. */

static void say(struct delimited *file, int column, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void say(struct delimited *file, int column, const char *format, ...) {
    const struct problem_place place = {file->builder->where, file->line, column, NULL, NULL};
    va_list arguments;
    va_start(arguments, format);
    problem_add_list(file->builder->problems, &place, format, arguments);
    va_end(arguments);
}

static int column_named(const struct delimited *file, const char *name) {
    for (int i = 0; i < file->field_count; i++) {
        if (file->name[i] != NULL && raw_equals(raw_of(file->name[i]), name))
            return i;
    }
    return -1;
}

static int column_of(const struct delimited *file, const struct layout_place *place) {
    if (place->name != NULL)
        return column_named(file, place->name);
    return place->number <= file->field_count ? place->number - 1 : -1;
}

static int column_of_any(const struct delimited *file, const struct layout_places *places) {
    int column = -1;
    for (int i = 0; i < places->count && column < 0; i++)
        column = column_of(file, &places->at[i]);
    return column;
}

static enum status keep_header(struct delimited *file) {
    struct row *row = &file->row;
    file->header = malloc(row->used + (size_t)row->count + 1);
    if (file->header == NULL)
        return STATUS_NO_MEMORY;
    char *out = file->header;
    for (int i = 0; i < row->count; i++) {
        struct raw name = raw_trim(field(file, i));
        file->name[i] = out;
        if (name.size > 0)
            memcpy(out, name.text, name.size);
        out[name.size] = '\0';
        out += name.size + 1;
    }
    return STATUS_OK;
}

static bool used_by_layout(const struct delimited *file, int column) {
    bool used = file->time[0] == column || file->time[1] == column || file->time[2] == column ||
                file->clock == column || file->element == column || file->station == column;
    for (int v = 0; v < file->layout->value_count; v++)
        used = used || file->column[v].value == column || file->column[v].flag == column;
    return used;
}

static void say_unknown(struct delimited *file, int column) {
    const struct layout *layout = file->layout;
    struct nearest nearest;
    nearest_begin(&nearest, file->name[column]);
    for (int v = 0; v < layout->value_count; v++) {
        for (int p = 0; p < layout->value[v].places.count; p++) {
            if (layout->value[v].places.at[p].name != NULL)
                nearest_offer(&nearest, layout->value[v].places.at[p].name);
        }
    }
    if (nearest.name != NULL)
        say(file, column + 1, "found the column \"%.64s\", expected perhaps \"%s\"", file->name[column],
            nearest.name);
    else
        say(file, column + 1, "found the column \"%.64s\", which the layout \"%s\" does not know",
            file->name[column], layout->name);
}

/* Names that nobody knows, unless the layout lets them pass, and the same name twice. */
static void check_names(struct delimited *file) {
    for (int i = 0; i < file->field_count; i++) {
        if (used_by_layout(file, i))
            continue;
        int same = column_named(file, file->name[i]);
        if (same != i && used_by_layout(file, same))
            say(file, i + 1, "found the column \"%.64s\" twice, expected it once", file->name[i]);
        else if (!file->layout->ignore_others)
            say_unknown(file, i);
    }
}

#define NAMES_SHOWN 6

/* The names that stand in the header, or would have done, the first of each; columns without names are
 * counted. */
static void say_no_value(struct delimited *file) {
    const struct layout *layout = file->layout;
    struct text found, wanted;
    text_init(&found, 0);
    text_init(&wanted, 0);
    for (int i = 0; i < file->field_count && i < NAMES_SHOWN && file->name[i] != NULL; i++)
        text_printf(&found, "%s\"%.32s\"", i > 0 ? ", " : "", file->name[i]);
    for (int v = 0; v < layout->value_count && v < NAMES_SHOWN; v++) {
        const struct layout_place *place = &layout->value[v].places.at[0];
        text_puts(&wanted, v > 0 ? ", " : "");
        if (place->name != NULL)
            text_printf(&wanted, "\"%.32s\"", place->name);
        else
            text_printf(&wanted, "column %d", place->number);
    }
    say(file, 0,
        "found no column with a value that the layout \"%s\" takes, but %d: %s%s; expected some of %s%s",
        layout->name, file->field_count, found.size > 0 ? text_string(&found) : "without names",
        found.size > 0 && file->field_count > NAMES_SHOWN ? " and more" : "", text_string(&wanted),
        layout->value_count > NAMES_SHOWN ? " and more" : "");
    text_free(&found);
    text_free(&wanted);
}

static void check_present(struct delimited *file) {
    const struct layout *layout = file->layout;
    bool any = false;
    const struct layout_time *time = file->builder->time;
    for (int i = 0; i < time->column_count; i++) {
        const char *name = time->column[i].name;
        if (file->time[i] < 0)
            say(file, 0, "found no column \"%s\", expected the dates there; is this file of another layout?",
                name != NULL ? name : "by number");
    }
    for (int v = 0; v < layout->value_count; v++) {
        const char *name = layout->value[v].places.at[0].name;
        any = any || file->column[v].value >= 0;
        if (layout->value[v].required && file->column[v].value < 0)
            say(file, 0, "found no column \"%s\", which this layout cannot do without",
                name != NULL ? name : "by number");
    }
    if (!any)
        say_no_value(file);
}

/* Finds the columns of the dates; false when one is not there. */
static bool find_time(struct delimited *file, const struct layout_time *time) {
    bool all = true;
    for (int i = 0; i < 3; i++) {
        file->time[i] = i < time->column_count ? column_of(file, &time->column[i]) : -1;
        all = all && (i >= time->column_count || file->time[i] >= 0);
    }
    return all;
}

/* The unit at the end of the preamble's line on a column: "T2M_MAX  Maximum temperature (C)". */
static void find_unit(struct delimited *file, int v) {
    const struct layout_value *value = &file->layout->value[v];
    struct raw rest = file->preamble;
    while (rest.size > 0) {
        const char *end = memchr(rest.text, '\n', rest.size);
        size_t size = end != NULL ? (size_t)(end - rest.text) + 1 : rest.size;
        struct raw line = raw_trim((struct raw){rest.text, size});
        rest = (struct raw){rest.text + size, rest.size - size};
        const char *name = file->name[file->column[v].value];
        size_t length = name != NULL ? strlen(name) : 0;
        char symbol[40] = "";
        if (length == 0 || line.size <= length || strncmp(line.text, name, length) != 0 ||
            line.text[length] != ' ' || line.text[line.size - 1] != ')')
            continue;
        size_t open = line.size - 1;
        while (open > 0 && line.text[open] != '(')
            open--;
        (void)snprintf(symbol, sizeof symbol, "%.*s", (int)(line.size - open - 2), line.text + open + 1);
        file->unit[v] = units_find(symbol);
        if (file->unit[v] == NULL || file->unit[v]->kind != value->target->kind)
            say(file, 0, "found the unit \"%s\" for %s, expected one of %s", symbol, name,
                units_kind_name(value->target->kind));
    }
}

/* Finds each column once, by header names or numbers. */
static void find_columns(struct delimited *file) {
    const struct layout *layout = file->layout;
    if (!find_time(file, &layout->time) && layout->has_other_time && find_time(file, &layout->other_time))
        file->builder->time = &layout->other_time;
    else
        (void)find_time(file, &layout->time);
    bool clock = layout->time.clock.name != NULL || layout->time.clock.number > 0;
    bool element = layout->element.name != NULL || layout->element.number > 0;
    file->clock = clock ? column_of(file, &layout->time.clock) : -1;
    file->element = element ? column_of(file, &layout->element) : -1;
    bool station = layout->station.name != NULL || layout->station.number > 0;
    file->station = station ? column_of(file, &layout->station) : -1;
    if ((clock && file->clock < 0) || (element && file->element < 0))
        say(file, 0, "found no column with the %s; is this file of another layout?",
            element ? "element" : "time");
    for (int v = 0; v < layout->value_count; v++) {
        file->column[v].value = column_of_any(file, &layout->value[v].places);
        file->column[v].flag = column_of_any(file, &layout->value[v].flag.places);
        if (file->column[v].value >= 0 && layout->value[v].flag.places.count > 0 && file->column[v].flag < 0)
            say(file, file->column[v].value + 1,
                "found no column of quality flags for %s; is this file of another layout?",
                weather_element_name(layout->value[v].element));
        if (layout->value[v].unit_in_preamble && file->column[v].value >= 0)
            find_unit(file, v);
    }
    check_present(file);
}

/* A header in one piece, which another sign parts, as spreadsheets of some countries write it. */
static bool parted_otherwise(struct delimited *file) {
    static const struct {
        char sign;
        const char *name;
    } signs[] = {{',', "commas"}, {';', "semicolons"}, {'\t', "tabs"}, {'|', "bars"}};
    const char *expected = "another sign", *found = NULL;
    if (file->field_count != 1)
        return false;
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
        if (signs[i].sign == file->layout->separator)
            expected = signs[i].name;
        else if (strchr(file->name[0], signs[i].sign) != NULL)
            found = signs[i].name;
    }
    if (found == NULL)
        return false;
    say(file, 1, "found columns parted by %s, expected %s between them, as the layout \"%s\" has it", found,
        expected, file->layout->name);
    return true;
}

/* Returns false when the rows below cannot be understood. */
static bool take_header(struct delimited *file) {
    size_t before = file->builder->problems->count;
    file->have_header = true;
    file->field_count = file->row.count;
    if (file->layout->header)
        file->status = keep_header(file);
    if (file->status != STATUS_OK || (file->layout->header && parted_otherwise(file)))
        return false;
    find_columns(file);
    if (file->layout->header && file->builder->problems->count == before)
        check_names(file);
    return file->builder->problems->count == before;
}

/* Rows. */

static void put_values(struct delimited *file, const struct stamp *stamp) {
    const struct layout *layout = file->layout;
    struct raw key = raw_trim(field(file, file->element));
    for (int v = 0; v < layout->value_count && file->status == STATUS_OK; v++) {
        int column = file->column[v].value;
        if (column < 0 || (file->element >= 0 && !raw_equals(key, layout->value[v].key)))
            continue;
        struct piece_place place = {file->line, column + 1, file->name[column]};
        file->status = day_builder_put(file->builder, v, stamp, field(file, column),
                                       field(file, file->column[v].flag), file->unit[v], &place);
    }
}

/* In the long form most rows may be of values that nobody wants: their dates are not looked at. */
static bool wanted(const struct delimited *file) {
    if (file->element < 0)
        return true;
    struct raw key = raw_trim(field(file, file->element));
    for (int v = 0; v < file->layout->value_count; v++) {
        if (raw_equals(key, file->layout->value[v].key))
            return true;
    }
    return false;
}

static bool take_row(struct delimited *file) {
    const struct row *row = &file->row;
    if (row->count != file->field_count) {
        say(file, 0, "found %d field%s, expected %d as in the %s; %s", row->count, row->count == 1 ? "" : "s",
            file->field_count, file->layout->header ? "header" : "first row",
            row->count < file->field_count ? "the row is cut short" : "the row is too long");
        return true;
    }
    struct stamp_parts parts = {.clock = field(file, file->clock)};
    struct stamp stamp;
    if (file->station >= 0 && !day_builder_station(file->builder, field(file, file->station), file->line))
        return false;
    for (int i = 0; i < file->builder->time->column_count; i++)
        parts.part[i] = field(file, file->time[i]);
    struct piece_place place = {file->line, file->time[0] + 1, file->name[file->time[0]]};
    if (wanted(file) && day_builder_stamp(file->builder, &parts, &place, &stamp))
        put_values(file, &stamp);
    return file->status == STATUS_OK;
}

/* A whole row; false to stop. */
static bool judge_row(struct delimited *file) {
    if (file->row.no_memory)
        file->status = STATUS_NO_MEMORY;
    if (file->row.too_many) {
        say(file, 0, "found more than 1024 fields in a row, expected a table of weather");
        return false;
    }
    if (file->status != STATUS_OK)
        return false;
    if (!file->have_header) {
        if (!take_header(file))
            return false;
        if (file->layout->header)
            return true;
    } else if (file->unit_rows > 0) {
        file->unit_rows--;
        return true;
    }
    return take_row(file);
}

/* Feeds one line to libcsv; false to stop. */
static bool feed(struct delimited *file, struct csv_parser *parser, struct raw line, bool last) {
    size_t taken = csv_parse(parser, line.text, line.size, take_field, end_row, file);
    if (taken != line.size && csv_error(parser) == CSV_ENOMEM)
        file->status = STATUS_NO_MEMORY;
    else if (taken != line.size)
        say(file, 0, "found a quote inside a field, expected quotes only around whole fields");
    else if (last && !file->row.ended && csv_fini(parser, take_field, end_row, file) != 0)
        say(file, 0, "found a quote that is opened and never closed; the file is cut short");
    else
        return true;
    return false;
}

static void begin_row(struct delimited *file, int line) {
    file->line = line;
    file->row.count = 0;
    file->row.used = 0;
    file->row.ended = false;
}

static void read_lines(struct delimited *file, struct csv_parser *parser, struct lines *lines) {
    bool between_rows = true, more = true;
    struct raw line;
    while (more && lines_next(lines, &line)) {
        if (between_rows && !lines_is_row(lines, line))
            continue;
        if (between_rows)
            begin_row(file, lines->line);
        if (!file->have_header)
            file->preamble = lines_preamble(lines, line);
        more = feed(file, parser, line, lines->rest.size == 0);
        between_rows = file->row.ended;
        if (more && between_rows)
            more = judge_row(file);
    }
    if (more)
        lines_finish(lines, file->builder);
}

enum status delimited_read(struct day_builder *builder, const unsigned char *bytes, size_t size) {
    struct csv_parser parser;
    struct lines lines;
    struct delimited *file = calloc(1, sizeof *file);
    if (file == NULL)
        return STATUS_NO_MEMORY;
    file->builder = builder;
    file->layout = builder->layout;
    file->unit_rows = builder->layout->unit_rows;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0) {
        free(file);
        return STATUS_NO_MEMORY;
    }
    csv_set_delim(&parser, (unsigned char)builder->layout->separator);
    csv_set_quote(&parser, (unsigned char)builder->layout->quote);
    lines_start(&lines, builder->layout, bytes, size);
    read_lines(file, &parser, &lines);
    enum status status = file->status;
    csv_free(&parser);
    free(file->header);
    free(file->row.text);
    free(file);
    return status;
}
