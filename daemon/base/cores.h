/* Work that is shared among the cores of the machine. */
#ifndef WATERTURN_CORES_H
#define WATERTURN_CORES_H

#include <pthread.h>

#define CORES_MAX 64

/* How many threads the machine lets this process run at the same time: 1..CORES_MAX. */
int cores_count(void);

/* Starts up to so many threads, CORES_MAX at most; returns how many run. */
int cores_start(pthread_t thread[CORES_MAX], int threads, void *(*main)(void *context), void *context);

/* Calls `work` for 0, 1, ..., parts - 1, on so many threads, of which the caller's is one; their order is not
 * known. Where no thread can be started the caller's does it all. */
void cores_share(int threads, long parts, void (*work)(void *context, long part), void *context);

#endif
