#include "daemon/http/pages.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/http/access.h"
#include "daemon/http/page_data.h"
#include "daemon/http/template.h"
#include "daemon/view/print_json.h"

static const char type_html[] = "text/html; charset=utf-8";
static const char type_json[] = "application/json; charset=utf-8";

/* ---- faces of a view model */

static bool is_api(const struct request *request) {
    return strncmp(request->path, "/api/", 5) == 0;
}

static void add_version(const struct request *request, cJSON *view) {
    cJSON_AddStringToObject(view, "assets", request->version);
}

/* Prints the view (JSON), or renders its page. Takes the view; NULL stands for no memory. */
enum status pages_show(const struct request *request, cJSON *view, const char *page, struct reply *reply) {
    if (view == NULL)
        return STATUS_NO_MEMORY;
    enum status status = STATUS_OK;
    add_version(request, view);
    /* Who lets others in, where the book can be written. */
    bool writes = request->data->book != NULL && request->data->book->writer != NULL;
    if (!is_api(request) && writes && request->visitor != NULL && request->visitor->role == ACCESS_MANAGER)
        cJSON_AddTrueToObject(view, "manager");
    if (is_api(request)) {
        status = print_json(view, false, &reply->body) ? STATUS_OK : STATUS_NO_MEMORY;
        reply->type = type_json;
    } else {
        status = template_render_asset(page, view, &reply->body, &reply->problems);
        reply->type = type_html;
    }
    cJSON_Delete(view);
    return status;
}

void routes_refuse(const struct request *request, unsigned status, const char *key, struct reply *reply) {
    struct view_context context = {.words = request->words, .us_units = request->units == UNITS_US};
    text_clear(&reply->body);
    reply->status = status;
    reply->disposition = NULL;
    reply->asset = NULL;
    reply->location[0] = '\0';
    reply->lasting = false;
    if (pages_show(request, view_error(&context, key), "error", reply) != STATUS_OK) {
        text_clear(&reply->body);
        reply->type = "text/plain; charset=utf-8";
        text_puts(&reply->body, words_get(request->words, "error.failed"));
    }
}

/* ---- pages */

static void set_context(const struct request *request, struct farm_view *view) {
    bool us_units = request->units == UNITS_OF_FARM ? view->facts.us_units : request->units == UNITS_US;
    view->context =
        (struct view_context){.facts = &view->facts, .us_units = us_units, .words = request->words};
}

/* An empty book has no name and no mornings. */
static void set_empty(const struct request *request, struct farm_view *view) {
    view->facts.today = page_data_now(request->data->book).today;
    view->facts.last_run = CALENDAR_NONE;
    view->facts.clock = page_data_clock(request->data->book, CALENDAR_NONE);
}

enum status farm_view_open(const struct request *request, struct farm_view *view) {
    *view = (struct farm_view){.count = 0};
    enum status status =
        request->data->mornings(request->data->context, &view->mornings, &view->count, &view->facts);
    view->data = request->data;
    if (status == STATUS_OK && request->data->fill != NULL &&
        (view->whole = calloc(view->count + 1, sizeof *view->whole)) == NULL) {
        farm_view_close(request, view);
        return STATUS_NO_MEMORY;
    }
    set_context(request, view);
    return status;
}

enum status farm_view_begin(const struct request *request, struct farm_view *view) {
    enum status status = farm_view_open(request, view);
    if (status != STATUS_NOT_FOUND || request->data->book == NULL)
        return status;
    view->mornings = NULL;
    set_empty(request, view);
    return STATUS_OK;
}

enum status farm_view_head(const struct request *request, struct farm_view *view) {
    static struct problems problems; /* large; one thread answers */
    const struct page_data *data = request->data->book;
    if (data == NULL)
        return farm_view_open(request, view);
    *view = (struct farm_view){.data = request->data};
    problems_init(&problems);
    enum status status = page_data_facts(data, &view->facts, &problems);
    problems_free(&problems);
    set_context(request, view);
    if (status != STATUS_NOT_FOUND)
        return status;
    set_empty(request, view);
    return STATUS_OK;
}

void farm_view_close(const struct request *request, struct farm_view *view) {
    free(view->whole);
    view->whole = NULL;
    request->data->release(request->data->context, view->mornings, NULL);
}

void farm_view_fill(const struct farm_view *view, size_t index) {
    if (view->whole == NULL || view->whole[index])
        return;
    (void)view->data->fill(view->data->context, &view->mornings[index]);
    view->whole[index] = true;
}

const struct field_morning *farm_view_morning(const struct farm_view *view, const char *field) {
    for (size_t i = 0; i < view->count; i++) {
        if (strcmp(view->mornings[i].field, field) == 0) {
            farm_view_fill(view, i);
            return &view->mornings[i];
        }
    }
    return NULL;
}
