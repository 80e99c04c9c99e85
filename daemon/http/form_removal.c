#include "daemon/http/form_removal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

struct removal *removal_begin(struct edit *edit, const char *kind, const char *name) {
    struct removal *removal = edit->kept = calloc(1, sizeof *removal);
    if (removal == NULL)
        return NULL;
    const struct words_hole hole = {"name", name};
    frame_path(kind, name, "/remove", edit->action);
    frame_path(kind, name, "", edit->back);
    edit->page.title = edit->page.submit =
        say_words(&edit->view.context, "form.remove", &hole, 1, removal->title);
    edit->page.back_text = name;
    edit->page.list = removal->line;
    edit->page.link = removal->link;
    edit->page.link_current = SIZE_MAX;
    return removal;
}

void removal_line(struct edit *edit, const char *key, const struct words_hole *holes, size_t count) {
    struct removal *removal = edit->kept;
    size_t at = edit->page.list_count;
    if (at == REMOVAL_LINES)
        return;
    removal->line[at] = say_words(&edit->view.context, key, holes, count, removal->text[at]);
    edit->page.list_count++;
}

void removal_count(struct edit *edit, const char *key, int n) {
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", say_count(n, number)};
    if (n > 0)
        removal_line(edit, key, &hole, 1);
}

void removal_link(struct edit *edit, const char *before, const char *name, const char *after,
                  const char *text) {
    struct removal *removal = edit->kept;
    size_t at = edit->page.link_count;
    if (at == REMOVAL_LINKS)
        return;
    frame_path(before, name, after, removal->path[at]);
    removal->link[at] = (struct form_option){removal->path[at], text};
    edit->page.link_count++;
}

void removal_ask(struct edit *edit, const char *name) {
    struct removal *removal = edit->kept;
    const struct words *words = edit->request->words;
    const struct words_hole hole = {"name", name};
    say_words(&edit->view.context, "form.confirm", &hole, 1, removal->confirm);
    removal->named = true;
    edit->page.note = words_get(words, "form.remove.first");
    edit->page.does = (struct form_option){"/farm.json", words_get(words, "form.remove.copy")};
}

void removal_show(struct edit *edit) {
    (void)edit;
}

void removal_inputs(struct edit *edit) {
    const struct removal *removal = edit->kept;
    if (!removal->named || edit->page.submit == NULL)
        return;
    form_add(&edit->page, "confirm", INPUT_TEXT, NULL, 0, false);
    edit->page.input[edit->page.count - 1].label = removal->confirm;
}

void removal_read(struct edit *edit, const char *name) {
    const struct removal *removal = edit->kept;
    char written[FARM_NAME_SIZE];
    if (removal->named && input_text(edit->request, "confirm", true, written, sizeof written) &&
        strcasecmp(written, name) != 0)
        input_refuse(edit->request, "confirm", "input.confirm", NULL, name);
}
