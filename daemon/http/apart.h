/* Pages that compute much are made by another run of this program (`waterturn page`): what they need of
 * memory goes when it ends, and the other pages are answered meanwhile. */
#ifndef WATERTURN_APART_H
#define WATERTURN_APART_H

#include <microhttpd.h>
#include <stdint.h>

#include "daemon/http/request.h"

/* So many at once: each may take tens of megabytes. */
#define APART_MOST 2

struct apart;
struct apart_job;

/* `arguments`: those that every such run gets ("--db", FILE), NULL after the last. Must last as long. NULL:
 * no memory. */
struct apart *apart_new(const char *const *arguments);

/* Begins to make the page and suspends the connection: its request comes in again when the page is there.
 * NULL: too many are being made already. */
struct apart_job *apart_begin(struct apart *apart, struct MHD_Connection *connection,
                              const struct request *request);

/* When it began, of a clock that never goes back. */
int64_t apart_began_ms(const struct apart_job *job);

/* The page into the reply. STATUS_IO: the run failed. */
enum status apart_take(struct apart_job *job, struct reply *reply);

/* NULL is allowed. */
void apart_job_free(struct apart_job *job);

/* Ends what is being made, and waits until every connection goes on. Before the HTTP daemon is stopped. */
void apart_end(struct apart *apart);
void apart_free(struct apart *apart);

#endif
