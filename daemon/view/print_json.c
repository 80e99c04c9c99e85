#include "daemon/view/print_json.h"

#include "daemon/view/number.h"

/* Numbers of a tree to raw items. Recursion ends: views are a few levels deep. */
static bool exact_numbers(cJSON *item) {
    for (; item != NULL; item = item->next) {
        if (!exact_numbers(item->child))
            return false;
        if (!cJSON_IsNumber(item))
            continue;
        struct text digits;
        text_init(&digits, 0);
        number_add_shortest(&digits, item->valuedouble);
        item->valuestring = text_take(&digits);
        if (item->valuestring == NULL)
            return false;
        item->type = (item->type & ~0xFF) | cJSON_Raw;
    }
    return true;
}

bool print_json(cJSON *view, bool formatted, struct text *out) {
    if (!exact_numbers(view))
        return false;
    char *printed = formatted ? cJSON_Print(view) : cJSON_PrintUnformatted(view);
    text_puts(out, printed != NULL ? printed : "");
    bool done = printed != NULL && !text_failed(out);
    cJSON_free(printed);
    return done;
}

enum status print_json_document(cJSON *json, struct text *out) {
    char *words = json != NULL ? cJSON_Print(json) : NULL;
    enum status status = words != NULL ? STATUS_OK : STATUS_NO_MEMORY;
    text_printf(out, "%s\n", words != NULL ? words : "");
    cJSON_free(words);
    cJSON_Delete(json);
    return status;
}
