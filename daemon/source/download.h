/* Gets one file by http, https or (where it is allowed) from disk, through libcurl. Time, size and redirects
 * are limited; certificates are checked; the size limit holds for the bytes after decompression. */
#ifndef WATERTURN_DOWNLOAD_H
#define WATERTURN_DOWNLOAD_H

#include <stdbool.h>
#include <stddef.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"

#define DOWNLOAD_HEADER_SIZE       256
#define DOWNLOAD_BYTES_DEFAULT     ((size_t)16 << 20)
#define DOWNLOAD_TIMEOUT_DEFAULT_S 60
#define DOWNLOAD_REDIRECTS_MAX     5

struct download_request {
    const char *address;  /* http://, https:// or file: and a path */
    const char *shown;    /* what problems call it; NULL: the address without user, password and query */
    size_t max_bytes;     /* 0: DOWNLOAD_BYTES_DEFAULT */
    int timeout_s;        /* for the whole transfer; 0: DOWNLOAD_TIMEOUT_DEFAULT_S */
    int stall_s;          /* a body that brings less than a byte a second for so long is given up; 0: 20 */
    bool allow_file;      /* file: addresses; only for addresses out of the configuration */
    const char *base_dir; /* file: paths that are not absolute start here; NULL: the working directory */
    const char *etag;     /* of the copy that is there already, or NULL */
    const char *modified_since; /* Last-Modified of that copy, as the server wrote it, or NULL */
    const char *credentials;    /* "user:password" for HTTP authentication, or NULL; never logged */
    const char *token; /* for "Authorization: Bearer", or NULL; never logged. Sent by https, and by http
                        * only to this machine */
};

struct download {
    unsigned char *bytes; /* a NUL follows the last one; NULL when not_modified */
    size_t size;
    long http_code;     /* 0 for a file or when no answer came */
    long retry_after_s; /* what the server asked for; 0: nothing */
    bool not_modified;  /* the copy that is there is still true */
    char etag[DOWNLOAD_HEADER_SIZE], last_modified[DOWNLOAD_HEADER_SIZE], content_type[DOWNLOAD_HEADER_SIZE];
};

#define DOWNLOAD_ADDRESS_MAX 4096

/* Scheme, host and path of an address, for people: user, password and query may hold secrets. */
const char *download_shown(const char *address, char room[DOWNLOAD_ADDRESS_MAX]);

/* Whether it names this machine: no proxy, and no politeness needed. */
bool download_on_this_machine(const char *address);

/* Once for the process, before other threads start; and its counterpart. STATUS_IO: there is no libcurl. */
enum status download_start(struct problems *problems);
void download_stop(void);

/* STATUS_OK with bytes or not_modified. STATUS_REFUSED for an address or answer that is never taken (another
 * protocol, a redirect that leaves http, a certificate that does not hold), STATUS_NO_ROOM past max_bytes,
 * STATUS_NOT_FOUND for 404 and 410 or no such file, STATUS_IO for all that may pass (no connection, time out,
 * a body cut short, 429, 5xx). `out` is set in every case; on failure it holds no bytes. */
enum status download_get(const struct download_request *request, struct download *out,
                         struct problems *problems);
void download_free(struct download *download);

#endif
