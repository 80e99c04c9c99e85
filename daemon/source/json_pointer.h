/* JSON Pointer, RFC 6901. */
#ifndef WATERTURN_JSON_POINTER_H
#define WATERTURN_JSON_POINTER_H

#include <cjson/cJSON.h>

/* What the pointer points at, or NULL: no such value, or a pointer that is none. "" is the root itself. */
const cJSON *json_pointer_get(const cJSON *root, const char *pointer);

#endif
