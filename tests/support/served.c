#include "support/served.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static void become_server(const int input[2], const int output[2], const char *directory) {
    char program[4096];
    const char *build = getenv("BUILD");
    (void)snprintf(program, sizeof program, "%s/tests/tools/fixture_server", build != NULL ? build : "build");
    (void)dup2(input[0], STDIN_FILENO);
    (void)dup2(output[1], STDOUT_FILENO);
    (void)execl(program, "fixture_server", "--until-stdin-closes", directory, (char *)NULL);
    _exit(127);
}

int served_start(struct served *served, const char *directory) {
    int input[2], output[2];
    if (pipe2(input, O_CLOEXEC) != 0 || pipe2(output, O_CLOEXEC) != 0)
        return -1;
    served->process = fork();
    if (served->process == 0)
        become_server(input, output, directory);
    (void)close(input[0]);
    (void)close(output[1]);
    served->input = input[1];
    size_t used = 0;
    while (used + 1 < sizeof served->address && read(output[0], served->address + used, 1) == 1 &&
           served->address[used] != '\n')
        used++;
    served->address[used] = '\0';
    (void)close(output[0]);
    if (strncmp(served->address, "http://", 7) == 0)
        return 0;
    served_stop(served);
    return -1;
}

void served_stop(struct served *served) {
    (void)close(served->input);
    if (served->process > 0)
        (void)waitpid(served->process, NULL, 0);
    served->process = -1;
}

char *served_address(const struct served *served, const char *path, char *room, size_t size) {
    (void)snprintf(room, size, "%s%s", served->address, path);
    return room;
}
