#include <stdlib.h>
#include <string.h>

#include "daemon/base/asset.h"
#include "daemon/http/request.h"
#include "daemon/http/template.h"
#include "daemon/view/view.h"

static const char type_html[] = "text/html; charset=utf-8";
static const char type_json[] = "application/json; charset=utf-8";
static const char type_csv[] = "text/csv; charset=utf-8; header=present";

/* ---- faces of a view model */

static bool is_api(const struct request *request) {
    return strncmp(request->path, "/api/", 5) == 0;
}

static void add_version(const struct request *request, cJSON *view) {
    cJSON_AddStringToObject(view, "assets", request->version);
}

/* Prints the view (JSON), or renders its page. Takes the view; NULL stands for no memory. */
static enum status show(const struct request *request, cJSON *view, const char *page, struct reply *reply) {
    if (view == NULL)
        return STATUS_NO_MEMORY;
    enum status status = STATUS_OK;
    add_version(request, view);
    if (is_api(request)) {
        char *printed = cJSON_PrintUnformatted(view);
        text_puts(&reply->body, printed != NULL ? printed : "");
        status = printed != NULL && !text_failed(&reply->body) ? STATUS_OK : STATUS_NO_MEMORY;
        cJSON_free(printed);
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
    reply->lasting = false;
    if (show(request, view_error(&context, key), "error", reply) != STATUS_OK) {
        text_clear(&reply->body);
        reply->type = "text/plain; charset=utf-8";
        text_puts(&reply->body, words_get(request->words, "error.failed"));
    }
}

/* ---- pages */

struct farm_view {
    struct field_morning *mornings;
    size_t count;
    struct farm_facts facts;
    struct view_context context;
};

static enum status farm_view_open(const struct request *request, struct farm_view *view) {
    *view = (struct farm_view){.count = 0};
    enum status status =
        request->data->mornings(request->data->context, &view->mornings, &view->count, &view->facts);
    bool us_units = request->units == UNITS_OF_FARM ? view->facts.us_units : request->units == UNITS_US;
    view->context =
        (struct view_context){.facts = &view->facts, .us_units = us_units, .words = request->words};
    return status;
}

static void farm_view_close(const struct request *request, struct farm_view *view) {
    request->data->release(request->data->context, view->mornings, NULL);
}

static const struct field_morning *morning_of(const struct farm_view *view, const char *field) {
    for (size_t i = 0; i < view->count; i++) {
        if (strcmp(view->mornings[i].field, field) == 0)
            return &view->mornings[i];
    }
    return NULL;
}

static enum status today(const struct request *request, struct reply *reply) {
    struct farm_view farm;
    enum status status = farm_view_open(request, &farm);
    if (status != STATUS_OK)
        return status;
    status = show(request, view_today(&farm.context, farm.mornings, farm.count), "today", reply);
    farm_view_close(request, &farm);
    return status;
}

static enum status field(const struct request *request, struct reply *reply) {
    struct ledger_row *rows = NULL;
    size_t count = 0;
    const struct server_data *data = request->data;
    enum status status = data->ledger(data->context, request->name, &rows, &count);
    if (status != STATUS_OK)
        return status;
    struct farm_view farm;
    status = farm_view_open(request, &farm);
    if (status == STATUS_OK) {
        const struct field_morning *morning = morning_of(&farm, request->name);
        status =
            show(request, view_ledger(&farm.context, request->name, morning, rows, count), "field", reply);
        farm_view_close(request, &farm);
    }
    data->release(data->context, NULL, rows);
    return status;
}

static enum status sources(const struct request *request, struct reply *reply) {
    struct source_report *reports = NULL;
    size_t count = 0;
    const struct server_data *data = request->data;
    if (data->sources == NULL)
        return STATUS_NOT_FOUND;
    enum status status = data->sources(data->context, &reports, &count);
    struct farm_view farm;
    if (status == STATUS_OK)
        status = farm_view_open(request, &farm);
    if (status == STATUS_OK) {
        status = show(request, view_sources(&farm.context, reports, count), "sources", reply);
        farm_view_close(request, &farm);
    }
    free(reports);
    return status;
}

static enum status ledger_csv(const struct request *request, struct reply *reply) {
    struct ledger_row *rows = NULL;
    size_t count = 0;
    const struct server_data *data = request->data;
    enum status status = data->ledger(data->context, request->name, &rows, &count);
    if (status != STATUS_OK)
        return status;
    view_ledger_csv(request->name, rows, count, &reply->body);
    data->release(data->context, NULL, rows);
    reply->type = type_csv;
    reply->disposition = "attachment; filename=\"ledger.csv\"";
    return text_failed(&reply->body) ? STATUS_NO_MEMORY : STATUS_OK;
}

static enum status send_asset(const struct request *request, struct reply *reply, const char *path,
                              const char *type) {
    const struct asset *asset = asset_find(path);
    if (asset == NULL)
        return STATUS_NOT_FOUND;
    reply->asset = asset;
    reply->type = type;
    reply->lasting = request->versioned;
    return STATUS_OK;
}

static enum status style(const struct request *request, struct reply *reply) {
    return send_asset(request, reply, "web/style.css", "text/css; charset=utf-8");
}

static enum status icon(const struct request *request, struct reply *reply) {
    return send_asset(request, reply, "web/icon.svg", "image/svg+xml");
}

/* ---- the table */

static const struct route {
    const char *path; /* '*' stands for one segment, which is decoded to request.name */
    enum status (*answer)(const struct request *request, struct reply *reply);
} routes[] = {
    {"/", today},
    {"/api/today", today},
    {"/sources", sources},
    {"/api/sources", sources},
    {"/field/*", field},
    {"/api/field/*/ledger", field},
    {"/field/*/ledger.csv", ledger_csv},
    {"/style.css", style},
    {"/icon.svg", icon},
};

/* Where the segment that '*' stands for begins and how long it is; the whole path must fit. */
static bool matches(const char *pattern, const char *path, const char **segment, size_t *size) {
    *segment = NULL;
    while (*pattern != '\0') {
        if (*pattern == '*') {
            *segment = path;
            *size = strcspn(path, "/");
            path += *size;
            pattern++;
        } else if (*pattern++ != *path++) {
            return false;
        }
    }
    return *path == '\0';
}

static void finish(const struct request *request, enum status status, struct reply *reply) {
    if (status == STATUS_OK)
        return;
    if (status == STATUS_NOT_FOUND) {
        routes_refuse(request, 404, "not_found", reply);
        return;
    }
    problem_add(&reply->problems, NULL, 0, 0, request->path, "%s", status_name(status));
    routes_refuse(request, 500, "failed", reply);
}

void routes_answer(struct request *request, struct reply *reply) {
    for (size_t i = 0; i < sizeof routes / sizeof *routes; i++) {
        const char *segment;
        size_t size = 0;
        if (!matches(routes[i].path, request->path, &segment, &size))
            continue;
        if (segment != NULL && !request_decode(segment, size, request->name, sizeof request->name)) {
            routes_refuse(request, 400, "bad_request", reply);
            return;
        }
        finish(request, routes[i].answer(request, reply), reply);
        return;
    }
    routes_refuse(request, 404, "not_found", reply);
}
