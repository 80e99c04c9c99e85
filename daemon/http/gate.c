#include "daemon/http/gate.h"

#include <string.h>
#include <strings.h>
#include <time.h>

#include "daemon/base/wall_clock.h"
#include "daemon/http/connections.h"

static const char *header(struct MHD_Connection *connection, const char *name) {
    return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static const char *token_of(struct MHD_Connection *connection, bool tls) {
    static const char bearer[] = "Bearer ";
    const char *authorization = header(connection, MHD_HTTP_HEADER_AUTHORIZATION);
    if (authorization != NULL && strncasecmp(authorization, bearer, sizeof bearer - 1) == 0)
        return authorization + sizeof bearer - 1;
    return MHD_lookup_connection_value(connection, MHD_COOKIE_KIND, tls ? ACCESS_COOKIE_TLS : ACCESS_COOKIE);
}

/* What a proxy adds. A page without a login is for this machine, and behind a proxy it would be for others.
 * Some add nothing and ask by HTTP/1.0, which no browser does. */
static bool was_forwarded(struct MHD_Connection *connection, const struct request *request) {
    static const char *const names[] = {"Forwarded",
                                        "X-Forwarded-For",
                                        "X-Forwarded-Host",
                                        "X-Forwarded-Proto",
                                        "X-Real-IP",
                                        "CF-Connecting-IP",
                                        "Via"};
    if (request->http_1_0)
        return true;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (header(connection, names[i]) != NULL)
            return true;
    }
    return false;
}

bool gate_open(struct access *access, struct MHD_Connection *connection, struct request *request, bool reads,
               struct visitor *visitor, struct reply *reply) {
    *visitor = (struct visitor){.role = ACCESS_MANAGER};
    request->visitor = visitor;
    if (access == NULL)
        return true;
    struct access_request asked = {.path = request->path,
                                   .token = token_of(connection, request->tls),
                                   .reads = reads,
                                   .forwarded = was_forwarded(connection, request),
                                   .at = (int64_t)time(NULL),
                                   .now_ms = wall_clock_running_ms()};
    connections_peer(connection, asked.peer);
    switch (access_judge(access, &asked, visitor, &reply->problems)) {
    case ACCESS_ALLOWED:
        return true;
    case ACCESS_LOGIN:
        routes_refuse(request, MHD_HTTP_UNAUTHORIZED, "login", reply);
        return false;
    case ACCESS_ROLE:
        routes_refuse(request, MHD_HTTP_FORBIDDEN, "role", reply);
        return false;
    case ACCESS_TOO_OFTEN:
        routes_refuse(request, MHD_HTTP_TOO_MANY_REQUESTS, "too_often", reply);
        return false;
    case ACCESS_FAILED:
        break;
    }
    routes_finish(request, STATUS_STORE, reply);
    return false;
}

void gate_missed(struct access *access, struct MHD_Connection *connection) {
    struct access_request asked = {.now_ms = wall_clock_running_ms()};
    connections_peer(connection, asked.peer);
    if (access != NULL)
        access_note_failure(access, &asked);
}
