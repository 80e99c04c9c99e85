#include "daemon/commands/print_view.h"

#include <stdio.h>
#include <stdlib.h>

#include "daemon/view/print_json.h"

const char *view_string(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

void view_print_right(const cJSON *object, const char *key, int width) {
    const char *text = view_string(object, key);
    int columns = (int)text_width(text);
    printf("%*s%s", 2 + (columns < width ? width - columns : 0), "", text);
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

/* `row` NULL: the label. */
static const char *cell_of(const struct view_column *column, const cJSON *row) {
    return row != NULL ? view_string(row, column->key) : column->label;
}

static void print_cells(const cJSON *row, const struct view_column *columns, const size_t *width,
                        size_t count) {
    for (size_t c = 0; c < count; c++) {
        const char *cell = cell_of(&columns[c], row);
        printf("%s%*s", cell, c + 1 < count ? (int)(width[c] - text_width(cell)) + 2 : 0, "");
    }
    putchar('\n');
}

void view_print_table(const cJSON *rows, const struct view_column *columns, size_t count) {
    size_t width[VIEW_COLUMNS_MAX] = {0};
    const cJSON *row;
    bool head = columns[0].label != NULL;
    for (size_t c = 0; c < count; c++) {
        width[c] = head ? text_width(columns[c].label) : 0;
        cJSON_ArrayForEach(row, rows) {
            size_t own = text_width(cell_of(&columns[c], row));
            width[c] = own > width[c] ? own : width[c];
        }
    }
    if (head)
        print_cells(NULL, columns, width, count);
    cJSON_ArrayForEach(row, rows) {
        print_cells(row, columns, width, count);
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
