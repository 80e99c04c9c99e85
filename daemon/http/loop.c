#include "daemon/http/loop.h"

#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "daemon/base/wall_clock.h"

#define ROUND_LONGEST_MS 1000

struct loop {
    struct MHD_Daemon *daemon;
    pthread_t thread;
    int wake; /* an eventfd that lets it go round, or ends it */
    atomic_bool ending;
    atomic_llong beat_ms;
};

static int patience_ms(struct MHD_Daemon *daemon) {
    MHD_UNSIGNED_LONG_LONG wanted = 0;
    if (MHD_get_timeout(daemon, &wanted) != MHD_YES || wanted > ROUND_LONGEST_MS)
        return ROUND_LONGEST_MS;
    return (int)wanted;
}

static void *go_round(void *context) {
    struct loop *loop = context;
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(loop->daemon, MHD_DAEMON_INFO_EPOLL_FD);
    struct pollfd waiting[] = {{.fd = info->epoll_fd, .events = POLLIN},
                               {.fd = loop->wake, .events = POLLIN}};
    while (!atomic_load(&loop->ending)) {
        atomic_store(&loop->beat_ms, wall_clock_running_ms());
        (void)poll(waiting, 2, patience_ms(loop->daemon));
        eventfd_t pokes;
        (void)eventfd_read(loop->wake, &pokes);
        (void)MHD_run(loop->daemon);
    }
    return NULL;
}

struct loop *loop_start(struct MHD_Daemon *daemon) {
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_EPOLL_FD);
    struct loop *loop = info != NULL && info->epoll_fd >= 0 ? calloc(1, sizeof *loop) : NULL;
    if (loop == NULL)
        return NULL;
    loop->daemon = daemon;
    loop->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    atomic_store(&loop->beat_ms, wall_clock_running_ms());
    if (loop->wake >= 0 && pthread_create(&loop->thread, NULL, go_round, loop) == 0)
        return loop;
    if (loop->wake >= 0)
        (void)close(loop->wake);
    free(loop);
    return NULL;
}

void loop_poke(struct loop *loop) {
    if (loop != NULL)
        (void)eventfd_write(loop->wake, 1);
}

int64_t loop_standing_ms(struct loop *loop) {
    return wall_clock_running_ms() - atomic_load(&loop->beat_ms);
}

void loop_stop(struct loop *loop) {
    if (loop == NULL)
        return;
    atomic_store(&loop->ending, true);
    loop_poke(loop);
    (void)pthread_join(loop->thread, NULL);
    (void)close(loop->wake);
    free(loop);
}
