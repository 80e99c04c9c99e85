/* Members of a view model, as those that build upon one read them. */
#ifndef WATERTURN_JSON_READ_H
#define WATERTURN_JSON_READ_H

#include <cjson/cJSON.h>

/* NULL: there is none. */
const cJSON *json_member(const cJSON *object, const char *key);
/* "" when it is no string. */
const char *json_string(const cJSON *object, const char *key);
/* NaN when it is no number. */
double json_number(const cJSON *object, const char *key);
/* 0 when it is no number. */
int json_int(const cJSON *object, const char *key);

#endif
