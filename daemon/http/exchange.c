#include "daemon/http/exchange.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "daemon/http/apart.h"
#include "daemon/http/request.h"

#define FORM_BYTES_MAX (64 * 1024)
#define BODY_BYTES_MAX (1024 * 1024) /* what is longer is not read to its end */

static enum MHD_Result take_value(void *context, enum MHD_ValueKind kind, const char *key, const char *file,
                                  const char *type, const char *encoding, const char *bytes, uint64_t offset,
                                  size_t size) {
    struct exchange *exchange = context;
    (void)kind;
    (void)file;
    (void)type;
    (void)encoding;
    (void)offset;
    fill_add(&exchange->form, key != NULL ? key : "", bytes, size);
    return MHD_YES;
}

struct exchange *exchange_new(struct MHD_Connection *connection, bool posted) {
    struct exchange *exchange = calloc(1, sizeof *exchange);
    if (exchange == NULL)
        return NULL;
    fill_init(&exchange->form);
    exchange->posted = posted;
    if (posted)
        exchange->processor = MHD_create_post_processor(connection, 1024, take_value, exchange);
    return exchange;
}

enum MHD_Result exchange_take(struct exchange *exchange, const char *upload, size_t size) {
    exchange->bytes += size;
    if (exchange->processor != NULL && exchange->bytes <= FORM_BYTES_MAX &&
        MHD_post_process(exchange->processor, upload, size) != MHD_YES)
        exchange->form.failed = true;
    return exchange->bytes <= BODY_BYTES_MAX ? MHD_YES : MHD_NO;
}

bool exchange_finish(struct exchange *exchange) {
    bool whole = exchange->processor != NULL && exchange->bytes <= FORM_BYTES_MAX &&
                 MHD_destroy_post_processor(exchange->processor) == MHD_YES && !exchange->form.failed;
    if (exchange->bytes <= FORM_BYTES_MAX)
        exchange->processor = NULL;
    for (size_t i = 0; whole && i < exchange->form.count; i++)
        whole = request_clean(fill_value(&exchange->form, exchange->form.item[i].name), true);
    return whole;
}

void exchange_completed(void *context, struct MHD_Connection *connection, void **state,
                        enum MHD_RequestTerminationCode code) {
    struct exchange *exchange = *state;
    (void)context;
    (void)connection;
    (void)code;
    if (exchange == NULL)
        return;
    if (exchange->processor != NULL)
        MHD_destroy_post_processor(exchange->processor);
    apart_job_free(exchange->job);
    fill_free(&exchange->form);
    free(exchange);
    *state = NULL;
}

bool exchange_own_origin(struct MHD_Connection *connection, const char *host) {
    const char *origin = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ORIGIN);
    const char *site = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Sec-Fetch-Site");
    if (site != NULL && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0)
        return false;
    if (origin == NULL)
        return true;
    const char *colon = strstr(origin, "://");
    return colon != NULL && host != NULL && strcasecmp(colon + 3, host) == 0 &&
           (strncasecmp(origin, "http:", 5) == 0 || strncasecmp(origin, "https:", 6) == 0);
}

enum MHD_Result exchange_take_argument(void *context, enum MHD_ValueKind kind, const char *key,
                                       const char *value) {
    (void)kind;
    request_add_query(context, key, value);
    return MHD_YES;
}
