#include "tests/support/http_client.h"

#include <arpa/inet.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <unistd.h>

#define ROOM (1 << 20)

bool http_client_open(struct http_client *client, int port) {
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    int yes = 1;
    memset(client, 0, sizeof *client);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    client->port = port;
    client->room = ROOM;
    client->bytes = malloc(client->room);
    client->socket = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    return client->bytes != NULL && client->socket >= 0 &&
           setsockopt(client->socket, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes) == 0 &&
           connect(client->socket, (const struct sockaddr *)&address, sizeof address) == 0;
}

void http_client_close(struct http_client *client) {
    if (client->socket >= 0)
        (void)close(client->socket);
    free(client->bytes);
    memset(client, 0, sizeof *client);
    client->socket = -1;
}

/* Where the value of a header begins; NULL: it is not there. */
static const char *header(const struct http_client *client, const char *name) {
    size_t size = strlen(name);
    for (const char *line = client->bytes; line < client->bytes + client->head;) {
        if (strncasecmp(line, name, size) == 0 && line[size] == ':')
            return line + size + 1 + strspn(line + size + 1, " ");
        const char *end = strchr(line, '\n');
        if (end == NULL)
            return NULL;
        line = end + 1;
    }
    return NULL;
}

static bool take(struct http_client *client) {
    ssize_t got = recv(client->socket, client->bytes + client->size, client->room - 1 - client->size, 0);
    if (got <= 0)
        return false;
    client->size += (size_t)got;
    client->bytes[client->size] = '\0';
    return true;
}

bool http_client_get(struct http_client *client, const char *path) {
    char request[400];
    int size = snprintf(request, sizeof request,
                        "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nAccept-Encoding: gzip\r\n"
                        "Accept-Language: en\r\n\r\n",
                        path, client->port);
    client->size = client->head = 0;
    if (send(client->socket, request, (size_t)size, MSG_NOSIGNAL) != size)
        return false;
    while (client->head == 0) {
        if (!take(client))
            return false;
        const char *end = strstr(client->bytes, "\r\n\r\n");
        if (end != NULL)
            client->head = (size_t)(end - client->bytes) + 4;
    }
    const char *length = header(client, "Content-Length"), *coding = header(client, "Content-Encoding");
    client->packed = coding != NULL && strncasecmp(coding, "gzip", 4) == 0;
    if (length == NULL || strncmp(client->bytes, "HTTP/1.1 200 ", 13) != 0)
        return false;
    size_t whole = client->head + strtoul(length, NULL, 10);
    while (client->size < whole && whole < client->room)
        if (!take(client))
            return false;
    return client->size == whole;
}
