/* Another run of this program, beside the daemon: what it needs of memory and libraries goes when it ends,
 * and what befalls it leaves the pages standing. */
#ifndef WATERTURN_CHILD_H
#define WATERTURN_CHILD_H

#include <sys/types.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"

struct child {
    pid_t process; /* 0: none runs */
};

/* Starts `waterturn ARGUMENTS` (NULL after the last; the first is the command). */
enum status child_start(struct child *child, const char *const *arguments, struct problems *problems);

/* The same, and what it prints can be read from *output. */
enum status child_start_heard(struct child *child, const char *const *arguments, int *output,
                              struct problems *problems);

/* Waits for its end; the code as below. */
int child_wait(struct child *child);

/* Whether it has ended; *code: its exit code, 128 and the signal when it was killed. */
bool child_ended(struct child *child, int *code);

/* Ends it, and waits: first by SIGTERM, after five seconds by SIGKILL. */
void child_end(struct child *child);

#endif
