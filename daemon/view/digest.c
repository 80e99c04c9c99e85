#include "daemon/view/digest.h"

#include <stdio.h>

#include "daemon/view/print_json.h"
#include "daemon/view/say.h"

void digest_init(struct digest *digest) {
    text_init(&digest->subject, 0);
    text_init(&digest->body, 0);
    text_init(&digest->data, 0);
}

void digest_free(struct digest *digest) {
    text_free(&digest->subject);
    text_free(&digest->body);
    text_free(&digest->data);
}

static bool whole(const struct digest *digest) {
    return !text_failed(&digest->subject) && !text_failed(&digest->body) && !text_failed(&digest->data);
}

static const char *string_of(const cJSON *object, const char *key) {
    const char *string = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return string != NULL ? string : "";
}

static void add_field(const cJSON *field, struct text *body) {
    const cJSON *note;
    text_printf(body, "%s\n", string_of(field, "name"));
    text_put_wrapped(body, "  ", string_of(field, "sentence"));
    if (string_of(field, "why")[0] != '\0')
        text_put_wrapped(body, "  ", string_of(field, "why"));
    cJSON_ArrayForEach(note, cJSON_GetObjectItemCaseSensitive(field, "notes")) {
        if (cJSON_IsString(note))
            text_put_wrapped(body, "  ! ", note->valuestring);
    }
    text_puts(body, "\n");
}

static void add_end(const struct view_context *context, const char *link, struct text *body) {
    if (link != NULL)
        text_printf(body, "%s/\n\n", link);
    text_put_wrapped(body, "", words_get(context->words, "label.caution_probe"));
}

/* The same as the page's own JSON, without its pictures and labels. */
static cJSON *field_data(const cJSON *field) {
    static const char *const keys[] = {"name", "call", "sentence", "why"};
    cJSON *data = cJSON_CreateObject();
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        cJSON_AddStringToObject(data, keys[i], string_of(field, keys[i]));
    return data;
}

static bool print_data(cJSON *data, struct text *out) {
    bool printed = data != NULL && print_json(data, false, out);
    cJSON_Delete(data);
    return printed;
}

static cJSON *start_data(const char *matter, const cJSON *view) {
    cJSON *data = cJSON_CreateObject();
    cJSON_AddStringToObject(data, "matter", matter);
    cJSON_AddStringToObject(data, "farm", string_of(view, "farm"));
    cJSON_AddStringToObject(data, "date", string_of(view, "date"));
    return data;
}

bool digest_morning(const struct view_context *context, const struct field_morning *mornings, size_t count,
                    const char *link, struct digest *out) {
    const cJSON *item;
    cJSON *view = view_today(context, mornings, count);
    if (view == NULL)
        return false;
    const char *summary = string_of(view, "summary"), *more = string_of(view, "summary_more");
    const char *stop = more[0] != '\0' ? ". " : "";
    text_printf(&out->subject, "%s: %s%s%s", string_of(view, "farm"), summary, stop, more);
    text_printf(&out->body, "%s, %s\n%s%s%s\n\n", string_of(view, "farm"), string_of(view, "date_text"),
                summary, stop, more);
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(view, "problems")) {
        text_printf(&out->body, "! %s: %s\n\n", string_of(item, "source"), string_of(item, "message"));
    }
    cJSON *data = start_data("digest", view), *calls = cJSON_AddArrayToObject(data, "calls");
    cJSON_AddStringToObject(data, "summary", summary);
    cJSON_ArrayForEach(item, cJSON_GetObjectItemCaseSensitive(view, "fields")) {
        add_field(item, &out->body);
        cJSON_AddItemToArray(calls, field_data(item));
    }
    add_end(context, link, &out->body);
    cJSON_Delete(view);
    return print_data(data, &out->data) && whole(out);
}

bool digest_urgent(enum call_kind before, enum call_kind now) {
    return before != now && (before == CALL_WATER_TODAY || now == CALL_WATER_TODAY || now == CALL_CANNOT_SAY);
}

bool digest_change(const struct view_context *context, const struct field_morning *morning,
                   enum call_kind before, const char *link, struct digest *out) {
    char key[48], text[SAY_SIZE];
    cJSON *view = view_today(context, morning, 1);
    const cJSON *field = cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(view, "fields"), 0);
    if (view == NULL || field == NULL) {
        cJSON_Delete(view);
        return false;
    }
    (void)snprintf(key, sizeof key, "change.%s", call_kind_key(before));
    const struct words_hole hole = {"before", words_get(context->words, key)};
    text_printf(&out->subject, "%s: %s", string_of(field, "name"), string_of(field, "sentence"));
    add_field(field, &out->body);
    text_printf(&out->body, "%s\n\n", say_words(context, "change.before", &hole, 1, text));
    add_end(context, link, &out->body);
    cJSON *data = start_data("change", view);
    cJSON_AddStringToObject(data, "before", call_kind_key(before));
    cJSON_AddItemToObject(data, "call", field_data(field));
    cJSON_Delete(view);
    return print_data(data, &out->data) && whole(out);
}
