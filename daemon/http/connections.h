/* The connections that are open, so that nobody can take them all: when they run short, the oldest of whoever
 * has the most is closed, those of known devices last; and a request that comes in drop by drop ends. */
#ifndef WATERTURN_CONNECTIONS_H
#define WATERTURN_CONNECTIONS_H

#include <microhttpd.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CONNECTIONS_MAX 160

struct connections;

/* NULL: no memory. Freed after the HTTP daemon has stopped. */
struct connections *connections_new(void);
void connections_free(struct connections *connections);

/* For MHD_OPTION_NOTIFY_CONNECTION. */
void connections_notify(void *context, struct MHD_Connection *connection, void **of_connection,
                        enum MHD_ConnectionNotificationCode code);

/* A request on it is being answered; `known`: of a device that may come in. */
void connections_answering(struct connections *connections, struct MHD_Connection *connection, bool known);
/* Its answer went out. */
void connections_answered(struct connections *connections, struct MHD_Connection *connection);

/* Closes those whose request, or whose answer, takes too long. Any thread, every few seconds. */
void connections_sweep(struct connections *connections);

size_t connections_count(struct connections *connections);

/* Where a connection comes from: an IPv6 address, or an IPv4 one mapped. */
void connections_peer(struct MHD_Connection *connection, unsigned char out[16]);

#endif
