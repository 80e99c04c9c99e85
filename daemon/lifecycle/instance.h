/* One daemon for each database: a lock on a file beside it, which the system lifts when the process ends. */
#ifndef WATERTURN_INSTANCE_H
#define WATERTURN_INSTANCE_H

#include "daemon/base/problem.h"

/* The descriptor that holds the lock; closing it lifts it. STATUS_BUSY: another process has it (said in
 * `problems` with its number). */
enum status instance_take(const char *database, int *descriptor, struct problems *problems);
void instance_leave(int descriptor);

#endif
