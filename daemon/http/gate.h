/* Who asks over a connection: what access.c wants to know, read out of the HTTP library. */
#ifndef WATERTURN_GATE_H
#define WATERTURN_GATE_H

#include <microhttpd.h>

#include "daemon/http/access.h"
#include "daemon/http/request.h"

/* Judges a request, and refuses it in words unless it may go on. `access` NULL: everybody is the manager. */
bool gate_open(struct access *access, struct MHD_Connection *connection, struct request *request, bool reads,
               struct visitor *visitor, struct reply *reply);

/* A code that came over the connection is none. */
void gate_missed(struct access *access, struct MHD_Connection *connection);

#endif
