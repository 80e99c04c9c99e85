/* View models on the terminal. */
#ifndef WATERTURN_PRINT_VIEW_H
#define WATERTURN_PRINT_VIEW_H

#include <cjson/cJSON.h>

/* "" when there is no such string. */
const char *view_string(const cJSON *object, const char *key);

/* As JSON, with every digit, and a line's end. */
void print_view_json(cJSON *view);

#endif
