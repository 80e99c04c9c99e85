/* Members of a JSON object: every digit of a number, null for what is not known. */
#ifndef WATERTURN_JSON_ADD_H
#define WATERTURN_JSON_ADD_H

#include <cjson/cJSON.h>
#include <stdint.h>

void json_add_number(cJSON *object, const char *name, double value);
void json_add_date(cJSON *object, const char *name, int32_t date);
/* A new object at the end of a list. */
cJSON *json_add_entry(cJSON *array);

#endif
