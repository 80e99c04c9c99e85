/* A request while it comes in: its body, when it is a form's, and where it comes from. */
#ifndef WATERTURN_EXCHANGE_H
#define WATERTURN_EXCHANGE_H

#include <stdbool.h>
#include <stddef.h>

#include <microhttpd.h>

#include "daemon/view/fill.h"

struct apart_job;

/* What is kept of a request while its body comes. */
struct exchange {
    struct MHD_PostProcessor *processor; /* NULL: the body is not that of a form */
    struct fill form;
    size_t bytes;
    bool posted;
    struct apart_job *job; /* makes its page; NULL: none does */
};

/* NULL: no memory. Freed by exchange_completed(). */
struct exchange *exchange_new(struct MHD_Connection *connection, bool posted);

/* Takes a piece of the body. MHD_NO: it is so long that the connection is to be closed. */
enum MHD_Result exchange_take(struct exchange *exchange, const char *upload, size_t size);

/* Whether all of a form came, and is text. */
bool exchange_finish(struct exchange *exchange);

/* For MHD_OPTION_NOTIFY_COMPLETED. */
void exchange_completed(void *context, struct MHD_Connection *connection, void **state,
                        enum MHD_RequestTerminationCode code);

/* A browser says which page a form was on: one of another site is refused. What says nothing is no browser of
 * today, and has to have the form's token all the same. `host`: the request's own Host header; NULL: none. */
bool exchange_own_origin(struct MHD_Connection *connection, const char *host);

/* For MHD_get_connection_values(): request_add_query() of each. */
enum MHD_Result exchange_take_argument(void *context, enum MHD_ValueKind kind, const char *key,
                                       const char *value);

#endif
