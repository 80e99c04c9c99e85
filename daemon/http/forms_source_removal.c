/* Removing a source of which no weather is kept: one that was added by mistake. */
#include <stdio.h>
#include <string.h>

#include "daemon/http/form_edit.h"

static struct farm_source *source_named(struct farm *farm, const char *name) {
    for (size_t i = 0; i < farm->source_count; i++)
        if (strcmp(farm->source[i].name, name) == 0)
            return &farm->source[i];
    return NULL;
}

static enum status open_removal(struct edit *edit) {
    const struct words *words = edit->request->words;
    const struct farm_source *source = source_named(&edit->farm, edit->request->name);
    if (source == NULL || !source_may_go(edit, source->name))
        return STATUS_NOT_FOUND;
    edit->source = *source;
    frame_path("/source/", source->name, "/remove", edit->action);
    frame_path("/source/", source->name, "", edit->back);
    edit->page.title = words_get(words, "form.source.remove");
    edit->page.about = words_get(words, "form.source.remove_about");
    edit->page.back_text = source->name;
    edit->page.submit = words_get(words, "form.source.remove");
    return STATUS_OK;
}

/* Nothing is filled in. */
static void show_removal(struct edit *edit) {
    (void)edit;
}

static enum status apply_removal(void *context, struct farm *farm, size_t *planting,
                                 struct problems *problems) {
    const struct edit *edit = context;
    (void)planting;
    (void)problems;
    struct farm_source *source = source_named(farm, edit->source.name);
    if (source == NULL)
        return STATUS_NOT_FOUND;
    size_t at = (size_t)(source - farm->source);
    farm->source_count--;
    memmove(source, source + 1, (farm->source_count - at) * sizeof *source);
    return STATUS_OK;
}

static void read_removal(struct edit *edit) {
    edit->book.act = ENTRY_SOURCE;
    edit->book.field = "";
    edit->book.source_gone = edit->source.name;
    edit->book.mark = FARM_MARK_NONE;
    edit->book.apply = apply_removal;
}

enum status source_removal_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {.then = "/sources",
                                          .open = open_removal,
                                          .show = show_removal,
                                          .inputs = show_removal,
                                          .read = read_removal};
    return edit_answer(request, &form, reply);
}
