/* The least client that a bench of pages needs: GET over one connection that stays open. */
#ifndef WATERTURN_TESTS_HTTP_CLIENT_H
#define WATERTURN_TESTS_HTTP_CLIENT_H

#include <stdbool.h>
#include <stddef.h>

struct http_client {
    int socket, port;
    char *bytes; /* of the last answer, its head in front */
    size_t size, head, room;
    bool packed; /* it came as gzip */
};

bool http_client_open(struct http_client *client, int port);
void http_client_close(struct http_client *client);

/* Asks as a browser does that takes gzip. False: there was no whole answer of status 200. */
bool http_client_get(struct http_client *client, const char *path);

#endif
