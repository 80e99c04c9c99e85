#include "daemon/view/json_read.h"

#include <math.h>

const cJSON *json_member(const cJSON *object, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

const char *json_string(const cJSON *object, const char *key) {
    const char *text = cJSON_GetStringValue(json_member(object, key));
    return text != NULL ? text : "";
}

double json_number(const cJSON *object, const char *key) {
    const cJSON *item = json_member(object, key);
    return cJSON_IsNumber(item) ? item->valuedouble : (double)NAN;
}

int json_int(const cJSON *object, const char *key) {
    const cJSON *item = json_member(object, key);
    return cJSON_IsNumber(item) ? item->valueint : 0;
}
