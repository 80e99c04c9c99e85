#include "daemon/http/connections.h"

#include <netinet/in.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "daemon/base/wall_clock.h"

#define CROWDED         (CONNECTIONS_MAX - 16) /* from here on the oldest make room */
#define REQUEST_LONGEST (30 * 1000)      /* ms from the connection, or the last answer, to a whole request */
#define ANSWER_LONGEST  (10 * 60 * 1000) /* a page over a line with one bar of signal */

struct open_connection {
    int descriptor; /* -1: this place is free */
    unsigned char peer[16];
    int64_t since_ms;
    bool known, answering;
    bool closing; /* was shut down, and is not gone yet */
};

struct connections {
    pthread_mutex_t lock;
    size_t count;
    struct open_connection open[CONNECTIONS_MAX];
};

struct connections *connections_new(void) {
    struct connections *connections = calloc(1, sizeof *connections);
    if (connections == NULL)
        return NULL;
    pthread_mutex_init(&connections->lock, NULL);
    for (size_t i = 0; i < CONNECTIONS_MAX; i++)
        connections->open[i].descriptor = -1;
    return connections;
}

void connections_free(struct connections *connections) {
    if (connections == NULL)
        return;
    pthread_mutex_destroy(&connections->lock);
    free(connections);
}

void connections_peer(struct MHD_Connection *connection, unsigned char out[16]) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const struct sockaddr *address = info != NULL ? info->client_addr : NULL;
    memset(out, 0, 16);
    if (address != NULL && address->sa_family == AF_INET6) {
        memcpy(out, &((const struct sockaddr_in6 *)(const void *)address)->sin6_addr, 16);
    } else if (address != NULL && address->sa_family == AF_INET) {
        out[10] = out[11] = 0xFF;
        memcpy(out + 12, &((const struct sockaddr_in *)(const void *)address)->sin_addr, 4);
    }
}

/* ---- who has to go ---- */

static void shut(struct open_connection *open) {
    open->closing = true;
    (void)shutdown(open->descriptor, SHUT_RDWR);
}

static size_t share_of_peer(const struct connections *connections, const unsigned char peer[16]) {
    size_t share = 0;
    for (size_t i = 0; i < CONNECTIONS_MAX; i++) {
        const struct open_connection *open = &connections->open[i];
        share += open->descriptor >= 0 && !open->closing && memcmp(open->peer, peer, 16) == 0;
    }
    return share;
}

/* Whether `a` has to go before `b`. */
static bool goes_before(const struct connections *connections, const struct open_connection *a,
                        const struct open_connection *b) {
    if (a->known != b->known)
        return b->known;
    size_t share_a = share_of_peer(connections, a->peer), share_b = share_of_peer(connections, b->peer);
    if (share_a != share_b)
        return share_a > share_b;
    return a->since_ms < b->since_ms;
}

static void make_room(struct connections *connections) {
    struct open_connection *first = NULL;
    size_t staying = 0;
    for (size_t i = 0; i < CONNECTIONS_MAX; i++) {
        struct open_connection *open = &connections->open[i];
        if (open->descriptor < 0 || open->closing)
            continue;
        staying++;
        if (!open->answering && (first == NULL || goes_before(connections, open, first)))
            first = open;
    }
    if (staying > CROWDED && first != NULL)
        shut(first);
}

/* ---- their life ---- */

static void take(struct connections *connections, struct MHD_Connection *connection, void **context) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    make_room(connections);
    for (size_t i = 0; i < CONNECTIONS_MAX && info != NULL; i++) {
        struct open_connection *open = &connections->open[i];
        if (open->descriptor >= 0)
            continue;
        *open = (struct open_connection){.descriptor = info->connect_fd, .since_ms = wall_clock_running_ms()};
        connections_peer(connection, open->peer);
        connections->count++;
        *context = open;
        return;
    }
}

void connections_notify(void *context, struct MHD_Connection *connection, void **of_connection,
                        enum MHD_ConnectionNotificationCode code) {
    struct connections *connections = context;
    pthread_mutex_lock(&connections->lock);
    if (code == MHD_CONNECTION_NOTIFY_STARTED) {
        take(connections, connection, of_connection);
    } else if (*of_connection != NULL) {
        struct open_connection *open = *of_connection;
        open->descriptor = -1;
        connections->count--;
        *of_connection = NULL;
    }
    pthread_mutex_unlock(&connections->lock);
}

static struct open_connection *open_of(struct MHD_Connection *connection) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info != NULL ? info->socket_context : NULL;
}

void connections_answering(struct connections *connections, struct MHD_Connection *connection, bool known) {
    struct open_connection *open = open_of(connection);
    pthread_mutex_lock(&connections->lock);
    if (open != NULL) {
        open->answering = true;
        open->known = known;
        open->since_ms = wall_clock_running_ms();
    }
    pthread_mutex_unlock(&connections->lock);
}

void connections_answered(struct connections *connections, struct MHD_Connection *connection) {
    struct open_connection *open = open_of(connection);
    pthread_mutex_lock(&connections->lock);
    if (open != NULL) {
        open->answering = false;
        open->since_ms = wall_clock_running_ms();
    }
    pthread_mutex_unlock(&connections->lock);
}

void connections_sweep(struct connections *connections) {
    int64_t now = wall_clock_running_ms();
    pthread_mutex_lock(&connections->lock);
    for (size_t i = 0; i < CONNECTIONS_MAX; i++) {
        struct open_connection *open = &connections->open[i];
        int64_t longest = open->answering ? ANSWER_LONGEST : REQUEST_LONGEST;
        if (open->descriptor >= 0 && !open->closing && now - open->since_ms > longest)
            shut(open);
    }
    pthread_mutex_unlock(&connections->lock);
}

size_t connections_count(struct connections *connections) {
    pthread_mutex_lock(&connections->lock);
    size_t count = connections->count;
    pthread_mutex_unlock(&connections->lock);
    return count;
}
