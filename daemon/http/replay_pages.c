#include "daemon/http/replay_pages.h"

#include <stdlib.h>

#include "daemon/http/pages.h"
#include "daemon/http/replay_data.h"
#include "daemon/http/replay_form.h"
#include "daemon/view/print_json.h"

struct answer {
    struct fill fill;       /* what stands in the form */
    struct request request; /* with that as its form */
    bool us_units;
    struct text query; /* the same as a link has it */
    struct replay_wish wish;
    struct replay replay;
    struct problems *problems; /* what is wrong with the wish */
    struct form_page page;
};

static void answer_close(struct answer *answer) {
    if (answer == NULL)
        return;
    replay_free(&answer->replay);
    if (answer->problems != NULL)
        problems_free(answer->problems);
    free(answer->problems);
    text_free(&answer->query);
    fill_free(&answer->fill);
    free(answer);
}

/* In whose units bare amounts are. */
static enum status read_units(const struct request *request, struct answer *answer) {
    struct farm_view farm;
    enum status status = farm_view_head(request, &farm);
    answer->us_units = farm.context.us_units;
    if (status == STATUS_OK)
        farm_view_close(request, &farm);
    return status;
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
    text_init(&answer->query, 0);
    replay_form_take(request->query, &answer->fill);
    answer->request = *request;
    answer->request.form = &answer->fill;
    enum status status = read_units(request, answer);
    if (status != STATUS_OK)
        return status;
    replay_form_read(&answer->request, answer->us_units, &answer->wish);
    request_write_fill(&answer->fill, &answer->query);
    *computed = STATUS_NOT_FOUND;
    if (!fill_good(&answer->fill))
        *computed = STATUS_REFUSED;
    else if (answer->wish.field[0] != '\0')
        *computed = data->replay(data->context, &answer->wish, &answer->replay, answer->problems);
    return *computed == STATUS_NO_MEMORY || *computed == STATUS_STORE ? *computed : STATUS_OK;
}

static cJSON *made_of(const struct answer *answer, enum made_form form) {
    return replay_made(&answer->wish, &answer->replay, form, answer->us_units,
                       words_language(answer->request.words));
}

/* What is wrong with the wish: beside its inputs, and in `rest`. */
static const char *refuse(struct answer *answer, enum status computed, struct text *rest) {
    const struct words *words = answer->request.words;
    if (computed == STATUS_OK || answer->wish.field[0] == '\0')
        return NULL;
    replay_form_refuse(&answer->request, &answer->wish, answer->problems, rest);
    if (rest->size > 0)
        return text_string(rest);
    return words_get(words, fill_good(&answer->fill) ? "replay.failed" : "replay.wrong");
}

static enum status show(struct answer *answer, enum status computed, struct reply *reply) {
    const struct request *request = &answer->request;
    struct farm_view farm;
    struct text rest;
    text_init(&rest, 0);
    cJSON *made = computed == STATUS_OK ? made_of(answer, MADE_PAGE) : NULL;
    enum status status =
        computed == STATUS_OK && made == NULL ? STATUS_NO_MEMORY : farm_view_open(request, &farm);
    if (status == STATUS_OK) {
        const char *problem = refuse(answer, computed, &rest);
        replay_form_show(request, &farm.context, &answer->wish, &answer->page);
        const struct replay_answer shown = {text_string(&answer->query),
                                            computed == STATUS_OK ? &answer->replay : NULL, made, problem};
        status = pages_show(
            request,
            view_replay_page(&farm.context, farm.mornings, farm.count, &answer->page, &answer->wish, &shown),
            "replay", reply);
        farm_view_close(request, &farm);
    }
    cJSON_Delete(made);
    text_free(&rest);
    return status;
}

enum status replay_page(const struct request *request, struct reply *reply) {
    struct answer *answer = NULL;
    enum status computed;
    enum status status = answer_open(request, &answer, &computed);
    if (status == STATUS_OK)
        status = show(answer, computed, reply);
    answer_close(answer);
    return status;
}

/* ---- downloads ---- */

static enum status json_of(const struct answer *answer, const cJSON *made, struct text *out) {
    return print_json_document(view_replay_json(&answer->replay, made, false), out);
}

static enum status write_download(const struct answer *answer, enum made_form form, struct text *out) {
    enum status status = STATUS_OK;
    cJSON *made = made_of(answer, form);
    if (made == NULL)
        return STATUS_NO_MEMORY;
    if (form == MADE_SVG)
        status = view_replay_svg(&answer->replay, answer->wish.field, made, answer->us_units,
                                 answer->request.words, out);
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
        status = write_download(answer, form, &reply->body);
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
