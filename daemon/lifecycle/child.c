#include "daemon/lifecycle/child.h"

#include <signal.h>
#include <spawn.h>
#include <stdint.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define ARGUMENTS_MOST 16

extern char **environ;

enum status child_start(struct child *child, const char *const *arguments, struct problems *problems) {
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
    int code = posix_spawn(&child->process, "/proc/self/exe", NULL, &attributes, argv, environ);
    posix_spawnattr_destroy(&attributes);
    if (code == 0)
        return STATUS_OK;
    child->process = 0;
    problem_add(problems, NULL, 0, 0, NULL, "`waterturn %s` cannot be started: %s", arguments[0],
                strerror(code));
    return STATUS_IO;
}

bool child_ended(struct child *child, int *code) {
    int state = 0;
    if (child->process == 0 || waitpid(child->process, &state, WNOHANG) != child->process)
        return false;
    child->process = 0;
    *code = WIFEXITED(state) ? WEXITSTATUS(state) : 128 + WTERMSIG(state);
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
