/* What a form did, taking it back, and the one-tap form on the other pages. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/http/access.h"
#include "daemon/http/forms.h"
#include "daemon/view/book_say.h"
#include "daemon/view/frame.h"
#include "daemon/view/number.h"

#define RECORDS_SHOWN 8

/* Problems are large, and one thread answers. */
static struct problems *fresh_problems(void) {
    static struct problems problems;
    problems_free(&problems);
    problems_init(&problems);
    return &problems;
}

/* ---- what a form did ---- */

static enum status load_entry(const struct page_data *data, const char *token, struct entry *entry,
                              struct record_kept *record, struct problems *problems) {
    enum status status = entry_store_find(data->db, token, entry, problems);
    if (status == STATUS_OK && entry->record_id != 0)
        status = record_store_get(data->db, entry->record_id, record, problems);
    return status;
}

enum status entry_show(const struct request *request, struct reply *reply) {
    struct entry entry;
    struct record_kept record;
    struct farm_view farm;
    char action[64], token[FORM_TOKEN_SIZE];
    const struct page_data *data = request->data->book;
    if (data == NULL)
        return STATUS_NOT_FOUND;
    enum status status = load_entry(data, request->name, &entry, &record, fresh_problems());
    if (status == STATUS_OK)
        status = farm_view_open(request, &farm);
    if (status != STATUS_OK)
        return status;
    struct entry_facts facts = {.entry = &entry,
                                .record = entry.record_id != 0 ? &record : NULL,
                                .morning = farm_view_morning(&farm, entry.field)};
    if (facts.record != NULL)
        (void)record_store_day(data->db, &record.record, &facts.of_day, &facts.day_mm, fresh_problems());
    if (facts.record != NULL && record.withdrawn_at == 0) {
        (void)snprintf(action, sizeof action, "/undo/%lld", record.id);
        form_token_of(data, action, action, token);
        facts.undo_action = action;
        facts.undo_token = token;
    }
    status = pages_show(request, view_entry(&farm.context, &facts), "entry", reply);
    farm_view_close(request, &farm);
    return status;
}

/* ---- taking back ---- */

/* A form without inputs cannot be shown again: what went wrong is a page of its own. */
static enum status show_trouble(const struct request *request, const char *words, struct reply *reply) {
    struct farm_view farm;
    unsigned http_status = reply->status;
    enum status status = farm_view_open(request, &farm);
    if (status != STATUS_OK)
        return status;
    cJSON *view = view_error(&farm.context, "not_kept");
    cJSON_ReplaceItemInObjectCaseSensitive(view, "hint", cJSON_CreateString(words));
    status = pages_show(request, view, "error", reply);
    reply->status = http_status;
    farm_view_close(request, &farm);
    return status;
}

enum status undo_take(const struct request *request, struct reply *reply) {
    char action[FRAME_PATH_SIZE], room[FARM_TEXT_SIZE];
    struct form_sent sent;
    struct problems *problems = fresh_problems();
    (void)snprintf(action, sizeof action, "/undo/%s", request->name);
    if (form_open(request, action, &sent) != STATUS_OK) {
        reply->status = 422;
        return show_trouble(request, words_get(request->words, "form.stale"), reply);
    }
    struct db *writer = request->data->book->writer;
    enum status status = writer != NULL
                             ? book_undo(writer, &sent.book, strtoll(request->name, NULL, 10), problems)
                             : STATUS_STORE;
    if (status == STATUS_OK)
        return form_go(reply, frame_path("/entry/", sent.id, "", action));
    status = form_trouble(request, status, problems, room, reply);
    return status == STATUS_OK ? show_trouble(request, room, reply) : status;
}

/* ---- on other pages ---- */

/* The same morning, the same call and the same state of the book (`count`: of the field's forms so far) give
 * the same token: a second tap, also from a page that was loaded again or on another telephone, records
 * nothing more. What is recorded is the amount that the call says, in the unit in which it says it. */
static void add_done(const struct request *request, const struct view_context *context,
                     const struct field_morning *morning, long long count, cJSON *field) {
    struct page_data *data = request->data->book;
    char action[FRAME_PATH_SIZE], iso[CALENDAR_ISO_SIZE], token[FORM_TOKEN_SIZE], said[NUMBER_SIZE];
    struct text depth, sending;
    text_init(&depth, 0);
    text_init(&sending, 0);
    number_add_shortest(&depth, morning->call.application.gross_mm);
    (void)calendar_format_iso(page_data_now(data).today, iso);
    text_printf(&sending, "%s|%s|%s|%lld", morning->field, iso, text_string(&depth), count);
    form_token_of(data, frame_path("/field/", morning->field, "/record/irrigation", action),
                  text_string(&sending), token);
    cJSON *done = cJSON_AddObjectToObject(field, "done");
    cJSON_AddStringToObject(done, "action", action);
    cJSON_AddStringToObject(done, "token", token);
    cJSON_AddStringToObject(
        done, "water", number_fixed(say_depth_number(context, morning->call.application.gross_mm), 2, said));
    cJSON_AddStringToObject(done, "unit", context->us_units ? "in" : "mm");
    cJSON_AddStringToObject(done, "date", iso);
    frame_link(done, "other", morning->field, "/record/irrigation?as=called");
    text_free(&depth);
    text_free(&sending);
}

/* The turn under way gives another depth than the call: then that is what was done. */
#define TURN_LIKE_CALL 0.1 /* common practice, no source */
static bool turn_is_another(const struct field_morning *morning) {
    double called_mm = morning->call.application.net_mm;
    return morning->turn.under_way && fabs(morning->turn.net_mm - called_mm) > TURN_LIKE_CALL * called_mm;
}

#define TURN_DONE "/turn/%lld/done?to=today"

/* What became of a turn that is over is asked before anything else: the call does not know of it. */
static void add_done_over(const struct request *request, const struct field_morning *morning, long long count,
                          cJSON *field) {
    char href[48], missed[48], sending[80], token[FORM_TOKEN_SIZE];
    cJSON *done = cJSON_AddObjectToObject(field, "done_over");
    (void)snprintf(href, sizeof href, TURN_DONE, (long long)morning->over.id);
    (void)snprintf(missed, sizeof missed, "/turn/%lld/skipped", (long long)morning->over.id);
    (void)snprintf(sending, sizeof sending, "%s|%lld", missed, count);
    form_token_of(request->data->book, missed, sending, token);
    cJSON_AddStringToObject(done, "href", href);
    cJSON_AddStringToObject(done, "missed", missed);
    cJSON_AddStringToObject(done, "missed_text", words_get(request->words, "turns.act.skipped.over"));
    cJSON_AddStringToObject(done, "token", token);
}

static void add_done_turn(const struct field_morning *morning, cJSON *field) {
    char href[48];
    cJSON *done = cJSON_AddObjectToObject(field, "done_turn");
    (void)snprintf(href, sizeof href, TURN_DONE, (long long)morning->turn.id);
    cJSON_AddStringToObject(done, "href", href);
    frame_link(done, "other", morning->field, "/record/irrigation");
}

static void add_done_of(const struct request *request, const struct farm_view *farm, cJSON *field) {
    const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(field, "name"));
    const struct field_morning *morning = name != NULL ? farm_view_morning(farm, name) : NULL;
    const struct page_data *data = request->data->book;
    bool called =
        morning != NULL && morning->call.kind == CALL_WATER_TODAY && morning->call.application.gross_mm > 0;
    bool over = morning != NULL && morning->over.hours > 0;
    long long count = 0;
    if (!(called || over) ||
        entry_store_count(data->db, morning->field, &count, fresh_problems()) != STATUS_OK)
        return;
    if (over)
        add_done_over(request, morning, count, field);
    else if (turn_is_another(morning))
        add_done_turn(morning, field);
    else
        add_done(request, &farm->context, morning, count, field);
}

static bool has_role(const struct request *request, enum access_role role) {
    return request->visitor == NULL || request->visitor->role >= role;
}

/* Whether the page of a request shows what records: a token is not for programs, nor a button for readers. */
static bool may_record(const struct request *request) {
    const struct page_data *data = request->data->book;
    return data != NULL && data->writer != NULL && strncmp(request->path, "/api/", 5) != 0 &&
           has_role(request, ACCESS_OPERATOR);
}

void forms_add_done(const struct request *request, const struct farm_view *farm, cJSON *view) {
    cJSON *field;
    if (!may_record(request) || farm->facts.clock != CLOCK_GOOD)
        return;
    cJSON_AddBoolToObject(view, "has_book", true);
    cJSON_ArrayForEach(field, cJSON_GetObjectItemCaseSensitive(view, "fields")) {
        add_done_of(request, farm, field);
    }
    field = cJSON_GetObjectItemCaseSensitive(view, "field");
    if (field != NULL)
        add_done_of(request, farm, field);
}

static void add_links(const struct request *request, const struct farm_view *farm, const char *name,
                      cJSON *view) {
    static const enum record_kind kinds[] = {RECORD_IRRIGATION, RECORD_RAIN,    RECORD_READING, RECORD_STAGE,
                                             RECORD_COVER,      RECORD_CUTTING, RECORD_HARVEST, RECORD_NOTE};
    char key[64], tail[64], iso[CALENDAR_ISO_SIZE];
    const struct field_morning *morning = farm_view_morning(farm, name);
    frame_link(view, "settings_href", name, "/settings");
    frame_link(view, "soil_href", name, "/soil");
    frame_link(view, "new_planting_href", name, "/planting/new");
    bool shares = morning != NULL && morning->supply[0] != '\0';
    char supply[FRAME_PATH_SIZE];
    cJSON_AddStringToObject(view, "supply_href",
                            shares ? frame_path("/supply/", morning->supply, "", supply) : "/supplies/new");
    cJSON_AddStringToObject(
        view, "supply_text",
        words_get(request->words, shares ? "label.turns_supply_of" : "label.turns_supply_new"));
    if (morning != NULL && morning->planting_date != CALENDAR_NONE) {
        (void)snprintf(tail, sizeof tail, "/planting/%s", calendar_format_iso(morning->planting_date, iso));
        frame_link(view, "planting_href", name, tail);
    }
    cJSON *links = cJSON_AddArrayToObject(view, "record_links");
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        cJSON *link = cJSON_CreateObject();
        (void)snprintf(key, sizeof key, "link.%s", record_kind_name(kinds[i]));
        (void)snprintf(tail, sizeof tail, "/record/%s", record_kind_name(kinds[i]));
        cJSON_AddStringToObject(link, "text", words_get(request->words, key));
        frame_link(link, "href", name, tail);
        cJSON_AddItemToArray(links, link);
        if (kinds[i] != RECORD_READING)
            continue;
        link = cJSON_CreateObject();
        cJSON_AddStringToObject(link, "text", words_get(request->words, "label.by_feel"));
        frame_link(link, "href", name, "/feel");
        cJSON_AddItemToArray(links, link);
    }
}

/* The newest record that came through a form can be taken back from the field's page too. */
static void add_undo(const struct request *request, const struct farm_view *farm, cJSON *view) {
    struct entry entry;
    struct record_kept record;
    char action[64], token[FORM_TOKEN_SIZE], text[SAY_SIZE];
    const struct page_data *data = request->data->book;
    struct problems *problems = fresh_problems();
    if (entry_store_last(data->db, request->name, &entry, problems) != STATUS_OK ||
        record_store_get(data->db, entry.record_id, &record, problems) != STATUS_OK)
        return;
    (void)snprintf(action, sizeof action, "/undo/%lld", record.id);
    form_token_of(data, action, action, token);
    cJSON *undo = cJSON_AddObjectToObject(view, "undo");
    cJSON_AddStringToObject(undo, "action", action);
    cJSON_AddStringToObject(undo, "token", token);
    cJSON_AddStringToObject(undo, "text", say_record(&farm->context, &record.record, text));
}

void forms_add_sources(const struct request *request, cJSON *view) {
    char link[FRAME_PATH_SIZE];
    cJSON *source;
    if (request->data->book == NULL || request->data->book->writer == NULL ||
        strncmp(request->path, "/api/", 5) == 0 || !has_role(request, ACCESS_MANAGER))
        return;
    cJSON_ArrayForEach(source, cJSON_GetObjectItemCaseSensitive(view, "sources")) {
        const char *name = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(source, "name"));
        if (name != NULL)
            cJSON_AddStringToObject(source, "edit_href", frame_path("/source/", name, "", link));
    }
    cJSON_AddBoolToObject(view, "has_book", true);
}

enum status forms_add_records(const struct request *request, const struct farm_view *farm, cJSON *view) {
    struct record_kept *records = NULL;
    size_t count = 0;
    const struct page_data *data = request->data->book;
    if (data == NULL || data->writer == NULL || view == NULL)
        return STATUS_OK;
    enum status status =
        record_store_recent(data->db, request->name, RECORDS_SHOWN, &records, &count, fresh_problems());
    if (status != STATUS_OK)
        return status;
    if (may_record(request))
        add_links(request, farm, request->name, view);
    view_add_records(&farm->context, records, count, view);
    if (has_role(request, ACCESS_OPERATOR))
        add_undo(request, farm, view);
    free(records);
    return STATUS_OK;
}
