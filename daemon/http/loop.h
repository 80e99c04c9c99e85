/* The thread that answers requests. It says by a beat that it goes round, so that the watchdog sees when it
 * no longer does. */
#ifndef WATERTURN_LOOP_H
#define WATERTURN_LOOP_H

#include <microhttpd.h>
#include <stdint.h>

struct loop;

/* Starts the thread for a daemon that was made with MHD_USE_EPOLL and no thread of its own. NULL: it cannot
 * be started. */
struct loop *loop_start(struct MHD_Daemon *daemon);

/* Milliseconds since it last went round; a request that is being answered counts as standing. */
int64_t loop_standing_ms(struct loop *loop);

/* Waits for the request that is being answered. NULL is allowed. */
void loop_stop(struct loop *loop);

#endif
