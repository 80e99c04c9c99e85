#include "daemon/base/cores.h"

#include <sched.h>
#include <stdatomic.h>

int cores_count(void) {
    cpu_set_t set;
    int count = sched_getaffinity(0, sizeof set, &set) == 0 ? CPU_COUNT(&set) : 1;
    return count < 1 ? 1 : count > CORES_MAX ? CORES_MAX : count;
}

int cores_start(pthread_t thread[CORES_MAX], int threads, void *(*main)(void *context), void *context) {
    int started = 0;
    while (started < threads && started < CORES_MAX &&
           pthread_create(&thread[started], NULL, main, context) == 0)
        started++;
    return started;
}

struct share {
    atomic_long next;
    long parts;
    void (*work)(void *context, long part);
    void *context;
};

static void *do_parts(void *context) {
    struct share *share = context;
    for (long part = atomic_fetch_add(&share->next, 1); part < share->parts;
         part = atomic_fetch_add(&share->next, 1))
        share->work(share->context, part);
    return NULL;
}

void cores_share(int threads, long parts, void (*work)(void *context, long part), void *context) {
    pthread_t thread[CORES_MAX];
    struct share share = {.parts = parts, .work = work, .context = context};
    int started = cores_start(thread, threads - 1, do_parts, &share);
    (void)do_parts(&share);
    for (int i = 0; i < started; i++)
        (void)pthread_join(thread[i], NULL);
}
