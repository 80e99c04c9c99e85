/* A static file server on loopback for the tests and the demo, with special paths that misbehave on purpose.
 *
 *   fixture_server [--port N] [--until-stdin-closes] DIR
 *
 * The first line on standard output is its address. It ends on SIGTERM, SIGINT, or (if asked) with its input.
 * GET /NAME answers with DIR/NAME (ETag, Last-Modified, 304). GET /count?file=NAME answers with how often
 * that file was asked for. While DIR/NAME.fails is there, /NAME and /days answer with the HTTP status that
 * stands in it. GET /days?file=NAME&start=DATE&end=DATE answers with the rows of a CSV between two dates. The
 * paths that misbehave are in the table `routes`. */
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "support/bodies.h"

#define FILE_LIMIT  ((size_t)64 << 20)
#define COUNTED_MAX 256

struct exchange {
    struct MHD_Connection *connection;
    const char *path, *file;
    int port;
};

static const char *directory;
static struct {
    char name[256];
    int count;
} counted[COUNTED_MAX];

static enum MHD_Result answer(struct exchange *exchange, unsigned status, struct MHD_Response *response) {
    if (response == NULL)
        return MHD_NO;
    enum MHD_Result result = MHD_queue_response(exchange->connection, status, response);
    MHD_destroy_response(response);
    return result;
}

static enum MHD_Result answer_text(struct exchange *exchange, unsigned status, const char *type,
                                   const char *text) {
    struct MHD_Response *response =
        MHD_create_response_from_buffer(strlen(text), (void *)(uintptr_t)text, MHD_RESPMEM_MUST_COPY);
    if (response != NULL)
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    return answer(exchange, status, response);
}

static enum MHD_Result not_found(struct exchange *exchange) {
    return answer_text(exchange, MHD_HTTP_NOT_FOUND, "text/html",
                       "<!DOCTYPE html><html><body>no such file</body></html>");
}

static enum MHD_Result redirect(struct exchange *exchange, const char *to) {
    struct MHD_Response *response = MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    if (response != NULL)
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_LOCATION, to);
    return answer(exchange, MHD_HTTP_FOUND, response);
}

/* A body that is made while it is sent. */
static enum MHD_Result answer_body(struct exchange *exchange, uint64_t declared, const char *encoding,
                                   MHD_ContentReaderCallback reader, struct body *body) {
    if (body == NULL)
        return MHD_NO;
    struct MHD_Response *response =
        MHD_create_response_from_callback(declared, 4096, reader, body, body_free);
    if (response == NULL) {
        body_free(body);
        return MHD_NO;
    }
    if (encoding != NULL)
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_ENCODING, encoding);
    return answer(exchange, MHD_HTTP_OK, response);
}

/* Opens DIR/NAME; names that climb out of DIR are not found. */
static int open_below(const char *name, struct stat *about) {
    char path[4096];
    int length = snprintf(path, sizeof path, "%s/%s", directory, name);
    if (strstr(name, "..") != NULL || length < 0 || (size_t)length >= sizeof path)
        return -1;
    int file = open(path, O_RDONLY | O_CLOEXEC);
    if (file >= 0 && (fstat(file, about) != 0 || !S_ISREG(about->st_mode))) {
        (void)close(file);
        return -1;
    }
    return file;
}

static struct body *load(const char *name) {
    struct stat about;
    int file = open_below(name, &about);
    if (file < 0)
        return NULL;
    struct body *body = (size_t)about.st_size <= FILE_LIMIT ? body_new((size_t)about.st_size) : NULL;
    if (body != NULL && read(file, body->bytes, body->size) != (ssize_t)body->size) {
        body_free(body);
        body = NULL;
    }
    (void)close(file);
    return body;
}

/* How often a file was asked for, this time (one or none more) included. */
static int count_of(const char *name, int more) {
    static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    int count = 0;
    (void)pthread_mutex_lock(&lock);
    for (int i = 0; i < COUNTED_MAX; i++) {
        if (counted[i].name[0] == '\0')
            (void)snprintf(counted[i].name, sizeof counted[i].name, "%s", name);
        if (strcmp(counted[i].name, name) == 0) {
            counted[i].count += more;
            count = counted[i].count;
            break;
        }
    }
    (void)pthread_mutex_unlock(&lock);
    return count;
}

/* Busy, with a wish for patience where HTTP has one. */
static enum MHD_Result answer_busy(struct exchange *exchange, unsigned status) {
    struct MHD_Response *response =
        MHD_create_response_from_buffer(5, (void *)(uintptr_t) "busy\n", MHD_RESPMEM_PERSISTENT);
    if (response != NULL && (status == 503 || status == 429))
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_RETRY_AFTER, "7");
    return answer(exchange, status, response);
}

/* The status with which a file fails for now; 0: it does not. */
static unsigned failing(const char *name) {
    char marker[300];
    (void)snprintf(marker, sizeof marker, "%s.fails", name);
    struct body *body = load(marker);
    char digits[8] = "";
    if (body != NULL)
        memcpy(digits, body->bytes, body->size < sizeof digits ? body->size : sizeof digits - 1);
    body_free(body);
    unsigned status = (unsigned)strtoul(digits, NULL, 10);
    return status >= 400 && status <= 599 ? status : 0;
}

/* The header of a CSV and its rows from one date to another, both included. */
static enum MHD_Result serve_days(struct exchange *exchange) {
    const char *start = MHD_lookup_connection_value(exchange->connection, MHD_GET_ARGUMENT_KIND, "start");
    const char *end = MHD_lookup_connection_value(exchange->connection, MHD_GET_ARGUMENT_KIND, "end");
    (void)count_of(exchange->file, 1);
    unsigned fails = failing(exchange->file);
    if (fails != 0)
        return answer_busy(exchange, fails);
    struct body *body = start != NULL && end != NULL && strlen(start) == 10 && strlen(end) == 10
                            ? load(exchange->file)
                            : NULL;
    if (body == NULL)
        return not_found(exchange);
    size_t kept = 0, line = 0;
    for (size_t i = 0; i < body->size; i++) {
        if (body->bytes[i] != '\n')
            continue;
        const char *row = (const char *)body->bytes + line;
        size_t size = i + 1 - line;
        bool header = line == 0;
        if (header || (size > 10 && strncmp(row, start, 10) >= 0 && strncmp(row, end, 10) <= 0)) {
            memmove(body->bytes + kept, row, size);
            kept += size;
        }
        line = i + 1;
    }
    body->size = kept;
    return answer_body(exchange, kept, NULL, body_plainly, body);
}

static enum MHD_Result serve_file(struct exchange *exchange) {
    const char *name = exchange->path + 1;
    struct stat about;
    (void)count_of(name, 1);
    unsigned fails = failing(name);
    if (fails != 0)
        return answer_busy(exchange, fails);
    int file = open_below(name, &about);
    if (file < 0)
        return not_found(exchange);
    char etag[80], modified[64];
    struct tm when;
    (void)snprintf(etag, sizeof etag, "\"%llx-%llx-%lx\"", (unsigned long long)about.st_size,
                   (unsigned long long)about.st_mtim.tv_sec, (unsigned long)about.st_mtim.tv_nsec);
    (void)strftime(modified, sizeof modified, "%a, %d %b %Y %H:%M:%S GMT", gmtime_r(&about.st_mtime, &when));
    const char *if_etag =
        MHD_lookup_connection_value(exchange->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
    const char *if_since =
        MHD_lookup_connection_value(exchange->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_MODIFIED_SINCE);
    bool same =
        if_etag != NULL ? strcmp(if_etag, etag) == 0 : if_since != NULL && strcmp(if_since, modified) == 0;
    struct MHD_Response *response;
    if (same) {
        (void)close(file);
        response = MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    } else {
        response = MHD_create_response_from_fd((size_t)about.st_size, file);
    }
    if (response != NULL) {
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_ETAG, etag);
        (void)MHD_add_response_header(response, MHD_HTTP_HEADER_LAST_MODIFIED, modified);
    }
    return answer(exchange, same ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK, response);
}

static enum MHD_Result serve_count(struct exchange *exchange) {
    char text[32];
    (void)snprintf(text, sizeof text, "%d\n", count_of(exchange->file, 0));
    return answer_text(exchange, MHD_HTTP_OK, "text/plain", text);
}

/* The whole file, a piece at a time. */
static enum MHD_Result serve_slow(struct exchange *exchange) {
    struct body *body = load(exchange->file);
    return body == NULL ? not_found(exchange) : answer_body(exchange, body->size, NULL, body_slowly, body);
}

/* A few bytes, then silence. */
static enum MHD_Result serve_stall(struct exchange *exchange) {
    return answer_body(exchange, 100000, NULL, body_then_silence, body_new(0));
}

/* Rows without end. */
static enum MHD_Result serve_endless(struct exchange *exchange) {
    return answer_body(exchange, MHD_SIZE_UNKNOWN, NULL, body_without_end, body_new(0));
}

/* Two gigabytes declared; rows until the client has had enough. */
static enum MHD_Result serve_huge(struct exchange *exchange) {
    return answer_body(exchange, (uint64_t)2 << 30, NULL, body_without_end, body_new(0));
}

/* The file's true length declared, half of it sent, then the line drops. */
static enum MHD_Result serve_truncate(struct exchange *exchange) {
    struct body *body = load(exchange->file);
    if (body == NULL)
        return not_found(exchange);
    body->end = body->size / 2;
    return answer_body(exchange, body->size, NULL, body_cut_short, body);
}

/* 10 GB of blanks in 65 MB of gzip. */
static enum MHD_Result serve_gzip_bomb(struct exchange *exchange) {
    struct body *body = body_new(0);
    return answer_body(exchange, MHD_SIZE_UNKNOWN, "gzip", body_gzip_bomb, body);
}

/* The file as honest gzip. */
static enum MHD_Result serve_gzip(struct exchange *exchange) {
    struct body *body = load(exchange->file);
    if (body == NULL)
        return not_found(exchange);
    struct body *packed = body_gzip_stored(body);
    body_free(body);
    return packed == NULL ? MHD_NO : answer_body(exchange, packed->size, "gzip", body_plainly, packed);
}

static enum MHD_Result serve_redirect_loop(struct exchange *exchange) {
    return redirect(exchange, "/redirect-loop");
}

static enum MHD_Result serve_redirect_file(struct exchange *exchange) {
    return redirect(exchange, "file:///etc/hostname");
}

static enum MHD_Result serve_redirect_https(struct exchange *exchange) {
    char to[64];
    (void)snprintf(to, sizeof to, "https://127.0.0.1:%d/", exchange->port);
    return redirect(exchange, to);
}

static enum MHD_Result serve_redirect(struct exchange *exchange) {
    char to[300];
    (void)snprintf(to, sizeof to, "/%s", exchange->file);
    return redirect(exchange, to);
}

static enum MHD_Result serve_status(struct exchange *exchange) {
    unsigned status = (unsigned)strtoul(exchange->path + strlen("/status/"), NULL, 10);
    return status < 200 || status > 599 ? not_found(exchange) : answer_busy(exchange, status);
}

static enum MHD_Result serve_html(struct exchange *exchange) {
    return answer_text(
        exchange, MHD_HTTP_OK, "text/html",
        "<!DOCTYPE html>\n<html><head><title>Sign in</title></head><body>Please sign in.</body></html>\n");
}

static const struct {
    const char *path;
    bool prefix;
    enum MHD_Result (*serve)(struct exchange *exchange);
} routes[] = {
    {"/count", false, serve_count},
    {"/days", false, serve_days},
    {"/slow", false, serve_slow},
    {"/stall", false, serve_stall},
    {"/endless", false, serve_endless},
    {"/huge", false, serve_huge},
    {"/truncate", false, serve_truncate},
    {"/gzip-bomb", false, serve_gzip_bomb},
    {"/gzip", false, serve_gzip},
    {"/redirect-loop", false, serve_redirect_loop},
    {"/redirect-file", false, serve_redirect_file},
    {"/redirect-https", false, serve_redirect_https},
    {"/redirect", false, serve_redirect},
    {"/status/", true, serve_status},
    {"/html", false, serve_html},
    {"/", true, serve_file},
};

static enum MHD_Result handle(void *context, struct MHD_Connection *connection, const char *path,
                              const char *method, const char *version, const char *upload,
                              size_t *upload_size, void **state) {
    (void)version, (void)upload, (void)upload_size, (void)state;
    if (strcmp(method, "GET") != 0)
        return MHD_NO;
    const char *file = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "file");
    struct exchange exchange = {connection, path, file != NULL ? file : "", *(int *)context};
    for (size_t i = 0; i < sizeof routes / sizeof routes[0]; i++) {
        size_t length = strlen(routes[i].path);
        if (routes[i].prefix ? strncmp(path, routes[i].path, length) == 0 : strcmp(path, routes[i].path) == 0)
            return routes[i].serve(&exchange);
    }
    return MHD_NO;
}

/* Waits for a signal to end, or for the end of standard input. */
static void wait_for_the_end(const sigset_t *signals, bool until_stdin_closes) {
    int received = 0;
    if (!until_stdin_closes) {
        (void)sigwait(signals, &received);
        return;
    }
    const struct timespec moment = {0, 100 * 1000 * 1000};
    char byte;
    struct pollfd input = {STDIN_FILENO, POLLIN, 0};
    while (sigtimedwait(signals, NULL, &moment) < 0) {
        if (poll(&input, 1, 0) > 0 && read(STDIN_FILENO, &byte, 1) <= 0)
            return;
    }
}

int main(int argc, char **argv) {
    bool until_stdin_closes = false;
    int port = 0;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--until-stdin-closes") == 0)
            until_stdin_closes = true;
        else if (strcmp(argv[i], "--port") == 0 && i + 1 < argc)
            port = atoi(argv[++i]);
        else
            directory = argv[i];
    }
    if (directory == NULL || port < 0 || port > 65535) {
        (void)fprintf(stderr, "usage: fixture_server [--port N] [--until-stdin-closes] DIR\n");
        return 2;
    }
    sigset_t signals;
    (void)sigemptyset(&signals);
    (void)sigaddset(&signals, SIGTERM);
    (void)sigaddset(&signals, SIGINT);
    (void)pthread_sigmask(SIG_BLOCK, &signals, NULL);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    /* One thread for all file requests in turn would let one stalled body hold up the others. */
    struct MHD_Daemon *daemon =
        MHD_start_daemon(MHD_USE_THREAD_PER_CONNECTION | MHD_USE_INTERNAL_POLLING_THREAD, 0, NULL, NULL,
                         handle, &port, MHD_OPTION_SOCK_ADDR, &address, MHD_OPTION_END);
    if (daemon == NULL) {
        (void)fprintf(stderr, "fixture_server: cannot listen: %s\n", strerror(errno));
        return 1;
    }
    port = MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_BIND_PORT)->port;
    printf("http://127.0.0.1:%d\n", port);
    (void)fflush(stdout);
    wait_for_the_end(&signals, until_stdin_closes);
    body_give_up();
    MHD_stop_daemon(daemon);
    return 0;
}
