/* View models on the terminal. */
#ifndef WATERTURN_PRINT_VIEW_H
#define WATERTURN_PRINT_VIEW_H

#include <cjson/cJSON.h>

#include "daemon/commands/command.h"
#include "daemon/view/words.h"

/* "" when there is no such string. */
const char *view_string(const cJSON *object, const char *key);

/* The words of a label in the view's language. */
const char *view_label(const cJSON *view, const char *name);

/* Prints a sentence of it, if there is one, in lines that fit a terminal. */
void view_print(const char *lead, const char *sentence);

/* Prints rows behind `lead`, in columns as wide as what stands in them, under labels of several lines where
 * they would be wider; without labels when the first has none. */
struct view_column {
    const char *label, *key; /* the string or whole number of a row that stands in it */
    bool right;
};
#define VIEW_COLUMNS_MAX 9
void view_print_table(const char *lead, const cJSON *rows, const struct view_column *columns, size_t count);

/* The words of the language of the environment: LC_ALL, LC_MESSAGES or LANG, the first that is set. NULL: no
 * memory. */
struct words *view_words(void);

/* Prints a view and frees it: as JSON with every digit when --json is given, else by `people`.
 * STATUS_NO_MEMORY when it is NULL. */
enum status print_view(const struct options *options, cJSON *view, void (*people)(const cJSON *view));

#endif
