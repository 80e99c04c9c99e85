#include "daemon/commands/print_view.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/view/print_json.h"

const char *view_string(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

const char *view_label(const cJSON *view, const char *name) {
    return view_string(cJSON_GetObjectItemCaseSensitive(view, "labels"), name);
}

struct words *view_words(void) {
    static const char *const names[] = {"LC_ALL", "LC_MESSAGES", "LANG"};
    const char *language = NULL;
    for (size_t i = 0; i < sizeof names / sizeof *names && (language == NULL || language[0] == '\0'); i++)
        language = getenv(names[i]);
    return words_open(words_choose(language));
}

void view_print(const char *lead, const char *sentence) {
    struct text text;
    if (sentence[0] == '\0')
        return;
    text_init(&text, 0);
    text_put_wrapped(&text, lead, sentence);
    fputs(text_string(&text), stdout);
    text_free(&text);
}

/* ---- tables ---- */

#define CELL_SIZE   24 /* of a number */
#define LABEL_LEAST 8  /* a label is not broken into narrower lines */

static const char *cell_of(const struct view_column *column, const cJSON *row, char number[CELL_SIZE]) {
    const cJSON *cell = cJSON_GetObjectItemCaseSensitive(row, column->key);
    if (!cJSON_IsNumber(cell))
        return view_string(row, column->key);
    (void)snprintf(number, CELL_SIZE, "%.0f", cell->valuedouble);
    return number;
}

/* Characters of the first bytes of a text. */
static size_t width_of(const char *text, size_t size) {
    size_t width = 0;
    for (size_t i = 0; i < size; i++)
        width += ((unsigned char)text[i] & 0xC0) != 0x80;
    return width;
}

/* Bytes of the first line of a label that is broken between words at a width; one word at least. */
static size_t line_size(const char *label, size_t width) {
    size_t size = strcspn(label, " ");
    while (label[size] == ' ') {
        size_t next = size + 1 + strcspn(label + size + 1, " ");
        if (width_of(label, next) > width)
            break;
        size = next;
    }
    return size;
}

/* The n-th line, and how many bytes; "" past the last. */
static const char *label_line(const char *label, size_t width, size_t n, size_t *size) {
    *size = line_size(label, width);
    for (; n > 0 && *label != '\0'; n--) {
        label += *size;
        label += *label == ' ';
        *size = line_size(label, width);
    }
    return label;
}

static size_t longest_word(const char *label) {
    size_t longest = 0;
    while (*label != '\0') {
        size_t size = strcspn(label, " "), width = width_of(label, size);
        longest = width > longest ? width : longest;
        label += size + (label[size] == ' ');
    }
    return longest;
}

/* No blanks at the end of a line. */
static void print_cell(const char *text, size_t size, size_t width, bool right, bool last) {
    int blank = (int)(width - width_of(text, size));
    printf("%*s%.*s%*s", right ? blank : 0, "", (int)size, text, right || last ? 0 : blank, "");
    printf("%s", last ? "\n" : "  ");
}

static void print_labels(const char *lead, const struct view_column *columns, const size_t *width,
                         size_t count) {
    size_t lines = 0, size;
    for (size_t c = 0; c < count; c++) {
        while (label_line(columns[c].label, width[c], lines, &size)[0] != '\0')
            lines++;
    }
    for (size_t n = 0; n < lines; n++) {
        size_t filled = count;
        while (filled > 1 && label_line(columns[filled - 1].label, width[filled - 1], n, &size)[0] == '\0')
            filled--;
        printf("%s", lead);
        for (size_t c = 0; c < filled; c++) {
            const char *line = label_line(columns[c].label, width[c], n, &size);
            print_cell(line, size, width[c], columns[c].right, c + 1 == filled);
        }
    }
}

void view_print_table(const char *lead, const cJSON *rows, const struct view_column *columns, size_t count) {
    size_t width[VIEW_COLUMNS_MAX] = {0};
    const cJSON *row;
    char number[CELL_SIZE];
    bool head = columns[0].label != NULL;
    for (size_t c = 0; c < count; c++) {
        size_t label = head ? text_width(columns[c].label) : 0;
        width[c] = head ? longest_word(columns[c].label) : 0;
        if (width[c] < LABEL_LEAST)
            width[c] = label < LABEL_LEAST ? label : LABEL_LEAST;
        cJSON_ArrayForEach(row, rows) {
            size_t own = text_width(cell_of(&columns[c], row, number));
            width[c] = own > width[c] ? own : width[c];
        }
    }
    if (head)
        print_labels(lead, columns, width, count);
    cJSON_ArrayForEach(row, rows) {
        printf("%s", lead);
        for (size_t c = 0; c < count; c++) {
            const char *cell = cell_of(&columns[c], row, number);
            print_cell(cell, strlen(cell), width[c], columns[c].right, c + 1 == count);
        }
    }
}

static void print_exactly(cJSON *view) {
    struct text json;
    text_init(&json, 0);
    if (print_json(view, true, &json))
        puts(text_string(&json));
    text_free(&json);
}

enum status print_view(const struct options *options, cJSON *view, void (*people)(const cJSON *view)) {
    if (view == NULL)
        return STATUS_NO_MEMORY;
    if (option_value(options, "--json") != NULL)
        print_exactly(view);
    else
        people(view);
    cJSON_Delete(view);
    return STATUS_OK;
}
