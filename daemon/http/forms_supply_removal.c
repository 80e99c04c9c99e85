/* Removing a supply from which no field draws. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/text.h"
#include "daemon/http/form_edit.h"
#include "daemon/view/say.h"

#define FARM_FIELDS_LINKED 20

/* The fields that draw from a supply, "A, B"; "": none does. */
static void fields_of(const struct farm *farm, const char *supply, struct text *out) {
    text_init(out, 0);
    for (size_t i = 0; i < farm->field_count; i++)
        if (strcmp(farm->field[i].supply, supply) == 0)
            text_printf(out, "%s%s", text_string(out)[0] != '\0' ? ", " : "", farm->field[i].name);
}

/* What the page says and links to. */
struct removal {
    char title[SAY_SIZE];
    struct form_option link[FARM_FIELDS_LINKED];
    char path[FARM_FIELDS_LINKED][FRAME_PATH_SIZE];
};

/* Fields that draw from it: the settings of each are where it is let go, and there is nothing to press. */
static void show_drawing(struct edit *edit, struct removal *removal) {
    const struct farm *farm = &edit->farm;
    struct form_page *page = &edit->page;
    for (size_t i = 0; i < farm->field_count; i++) {
        const char *name = farm->field[i].name;
        if (strcmp(farm->field[i].supply, edit->supply.name) != 0 || page->link_count == FARM_FIELDS_LINKED)
            continue;
        (void)frame_path("/field/", name, "/settings", removal->path[page->link_count]);
        removal->link[page->link_count] = (struct form_option){removal->path[page->link_count], name};
        page->link_count++;
    }
    if (page->link_count == 0)
        return;
    page->link = removal->link;
    page->link_current = page->link_count;
    page->about = page->link_label = words_get(edit->request->words, "form.supply.used");
    page->submit = NULL;
}

static enum status open_removal(struct edit *edit) {
    const struct words *words = edit->request->words;
    const struct farm_supply *supply = farm_supply_named(&edit->farm, edit->request->name);
    if (supply == NULL)
        return STATUS_NOT_FOUND;
    struct removal *removal = edit->kept = calloc(1, sizeof *removal);
    if (removal == NULL)
        return STATUS_NO_MEMORY;
    edit->index = (size_t)(supply - edit->farm.supply);
    edit->supply = *supply;
    frame_path("/supply/", supply->name, "/remove", edit->action);
    frame_path("/supply/", supply->name, "", edit->back);
    const struct words_hole hole = {"name", supply->name};
    say_words(&edit->view.context, "form.remove", &hole, 1, removal->title);
    edit->page.title = edit->page.submit = removal->title;
    edit->page.about = words_get(words, "form.supply.remove_about");
    edit->page.back_text = supply->name;
    show_drawing(edit, removal);
    return STATUS_OK;
}

/* Nothing is filled in. */
static void show_removal(struct edit *edit) {
    (void)edit;
}

static enum status apply_removal(void *context, struct farm *farm, size_t *planting,
                                 struct problems *problems) {
    const struct edit *edit = context;
    struct text fields;
    enum status status = STATUS_OK;
    (void)planting;
    const struct farm_supply *supply = farm_supply_named(farm, edit->supply.name);
    if (supply == NULL)
        return STATUS_NOT_FOUND;
    fields_of(farm, supply->name, &fields);
    if (text_string(&fields)[0] != '\0') {
        problem_add(problems, NULL, 0, 0, "supplies", "%s %s",
                    words_get(edit->request->words, "form.supply.used"), text_string(&fields));
        status = STATUS_REFUSED;
    } else {
        size_t at = (size_t)(supply - farm->supply);
        farm->supply_count--;
        memmove(&farm->supply[at], &farm->supply[at + 1], (farm->supply_count - at) * sizeof *supply);
    }
    text_free(&fields);
    return status;
}

static void read_removal(struct edit *edit) {
    edit->book.act = ENTRY_SUPPLY;
    edit->book.field = "";
    edit->book.supply = edit->supply.name;
    edit->book.supply_gone = true;
    edit->book.mark = FARM_MARK_NONE;
    edit->book.apply = apply_removal;
}

enum status supply_removal_form(const struct request *request, struct reply *reply) {
    static const char *const places[][2] = {{NULL, NULL}};
    static const struct edit_form form = {.then = "/turns",
                                          .open = open_removal,
                                          .show = show_removal,
                                          .inputs = show_removal,
                                          .read = read_removal,
                                          .places = places};
    return edit_answer(request, &form, reply);
}
