/* Renders Mustache cases for tests/web/template.test.mjs: stdin is a JSON list of {template, view, partials},
 * stdout a list with the text of each, or {"refused": REASON}. */
#include <stdio.h>
#include <stdlib.h>

#include <cjson/cJSON.h>

#include "daemon/http/template.h"

static const char *find_partial(void *context, const char *name) {
    return cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(context, name));
}

static cJSON *render(const cJSON *item) {
    struct problems problems;
    problems_init(&problems);
    struct text text;
    text_init(&text, 0);
    const struct template_partials partials = {find_partial,
                                               cJSON_GetObjectItemCaseSensitive(item, "partials")};
    const char *source = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(item, "template"));
    const cJSON *view = cJSON_GetObjectItemCaseSensitive(item, "view");
    cJSON *result;
    if (template_render("case", source, view, &partials, &text, &problems) == STATUS_OK) {
        result = cJSON_CreateString(text_string(&text));
    } else {
        text_clear(&text);
        problems_print(&problems, &text);
        result = cJSON_CreateObject();
        cJSON_AddStringToObject(result, "refused", text_string(&text));
    }
    text_free(&text);
    problems_free(&problems);
    return result;
}

int main(void) {
    struct text input;
    text_init(&input, 0);
    char block[65536];
    for (size_t count; (count = fread(block, 1, sizeof block, stdin)) > 0;)
        text_add(&input, block, count);
    cJSON *cases = cJSON_Parse(text_string(&input));
    text_free(&input);
    if (!cJSON_IsArray(cases)) {
        fprintf(stderr, "expected a JSON list of cases on stdin\n");
        return 1;
    }
    cJSON *results = cJSON_CreateArray();
    for (const cJSON *item = cases->child; item != NULL; item = item->next)
        cJSON_AddItemToArray(results, render(item));
    char *printed = cJSON_PrintUnformatted(results);
    puts(printed);
    cJSON_free(printed);
    cJSON_Delete(results);
    cJSON_Delete(cases);
    return 0;
}
