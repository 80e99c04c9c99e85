#include "daemon/lifecycle/instance.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

static enum status trouble(const char *path, int descriptor, int why, struct problems *problems) {
    char process[16] = "";
    if (why != EWOULDBLOCK) {
        problem_add(problems, path, 0, 0, NULL, "cannot be locked: %s", strerror(why));
        return STATUS_IO;
    }
    if (pread(descriptor, process, sizeof process - 1, 0) < 0)
        process[0] = '\0';
    problem_add(problems, path, 0, 0, NULL, "process %d serves this database; end it first",
                (int)strtol(process, NULL, 10));
    return STATUS_BUSY;
}

enum status instance_take(const char *database, int *descriptor, struct problems *problems) {
    char *path = NULL;
    if (asprintf(&path, "%s.lock", database) < 0)
        return STATUS_NO_MEMORY;
    enum status status = STATUS_OK;
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
    if (fd < 0 || flock(fd, LOCK_EX | LOCK_NB) != 0)
        status = trouble(path, fd, errno, problems);
    else if (ftruncate(fd, 0) != 0 || dprintf(fd, "%d\n", (int)getpid()) < 0)
        status = trouble(path, fd, errno, problems);
    if (status == STATUS_OK)
        *descriptor = fd;
    else if (fd >= 0)
        (void)close(fd);
    free(path);
    return status;
}

void instance_leave(int descriptor) {
    if (descriptor >= 0)
        (void)close(descriptor);
}
