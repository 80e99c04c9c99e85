/* Removing a source: one that was added by mistake, or with all the weather that is kept of it. */
#include <stdlib.h>
#include <string.h>

#include "daemon/http/form_removal.h"
#include "daemon/store/removal_store.h"

static struct farm_source *source_named(struct farm *farm, const char *name) {
    for (size_t i = 0; i < farm->source_count; i++)
        if (strcmp(farm->source[i].name, name) == 0)
            return &farm->source[i];
    return NULL;
}

static void say_bears(struct edit *edit, const struct source_bears *bears, size_t count) {
    char day[SAY_SIZE];
    size_t shown = count > REMOVAL_LINES ? REMOVAL_LINES - 1 : count;
    for (size_t i = 0; i < shown; i++) {
        const struct words_hole holes[] = {{"field", bears[i].field},
                                           {"day", say_date_year(&edit->view.context, bears[i].from, day)}};
        removal_line(edit, "form.source.remove_field", holes, 2);
    }
    removal_count(edit, "form.source.remove_more", (int)(count - shown));
    if (count > 0)
        edit->page.list_text = words_get(edit->request->words, "form.source.remove_anew");
}

/* How much weather goes, and what is computed anew without it. */
static void say_weather(struct edit *edit, struct removal *removal, const struct source_kept *kept,
                        const struct source_bears *bears, size_t count) {
    char days[SAY_SIZE], first[SAY_SIZE], last[SAY_SIZE];
    const struct view_context *context = &edit->view.context;
    const struct words_hole holes[] = {{"n", say_count(kept->days, days)},
                                       {"first", say_date_year(context, kept->first, first)},
                                       {"last", say_date_year(context, kept->last, last)}};
    edit->page.about = say_words(context, "form.source.remove_days", holes, 3, removal->about);
    if (kept->others == 0)
        edit->page.caution = words_get(edit->request->words, edit->source.kind == SOURCE_FORECAST
                                                                 ? "form.source.remove_forecast"
                                                                 : "form.source.remove_observed");
    say_bears(edit, bears, count);
    removal_ask(edit, edit->source.name);
}

static enum status open_removal(struct edit *edit) {
    static struct problems unused; /* large; one thread answers */
    struct source_kept kept;
    struct source_bears *bears = NULL;
    size_t count = 0;
    const struct farm_source *source = source_named(&edit->farm, edit->request->name);
    if (source == NULL)
        return STATUS_NOT_FOUND;
    edit->source = *source;
    struct removal *removal = removal_begin(edit, "/source/", edit->source.name);
    if (removal == NULL)
        return STATUS_NO_MEMORY;
    problems_init(&unused);
    enum status status = removal_store_source_kept(edit->data->db, edit->source.name, &kept, &unused);
    if (status == STATUS_OK && kept.days > 0)
        status = removal_store_source_bears(edit->data->db, edit->source.name, &bears, &count, &unused);
    problems_free(&unused);
    if (status == STATUS_OK && kept.days > 0)
        say_weather(edit, removal, &kept, bears, count);
    else
        edit->page.about = words_get(edit->request->words, "form.source.remove_about");
    free(bears);
    return status;
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
    removal_read(edit, edit->source.name);
    edit->book.act = ENTRY_SOURCE;
    edit->book.field = "";
    edit->book.source_gone = edit->source.name;
    edit->book.mark = FARM_MARK_NONE;
    edit->book.apply = apply_removal;
}

enum status source_removal_form(const struct request *request, struct reply *reply) {
    static const struct edit_form form = {.then = "/sources",
                                          .wrong = "form.not_removed",
                                          .open = open_removal,
                                          .show = removal_show,
                                          .inputs = removal_inputs,
                                          .read = read_removal};
    return edit_answer(request, &form, reply);
}
