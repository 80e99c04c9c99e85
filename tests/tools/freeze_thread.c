/* Stops one thread of a process while the others go on: freeze_thread TID. Until its own input ends; prints a
 * line when the thread stands. Exit code 77: the system does not let it. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/ptrace.h>
#include <sys/wait.h>

int main(int argc, char **argv) {
    pid_t thread = argc == 2 ? (pid_t)strtol(argv[1], NULL, 10) : 0;
    if (thread <= 0)
        return 2;
    if (ptrace(PTRACE_SEIZE, thread, NULL, NULL) != 0)
        return errno == EPERM ? 77 : 1;
    if (ptrace(PTRACE_INTERRUPT, thread, NULL, NULL) != 0 || waitpid(thread, NULL, __WALL) != thread)
        return 1;
    puts("stands");
    fflush(stdout);
    while (getchar() != EOF) {
    }
    return ptrace(PTRACE_DETACH, thread, NULL, NULL) == 0 ? 0 : 1;
}
