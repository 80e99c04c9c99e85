/* One transfer under way, shared by download.c and download_all.c. Nobody else includes this. */
#ifndef WATERTURN_DOWNLOAD_INSIDE_H
#define WATERTURN_DOWNLOAD_INSIDE_H

#include "daemon/source/download.h"
#include "daemon/source/libcurl.h"

struct transfer {
    const struct download_request *request;
    struct download *out;
    struct problems *problems;
    const char *shown; /* the address as problems name it */
    size_t max_bytes, room;
    bool too_large, no_memory;
    CURL *curl;
    struct curl_slist *headers;
    char error[CURL_ERROR_SIZE];
    char shown_room[DOWNLOAD_ADDRESS_MAX];
};

/* True when transfer->curl is ready to be performed; then transfer_finish() and transfer_close(). False when
 * all is done already (a file of this machine, an address that is never taken), with its status. What it
 * points to must stay where it is. */
bool transfer_begin(struct transfer *transfer, const struct download_request *request, struct download *out,
                    struct problems *problems, enum status *status);
enum status transfer_finish(struct transfer *transfer, CURLcode code);
void transfer_close(struct transfer *transfer);

#endif
