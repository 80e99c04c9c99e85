#include "daemon/http/replay_pages.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/http/pages.h"
#include "daemon/http/replay_data.h"
#include "daemon/view/print_json.h"
#include "daemon/view/replay_page.h"

/* ---- what was asked ---- */

static void copy(const struct fill *query, const char *name, char *out, size_t room) {
    const char *value = query != NULL ? fill_value(query, name) : "";
    if (request_clean(value, false) && strlen(value) < room)
        (void)snprintf(out, room, "%s", value);
}

static void read_wish(const struct request *request, struct replay_wish *wish) {
    memset(wish, 0, sizeof *wish);
    copy(request->query, "field", wish->field, sizeof wish->field);
    copy(request->query, "money", wish->money, sizeof wish->money);
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        char name[16];
        (void)snprintf(name, sizeof name, "what%d", i + 1);
        copy(request->query, name, wish->what[i], sizeof wish->what[i]);
    }
    wish->rainfed = request->query != NULL && fill_given(request->query, "rainfed");
    wish->automatic = request->query != NULL && fill_given(request->query, "automatic");
}

static void add_pair(struct text *out, const char *name, const char *value) {
    if (value[0] == '\0')
        return;
    text_printf(out, "%s%s=", out->size > 0 ? "&" : "", name);
    request_encode(value, out);
}

/* The same wish as a link has it. */
static void write_query(const struct replay_wish *wish, struct text *out) {
    add_pair(out, "field", wish->field);
    add_pair(out, "rainfed", wish->rainfed ? "1" : "");
    add_pair(out, "automatic", wish->automatic ? "1" : "");
    for (int i = 0; i < REPLAY_WHAT_MAX; i++) {
        char name[16];
        (void)snprintf(name, sizeof name, "what%d", i + 1);
        add_pair(out, name, wish->what[i]);
    }
    add_pair(out, "money", wish->money);
}

/* ---- the answers ---- */

struct answer {
    struct replay_wish wish;
    struct replay replay;
    struct problems *problems; /* what is wrong with the wish */
};

static void answer_close(struct answer *answer) {
    if (answer == NULL)
        return;
    replay_free(&answer->replay);
    if (answer->problems != NULL)
        problems_free(answer->problems);
    free(answer->problems);
    free(answer);
}

/* STATUS_REFUSED and the like stay with the answer: the page shows them beside the form. */
static enum status answer_open(const struct request *request, struct answer **out, enum status *computed) {
    const struct server_data *data = request->data;
    if (data->replay == NULL)
        return STATUS_NOT_FOUND;
    struct answer *answer = calloc(1, sizeof *answer);
    *out = answer;
    if (answer == NULL || (answer->problems = calloc(1, sizeof *answer->problems)) == NULL)
        return STATUS_NO_MEMORY;
    problems_init(answer->problems);
    read_wish(request, &answer->wish);
    *computed = STATUS_NOT_FOUND;
    if (answer->wish.field[0] != '\0')
        *computed = data->replay(data->context, &answer->wish, &answer->replay, answer->problems);
    return *computed == STATUS_NO_MEMORY || *computed == STATUS_STORE ? *computed : STATUS_OK;
}

static bool us_units_of(const struct request *request, const struct answer *answer) {
    return request->units == UNITS_OF_FARM ? answer->replay.farm.us_units : request->units == UNITS_US;
}

static cJSON *made_of(const struct request *request, const struct answer *answer, enum made_form form) {
    return replay_made(&answer->wish, &answer->replay, form, us_units_of(request, answer));
}

static enum status show(const struct request *request, const struct answer *answer, enum status computed,
                        struct reply *reply) {
    struct farm_view farm;
    struct text query, problem;
    text_init(&query, 0);
    text_init(&problem, 0);
    cJSON *made = computed == STATUS_OK ? made_of(request, answer, MADE_PAGE) : NULL;
    enum status status =
        computed == STATUS_OK && made == NULL ? STATUS_NO_MEMORY : farm_view_open(request, &farm);
    if (status == STATUS_OK) {
        write_query(&answer->wish, &query);
        problems_print(answer->problems, &problem);
        bool wrong = computed != STATUS_OK && answer->wish.field[0] != '\0';
        const char *words = problem.size > 0 ? text_string(&problem) : status_name(computed);
        const struct replay_answer shown = {
            text_string(&query), computed == STATUS_OK ? &answer->replay : NULL, made, wrong ? words : NULL};
        status = pages_show(request,
                            view_replay_page(&farm.context, farm.mornings, farm.count, &answer->wish, &shown),
                            "replay", reply);
        farm_view_close(request, &farm);
    }
    cJSON_Delete(made);
    text_free(&query);
    text_free(&problem);
    return status;
}

enum status replay_page(const struct request *request, struct reply *reply) {
    struct answer *answer = NULL;
    enum status computed;
    enum status status = answer_open(request, &answer, &computed);
    if (status == STATUS_OK)
        status = show(request, answer, computed, reply);
    answer_close(answer);
    return status;
}

/* ---- downloads ---- */

static enum status json_of(const struct answer *answer, const cJSON *made, struct text *out) {
    return print_json_document(view_replay_json(&answer->replay, made, false), out);
}

static enum status write_download(const struct request *request, const struct answer *answer,
                                  enum made_form form, struct text *out) {
    enum status status = STATUS_OK;
    cJSON *made = made_of(request, answer, form);
    if (made == NULL)
        return STATUS_NO_MEMORY;
    if (form == MADE_SVG)
        status =
            view_replay_svg(&answer->replay, answer->wish.field, made, us_units_of(request, answer), out);
    else if (form == MADE_CSV)
        view_replay_csv(&answer->replay, made, REPLAY_BY_DAY, out);
    else
        status = json_of(answer, made, out);
    cJSON_Delete(made);
    return status == STATUS_OK && text_failed(out) ? STATUS_NO_MEMORY : status;
}

static enum status download(const struct request *request, enum made_form form, const char *type,
                            const char *disposition, struct reply *reply) {
    struct answer *answer = NULL;
    enum status computed;
    enum status status = answer_open(request, &answer, &computed);
    if (status == STATUS_OK && computed != STATUS_OK)
        status = STATUS_NOT_FOUND;
    if (status == STATUS_OK)
        status = write_download(request, answer, form, &reply->body);
    if (status == STATUS_OK) {
        reply->type = type;
        reply->disposition = disposition;
    }
    answer_close(answer);
    return status;
}

enum status replay_picture(const struct request *request, struct reply *reply) {
    return download(request, MADE_SVG, "image/svg+xml", NULL, reply);
}

enum status replay_csv(const struct request *request, struct reply *reply) {
    return download(request, MADE_CSV, "text/csv; charset=utf-8; header=present",
                    "attachment; filename=\"replay.csv\"", reply);
}

enum status replay_json(const struct request *request, struct reply *reply) {
    return download(request, MADE_JSON, "application/json; charset=utf-8",
                    "attachment; filename=\"replay.json\"", reply);
}
