/* View models on the terminal. */
#ifndef WATERTURN_PRINT_VIEW_H
#define WATERTURN_PRINT_VIEW_H

#include <cjson/cJSON.h>

#include "daemon/commands/command.h"

/* "" when there is no such string. */
const char *view_string(const cJSON *object, const char *key);

/* Prints a sentence of it, if there is one, in lines that fit a terminal. */
void view_print(const char *lead, const char *sentence);

/* Prints a view and frees it: as JSON with every digit when --json is given, else by `people`.
 * STATUS_NO_MEMORY when it is NULL. */
enum status print_view(const struct options *options, cJSON *view, void (*people)(const cJSON *view));

#endif
