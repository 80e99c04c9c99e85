#include "daemon/lifecycle/supervisor.h"

#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

void supervisor_tell(const char *format, ...) {
    char text[512];
    struct sockaddr_un to = {.sun_family = AF_UNIX};
    const char *path = getenv("NOTIFY_SOCKET");
    if (path == NULL || (path[0] != '/' && path[0] != '@') || strlen(path) >= sizeof to.sun_path)
        return;
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    memcpy(to.sun_path, path, strlen(path));
    if (to.sun_path[0] == '@')
        to.sun_path[0] = '\0'; /* an abstract address */
    int descriptor = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (descriptor < 0)
        return;
    socklen_t size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + strlen(path));
    (void)sendto(descriptor, text, strlen(text), MSG_NOSIGNAL, (const struct sockaddr *)&to, size);
    (void)close(descriptor);
}

int supervisor_watchdog_ms(void) {
    const char *microseconds = getenv("WATCHDOG_USEC"), *process = getenv("WATCHDOG_PID");
    if (microseconds == NULL || (process != NULL && strtol(process, NULL, 10) != (long)getpid()))
        return 0;
    long long value = strtoll(microseconds, NULL, 10);
    return value > 0 && value < 2000000000LL * 1000 ? (int)(value / 2000) : 0;
}
