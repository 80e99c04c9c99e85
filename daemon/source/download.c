#include "daemon/source/download.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/source/download_inside.h"

#define CONNECT_TIMEOUT_S 15L
#define STALL_DEFAULT_S   20L

enum status download_start(struct problems *problems) {
    enum status status = libcurl_load(problems);
    if (status == STATUS_OK && libcurl.global_init(CURL_GLOBAL_DEFAULT) != CURLE_OK)
        status = STATUS_NO_MEMORY;
    return status;
}

void download_stop(void) {
    libcurl.global_cleanup();
}

void download_free(struct download *download) {
    free(download->bytes);
    memset(download, 0, sizeof *download);
}

/* Forgets the bytes but keeps what the server said. */
static void drop_bytes(struct download *out) {
    free(out->bytes);
    out->bytes = NULL;
    out->size = 0;
}

static bool has_scheme(const char *address, const char *scheme) {
    return strncasecmp(address, scheme, strlen(scheme)) == 0;
}

const char *download_shown(const char *address, char room[DOWNLOAD_ADDRESS_MAX]) {
    const char *path = strstr(address, "://");
    path = path != NULL ? path + 3 : address;
    size_t host_end = strcspn(path, "/?#");
    size_t user = host_end;
    while (user > 0 && path[user - 1] != '@')
        user--;
    int start = (int)(path - address);
    const char *rest = path + user;
    int length = (int)strcspn(rest, "?#");
    (void)snprintf(room, DOWNLOAD_ADDRESS_MAX, "%.*s%.*s%s", start, address, length, rest,
                   rest[length] == '?' ? "?..." : "");
    return room;
}

static bool reserve(struct transfer *transfer, size_t size) {
    if (size + 1 <= transfer->room)
        return true;
    size_t room = transfer->room == 0 ? 16384 : transfer->room * 2;
    while (room < size + 1)
        room *= 2;
    unsigned char *bytes = realloc(transfer->out->bytes, room);
    if (bytes == NULL) {
        transfer->no_memory = true;
        return false;
    }
    transfer->out->bytes = bytes;
    transfer->room = room;
    return true;
}

/* libcurl hands over decompressed bytes; the limit is held here, whatever the server declared. */
static size_t take_bytes(char *bytes, size_t one, size_t count, void *context) {
    (void)one;
    struct transfer *transfer = context;
    struct download *out = transfer->out;
    if (count > transfer->max_bytes - out->size) {
        transfer->too_large = true;
        return 0;
    }
    if (!reserve(transfer, out->size + count))
        return 0;
    memcpy(out->bytes + out->size, bytes, count);
    out->size += count;
    out->bytes[out->size] = '\0';
    return count;
}

static void keep_header(CURL *curl, const char *name, char out[DOWNLOAD_HEADER_SIZE]) {
    struct curl_header *header = NULL;
    out[0] = '\0';
    /* A value too long for its place would be a different value when cut: it is left out. */
    if (libcurl.easy_header(curl, name, 0, CURLH_HEADER, -1, &header) == CURLHE_OK &&
        strlen(header->value) < DOWNLOAD_HEADER_SIZE)
        memcpy(out, header->value, strlen(header->value) + 1);
}

static bool add_header(struct transfer *transfer, const char *name, const char *value) {
    if (value == NULL || value[0] == '\0')
        return true;
    char line[DOWNLOAD_HEADER_SIZE + 32];
    int length = snprintf(line, sizeof line, "%s: %s", name, value);
    if (length < 0 || (size_t)length >= sizeof line || strpbrk(value, "\r\n") != NULL)
        return true;
    struct curl_slist *more = libcurl.slist_append(transfer->headers, line);
    if (more == NULL)
        return false;
    transfer->headers = more;
    return true;
}

/* Addresses on this machine are never sent through a proxy of the environment. */
bool download_on_this_machine(const char *address) {
    char *host = NULL;
    CURLU *url = libcurl.url();
    bool local =
        url != NULL && libcurl.url_set(url, CURLUPART_URL, address, 0) == CURLUE_OK &&
        libcurl.url_get(url, CURLUPART_HOST, &host, 0) == CURLUE_OK &&
        (strcmp(host, "127.0.0.1") == 0 || strcmp(host, "localhost") == 0 || strcmp(host, "[::1]") == 0);
    libcurl.free(host);
    libcurl.url_cleanup(url);
    return local;
}

static bool set_limits(struct transfer *transfer) {
    CURL *curl = transfer->curl;
    const struct download_request *request = transfer->request;
    long timeout = request->timeout_s > 0 ? request->timeout_s : DOWNLOAD_TIMEOUT_DEFAULT_S;
    long stall = request->stall_s > 0 ? request->stall_s : STALL_DEFAULT_S;
    long connect = timeout < CONNECT_TIMEOUT_S ? timeout : CONNECT_TIMEOUT_S;
    return libcurl.easy_setopt(curl, CURLOPT_TIMEOUT, timeout) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_CONNECTTIMEOUT, connect) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_LOW_SPEED_LIMIT, 1L) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_LOW_SPEED_TIME, stall) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_MAXFILESIZE_LARGE, (curl_off_t)transfer->max_bytes) ==
               CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_MAXREDIRS, (long)DOWNLOAD_REDIRECTS_MAX) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_NOSIGNAL, 1L) == CURLE_OK;
}

/* Which protocols, whose certificates, which credentials. A redirect stays on the protocol it came from. */
static bool set_trust(struct transfer *transfer) {
    CURL *curl = transfer->curl;
    const char *address = transfer->request->address;
    bool https = has_scheme(address, "https:");
    const char *scheme = https ? "https" : "http";
    bool good = libcurl.easy_setopt(curl, CURLOPT_PROTOCOLS_STR, scheme) == CURLE_OK &&
                libcurl.easy_setopt(curl, CURLOPT_REDIR_PROTOCOLS_STR, scheme) == CURLE_OK &&
                libcurl.easy_setopt(curl, CURLOPT_FOLLOWLOCATION, 1L) == CURLE_OK &&
                libcurl.easy_setopt(curl, CURLOPT_SSL_VERIFYPEER, 1L) == CURLE_OK &&
                libcurl.easy_setopt(curl, CURLOPT_SSL_VERIFYHOST, 2L) == CURLE_OK;
    if (good && download_on_this_machine(address))
        good = libcurl.easy_setopt(curl, CURLOPT_PROXY, "") == CURLE_OK;
    /* A bearer token cannot be hidden from who listens: in the clear it stays on this machine. */
    if (good && transfer->request->token != NULL && (https || download_on_this_machine(address)))
        good = libcurl.easy_setopt(curl, CURLOPT_XOAUTH2_BEARER, transfer->request->token) == CURLE_OK &&
               libcurl.easy_setopt(curl, CURLOPT_HTTPAUTH, (long)CURLAUTH_BEARER) == CURLE_OK;
    if (good && transfer->request->credentials != NULL) {
        long ways = (long)(https ? CURLAUTH_BASIC : CURLAUTH_DIGEST);
        good = libcurl.easy_setopt(curl, CURLOPT_USERPWD, transfer->request->credentials) == CURLE_OK &&
               libcurl.easy_setopt(curl, CURLOPT_HTTPAUTH, ways) == CURLE_OK;
    }
    return good;
}

static bool transfer_open(struct transfer *transfer) {
    transfer->curl = libcurl.easy_init();
    CURL *curl = transfer->curl;
    return curl != NULL && libcurl.easy_setopt(curl, CURLOPT_URL, transfer->request->address) == CURLE_OK &&
           set_limits(transfer) && set_trust(transfer) &&
           add_header(transfer, "If-None-Match", transfer->request->etag) &&
           add_header(transfer, "If-Modified-Since", transfer->request->modified_since) &&
           libcurl.easy_setopt(curl, CURLOPT_HTTPHEADER, transfer->headers) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_USERAGENT, "waterturn") == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_ACCEPT_ENCODING, "") == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_ERRORBUFFER, transfer->error) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_WRITEFUNCTION, take_bytes) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_WRITEDATA, transfer) == CURLE_OK;
}

static enum status say(struct transfer *transfer, enum status status, const char *message) {
    problem_add(transfer->problems, transfer->shown, 0, 0, NULL, "%s", message);
    return status;
}

static enum status say_too_large(struct transfer *transfer) {
    problem_add(transfer->problems, transfer->shown, 0, 0, NULL,
                "found more than %zu bytes, expected a weather file of at most that size; nothing was taken",
                transfer->max_bytes);
    return STATUS_NO_ROOM;
}

static enum status say_redirect(struct transfer *transfer) {
    struct curl_header *location = NULL;
    char room[DOWNLOAD_ADDRESS_MAX];
    const char *to = "another protocol";
    /* libcurl has counted the refused request already: the last answer that has the header is the one. */
    for (int i = 0; i <= DOWNLOAD_REDIRECTS_MAX; i++) {
        if (libcurl.easy_header(transfer->curl, "Location", 0, CURLH_HEADER, i, &location) == CURLHE_OK)
            to = download_shown(location->value, room);
    }
    /* A key may stand anywhere in the address; it may have gone along. */
    if (transfer->request->shown != NULL && strstr(transfer->request->shown, "{key}") != NULL)
        to = "another address";
    problem_add(
        transfer->problems, transfer->shown, 0, 0, NULL,
        "found a redirect to %s, expected one that stays on the same protocol; if that is where the file "
        "is now, write that address in the farm file",
        to);
    return STATUS_REFUSED;
}

/* What stopped the transfer, in words a grower can act on. */
static enum status explain(struct transfer *transfer, CURLcode code) {
    if (transfer->no_memory || code == CURLE_OUT_OF_MEMORY)
        return say(transfer, STATUS_NO_MEMORY, "not enough memory for this download");
    if (transfer->too_large || code == CURLE_FILESIZE_EXCEEDED)
        return say_too_large(transfer);
    switch (code) {
    case CURLE_UNSUPPORTED_PROTOCOL:
        return say_redirect(transfer);
    case CURLE_TOO_MANY_REDIRECTS:
        return say(transfer, STATUS_REFUSED,
                   "found redirects without end, expected at most 5; check the address");
    case CURLE_URL_MALFORMAT:
        return say(transfer, STATUS_REFUSED, "found an address that cannot be read; check how it is written");
    case CURLE_PEER_FAILED_VERIFICATION:
        problem_add(
            transfer->problems, transfer->shown, 0, 0, NULL,
            "the server's certificate does not hold (%s); nothing was taken. A wrong clock on this machine "
            "can cause this too",
            transfer->error);
        return STATUS_REFUSED;
    case CURLE_OPERATION_TIMEDOUT:
        return say(transfer, STATUS_IO, "the server was too slow or stopped sending; it will be tried again");
    case CURLE_PARTIAL_FILE:
    case CURLE_GOT_NOTHING:
    case CURLE_RECV_ERROR:
    case CURLE_BAD_CONTENT_ENCODING:
        problem_add(transfer->problems, transfer->shown, 0, 0, NULL,
                    "the file was cut short or damaged on its way (%s); nothing was taken",
                    transfer->error[0] != '\0' ? transfer->error : libcurl.easy_strerror(code));
        return STATUS_IO;
    default:
        problem_add(transfer->problems, transfer->shown, 0, 0, NULL, "no answer (%s); is the line up?",
                    transfer->error[0] != '\0' ? transfer->error : libcurl.easy_strerror(code));
        return STATUS_IO;
    }
}

static enum status judge_answer(struct transfer *transfer) {
    struct download *out = transfer->out;
    long code = out->http_code;
    if (code == 304 && (transfer->request->etag != NULL || transfer->request->modified_since != NULL)) {
        drop_bytes(out);
        out->not_modified = true;
        return STATUS_OK;
    }
    if (code == 200) {
        if (!reserve(transfer, out->size))
            return explain(transfer, CURLE_OUT_OF_MEMORY);
        out->bytes[out->size] = '\0'; /* also where the body is empty */
        return STATUS_OK;
    }
    const char *hint = "check the address";
    enum status status = STATUS_REFUSED;
    if (code == 404 || code == 410) {
        status = STATUS_NOT_FOUND;
        hint = "there is no such file at this address";
    } else if (code == 401 || code == 403) {
        hint = "the service wants a login or a key, or does not let this farm in";
    } else if (code == 408 || code == 425 || code == 429 || code >= 500) {
        status = STATUS_IO;
        hint = "the service is busy or down; it will be tried again";
    }
    problem_add(transfer->problems, transfer->shown, 0, 0, NULL, "found HTTP status %ld, expected 200: %s",
                code, hint);
    return status;
}

enum status transfer_finish(struct transfer *transfer, CURLcode code) {
    struct download *out = transfer->out;
    curl_off_t wait = 0;
    (void)libcurl.easy_getinfo(transfer->curl, CURLINFO_RESPONSE_CODE, &out->http_code);
    if (libcurl.easy_getinfo(transfer->curl, CURLINFO_RETRY_AFTER, &wait) == CURLE_OK && wait > 0)
        out->retry_after_s = wait > 86400 ? 86400 : (long)wait;
    keep_header(transfer->curl, "ETag", out->etag);
    keep_header(transfer->curl, "Last-Modified", out->last_modified);
    keep_header(transfer->curl, "Content-Type", out->content_type);
    enum status status = code == CURLE_OK ? judge_answer(transfer) : explain(transfer, code);
    if (status != STATUS_OK)
        drop_bytes(out);
    return status;
}

void transfer_close(struct transfer *transfer) {
    libcurl.slist_free_all(transfer->headers);
    libcurl.easy_cleanup(transfer->curl);
    transfer->headers = NULL;
    transfer->curl = NULL;
}

/* The path of a file: address: file:///path, file:/path, or file:path from the base directory. */
static bool file_path(const struct download_request *request, char path[DOWNLOAD_ADDRESS_MAX]) {
    const char *rest = request->address + strlen("file:");
    if (strncmp(rest, "//", 2) == 0)
        rest += 2;
    const char *base = request->base_dir;
    int length = rest[0] == '/' || base == NULL || base[0] == '\0'
                     ? snprintf(path, DOWNLOAD_ADDRESS_MAX, "%s", rest)
                     : snprintf(path, DOWNLOAD_ADDRESS_MAX, "%s/%s", base, rest);
    return rest[0] != '\0' && length > 0 && length < DOWNLOAD_ADDRESS_MAX;
}

static enum status read_all(struct transfer *transfer, int file, size_t size) {
    struct download *out = transfer->out;
    if (size > transfer->max_bytes)
        return say_too_large(transfer);
    if (!reserve(transfer, size))
        return explain(transfer, CURLE_OUT_OF_MEMORY);
    while (out->size < size) {
        ssize_t got = read(file, out->bytes + out->size, size - out->size);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return say(transfer, STATUS_IO,
                       "the file changed or could not be read to its end; nothing was taken");
        out->size += (size_t)got;
    }
    out->bytes[size] = '\0';
    return STATUS_OK;
}

static enum status get_from_disk(struct transfer *transfer) {
    char path[DOWNLOAD_ADDRESS_MAX];
    struct download *out = transfer->out;
    if (!transfer->request->allow_file)
        return say(
            transfer, STATUS_REFUSED,
            "found a file: address, expected http:// or https://; files of this machine are read only when "
            "the farm file names them");
    if (!file_path(transfer->request, path))
        return say(transfer, STATUS_REFUSED,
                   "found file: without a path that can be used, expected file:weather.csv");
    /* Not blocking: a pipe must not hold the morning up. */
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0) {
        int why = errno;
        problem_add(transfer->problems, transfer->shown, 0, 0, NULL, "cannot open %s: %s", path,
                    strerror(why));
        return why == ENOENT || why == ENOTDIR ? STATUS_NOT_FOUND : STATUS_IO;
    }
    struct stat about;
    enum status status = STATUS_IO;
    if (fstat(file, &about) != 0 || !S_ISREG(about.st_mode)) {
        status =
            say(transfer, STATUS_REFUSED, "found something that is no regular file, expected a weather file");
        goto out;
    }
    (void)snprintf(out->etag, sizeof out->etag, "\"%lld-%lld-%ld\"", (long long)about.st_size,
                   (long long)about.st_mtim.tv_sec, about.st_mtim.tv_nsec);
    if (transfer->request->etag != NULL && strcmp(transfer->request->etag, out->etag) == 0) {
        out->not_modified = true;
        status = STATUS_OK;
        goto out;
    }
    status = read_all(transfer, file, (size_t)about.st_size);
    if (status != STATUS_OK)
        drop_bytes(out);
out:
    (void)close(file);
    return status;
}

bool transfer_begin(struct transfer *transfer, const struct download_request *request, struct download *out,
                    struct problems *problems, enum status *status) {
    memset(transfer, 0, sizeof *transfer);
    memset(out, 0, sizeof *out);
    transfer->request = request;
    transfer->out = out;
    transfer->problems = problems;
    transfer->max_bytes = request->max_bytes != 0 ? request->max_bytes : DOWNLOAD_BYTES_DEFAULT;
    if (transfer->max_bytes > INT64_MAX / 4)
        transfer->max_bytes = INT64_MAX / 4;
    transfer->shown =
        download_shown(request->shown != NULL ? request->shown : request->address, transfer->shown_room);
    if (strlen(request->address) >= DOWNLOAD_ADDRESS_MAX) {
        *status = say(transfer, STATUS_REFUSED, "found an address of more than 4095 characters");
    } else if (has_scheme(request->address, "file:")) {
        *status = get_from_disk(transfer);
    } else if (!has_scheme(request->address, "http://") && !has_scheme(request->address, "https://")) {
        *status =
            say(transfer, STATUS_REFUSED,
                "found an address of another kind, expected one that begins with http://, https:// or file:");
    } else if (!transfer_open(transfer)) {
        *status = explain(transfer, CURLE_OUT_OF_MEMORY);
        transfer_close(transfer);
    } else {
        return true;
    }
    return false;
}

enum status download_get(const struct download_request *request, struct download *out,
                         struct problems *problems) {
    struct transfer transfer;
    enum status status;
    if (!transfer_begin(&transfer, request, out, problems, &status))
        return status;
    status = transfer_finish(&transfer, libcurl.easy_perform(transfer.curl));
    transfer_close(&transfer);
    return status;
}
