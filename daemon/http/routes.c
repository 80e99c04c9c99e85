#include <stdlib.h>
#include <string.h>

#include "daemon/base/asset.h"
#include "daemon/http/field_pages.h"
#include "daemon/http/forms.h"
#include "daemon/http/pages.h"
#include "daemon/http/people.h"
#include "daemon/http/replay_pages.h"
#include "daemon/http/turns_pages.h"
#include "daemon/http/watch.h"
#include "daemon/view/view.h"

/* So many fields are on one page of Today: of hundreds, a phone with one bar of signal gets the most
 * pressing. */
#define TODAY_FIELDS 50

static void want_field(void *context, size_t index) {
    farm_view_fill(context, index);
}

static enum status today(const struct request *request, struct reply *reply) {
    struct farm_view farm;
    enum status status = farm_view_begin(request, &farm);
    if (status != STATUS_OK)
        return status;
    /* Before the first morning the page leads to it. */
    if (request->data->book != NULL && farm.facts.last_run == CALENDAR_NONE &&
        strncmp(request->path, "/api/", 5) != 0) {
        status = start_show(request, &farm, reply);
        farm_view_close(request, &farm);
        return status;
    }
    const char *from = request->query != NULL ? fill_value(request->query, "from") : "";
    const struct today_part part = {
        .from = strtoul(from, NULL, 10), .most = TODAY_FIELDS, .want = want_field, .want_context = &farm};
    cJSON *view = view_today_part(&farm.context, farm.mornings, farm.count, &part);
    forms_add_done(request, &farm, view);
    status = pages_show(request, view, "today", reply);
    reply->keeps = status == STATUS_OK && request->query != NULL && request->query->count == 0;
    farm_view_close(request, &farm);
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
        cJSON *view = view_sources(&farm.context, reports, count);
        forms_add_sources(request, view);
        status = pages_show(request, view, "sources", reply);
        farm_view_close(request, &farm);
    }
    free(reports);
    return status;
}

static enum status hindsight(const struct request *request, struct reply *reply) {
    struct hindsight found;
    const struct server_data *data = request->data;
    if (data->hindsight == NULL)
        return STATUS_NOT_FOUND;
    enum status status = data->hindsight(data->context, &found);
    if (status != STATUS_OK)
        return status;
    struct farm_view farm;
    status = farm_view_open(request, &farm);
    if (status == STATUS_OK) {
        status = pages_show(request, view_hindsight(&farm.context, &found), "hindsight", reply);
        farm_view_close(request, &farm);
    }
    hindsight_free(&found);
    return status;
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

static enum status script(const struct request *request, struct reply *reply) {
    return send_asset(request, reply, "web/app.js", "text/javascript; charset=utf-8");
}

static enum status board_script(const struct request *request, struct reply *reply) {
    return send_asset(request, reply, "web/board.js", "text/javascript; charset=utf-8");
}

/* At the root, so that it may answer for all pages; its link has no version. */
static enum status worker(const struct request *request, struct reply *reply) {
    return send_asset(request, reply, "web/worker.js", "text/javascript; charset=utf-8");
}

/* What is served below /api/, for programs and those who write them. */
static enum status api_document(const struct request *request, struct reply *reply) {
    return send_asset(request, reply, "web/openapi.json", "application/json; charset=utf-8");
}

/* ---- the table */

static const struct route {
    const char *path; /* '*' stands for one segment, but for what follows it there: the first is decoded to
                         request.name, the second to .part */
    enum status (*get)(const struct request *request, struct reply *reply);
    enum status (*post)(const struct request *request, struct reply *reply);
} routes[] = {
    {"/", today, NULL},
    {"/api/", api_document, NULL},
    {"/api/today", today, NULL},
    {"/sources", sources, NULL},
    {"/api/sources", sources, NULL},
    {"/replay", replay_page, NULL},
    {"/api/replay", replay_page, NULL},
    {"/replay.svg", replay_picture, NULL},
    {"/replay.csv", replay_csv, NULL},
    {"/replay.json", replay_json, NULL},
    {"/hindsight", hindsight, NULL},
    {"/api/hindsight", hindsight, NULL},
    {"/turns", turns_page, NULL},
    {"/api/turns", turns_page, NULL},
    {"/turns.csv", turns_csv, NULL},
    {"/turns/sheet", turns_sheet_page, NULL},
    {"/turns/feeds", turns_feeds_page, turns_feeds_page},
    {"/turns/supply/*.ics", turns_supply_feed, NULL},
    {"/turns/field/*.ics", turns_field_feed, NULL},
    {"/turns/new", turns_new_form, turns_new_form},
    {"/turns/dry", turns_dry_form, turns_dry_form},
    {"/turns/mark/*", NULL, turns_mark_take},
    {"/turn/*", turn_page, NULL},
    {"/turn/*/*", turn_form, turn_form},
    {"/field/*", field_page, NULL},
    {"/api/field/*", field_page, NULL},
    {"/field/*/ledger", field_ledger, NULL},
    {"/api/field/*/ledger", field_ledger, NULL},
    {"/field/*/workings/*", field_workings, NULL},
    {"/api/field/*/workings/*", field_workings, NULL},
    {"/field/*/ledger.csv", field_ledger_csv, NULL},
    {"/people", people_page, people_page},
    {"/pair/*", pair_page, pair_page},
    {"/healthz", watch_health, NULL},
    {"/metrics", watch_metrics, NULL},
    {"/style.css", style, NULL},
    {"/icon.svg", icon, NULL},
    {"/app.js", script, NULL},
    {"/board.js", board_script, NULL},
    {"/worker.js", worker, NULL},
    {"/field/*/record/*", record_form, record_form},
    {"/field/*/feel", feel_form, feel_form},
    {"/farm", place_form, place_form},
    {"/farm.json", farm_file_take, NULL},
    {"/sources/new", source_form, source_form},
    {"/source/*", source_form, source_form},
    {"/source/*/remove", source_removal_form, source_removal_form},
    {"/fields/new", field_new_form, field_new_form},
    {"/field/*/settings", field_settings_form, field_settings_form},
    {"/field/*/remove", field_removal_form, field_removal_form},
    {"/field/*/soil", soil_form, soil_form},
    {"/supplies/new", supply_form, supply_form},
    {"/supply/*", supply_form, supply_form},
    {"/supply/*/remove", supply_removal_form, supply_removal_form},
    {"/field/*/planting/*", planting_form, planting_form},
    {"/morning", NULL, morning_take},
    {"/undo/*", NULL, undo_take},
    {"/entry/*", entry_show, NULL},
};

#define SEGMENTS_MAX 2

struct segments {
    size_t count;
    const char *at[SEGMENTS_MAX];
    size_t size[SEGMENTS_MAX];
};

/* Where the segments that '*' stands for begin and how long they are; the whole path must fit. */
static bool matches(const char *pattern, const char *path, struct segments *segments) {
    segments->count = 0;
    while (*pattern != '\0') {
        if (*pattern == '*' && segments->count < SEGMENTS_MAX) {
            size_t size = strcspn(path, "/"), after = strcspn(++pattern, "/");
            if (size < after || strncmp(path + size - after, pattern, after) != 0)
                return false;
            segments->at[segments->count] = path;
            segments->size[segments->count++] = size - after;
            path += size;
            pattern += after;
        } else if (*pattern++ != *path++) {
            return false;
        }
    }
    return *path == '\0';
}

static bool decode_segments(struct request *request, const struct segments *segments) {
    return (segments->count < 1 ||
            request_decode(segments->at[0], segments->size[0], request->name, sizeof request->name)) &&
           (segments->count < 2 ||
            request_decode(segments->at[1], segments->size[1], request->part, sizeof request->part));
}

/* Whether there is no farm yet, of which a page could tell anything. */
static bool is_empty(const struct request *request) {
    struct farm_view view;
    if (request->data->book == NULL || strncmp(request->path, "/api/", 5) == 0 ||
        farm_view_head(request, &view) != STATUS_OK)
        return false;
    bool empty = view.facts.farm_name[0] == '\0';
    farm_view_close(request, &view);
    return empty;
}

/* What the database refused meanwhile goes to the log: whoever asked may have kept it to themselves. */
static void take_trouble(const struct request *request, enum status *read, enum status *written,
                         struct reply *reply) {
    const struct page_data *book = request->data->book;
    *read = book != NULL ? db_trouble_taken(book->db, &reply->problems) : STATUS_OK;
    *written =
        book != NULL && book->writer != NULL ? db_trouble_taken(book->writer, &reply->problems) : STATUS_OK;
}

static void refuse_for(const struct request *request, enum status status, enum status trouble,
                       struct reply *reply) {
    /* The code of a link of pairing is not for the log. */
    bool secret = strncmp(request->path, "/pair/", 6) == 0;
    problem_add(&reply->problems, NULL, 0, 0, secret ? "/pair/..." : request->path, "%s",
                trouble != STATUS_OK ? "not answered, since the database refused" : status_name(status));
    if (trouble == STATUS_BUSY)
        routes_refuse(request, 503, "busy", reply);
    else if (trouble == STATUS_IO)
        routes_refuse(request, 500, "disk", reply);
    else
        routes_refuse(request, 500, trouble != STATUS_OK ? "store" : "failed", reply);
}

void routes_finish(const struct request *request, enum status status, struct reply *reply) {
    enum status read, written;
    take_trouble(request, &read, &written, reply);
    if (status == STATUS_NOT_FOUND && read == STATUS_OK && is_empty(request))
        (void)form_go(reply, "/");
    else if (status == STATUS_NOT_FOUND && read == STATUS_OK)
        routes_refuse(request, 404, "not_found", reply);
    else if (status != STATUS_OK)
        refuse_for(request, status, read != STATUS_OK ? read : written, reply);
    /* A page without what could not be read would look like that of a farm which does not have it. */
    else if (read != STATUS_OK && request->form == NULL && reply->status == 200)
        refuse_for(request, read, read, reply);
}

static bool is_one_of(const char *const *patterns, const char *path) {
    struct segments segments;
    for (; *patterns != NULL; patterns++) {
        if (matches(*patterns, path, &segments))
            return true;
    }
    return false;
}

bool routes_apart(const char *path, bool posted) {
    static const char *const pages[] = {"/replay",
                                        "/api/replay",
                                        "/replay.svg",
                                        "/replay.csv",
                                        "/hindsight",
                                        "/farm.json",
                                        "/api/hindsight",
                                        "/field/*/workings/*", /* all years' weather */
                                        "/api/field/*/workings/*",
                                        NULL};
    /* All forms compute ledgers anew, but for these. */
    static const char *const here[] = {"/people", "/pair/*", "/morning", NULL};
    return posted ? !is_one_of(here, path) : is_one_of(pages, path);
}

bool routes_grows(const char *path) {
    static const char *const pages[] = {"/turns", "/api/turns", "/turns.csv", "/turns/sheet", NULL};
    return is_one_of(pages, path);
}

/* Records and the farm book take their dates from the clock; who may come in does not. */
static bool clock_allows(const struct request *request,
                         enum status (*answer)(const struct request *, struct reply *)) {
    struct problems *problems = calloc(1, sizeof *problems);
    int32_t newest = CALENDAR_NONE;
    int64_t at;
    if (problems == NULL || request->data->book == NULL || answer == people_page || answer == pair_page) {
        free(problems);
        return true;
    }
    problems_init(problems);
    enum status status = ledger_store_newest(request->data->book->db, &newest, &at, problems);
    problems_free(problems);
    free(problems);
    return status != STATUS_OK || page_data_clock(request->data->book, newest) == CLOCK_GOOD;
}

static void answer(struct request *request, struct reply *reply) {
    for (size_t i = 0; i < sizeof routes / sizeof *routes; i++) {
        struct segments segments;
        if (!matches(routes[i].path, request->path, &segments))
            continue;
        if (!decode_segments(request, &segments)) {
            routes_refuse(request, 400, "bad_request", reply);
            return;
        }
        enum status (*handler)(const struct request *, struct reply *) =
            request->form != NULL ? routes[i].post : routes[i].get;
        if (handler == NULL)
            routes_refuse(request, 405, "method", reply);
        else if (request->form != NULL && !clock_allows(request, handler))
            routes_refuse(request, 503, "clock", reply);
        else
            routes_finish(request, handler(request, reply), reply);
        return;
    }
    routes_refuse(request, request->form != NULL ? 405 : 404, request->form != NULL ? "method" : "not_found",
                  reply);
}

void routes_answer(struct request *request, struct reply *reply) {
    static struct problems problems; /* large; one thread answers */
    struct db *db = request->data->book != NULL ? request->data->book->db : NULL;
    problems_init(&problems);
    bool held = db != NULL && db_read_begin(db, &problems) == STATUS_OK;
    problems_free(&problems);
    answer(request, reply);
    if (held)
        db_read_end(db);
}
