#include "daemon/http/forms.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sodium.h>

#include "daemon/http/access.h"

#define HALF_BYTES ((ENTRY_TOKEN_SIZE - 1) / 2)

/* ---- tokens ---- */

static void mark_of(const struct page_data *data, const char *action, const char *id,
                    char out[ENTRY_TOKEN_SIZE]) {
    unsigned char mark[HALF_BYTES];
    crypto_generichash_state state;
    crypto_generichash_init(&state, data->key, sizeof data->key, sizeof mark);
    crypto_generichash_update(&state, (const unsigned char *)id, ENTRY_TOKEN_SIZE - 1);
    crypto_generichash_update(&state, (const unsigned char *)action, strlen(action));
    crypto_generichash_final(&state, mark, sizeof mark);
    sodium_bin2hex(out, ENTRY_TOKEN_SIZE, mark, sizeof mark);
}

static void token_make(const struct page_data *data, const char *action,
                       const unsigned char bytes[HALF_BYTES], char out[FORM_TOKEN_SIZE]) {
    sodium_bin2hex(out, ENTRY_TOKEN_SIZE, bytes, HALF_BYTES);
    mark_of(data, action, out, out + ENTRY_TOKEN_SIZE - 1);
}

void form_token_fresh(const struct page_data *data, const char *action, char out[FORM_TOKEN_SIZE]) {
    unsigned char bytes[HALF_BYTES];
    randombytes_buf(bytes, sizeof bytes);
    token_make(data, action, bytes, out);
}

void form_token_of(const struct page_data *data, const char *action, const char *sending,
                   char out[FORM_TOKEN_SIZE]) {
    unsigned char bytes[HALF_BYTES];
    crypto_generichash(bytes, sizeof bytes, (const unsigned char *)sending, strlen(sending), data->key,
                       sizeof data->key);
    token_make(data, action, bytes, out);
}

bool form_token_good(const struct page_data *data, const char *action, const char *token,
                     char id[ENTRY_TOKEN_SIZE]) {
    char mark[ENTRY_TOKEN_SIZE];
    if (strlen(token) != FORM_TOKEN_SIZE - 1)
        return false;
    memcpy(id, token, ENTRY_TOKEN_SIZE - 1);
    id[ENTRY_TOKEN_SIZE - 1] = '\0';
    mark_of(data, action, id, mark);
    return sodium_memcmp(mark, token + ENTRY_TOKEN_SIZE - 1, sizeof mark) == 0;
}

enum status form_go(struct reply *reply, const char *link) {
    reply->status = 303;
    reply->type = "text/plain; charset=utf-8";
    (void)snprintf(reply->location, sizeof reply->location, "%s", link);
    text_puts(&reply->body, link);
    return STATUS_OK;
}

/* ---- in and out ---- */

enum status form_show(const struct request *request, const struct farm_view *farm, struct form_page *page,
                      struct reply *reply) {
    char token[FORM_TOKEN_SIZE], id[ENTRY_TOKEN_SIZE];
    const struct page_data *data = request->data->book;
    const char *sent = request->form != NULL ? fill_value(request->form, "token") : "";
    if (form_token_good(data, page->action, sent, id))
        memcpy(token, sent, sizeof token);
    else
        form_token_fresh(data, page->action, token);
    page->token = token;
    return pages_show(request, view_form(&farm->context, page), "form", reply);
}

enum status form_open(const struct request *request, const char *action, struct form_sent *sent) {
    const struct page_data *data = request->data->book;
    if (!form_token_good(data, action, fill_value(request->form, "token"), sent->id))
        return STATUS_REFUSED;
    struct morning_time now = page_data_now(data);
    sent->book = (struct book_form){.token = sent->id,
                                    .at = now.at,
                                    .today = now.today,
                                    .minute = now.minute,
                                    .who = request->visitor != NULL ? request->visitor->name : ""};
    return STATUS_OK;
}

/* The database's own troubles carry its file name. */
static bool of_database(const struct problems *problems) {
    return problems->kept > 0 && problems->problem[0].file != NULL;
}

static void problems_to_log(const struct problems *problems, struct reply *reply) {
    for (size_t i = 0; i < problems->kept; i++)
        (void)problem_copy(&reply->problems, &problems->problem[i]);
}

enum status form_trouble(const struct request *request, enum status status, struct problems *problems,
                         char room[FARM_TEXT_SIZE], struct reply *reply) {
    const char *key = "form.refused";
    if (status == STATUS_NOT_FOUND || status == STATUS_NO_MEMORY)
        return status;
    if (status == STATUS_REFUSED && !of_database(problems)) {
        struct text why;
        reply->status = 422;
        text_init(&why, 0);
        if (problems->kept > 0)
            words_problem(request->words, &problems->problem[0], &why);
        (void)snprintf(room, FARM_TEXT_SIZE, "%s %s", words_get(request->words, key), text_string(&why));
        text_free(&why);
        return STATUS_OK;
    }
    problems_to_log(problems, reply);
    reply->status = 503;
    const char *why = problems->kept > 0 ? problems->problem[0].message : status_name(status);
    const char *said = words_get(request->words, status == STATUS_BUSY ? "form.busy" : "form.not_written");
    /* What the database says is in English; elsewhere it stands in the log alone. */
    if (strcmp(words_language(request->words), words_language_at(0)) == 0)
        (void)snprintf(room, FARM_TEXT_SIZE, "%s (%s)", said, why);
    else if (status == STATUS_BUSY)
        (void)snprintf(room, FARM_TEXT_SIZE, "%s", said);
    else
        (void)snprintf(
            room, FARM_TEXT_SIZE, "%s %s", said,
            words_get(request->words, status == STATUS_IO ? "error.disk.hint" : "error.store.hint"));
    return STATUS_OK;
}
