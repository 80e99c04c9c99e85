#include "daemon/commands/print_view.h"

#include <stdio.h>

#include "daemon/view/print_json.h"

const char *view_string(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

void view_print(const char *lead, const char *sentence) {
    struct text text;
    if (sentence[0] == '\0')
        return;
    text_init(&text, 0);
    text_put_wrapped(&text, lead, sentence);
    fputs(text_string(&text), stdout);
    text_free(&text);
}

static void print_exactly(cJSON *view) {
    struct text json;
    text_init(&json, 0);
    if (print_json(view, true, &json))
        puts(text_string(&json));
    text_free(&json);
}

enum status print_view(const struct options *options, cJSON *view, void (*people)(const cJSON *view)) {
    if (view == NULL)
        return STATUS_NO_MEMORY;
    if (option_value(options, "--json") != NULL)
        print_exactly(view);
    else
        people(view);
    cJSON_Delete(view);
    return STATUS_OK;
}
