#include "daemon/http/address.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#define HOST_SIZE 256
#define BACKLOG   64

/* Splits "HOST:PORT" or "[HOST]:PORT"; a port need not be there: -1. */
static bool split(const char *text, char host[HOST_SIZE], int *port) {
    const char *end, *after;
    if (text[0] == '[') {
        end = strchr(++text, ']');
        after = end != NULL ? end + 1 : NULL;
    } else {
        end = text + strcspn(text, ":");
        after = end;
    }
    if (end == NULL || end == text || end - text >= HOST_SIZE)
        return false;
    memcpy(host, text, (size_t)(end - text));
    host[end - text] = '\0';
    *port = -1;
    if (*after == '\0')
        return true;
    size_t digits = strspn(after + 1, "0123456789");
    if (*after != ':' || digits == 0 || digits > 5 || after[1 + digits] != '\0')
        return false;
    *port = 0;
    for (size_t i = 1; i <= digits; i++)
        *port = *port * 10 + (after[i] - '0');
    return *port <= 65535;
}

static bool parse_literal(const char *host, int port, struct address *out) {
    *out = (struct address){.size = 0};
    struct sockaddr_in *v4 = (struct sockaddr_in *)&out->socket;
    struct sockaddr_in6 *v6 = (struct sockaddr_in6 *)&out->socket;
    if (inet_pton(AF_INET, host, &v4->sin_addr) == 1) {
        v4->sin_family = AF_INET;
        v4->sin_port = htons((uint16_t)port);
        out->size = sizeof *v4;
    } else if (inet_pton(AF_INET6, host, &v6->sin6_addr) == 1) {
        v6->sin6_family = AF_INET6;
        v6->sin6_port = htons((uint16_t)port);
        out->size = sizeof *v6;
    }
    return out->size != 0;
}

enum status address_parse(const char *text, struct address *out, struct problems *problems) {
    char host[HOST_SIZE];
    int port = -1;
    bool known = split(text, host, &port) && port >= 0;
    const char *literal = known && strcasecmp(host, "localhost") == 0 ? "127.0.0.1" : host;
    if (known && parse_literal(literal, port, out))
        return STATUS_OK;
    problem_add(problems, NULL, 0, 0, "listen",
                "found \"%s\", expected ADDRESS:PORT such as 127.0.0.1:8080 or [::1]:8080", text);
    return STATUS_REFUSED;
}

enum status address_listen(const struct address *address, const char *text, int *descriptor,
                           struct problems *problems) {
    int fd = socket(address->socket.ss_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    int on = 1;
    if (fd >= 0 && setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) == 0 &&
        bind(fd, (const struct sockaddr *)&address->socket, address->size) == 0 && listen(fd, BACKLOG) == 0) {
        *descriptor = fd;
        return STATUS_OK;
    }
    problem_add(problems, NULL, 0, 0, "listen", "cannot listen on %s: %s", text, strerror(errno));
    if (fd >= 0)
        close(fd);
    return STATUS_IO;
}

static int port_of(const struct sockaddr_storage *socket) {
    if (socket->ss_family == AF_INET)
        return ntohs(((const struct sockaddr_in *)socket)->sin_port);
    if (socket->ss_family == AF_INET6)
        return ntohs(((const struct sockaddr_in6 *)socket)->sin6_port);
    return 0;
}

int address_port(int descriptor) {
    struct sockaddr_storage socket = {0};
    socklen_t size = sizeof socket;
    return getsockname(descriptor, (struct sockaddr *)&socket, &size) == 0 ? port_of(&socket) : 0;
}

bool address_on_loopback(const struct address *address) {
    if (address->socket.ss_family == AF_INET) {
        const struct sockaddr_in *v4 = (const struct sockaddr_in *)&address->socket;
        return ntohl(v4->sin_addr.s_addr) >> 24 == 127;
    }
    return IN6_IS_ADDR_LOOPBACK(&((const struct sockaddr_in6 *)&address->socket)->sin6_addr);
}

static bool is_wildcard(const struct address *address) {
    if (address->socket.ss_family == AF_INET)
        return ((const struct sockaddr_in *)&address->socket)->sin_addr.s_addr == htonl(INADDR_ANY);
    return IN6_IS_ADDR_UNSPECIFIED(&((const struct sockaddr_in6 *)&address->socket)->sin6_addr);
}

static bool same_host(const struct address *a, const struct address *b) {
    if (a->socket.ss_family != b->socket.ss_family)
        return false;
    if (a->socket.ss_family == AF_INET)
        return ((const struct sockaddr_in *)&a->socket)->sin_addr.s_addr ==
               ((const struct sockaddr_in *)&b->socket)->sin_addr.s_addr;
    return IN6_ARE_ADDR_EQUAL(&((const struct sockaddr_in6 *)&a->socket)->sin6_addr,
                              &((const struct sockaddr_in6 *)&b->socket)->sin6_addr);
}

bool address_allows_host(const struct address *address, const char *host, const char *const *hosts) {
    char name[HOST_SIZE];
    int port;
    if (host == NULL || !split(host, name, &port))
        return false;
    struct address literal;
    if (parse_literal(name, 0, &literal))
        return address_on_loopback(&literal) || is_wildcard(address) || same_host(&literal, address);
    for (size_t i = 0; hosts != NULL && hosts[i] != NULL; i++) {
        if (strcasecmp(name, hosts[i]) == 0)
            return true;
    }
    return strcasecmp(name, "localhost") == 0;
}
