/* View models on the terminal. */
#ifndef WATERTURN_PRINT_VIEW_H
#define WATERTURN_PRINT_VIEW_H

#include <cjson/cJSON.h>

#include "daemon/commands/command.h"
#include "daemon/view/words.h"

/* "" when there is no such string. */
const char *view_string(const cJSON *object, const char *key);

/* A string of it at the right of so many columns, behind two blanks. */
void view_print_right(const cJSON *object, const char *key, int width);

/* Prints a sentence of it, if there is one, in lines that fit a terminal. */
void view_print(const char *lead, const char *sentence);

/* Prints rows in columns as wide as what stands in them; without labels when the first has none. */
struct view_column {
    const char *label, *key; /* the string of a row that stands in it */
};
#define VIEW_COLUMNS_MAX 8
void view_print_table(const cJSON *rows, const struct view_column *columns, size_t count);

/* The words of the language of the environment: LC_ALL, LC_MESSAGES or LANG, the first that is set. NULL: no
 * memory. */
struct words *view_words(void);

/* Prints a view and frees it: as JSON with every digit when --json is given, else by `people`.
 * STATUS_NO_MEMORY when it is NULL. */
enum status print_view(const struct options *options, cJSON *view, void (*people)(const cJSON *view));

#endif
