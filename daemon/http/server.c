#include "daemon/http/server.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <microhttpd.h>
#include <sodium.h>

#include "daemon/base/asset.h"
#include "daemon/base/wall_clock.h"
#include "daemon/http/address.h"
#include "daemon/http/apart.h"
#include "daemon/http/compress.h"
#include "daemon/http/connections.h"
#include "daemon/http/exchange.h"
#include "daemon/http/gate.h"
#include "daemon/http/kept.h"
#include "daemon/http/loop.h"
#include "daemon/http/metrics.h"
#include "daemon/http/page_data.h"
#include "daemon/http/request.h"
#include "daemon/http/wire.h"

#define REQUEST_BYTES_MAX (16 * 1024) /* request line and headers */
#define IDLE_SECONDS_MAX  20
#define LANGUAGES_MAX     8
#define FIELDS_APART      150 /* the board of turns of so many takes 2 MB */
#define COOKIE_YEAR       "; Path=/; Max-Age=31536000; SameSite=Lax; HttpOnly"

struct server {
    struct MHD_Daemon *daemon;
    struct server_options options;
    struct address address;
    int port;
    struct words *words[LANGUAGES_MAX];
    struct compress_store *packed;
    struct kept *kept;
    struct connections *connections;
    struct apart *apart; /* NULL: all pages are made here */
    struct loop *loop;
    char version[SERVER_VERSION_SIZE];
};

/* ---- what was asked */

static const struct words *words_of(const struct server *server, const char *language) {
    for (size_t i = 0; i < LANGUAGES_MAX && server->words[i] != NULL; i++) {
        if (language != NULL && strcmp(words_language(server->words[i]), language) == 0)
            return server->words[i];
    }
    return NULL;
}

static enum units_wish units_of(const char *value) {
    if (value == NULL)
        return UNITS_OF_FARM;
    return strcmp(value, "us") == 0 ? UNITS_US : strcmp(value, "metric") == 0 ? UNITS_METRIC : UNITS_OF_FARM;
}

/* The visitor's wishes: in the link, else remembered, else the browser's language and the farm's habit. */
static struct request request_of(const struct server *server, struct MHD_Connection *connection,
                                 const char *path) {
    struct request request = {.data = &server->options.data, .path = path, .version = server->version};
    request.versioned = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "v") != NULL;
    request.units = units_of(MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "units"));
    if (request.units == UNITS_OF_FARM)
        request.units = units_of(MHD_lookup_connection_value(connection, MHD_COOKIE_KIND, "units"));
    request.words = words_of(server, MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "lang"));
    if (request.words == NULL)
        request.words = words_of(server, MHD_lookup_connection_value(connection, MHD_COOKIE_KIND, "lang"));
    if (request.words == NULL)
        request.words = words_of(server, words_choose(MHD_lookup_connection_value(
                                             connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT_LANGUAGE)));
    return request;
}

/* ---- what is answered */

static void remember(struct MHD_Connection *connection, struct MHD_Response *response,
                     const struct server *server) {
    char cookie[128];
    enum units_wish units = units_of(MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "units"));
    if (units != UNITS_OF_FARM) {
        snprintf(cookie, sizeof cookie, "units=%s" COOKIE_YEAR, units == UNITS_US ? "us" : "metric");
        MHD_add_response_header(response, MHD_HTTP_HEADER_SET_COOKIE, cookie);
    }
    const struct words *words =
        words_of(server, MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "lang"));
    if (words != NULL) {
        snprintf(cookie, sizeof cookie, "lang=%s" COOKIE_YEAR, words_language(words));
        MHD_add_response_header(response, MHD_HTTP_HEADER_SET_COOKIE, cookie);
    }
}

/* A page that was sent before and is the same still. */
static enum MHD_Result send_kept(struct MHD_Connection *connection, const struct kept_page *page) {
    if (!wire_known(connection, page->tag))
        return MHD_queue_response(connection, MHD_HTTP_OK, page->response);
    struct reply reply;
    struct wire nothing = {.bytes = ""};
    reply_init(&reply);
    struct MHD_Response *response = wire_response(&reply, &nothing, true);
    enum MHD_Result result = MHD_NO;
    if (response != NULL) {
        wire_headers(response, &reply, page->tag);
        result = MHD_queue_response(connection, MHD_HTTP_NOT_MODIFIED, response);
        MHD_destroy_response(response);
    }
    reply_free(&reply);
    return result;
}

/* `key`: under which the page is kept when it may be; NULL: it is not. */
static enum MHD_Result send_reply(const struct server *server, struct MHD_Connection *connection,
                                  struct reply *reply, const struct kept_key *key) {
    struct wire wire;
    bool good = reply->status == MHD_HTTP_OK;
    bool keeps = key != NULL && good && reply->keeps && reply->problems.count == 0;
    wire_make(server->packed, connection, reply, &wire);
    const struct kept_page *same = keeps ? kept_again(server->kept, key, wire.tag) : NULL;
    if (same != NULL)
        return send_kept(connection, same);
    bool unchanged = good && wire_known(connection, wire.tag);
    if (!unchanged)
        wire_pack(reply, &wire);
    struct MHD_Response *response = wire_response(reply, &wire, unchanged);
    text_free(&wire.own);
    if (response == NULL)
        return MHD_NO;
    wire_headers(response, reply, good ? wire.tag : NULL);
    if (wire.packed && !unchanged)
        MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_ENCODING, "gzip");
    remember(connection, response, server);
    enum MHD_Result result =
        MHD_queue_response(connection, unchanged ? MHD_HTTP_NOT_MODIFIED : reply->status, response);
    if (!keeps || unchanged) {
        MHD_destroy_response(response);
        return result;
    }
    struct kept_page page = {.response = response};
    snprintf(page.tag, sizeof page.tag, "%s", wire.tag);
    kept_put(server->kept, key, &page, wire.size);
    return result;
}

static void report(const struct server *server, struct reply *reply) {
    if (reply->problems.count == 0 || server->options.report == NULL)
        return;
    struct text text;
    text_init(&text, 0);
    problems_print(&reply->problems, &text);
    server->options.report(server->options.data.context, text_string(&text));
    text_free(&text);
}

/* ---- a request and its answer */

/* A book that may only be read has nothing to compute. */
static bool is_apart(const struct server *server, const struct request *request) {
    bool posted = request->form != NULL;
    return server->apart != NULL && routes_apart(request->path, posted) &&
           (!posted || request->data->book->writer != NULL);
}

/* The page of a large farm begins to be made apart, if there is room: such a page is never refused. */
static bool begins_apart(const struct server *server, struct MHD_Connection *connection,
                         const struct request *request, struct exchange *exchange) {
    if (server->apart == NULL || request->form != NULL || !routes_grows(request->path) ||
        page_data_fields(request->data->book) < FIELDS_APART)
        return false;
    exchange->job = apart_begin(server->apart, connection, request);
    return exchange->job != NULL;
}

/* What the request's page is made from; false: it cannot be told, or the page is no page that only shows. */
static bool key_of(const struct server *server, struct MHD_Connection *connection,
                   const struct request *request, struct kept_key *key) {
    const struct server_data *data = &server->options.data;
    const char *accepted =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT_ENCODING);
    struct kept_key page = {.path = request->path,
                            .words = request->words,
                            .units = (int)request->units,
                            .role = (int)request->visitor->role,
                            .packed = compress_accepted(accepted)};
    if (request->query->count > 0 || data->state == NULL ||
        !data->state(data->context, &page.book, &page.hour))
        return false;
    *key = page;
    return true;
}

static void begin_apart(const struct server *server, struct MHD_Connection *connection,
                        const struct request *request, struct exchange *exchange, struct reply *reply) {
    exchange->job = apart_begin(server->apart, connection, request);
    if (exchange->job == NULL)
        routes_refuse(request, MHD_HTTP_SERVICE_UNAVAILABLE, "busy", reply);
}

/* What is to be sent: a kept page (then it is returned), or the reply. `key` is filled when the page may be
 * kept under it, else its path is NULL. */
static const struct kept_page *answer_request(const struct server *server, struct MHD_Connection *connection,
                                              struct request *request, struct exchange *exchange, bool reads,
                                              struct visitor *visitor, struct reply *reply,
                                              struct kept_key *key) {
    const struct kept_page *page = NULL;
    const char *host = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_HOST);
    if (!address_allows_host(&server->address, host, server->options.hosts))
        routes_refuse(request, MHD_HTTP_MISDIRECTED_REQUEST, "wrong_host", reply);
    else if (!gate_open(server->options.access, connection, request, reads, visitor, reply))
        return NULL;
    else if (!reads && (!exchange->posted || request->data->book == NULL))
        routes_refuse(request, MHD_HTTP_METHOD_NOT_ALLOWED, "method", reply);
    else if (!reads && !exchange_own_origin(connection, host))
        routes_refuse(request, MHD_HTTP_FORBIDDEN, "other_origin", reply);
    else if (!reads && !exchange_finish(exchange))
        routes_refuse(request, MHD_HTTP_BAD_REQUEST, "form", reply);
    else if (is_apart(server, request))
        begin_apart(server, connection, request, exchange, reply);
    else if (begins_apart(server, connection, request, exchange))
        return NULL;
    else if (!reads || !key_of(server, connection, request, key))
        routes_answer(request, reply);
    else if ((page = kept_find(server->kept, key)) == NULL)
        routes_answer(request, reply);
    if (reply->missed)
        gate_missed(server->options.access, connection);
    return page;
}

/* A page that was made apart is there. */
static void answer_made(const struct request *request, struct exchange *exchange, struct reply *reply) {
    if (apart_take(exchange->job, reply) != STATUS_OK)
        routes_refuse(request, MHD_HTTP_INTERNAL_SERVER_ERROR, "failed", reply);
    const struct page_data *book = request->data->book;
    if (reply->wakes && book != NULL && book->wake != NULL)
        book->wake();
}

/* MHD_YES also when the page is being made and the request comes in again. */
static enum MHD_Result answer_whole(const struct server *server, struct MHD_Connection *connection,
                                    struct request *request, struct exchange *exchange, bool reads,
                                    struct reply *reply) {
    struct visitor visitor = {.role = ACCESS_NOBODY};
    struct kept_key key = {.path = NULL};
    const struct kept_page *page = NULL;
    int64_t began = exchange->job != NULL ? apart_began_ms(exchange->job) : wall_clock_running_ms();
    if (exchange->job != NULL) {
        answer_made(request, exchange, reply);
    } else {
        page = answer_request(server, connection, request, exchange, reads, &visitor, reply, &key);
        connections_answering(server->connections, connection, visitor.role != ACCESS_NOBODY);
        if (exchange->job != NULL)
            return MHD_YES;
    }
    report(server, reply);
    enum MHD_Result result = page != NULL
                                 ? send_kept(connection, page)
                                 : send_reply(server, connection, reply, key.path != NULL ? &key : NULL);
    metrics_connections(server->options.metrics, connections_count(server->connections));
    metrics_request(server->options.metrics, reply->status,
                    (double)(wall_clock_running_ms() - began) / 1000.0);
    return result;
}

static enum MHD_Result answer(void *context, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *upload,
                              size_t *upload_size, void **state) {
    const struct server *server = context;
    bool reads = strcmp(method, MHD_HTTP_METHOD_GET) == 0 || strcmp(method, MHD_HTTP_METHOD_HEAD) == 0;
    struct exchange *exchange = *state;
    /* An answer at the first call would close the connection; later calls bring a body. */
    if (exchange == NULL) {
        *state = exchange_new(connection, strcmp(method, MHD_HTTP_METHOD_POST) == 0);
        return *state != NULL ? MHD_YES : MHD_NO;
    }
    if (*upload_size > 0) {
        size_t size = *upload_size;
        *upload_size = 0;
        return exchange_take(exchange, upload, size);
    }
    struct fill query;
    fill_init(&query);
    MHD_get_connection_values(connection, MHD_GET_ARGUMENT_KIND, exchange_take_argument, &query);
    struct request request = request_of(server, connection, url);
    request.http_1_0 = strcmp(version, MHD_HTTP_VERSION_1_0) == 0;
    request.query = &query;
    request.form = exchange->posted ? &exchange->form : NULL;
    request.host = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_HOST);
    request.accept = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT);
    request.tls = server->options.secure || server->options.certificate != NULL;
    struct reply reply;
    reply_init(&reply);
    enum MHD_Result result = answer_whole(server, connection, &request, exchange, reads, &reply);
    reply_free(&reply);
    fill_free(&query);
    return result;
}

static void completed(void *context, struct MHD_Connection *connection, void **state,
                      enum MHD_RequestTerminationCode code) {
    const struct server *server = context;
    connections_answered(server->connections, connection);
    exchange_completed(NULL, connection, state, code);
}

/* Paths stay percent-encoded until they are split, so that a name may have a slash in it. */
static size_t keep_encoded(void *context, struct MHD_Connection *connection, char *text) {
    (void)context;
    (void)connection;
    return strlen(text);
}

static void go_on(void *context) {
    const struct server *server = context;
    loop_poke(server->loop);
}

/* ---- start and stop */

static enum status open_words(struct server *server, struct problems *problems) {
    for (size_t i = 0; i < LANGUAGES_MAX - 1 && words_language_at(i) != NULL; i++) {
        server->words[i] = words_open(words_language_at(i));
        if (server->words[i] == NULL) {
            problem_add(problems, NULL, 0, 0, "words", "cannot read the words of \"%s\"",
                        words_language_at(i));
            return STATUS_REFUSED;
        }
    }
    return STATUS_OK;
}

enum status server_assets_version(char out[SERVER_VERSION_SIZE]) {
    static const char *const paths[] = {"web/style.css", "web/icon.svg", "web/app.js"};
    struct text all;
    char hash[WIRE_HASH_SIZE];
    text_init(&all, 0);
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
        const struct asset *asset = asset_find(paths[i]);
        text_add(&all, asset != NULL ? (const char *)asset->bytes : "", asset != NULL ? asset->size : 0);
    }
    wire_hash(text_string(&all), all.size, hash);
    (void)snprintf(out, SERVER_VERSION_SIZE, "%.*s", SERVER_VERSION_SIZE - 1, hash);
    bool failed = text_failed(&all);
    text_free(&all);
    return failed ? STATUS_NO_MEMORY : STATUS_OK;
}

/* The newest protocols only. */
static const char tls_priorities[] = "SECURE128:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2:%SERVER_PRECEDENCE";

static enum status start_daemon(struct server *server, int descriptor, struct problems *problems) {
    bool tls = server->options.certificate != NULL;
    const struct MHD_OptionItem tls_options[] = {
        {MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)(uintptr_t)server->options.certificate},
        {MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)(uintptr_t)server->options.key},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)(uintptr_t)tls_priorities},
        {MHD_OPTION_END, 0, NULL}};
    const struct MHD_OptionItem none[] = {{MHD_OPTION_END, 0, NULL}};
    server->port = address_port(descriptor);
    server->daemon = MHD_start_daemon(
        MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | (tls ? MHD_USE_TLS : 0), 0, NULL, NULL, answer, server,
        MHD_OPTION_LISTEN_SOCKET, descriptor, MHD_OPTION_CONNECTION_LIMIT, (unsigned)CONNECTIONS_MAX,
        MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)IDLE_SECONDS_MAX, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        (size_t)REQUEST_BYTES_MAX, MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_UNESCAPE_CALLBACK,
        keep_encoded, NULL, MHD_OPTION_NOTIFY_COMPLETED, completed, server, MHD_OPTION_NOTIFY_CONNECTION,
        connections_notify, server->connections, MHD_OPTION_ARRAY, tls ? tls_options : none, MHD_OPTION_END);
    if (server->daemon != NULL && (server->loop = loop_start(server->daemon)) != NULL)
        return STATUS_OK;
    bool made = server->daemon != NULL;
    problem_add(problems, NULL, 0, 0, "listen", "%s",
                tls && !made ? "the web server cannot start: do the certificate and its key belong together?"
                             : "the web server cannot start");
    if (!made)
        close(descriptor);
    return STATUS_IO;
}

enum status server_start(const struct server_options *options, struct server **out,
                         struct problems *problems) {
    const char *listen = options->listen != NULL ? options->listen : SERVER_LISTEN_DEFAULT;
    struct server *server = calloc(1, sizeof *server);
    if (server == NULL)
        return STATUS_NO_MEMORY;
    server->options = *options;
    int descriptor = -1;
    enum status status = sodium_init() >= 0 ? STATUS_OK : STATUS_IO;
    if (status == STATUS_OK)
        status = open_words(server, problems);
    if (status == STATUS_OK)
        status = server_assets_version(server->version);
    server->packed = compress_store_new();
    server->kept = kept_new();
    server->connections = connections_new();
    if (options->apart != NULL && (server->apart = apart_new(options->apart, go_on, server)) == NULL)
        status = STATUS_NO_MEMORY;
    if (status == STATUS_OK &&
        (server->packed == NULL || server->kept == NULL || server->connections == NULL))
        status = STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = address_parse(listen, &server->address, problems);
    if (status == STATUS_OK)
        status = address_listen(&server->address, listen, &descriptor, problems);
    if (status == STATUS_OK)
        status = start_daemon(server, descriptor, problems);
    if (status == STATUS_OK)
        *out = server;
    else
        server_stop(server);
    return status;
}

int server_port(const struct server *server) {
    return server->port;
}

void server_sweep(struct server *server) {
    connections_sweep(server->connections);
}

int64_t server_standing_ms(const struct server *server) {
    return loop_standing_ms(server->loop);
}

enum status server_on_loopback(const char *listen, bool *on_loopback, struct problems *problems) {
    struct address address;
    enum status status = address_parse(listen != NULL ? listen : SERVER_LISTEN_DEFAULT, &address, problems);
    *on_loopback = status == STATUS_OK && address_on_loopback(&address);
    return status;
}

void server_stop(struct server *server) {
    if (server == NULL)
        return;
    apart_end(server->apart);
    loop_stop(server->loop);
    if (server->daemon != NULL)
        MHD_stop_daemon(server->daemon);
    apart_free(server->apart);
    for (size_t i = 0; i < LANGUAGES_MAX; i++)
        words_close(server->words[i]);
    compress_store_free(server->packed);
    kept_free(server->kept);
    connections_free(server->connections);
    free(server);
}
