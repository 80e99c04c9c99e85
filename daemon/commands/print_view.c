#include "daemon/commands/print_view.h"

#include <stdio.h>

#include "daemon/view/print_json.h"

const char *view_string(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

void print_view_json(cJSON *view) {
    struct text json;
    text_init(&json, 0);
    if (print_json(view, true, &json))
        puts(text_string(&json));
    text_free(&json);
}
