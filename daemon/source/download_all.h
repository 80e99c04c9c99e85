/* Several downloads at once: hosts beside each other, the requests to one host after each other with a pause
 * between; failures that may pass are tried again after a wait that doubles, with jitter, or as long as the
 * server asks. */
#ifndef WATERTURN_DOWNLOAD_ALL_H
#define WATERTURN_DOWNLOAD_ALL_H

#include <stdint.h>

#include "daemon/source/download.h"

#define DOWNLOAD_TRIES_DEFAULT      4
#define DOWNLOAD_WAIT_FIRST_MS      2000
#define DOWNLOAD_WAIT_LONGEST_MS    60000
#define DOWNLOAD_INTERVAL_DEFAULT_S 1.0 /* 0 for this machine */
#define DOWNLOAD_HOSTS_AT_ONCE      6

struct download_job {
    struct download_request request; /* what it points to stays the caller's */
    double interval_s;               /* least time from one request to its host to the next; NaN: the default.
                                      * Where jobs of one host differ the longest holds */
    /* what came of it */
    enum status status;
    struct download got;
    struct problems problems; /* of the last try */
    int tries;
};

/* The time, and waiting; a test brings its own. */
struct download_clock {
    int64_t (*now_ms)(void *context); /* never goes back */
    void (*sleep_ms)(void *context, int64_t ms);
    void *context;
};

struct download_policy {
    const struct download_clock *clock; /* NULL: the machine's */
    uint64_t seed;                      /* of the jitter; 0: drawn from the system */
    int tries;                          /* 0: DOWNLOAD_TRIES_DEFAULT */
    int64_t wait_first_ms;              /* 0: DOWNLOAD_WAIT_FIRST_MS */
    int64_t wait_longest_ms; /* 0: DOWNLOAD_WAIT_LONGEST_MS; a server that wants more is not tried again */
    bool (*stop)(void *context); /* asked now and then; true gives up what is not done. May be NULL */
    void *stop_context;
};

/* Called for each job in the order of the list, as soon as it and those before it are done. It may take the
 * bytes out of job->got; they are freed after it. Anything but STATUS_OK ends the whole. */
typedef enum status (*download_taker)(void *context, size_t index, struct download_job *job);

/* Runs all jobs, each started zeroed but for its inputs. STATUS_OK when each was handed over, however it
 * went; STATUS_NO_MEMORY, or what `take` returned. */
enum status download_all(struct download_job *jobs, size_t count, const struct download_policy *policy,
                         download_taker take, void *context);

/* The wait after the tries-th failure (from 1), ms: first * 2^(tries - 1), at most `longest`, of which one
 * half holds and the other is drawn. `random` is the state of the generator. */
int64_t download_wait_ms(int tries, int64_t first_ms, int64_t longest_ms, uint64_t *random);

#endif
