#include "daemon/http/form_edit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct form_option *edit_options(struct edit *edit, size_t count) {
    if (edit->option_lists == sizeof edit->options / sizeof *edit->options)
        return NULL;
    struct form_option *list = calloc(count + 1, sizeof *list);
    if (list != NULL)
        edit->options[edit->option_lists++] = list;
    return list;
}

struct library *edit_library(struct edit *edit) {
    static struct problems unused; /* large; one thread answers */
    if (edit->library != NULL)
        return edit->library;
    problems_init(&unused);
    if (library_open(&edit->library, &unused) != STATUS_OK)
        edit->library = NULL;
    problems_free(&unused);
    return edit->library;
}

const char *edit_word(const struct edit *edit, const char *prefix, const char *name) {
    char key[FARM_NAME_SIZE + 32];
    (void)snprintf(key, sizeof key, "%s.%s", prefix, name);
    const char *word = words_find(edit->request->words, key);
    return word != NULL ? word : name;
}

const char *edit_soil(const struct edit *edit, const struct farm_soil *soil) {
    return strcmp(soil->name, soil->texture) == 0 ? edit_word(edit, "texture", soil->name) : soil->name;
}

void edit_number(struct edit *edit, const char *name, double value, const char *unit) {
    input_show(edit->request, edit->fill, name, value, unit);
}

void edit_quantity(struct edit *edit, const char *name, double si, const char *us, const char *metric) {
    const char *unit = edit->view.context.us_units ? us : metric;
    edit_number(edit, name, units_from_si(si, units_find(unit)), unit);
}

void edit_link_removal(struct edit *edit, const char *kind, const char *name, const char *text,
                       const char *label) {
    const struct words *words = edit->request->words;
    frame_path(kind, name, "/remove", edit->removal);
    edit->below = (struct form_option){edit->removal, words_get(words, text)};
    edit->page.link = &edit->below;
    edit->page.link_count = 1;
    edit->page.link_current = SIZE_MAX;
    edit->page.links_below = true;
    edit->page.link_label = words_get(words, label);
}

static const char *place_of(const struct edit_form *form, const char *path) {
    const char *dot = path != NULL ? strchr(path, '.') : NULL;
    for (const char *const(*place)[2] = form->places; dot != NULL && place != NULL && (*place)[0] != NULL;
         place++) {
        if (strncmp(dot + 1, (*place)[0], strlen((*place)[0])) == 0)
            return (*place)[1];
    }
    return NULL;
}

/* Whether what was found stands in another field than that of the form; a name is given twice by both. */
static bool of_another(const struct edit *edit, const char *path) {
    static const char fields[] = "fields[";
    if (path == NULL || strncmp(path, fields, sizeof fields - 1) != 0)
        return false;
    char *end;
    size_t index = strtoul(path + sizeof fields - 1, &end, 10);
    const struct farm_field *own = farm_field_named(&edit->farm, edit->request->name);
    return index < edit->farm.field_count && &edit->farm.field[index] != own && strcmp(end, "].name") != 0;
}

/* What the check of the farm found goes beside its input, where it has one. */
static void place_problems(struct edit *edit, const struct edit_form *form, const struct problems *problems) {
    for (size_t i = 0; i < problems->kept; i++) {
        const char *path = problems->problem[i].path, *name = place_of(form, path);
        struct text why;
        if (name == NULL || of_another(edit, path))
            continue;
        text_init(&why, 0);
        words_problem(edit->request->words, &problems->problem[i], &why);
        fill_refuse(edit->fill, name, text_string(&why));
        text_free(&why);
    }
}

static enum status show_again(struct edit *edit, const struct edit_form *form, const char *problem,
                              struct reply *reply) {
    edit->page.action = edit->action;
    edit->page.back = edit->back;
    edit->page.problem = problem;
    edit->page.fill = edit->fill;
    form->inputs(edit);
    return form_show(edit->request, &edit->view, &edit->page, reply);
}

static enum status take(struct edit *edit, const struct edit_form *form, struct problems *problems,
                        struct reply *reply) {
    char room[FARM_TEXT_SIZE], link[FRAME_PATH_SIZE];
    struct form_sent sent;
    const struct words *words = edit->request->words;
    edit->book.context = edit;
    edit->book.may_be_empty = form->may_be_empty;
    edit->book.moved_from = edit->book.moved_to = CALENDAR_NONE;
    form->read(edit);
    const char *problem = NULL;
    if (!fill_good(edit->fill))
        problem = form->wrong != NULL ? form->wrong : "form.wrong";
    else if (form_open(edit->request, edit->action, &sent) != STATUS_OK)
        problem = "form.stale";
    if (problem != NULL) {
        reply->status = 422;
        return show_again(edit, form, words_get(words, problem), reply);
    }
    struct db *writer = edit->data->writer;
    enum status status =
        writer != NULL ? book_change(writer, &sent.book, &edit->book, problems) : STATUS_STORE;
    if (status == STATUS_OK) {
        if (form->runs && edit->data->wake != NULL)
            edit->data->wake();
        /* While the farm is being set up, on to the next step. */
        bool setting_up = edit->view.facts.last_run == CALENDAR_NONE;
        if (!setting_up && form->then != NULL)
            return form_go(reply, form->then);
        return form_go(reply, setting_up ? "/" : frame_path("/entry/", sent.id, "", link));
    }
    place_problems(edit, form, problems);
    status = form_trouble(edit->request, status, problems, room, reply);
    return status == STATUS_OK ? show_again(edit, form, room, reply) : status;
}

/* What a form shows needs the plantings of its own field alone; what is sent goes into the whole book. */
static enum status load_farm(struct edit *edit, struct problems *problems) {
    const struct request *request = edit->request;
    if (edit->fresh) {
        farm_init(&edit->farm);
        return STATUS_OK;
    }
    return request->form != NULL
               ? farm_store_load_field(edit->data->db, "", &edit->farm, problems)
               : farm_store_view_field(edit->data->db, request->name, &edit->farm, problems);
}

static enum status with_farm(struct edit *edit, const struct edit_form *form, struct reply *reply) {
    static struct problems problems; /* large; one thread answers */
    problems_init(&problems);
    enum status status = load_farm(edit, &problems);
    if (status == STATUS_OK) {
        status = form->open(edit);
        if (status == STATUS_OK && edit->request->form != NULL) {
            status = take(edit, form, &problems, reply);
        } else if (status == STATUS_OK) {
            form->show(edit);
            status = show_again(edit, form, NULL, reply);
        }
        farm_free(&edit->farm);
    }
    problems_free(&problems);
    return status;
}

static void edit_free(struct edit *edit) {
    for (size_t i = 0; i < edit->option_lists; i++)
        free(edit->options[i]);
    library_free(edit->library);
    free(edit->kept);
    fill_free(&edit->own);
    free(edit);
}

enum status edit_answer(const struct request *request, const struct edit_form *form, struct reply *reply) {
    if (request->data->book == NULL)
        return STATUS_NOT_FOUND;
    struct edit *edit = calloc(1, sizeof *edit);
    if (edit == NULL)
        return STATUS_NO_MEMORY;
    edit->request = request;
    edit->data = request->data->book;
    edit->today = page_data_now(edit->data).today;
    edit->index = SIZE_MAX;
    fill_init(&edit->own);
    edit->fill = request->form != NULL ? request->form : &edit->own;
    enum status status = farm_view_head(request, &edit->view);
    edit->fresh = edit->view.facts.farm_name[0] == '\0';
    if (status == STATUS_OK) {
        status = edit->fresh && !form->may_be_empty ? form_go(reply, "/") : with_farm(edit, form, reply);
        farm_view_close(request, &edit->view);
    }
    edit_free(edit);
    return status;
}
