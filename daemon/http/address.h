/* The address to listen on, and the Host headers that belong to it. */
#ifndef WATERTURN_ADDRESS_H
#define WATERTURN_ADDRESS_H

#include <stdbool.h>
#include <sys/socket.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"

struct address {
    struct sockaddr_storage socket;
    socklen_t size;
};

/* "127.0.0.1:8080", "[::1]:0", "localhost:8080" (taken as 127.0.0.1). STATUS_REFUSED, said in `problems`. */
enum status address_parse(const char *text, struct address *out, struct problems *problems);

/* A listening socket on it. STATUS_IO, said in `problems` with `text`. */
enum status address_listen(const struct address *address, const char *text, int *descriptor,
                           struct problems *problems);

/* Whether only this machine can reach it. */
bool address_on_loopback(const struct address *address);

/* The port of a listening socket; 0 when it cannot be told. */
int address_port(int descriptor);

/* Whether a Host header (NULL: none) may reach a server that listens on `address`: localhost, a loopback
 * address, the address itself (any, where it is the wildcard), or one of `hosts` (NULL after the last; may be
 * NULL). Names that anyone could point here through the DNS are not among them. */
bool address_allows_host(const struct address *address, const char *host, const char *const *hosts);

#endif
