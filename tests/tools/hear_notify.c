/* Listens on a datagram socket as systemd does, and prints what it is told: hear_notify SOCKET */
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

int main(int argc, char **argv) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    char text[1024];
    if (argc != 2 || strlen(argv[1]) >= sizeof address.sun_path)
        return 2;
    memcpy(address.sun_path, argv[1], strlen(argv[1]));
    int descriptor = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (descriptor < 0 || bind(descriptor, (const struct sockaddr *)&address, sizeof address) != 0)
        return 1;
    for (ssize_t size; (size = recv(descriptor, text, sizeof text, 0)) > 0;) {
        printf("%.*s\n", (int)size, text);
        fflush(stdout);
    }
    return 0;
}
