#include "tests/support/table.h"

#include <csv.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ROWS_MAX    3000
#define COLUMNS_MAX 24

struct table {
    int rows, columns; /* rows with the heading */
    char *cell[ROWS_MAX][COLUMNS_MAX];
    int filling; /* next column of the row being read */
};

static void give_up(const char *what, const char *name) {
    fprintf(stderr, "%s: %s\n", name, what);
    exit(2);
}

static void on_cell(void *text, size_t length, void *data) {
    struct table *table = data;
    if (table->rows == ROWS_MAX || table->filling == COLUMNS_MAX)
        give_up("too large", "table");
    char *copy = calloc(1, length + 1);
    if (copy == NULL)
        give_up("no memory", "table");
    memcpy(copy, text, length);
    table->cell[table->rows][table->filling++] = copy;
}

static void on_row(int end, void *data) {
    (void)end;
    struct table *table = data;
    if (table->rows == 0)
        table->columns = table->filling;
    else if (table->filling != table->columns)
        give_up("row of another width", table->cell[table->rows][0]);
    table->filling = 0;
    table->rows++;
}

struct table *table_read(const char *path) {
    FILE *file = fopen(path, "rb");
    struct table *table = calloc(1, sizeof *table);
    struct csv_parser parser;
    if (file == NULL || table == NULL || csv_init(&parser, CSV_APPEND_NULL) != 0)
        give_up("cannot be read", path);
    char block[4096];
    size_t got;
    while ((got = fread(block, 1, sizeof block, file)) > 0)
        if (csv_parse(&parser, block, got, on_cell, on_row, table) != got)
            give_up("is not CSV", path);
    csv_fini(&parser, on_cell, on_row, table);
    csv_free(&parser);
    fclose(file);
    if (table->rows < 2)
        give_up("has no rows", path);
    return table;
}

void table_free(struct table *table) {
    for (int row = 0; row < table->rows; row++)
        for (int column = 0; column < table->columns; column++)
            free(table->cell[row][column]);
    free(table);
}

int table_rows(const struct table *table) {
    return table->rows - 1;
}

const char *table_text(const struct table *table, int row, const char *column) {
    if (row < 0 || row >= table_rows(table))
        give_up("no such row", column);
    int at = 0;
    while (at < table->columns && strcmp(table->cell[0][at], column) != 0)
        at++;
    if (at == table->columns)
        give_up("no such column", column);
    return table->cell[row + 1][at];
}

double table_number(const struct table *table, int row, const char *column) {
    const char *text = table_text(table, row, column);
    char *end = NULL;
    double value = strtod(text, &end);
    return end == text ? NAN : value;
}
