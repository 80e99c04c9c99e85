/* From an empty book to the first call: what is still to be told, one step after the other. */
#include <stdio.h>
#include <string.h>

#include <microhttpd.h>

#include "daemon/base/wall_clock.h"
#include "daemon/http/forms.h"
#include "daemon/view/frame.h"
#include "daemon/view/say.h"

/* From one asking for the weather to the next. */
#define MORNING_PAUSE_MS 60000

static void add_step(const struct request *request, cJSON *steps, const char *key, const char *link,
                     bool done, bool *next) {
    char name[48];
    cJSON *step = cJSON_CreateObject();
    (void)snprintf(name, sizeof name, "start.%s", key);
    cJSON_AddStringToObject(step, "text", words_get(request->words, name));
    (void)snprintf(name, sizeof name, "start.%s.about", key);
    cJSON_AddStringToObject(step, "hint", words_get(request->words, name));
    cJSON_AddStringToObject(step, "href", link);
    cJSON_AddBoolToObject(step, "done", done);
    cJSON_AddBoolToObject(step, "next", !done && *next);
    *next = *next && done;
    cJSON_AddItemToArray(steps, step);
}

static cJSON *view_start(const struct request *request, const struct view_context *context,
                         const struct farm_counts *counts) {
    char token[FORM_TOKEN_SIZE];
    bool next = true;
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    cJSON_AddStringToObject(view, "title", words_get(request->words, "start.title"));
    cJSON *steps = cJSON_AddArrayToObject(view, "steps");
    add_step(request, steps, "place", "/farm", counts->stations > 0, &next);
    add_step(request, steps, "weather", "/sources/new", counts->sources > 0, &next);
    add_step(request, steps, "field", "/fields/new", counts->fields > 0, &next);
    cJSON_AddBoolToObject(view, "ready", next);
    if (next && request->data->book->wake != NULL) {
        cJSON *run = cJSON_AddObjectToObject(view, "run_now");
        form_token_fresh(request->data->book, "/morning", token);
        cJSON_AddStringToObject(run, "token", token);
    }
    return view;
}

enum status start_show(const struct request *request, struct farm_view *farm, struct reply *reply) {
    struct farm_counts counts;
    static struct problems unused; /* large; one thread answers */
    problems_init(&unused);
    enum status status = farm_store_count(request->data->book->db, &counts, &unused);
    problems_free(&unused);
    return status == STATUS_OK
               ? pages_show(request, view_start(request, &farm->context, &counts), "start", reply)
               : status;
}

static enum status too_soon(const struct request *request, int64_t left_ms, struct reply *reply) {
    const struct view_context context = {.words = request->words, .us_units = request->units == UNITS_US};
    char number[SAY_SIZE], hint[SAY_SIZE];
    const struct words_hole hole = {"n", say_count((int)((left_ms + 999) / 1000), number)};
    cJSON *view = view_error(&context, "read_again");
    cJSON_ReplaceItemInObjectCaseSensitive(
        view, "hint", cJSON_CreateString(say_words(&context, "error.read_again.hint", &hole, 1, hint)));
    reply->status = MHD_HTTP_TOO_MANY_REQUESTS;
    return pages_show(request, view, "error", reply);
}

/* Sources are not to be asked without a pause, however often somebody presses. */
enum status morning_take(const struct request *request, struct reply *reply) {
    struct page_data *data = request->data->book;
    struct form_sent sent;
    if (form_open(request, "/morning", &sent) != STATUS_OK || data->wake == NULL)
        return form_go(reply, "/");
    int64_t now_ms = wall_clock_running_ms(), left_ms = data->woken_ms + MORNING_PAUSE_MS - now_ms;
    if (data->woken_ms != 0 && left_ms > 0)
        return too_soon(request, left_ms, reply);
    data->woken_ms = now_ms;
    data->wake();
    return form_go(reply, "/");
}
