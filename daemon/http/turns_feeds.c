/* Calendars and tables of turns. A calendar program has no cookie of this page: the address of a feed carries
 * a key that only this database can have made for it, until a manager has the keys renewed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sodium.h>

#include "daemon/http/access.h"
#include "daemon/http/forms.h"
#include "daemon/http/turns_pages.h"
#include "daemon/view/frame.h"

#define FEED_KEY_SIZE  44 /* 32 bytes in URL-safe base64 */
#define FEED_LINK_SIZE (FRAME_PATH_SIZE + FEED_KEY_SIZE + 256)
#define FEED_SECRET    "feeds"

/* Problems are large, and one thread answers. */
static struct problems *fresh_problems(void) {
    static struct problems problems;
    problems_free(&problems);
    problems_init(&problems);
    return &problems;
}

/* HMAC-SHA-512-256 over the feed's path. False: the secret cannot be had. */
static bool key_of(const struct request *request, const char *path, char out[FEED_KEY_SIZE]) {
    const struct page_data *data = request->data->book;
    unsigned char secret[SECRET_SIZE], fresh[SECRET_SIZE], mark[crypto_auth_BYTES];
    _Static_assert(SECRET_SIZE == crypto_auth_KEYBYTES, "a secret is a key of crypto_auth");
    if (data == NULL)
        return false;
    randombytes_buf(fresh, sizeof fresh);
    bool writes = data->writer != NULL;
    if (secret_store_key(writes ? data->writer : data->db, FEED_SECRET, writes ? fresh : NULL, secret,
                         fresh_problems()) != STATUS_OK)
        return false;
    crypto_auth(mark, (const unsigned char *)path, strlen(path), secret);
    sodium_bin2base64(out, FEED_KEY_SIZE, mark, sizeof mark, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    sodium_memzero(secret, sizeof secret);
    return true;
}

/* By the cookie of one who may read, or by the key in the address. */
static bool may_read(const struct request *request, const char *path) {
    char key[FEED_KEY_SIZE];
    if (request->visitor == NULL || request->visitor->role >= ACCESS_READER)
        return true;
    const char *sent = request->query != NULL ? fill_value(request->query, "key") : "";
    return strlen(sent) == FEED_KEY_SIZE - 1 && key_of(request, path, key) &&
           sodium_memcmp(sent, key, FEED_KEY_SIZE - 1) == 0;
}

/* ---- the feeds */

static enum status send_feed(const struct request *request, const struct turns_feed *feed, const char *path,
                             struct reply *reply) {
    if (!may_read(request, path)) {
        routes_refuse(request, 401, "login", reply);
        reply->missed = request->query != NULL && fill_given(request->query, "key");
        return STATUS_OK;
    }
    struct turns_view view;
    enum status status = turns_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    const struct farm *farm = &view.data.farm;
    bool known = feed->supply != NULL ? farm_supply_named(farm, feed->supply) != NULL
                                      : farm_field_named(farm, feed->field) != NULL;
    if (known) {
        view_turns_ics(&view.farm.context, &view.facts, feed, &reply->body);
        reply->type = "text/calendar; charset=utf-8";
        status = text_failed(&reply->body) ? STATUS_NO_MEMORY : STATUS_OK;
    } else {
        status = STATUS_NOT_FOUND;
    }
    turns_view_close(request, &view);
    return status;
}

static char *feed_path(const char *kind, const char *name, char out[FRAME_PATH_SIZE]) {
    char before[32];
    (void)snprintf(before, sizeof before, "/turns/%s/", kind);
    return frame_path(before, name, ".ics", out);
}

enum status turns_supply_feed(const struct request *request, struct reply *reply) {
    char path[FRAME_PATH_SIZE];
    const struct turns_feed feed = {.supply = request->name, .instant = wall_clock_instant};
    return send_feed(request, &feed, feed_path("supply", request->name, path), reply);
}

enum status turns_field_feed(const struct request *request, struct reply *reply) {
    char path[FRAME_PATH_SIZE];
    const struct turns_feed feed = {.field = request->name, .instant = wall_clock_instant};
    return send_feed(request, &feed, feed_path("field", request->name, path), reply);
}

enum status turns_csv(const struct request *request, struct reply *reply) {
    struct turns_view view;
    enum status status = turns_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    view_turns_csv(&view.facts, &reply->body);
    reply->type = "text/csv; charset=utf-8; header=present";
    reply->disposition = "attachment; filename=\"turns.csv\"";
    turns_view_close(request, &view);
    return text_failed(&reply->body) ? STATUS_NO_MEMORY : STATUS_OK;
}

/* ---- their addresses */

static void add_feed(const struct request *request, const char *kind, const char *name, cJSON *list) {
    char path[FRAME_PATH_SIZE], key[FEED_KEY_SIZE], link[FEED_LINK_SIZE];
    const char *address = request->data->book->address;
    if (!key_of(request, feed_path(kind, name, path), key))
        return;
    if (address != NULL)
        (void)snprintf(link, sizeof link, "%s%s?key=%s", address, path, key);
    else
        (void)snprintf(link, sizeof link, "%s://%s%s?key=%s", request->tls ? "https" : "http",
                       request->host != NULL ? request->host : "localhost", path, key);
    cJSON *feed = cJSON_CreateObject();
    cJSON_AddStringToObject(feed, "name", name);
    cJSON_AddStringToObject(feed, "link", link);
    cJSON_AddItemToArray(list, feed);
}

static void add_renewal(const struct request *request, cJSON *view) {
    char token[FORM_TOKEN_SIZE];
    if (!turns_rights_of(request).plans)
        return;
    form_token_fresh(request->data->book, "/turns/feeds", token);
    cJSON *renew = cJSON_AddObjectToObject(view, "renew");
    cJSON_AddStringToObject(renew, "token", token);
}

static enum status show_feeds(const struct request *request, struct reply *reply) {
    struct turns_view view;
    enum status status = turns_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    const struct farm *farm = &view.data.farm;
    cJSON *page = frame_new(&view.farm.context);
    if (page != NULL) {
        cJSON_AddStringToObject(page, "title", words_get(request->words, "title.feeds"));
        cJSON *supplies = cJSON_AddArrayToObject(page, "supplies");
        cJSON *fields = cJSON_AddArrayToObject(page, "fields");
        for (size_t i = 0; i < farm->supply_count; i++)
            add_feed(request, "supply", farm->supply[i].name, supplies);
        for (size_t i = 0; i < farm->field_count; i++)
            if (farm->field[i].supply[0] != '\0')
                add_feed(request, "field", farm->field[i].name, fields);
        add_renewal(request, page);
    }
    status = pages_show(request, page, "feeds", reply);
    turns_view_close(request, &view);
    return status;
}

enum status turns_feeds_page(const struct request *request, struct reply *reply) {
    const struct page_data *data = request->data->book;
    unsigned char fresh[SECRET_SIZE];
    char id[ENTRY_TOKEN_SIZE];
    if (data == NULL)
        return STATUS_NOT_FOUND;
    if (request->form == NULL)
        return show_feeds(request, reply);
    if (data->writer == NULL ||
        !form_token_good(data, "/turns/feeds", fill_value(request->form, "token"), id)) {
        reply->status = 422;
        return show_feeds(request, reply);
    }
    randombytes_buf(fresh, sizeof fresh);
    enum status status = secret_store_renew(data->writer, FEED_SECRET, fresh, &reply->problems);
    return status == STATUS_OK ? form_go(reply, "/turns/feeds") : status;
}
