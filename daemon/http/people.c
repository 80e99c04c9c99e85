#include "daemon/http/people.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/http/access.h"
#include "daemon/http/forms.h"
#include "daemon/view/people.h"

#define COOKIE_ATTRIBUTES "; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly"

/* ---- the list ---- */

static enum status show_people(const struct request *request, struct people_facts *facts,
                               struct reply *reply) {
    const struct page_data *data = request->data->book;
    struct access_device *devices = NULL;
    char token[FORM_TOKEN_SIZE];
    struct farm_view farm;
    enum status status = access_store_list(data->writer, &devices, &facts->count, &reply->problems);
    if (status == STATUS_OK)
        status = farm_view_head(request, &farm);
    if (status == STATUS_OK) {
        form_token_fresh(data, "/people", token);
        facts->device = devices;
        facts->token = token;
        facts->own = request->visitor != NULL ? request->visitor->device : 0;
        status = pages_show(request, view_people(&farm.context, facts), "people", reply);
        farm_view_close(request, &farm);
    }
    free(devices);
    return status;
}

/* "https://farm.example/pair/CODE": the address that the farm names, or the one that this page was asked by.
 */
static void make_link(const struct request *request, const char *code, char out[PEOPLE_LINK_SIZE]) {
    const char *address = request->data->book->address;
    if (address != NULL)
        (void)snprintf(out, PEOPLE_LINK_SIZE, "%s/pair/%s", address, code);
    else
        (void)snprintf(out, PEOPLE_LINK_SIZE, "%s://%s/pair/%s", request->tls ? "https" : "http",
                       request->host != NULL ? request->host : "localhost", code);
}

static enum status show_refused(const struct request *request, struct people_facts *facts, const char *key,
                                struct reply *reply) {
    reply->status = 422;
    facts->problem = words_get(request->words, key);
    return show_people(request, facts, reply);
}

static enum status invite(const struct request *request, struct people_facts *facts, struct reply *reply) {
    char code[ACCESS_CODE_SIZE], link[PEOPLE_LINK_SIZE];
    unsigned char hash[ACCESS_HASH_SIZE];
    const char *name = fill_value(request->form, "name");
    enum access_role role = access_role_named(fill_value(request->form, "role"));
    bool manager = false;
    facts->name = name;
    facts->role = role;
    if (name[0] == '\0' || strlen(name) >= FARM_NAME_SIZE || !request_clean(name, false) ||
        role == ACCESS_NOBODY)
        return show_refused(request, facts, "people.name_missing", reply);
    enum status status =
        access_store_has_manager(request->data->book->writer, facts->now, &manager, &reply->problems);
    if (status != STATUS_OK)
        return status;
    /* Else nobody could let anybody in any more, the one who asks included. */
    if (!manager && role != ACCESS_MANAGER)
        return show_refused(request, facts, "people.manager_first", reply);
    access_make_code(code, hash);
    status = access_store_invite(request->data->book->writer, name, role, hash, facts->now,
                                 facts->now + ACCESS_LINK_SECONDS, &reply->problems);
    if (status != STATUS_OK)
        return status;
    make_link(request, code, link);
    facts->link = link;
    facts->link_for = name;
    facts->link_role = role;
    facts->link_minutes = ACCESS_LINK_SECONDS / 60;
    facts->name = NULL;
    facts->role = ACCESS_NOBODY;
    return show_people(request, facts, reply);
}

static enum status change_people(const struct request *request, struct people_facts *facts,
                                 struct reply *reply) {
    struct page_data *data = request->data->book;
    char id[ENTRY_TOKEN_SIZE];
    if (!form_token_good(data, "/people", fill_value(request->form, "token"), id))
        return show_refused(request, facts, "form.stale", reply);
    const char *revoke = fill_value(request->form, "revoke");
    if (revoke[0] == '\0')
        return invite(request, facts, reply);
    enum status status =
        access_store_revoke(data->writer, strtoll(revoke, NULL, 10), facts->now, &reply->problems);
    /* Revoked already: what was wanted is so. */
    return status == STATUS_OK || status == STATUS_NOT_FOUND ? form_go(reply, "/people") : status;
}

enum status people_page(const struct request *request, struct reply *reply) {
    const struct page_data *data = request->data->book;
    if (data == NULL || data->writer == NULL)
        return STATUS_NOT_FOUND;
    struct people_facts facts = {.now = wall_clock_now().at};
    return request->form != NULL ? change_people(request, &facts, reply)
                                 : show_people(request, &facts, reply);
}

/* ---- behind the link ---- */

static enum status show_pair(const struct request *request, const struct access_device *invited,
                             struct reply *reply) {
    const struct view_context context = {.words = request->words, .us_units = request->units == UNITS_US};
    if (invited == NULL)
        reply->status = 410;
    return pages_show(request, view_pair(&context, invited, request->path), "pair", reply);
}

static enum status pair_device(const struct request *request, const unsigned char code[ACCESS_HASH_SIZE],
                               int64_t now, struct access_device *device, struct reply *reply) {
    char token[ACCESS_TOKEN_SIZE];
    unsigned char hash[ACCESS_HASH_SIZE];
    access_make_token(token, hash);
    enum status status =
        access_store_pair(request->data->book->writer, code, hash, now, device, &reply->problems);
    if (status == STATUS_OK) {
        status = form_go(reply, "/");
        (void)snprintf(reply->cookie, sizeof reply->cookie, "%s=%s" COOKIE_ATTRIBUTES "%s",
                       request->tls ? ACCESS_COOKIE_TLS : ACCESS_COOKIE, token,
                       request->tls ? "; Secure" : "");
    }
    explicit_bzero(token, sizeof token);
    return status;
}

/* Opening a link does not use it up: programs that preview links in messages open them too. Its button does.
 */
enum status pair_page(const struct request *request, struct reply *reply) {
    const struct page_data *data = request->data->book;
    unsigned char code[ACCESS_HASH_SIZE];
    struct access_device device;
    int64_t now = wall_clock_now().at;
    if (data == NULL || data->writer == NULL)
        return STATUS_NOT_FOUND;
    access_hash(request->name, code);
    enum status status = request->form != NULL
                             ? pair_device(request, code, now, &device, reply)
                             : access_store_invited(data->writer, code, now, &device, &reply->problems);
    if (status == STATUS_NOT_FOUND) {
        reply->missed = true;
        return show_pair(request, NULL, reply);
    }
    return status == STATUS_OK && request->form == NULL ? show_pair(request, &device, reply) : status;
}
