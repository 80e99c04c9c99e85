#include "daemon/view/book_form.h"

#include <stdio.h>
#include <string.h>

#include "daemon/view/frame.h"

void form_add(struct form_page *page, const char *name, enum input_kind kind,
              const struct form_option *option, size_t option_count, bool optional) {
    if (page->count < FORM_INPUTS_MAX)
        page->input[page->count++] = (struct form_input){
            .name = name, .kind = kind, .option = option, .option_count = option_count, .optional = optional};
}

static bool chosen(const struct form_input *input, const char *option, const char *value) {
    return input->kind == INPUT_DAYS ? strstr(value, option) != NULL : strcmp(option, value) == 0;
}

static void add_range(const struct form_input *input, const char *name, const char *value, size_t first,
                      size_t end, cJSON *out) {
    char id[2 * FILL_NAME_SIZE];
    cJSON *options = cJSON_AddArrayToObject(out, "options");
    for (size_t i = first; i < end; i++) {
        cJSON *option = cJSON_CreateObject();
        const char *text = input->option[i].text;
        (void)snprintf(id, sizeof id, "%s-%zu", name, i);
        cJSON_AddStringToObject(option, "id", id);
        cJSON_AddStringToObject(option, "name", name);
        cJSON_AddStringToObject(option, "value", input->option[i].value);
        cJSON_AddStringToObject(option, "text", text != NULL ? text : input->option[i].value);
        cJSON_AddBoolToObject(option, "chosen", chosen(input, input->option[i].value, value));
        cJSON_AddItemToArray(options, option);
    }
}

static void add_options(const struct form_input *input, const char *name, const char *value, cJSON *out) {
    size_t ends[3] = {0, input->first_of_second, input->option_count};
    if (input->groups[0] == NULL) {
        add_range(input, name, value, 0, input->option_count, out);
        return;
    }
    cJSON *groups = cJSON_AddArrayToObject(out, "groups");
    for (int i = 0; i < 2; i++) {
        cJSON *group = cJSON_CreateObject();
        cJSON_AddStringToObject(group, "heading", input->groups[i]);
        add_range(input, name, value, ends[i], ends[i + 1], group);
        cJSON_AddItemToArray(groups, group);
    }
}

/* "name-hint name-error", what a screen reader says after the label. */
static void add_described(const char *name, bool hint, bool error, cJSON *out) {
    char described[3 * FILL_NAME_SIZE];
    if (!hint && !error)
        return;
    (void)snprintf(described, sizeof described, "%s%s%s%s%s", hint ? name : "", hint ? "-hint" : "",
                   hint && error ? " " : "", error ? name : "", error ? "-error" : "");
    cJSON_AddStringToObject(out, "described", described);
}

static void add_unit(const struct view_context *context, const struct form_page *page,
                     const struct form_input *input, cJSON *out) {
    char name[FILL_NAME_SIZE + 8];
    if (input->option_count == 0)
        return;
    (void)snprintf(name, sizeof name, "%s_unit", input->name);
    cJSON *unit = cJSON_AddObjectToObject(out, "unit");
    cJSON_AddStringToObject(unit, "id", name);
    cJSON_AddStringToObject(unit, "label", words_get(context->words, "label.unit"));
    cJSON_AddBoolToObject(unit, "several", input->option_count > 1);
    cJSON_AddStringToObject(unit, "only", input->option[0].value);
    cJSON_AddStringToObject(unit, "only_text",
                            input->option[0].text != NULL ? input->option[0].text : input->option[0].value);
    add_options(input, name, fill_value(page->fill, name), unit);
}

static cJSON *input_view(const struct view_context *context, const struct form_page *page,
                         const struct form_input *input, bool *focus) {
    static const char *const kinds[] = {"is_text",   "is_number", "is_date",   "is_pick", "is_choose",
                                        "is_search", "is_lines",  "is_hidden", "is_days", "is_part"};
    char key[FILL_NAME_SIZE + 16];
    cJSON *out = cJSON_CreateObject();
    const char *value = fill_value(page->fill, input->name);
    const char *error = fill_error(page->fill, input->name);
    (void)snprintf(key, sizeof key, "form.%s", input->name);
    cJSON_AddBoolToObject(out, kinds[input->kind], true);
    cJSON_AddStringToObject(out, "name", input->name);
    cJSON_AddStringToObject(out, "label",
                            input->label != NULL ? input->label : words_get(context->words, key));
    (void)snprintf(key, sizeof key, "form.%s.hint", input->name);
    const char *hint = input->hint != NULL ? input->hint : words_find(context->words, key);
    if (hint != NULL)
        cJSON_AddStringToObject(out, "hint", hint);
    if (error != NULL)
        cJSON_AddStringToObject(out, "error", error);
    add_described(input->name, hint != NULL, error != NULL, out);
    cJSON_AddStringToObject(out, "value", value);
    cJSON_AddBoolToObject(out, "optional", input->optional);
    cJSON_AddBoolToObject(out, "focus", error != NULL && !*focus);
    *focus = *focus || error != NULL;
    if (input->kind == INPUT_NUMBER)
        cJSON_AddStringToObject(out, "keypad", input->below_zero ? "text" : "decimal");
    if (input->kind == INPUT_NUMBER)
        add_unit(context, page, input, out);
    else if (input->option_count > 0)
        add_options(input, input->name, value, out);
    return out;
}

static void add_links(const struct form_page *page, cJSON *view) {
    cJSON *links = cJSON_AddArrayToObject(view, "links");
    for (size_t i = 0; i < page->link_count; i++) {
        cJSON *link = cJSON_CreateObject();
        cJSON_AddStringToObject(link, "href", page->link[i].value);
        cJSON_AddStringToObject(link, "text", page->link[i].text);
        cJSON_AddBoolToObject(link, "current", i == page->link_current);
        cJSON_AddItemToArray(links, link);
    }
    cJSON_AddBoolToObject(view, "links_above", page->link_count > 0 && !page->links_below);
    cJSON_AddBoolToObject(view, "links_below", page->link_count > 0 && page->links_below);
    cJSON_AddStringToObject(view, "links_label", page->link_label != NULL ? page->link_label : "");
}

static void add_list(const struct form_page *page, cJSON *view) {
    cJSON *list = cJSON_AddArrayToObject(view, "list");
    for (size_t i = 0; i < page->list_count; i++)
        cJSON_AddItemToArray(list, cJSON_CreateString(page->list[i]));
    if (page->list_text != NULL)
        cJSON_AddStringToObject(view, "list_text", page->list_text);
}

void view_form_inputs(const struct view_context *context, const struct form_page *page, cJSON *view) {
    bool focus = false;
    cJSON *inputs = cJSON_AddArrayToObject(view, "inputs");
    for (size_t i = 0; i < page->count; i++)
        cJSON_AddItemToArray(inputs, input_view(context, page, &page->input[i], &focus));
}

cJSON *view_form(const struct view_context *context, const struct form_page *page) {
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    cJSON_AddStringToObject(view, "title", page->title);
    if (page->about != NULL)
        cJSON_AddStringToObject(view, "about", page->about);
    if (page->caution != NULL)
        cJSON_AddStringToObject(view, "caution", page->caution);
    if (page->note != NULL) {
        cJSON_AddStringToObject(view, "note", page->note);
        cJSON_AddStringToObject(view, "does", page->does.value);
        cJSON_AddStringToObject(view, "does_text", page->does.text);
    }
    cJSON_AddStringToObject(view, "action", page->action);
    cJSON_AddStringToObject(view, "token", page->token);
    if (page->submit != NULL)
        cJSON_AddStringToObject(view, "submit", page->submit);
    cJSON_AddStringToObject(view, "back", page->back);
    cJSON_AddStringToObject(view, "back_text", page->back_text);
    if (page->problem != NULL)
        cJSON_AddStringToObject(view, "problem", page->problem);
    if (page->source != NULL)
        cJSON_AddStringToObject(view, "rests_on", page->source);
    if (page->undo_action != NULL) {
        cJSON *undo = cJSON_AddObjectToObject(view, "undo");
        cJSON_AddStringToObject(undo, "about", words_get(context->words, "form.undo.about"));
        cJSON_AddStringToObject(undo, "submit", words_get(context->words, "form.undo"));
        cJSON_AddStringToObject(undo, "undo_action", page->undo_action);
        cJSON_AddStringToObject(undo, "undo_token", page->undo_token);
    }
    add_list(page, view);
    add_links(page, view);
    view_form_inputs(context, page, view);
    return view;
}
