#include "daemon/lifecycle/child.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdint.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define ARGUMENTS_MOST 16

extern char **environ;

/* `output`: where it prints to; -1: where this process does. */
static enum status start(struct child *child, const char *const *arguments, int output,
                         struct problems *problems) {
    char *argv[ARGUMENTS_MOST + 2] = {(char *)(uintptr_t) "waterturn"};
    size_t count = 1;
    for (; arguments[count - 1] != NULL && count <= ARGUMENTS_MOST; count++)
        argv[count] = (char *)(uintptr_t)arguments[count - 1];
    posix_spawnattr_t attributes;
    sigset_t none;
    sigemptyset(&none);
    posix_spawnattr_init(&attributes);
    /* The daemon blocks signals to wait for them; the child takes them as any program. */
    posix_spawnattr_setsigmask(&attributes, &none);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK);
    posix_spawn_file_actions_t files;
    posix_spawn_file_actions_init(&files);
    if (output >= 0)
        posix_spawn_file_actions_adddup2(&files, output, STDOUT_FILENO);
    int code = posix_spawn(&child->process, "/proc/self/exe", &files, &attributes, argv, environ);
    posix_spawn_file_actions_destroy(&files);
    posix_spawnattr_destroy(&attributes);
    if (code == 0)
        return STATUS_OK;
    child->process = 0;
    problem_add(problems, NULL, 0, 0, NULL, "`waterturn %s` cannot be started: %s", arguments[0],
                strerror(code));
    return STATUS_IO;
}

enum status child_start(struct child *child, const char *const *arguments, struct problems *problems) {
    return start(child, arguments, -1, problems);
}

enum status child_start_heard(struct child *child, const char *const *arguments, int *output,
                              struct problems *problems) {
    int ends[2];
    if (pipe2(ends, O_CLOEXEC) != 0) {
        problem_add(problems, NULL, 0, 0, NULL, "`waterturn %s` cannot be heard: %s", arguments[0],
                    strerror(errno));
        return STATUS_IO;
    }
    enum status status = start(child, arguments, ends[1], problems);
    (void)close(ends[1]);
    if (status == STATUS_OK)
        *output = ends[0];
    else
        (void)close(ends[0]);
    return status;
}

static int code_of(int state) {
    return WIFEXITED(state) ? WEXITSTATUS(state) : 128 + WTERMSIG(state);
}

int child_wait(struct child *child) {
    int state = 0;
    pid_t got;
    do
        got = waitpid(child->process, &state, 0);
    while (got < 0 && errno == EINTR);
    child->process = 0;
    return got > 0 ? code_of(state) : -1;
}

bool child_ended(struct child *child, int *code) {
    int state = 0;
    if (child->process == 0 || waitpid(child->process, &state, WNOHANG) != child->process)
        return false;
    child->process = 0;
    *code = code_of(state);
    return true;
}

void child_end(struct child *child) {
    int code;
    if (child->process == 0)
        return;
    (void)kill(child->process, SIGTERM);
    for (int i = 0; i < 500 && !child_ended(child, &code); i++)
        (void)nanosleep(&(struct timespec){0, 10000000L}, NULL);
    if (child->process != 0) {
        (void)kill(child->process, SIGKILL);
        (void)waitpid(child->process, NULL, 0);
        child->process = 0;
    }
}
