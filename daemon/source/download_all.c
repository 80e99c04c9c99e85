#include "daemon/source/download_all.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/random.h>
#include <time.h>

#include "daemon/base/wall_clock.h"
#include "daemon/source/download_inside.h"

#define HOST_SIZE    300
#define POLL_MOST_MS 500

enum state { STATE_WAITING, STATE_RUNNING, STATE_DONE };

struct host {
    char name[HOST_SIZE]; /* scheme, host and port; "" for files of this machine */
    int64_t interval_ms, next_ms;
    bool busy;
};

struct line {
    enum state state;
    int64_t due_ms;
    struct host *host;
    struct transfer transfer;
};

struct run {
    struct download_job *jobs;
    struct line *line; /* one a job */
    struct host *host;
    size_t count, host_count, running, handed;
    struct download_policy policy;
    uint64_t random;
    CURLM *multi;
    download_taker take;
    void *context;
};

/* ---- time and chance ---- */

static int64_t machine_now_ms(void *context) {
    (void)context;
    return wall_clock_running_ms();
}

static void machine_sleep_ms(void *context, int64_t ms) {
    const struct timespec wait = {ms / 1000, ms % 1000 * 1000000};
    (void)context;
    (void)nanosleep(&wait, NULL);
}

static const struct download_clock machine_clock = {machine_now_ms, machine_sleep_ms, NULL};

static int64_t now_of(const struct run *run) {
    return run->policy.clock->now_ms(run->policy.clock->context);
}

/* SplitMix64 (Steele, Lea and Flood 2014). */
static uint64_t draw(uint64_t *random) {
    uint64_t z = *random += 0x9E3779B97F4A7C15U;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31);
}

int64_t download_wait_ms(int tries, int64_t first_ms, int64_t longest_ms, uint64_t *random) {
    int64_t wait = first_ms;
    for (int i = 1; i < tries && wait < longest_ms; i++)
        wait *= 2;
    if (wait > longest_ms)
        wait = longest_ms;
    int64_t half = wait / 2;
    return wait - half + (int64_t)(draw(random) % (uint64_t)(half + 1));
}

/* ---- hosts ---- */

static void host_name(const char *address, char out[HOST_SIZE]) {
    const char *authority = strstr(address, "://");
    out[0] = '\0';
    if (strncasecmp(address, "file:", 5) == 0 || authority == NULL)
        return;
    size_t end = strcspn(authority + 3, "/?#");
    const char *from = authority + 3;
    for (size_t i = 0; i < end; i++) {
        if (authority[3 + i] == '@')
            from = authority + 4 + i;
    }
    (void)snprintf(out, HOST_SIZE, "%.*s%.*s", (int)(authority + 3 - address), address,
                   (int)(authority + 3 + end - from), from);
    for (char *c = out; *c != '\0'; c++)
        *c = (char)(*c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
}

static int64_t interval_of(const struct download_job *job) {
    if (!isnan(job->interval_s))
        return (int64_t)(job->interval_s * 1000.0);
    return download_on_this_machine(job->request.address) ? 0
                                                          : (int64_t)(DOWNLOAD_INTERVAL_DEFAULT_S * 1000.0);
}

static struct host *host_of(struct run *run, const struct download_job *job) {
    char name[HOST_SIZE];
    host_name(job->request.address, name);
    size_t i = 0;
    while (i < run->host_count && strcmp(run->host[i].name, name) != 0)
        i++;
    struct host *host = &run->host[i];
    if (i == run->host_count) {
        run->host_count++;
        memcpy(host->name, name, sizeof host->name);
        host->next_ms = now_of(run);
    }
    int64_t interval = name[0] != '\0' ? interval_of(job) : 0;
    if (interval > host->interval_ms)
        host->interval_ms = interval;
    return host;
}

/* ---- one job ---- */

static bool stopped(const struct run *run) {
    return run->policy.stop != NULL && run->policy.stop(run->policy.stop_context);
}

/* A try has ended: either the job has, or when it is tried again is known. */
static void settle(struct run *run, size_t index, enum status status) {
    struct download_job *job = &run->jobs[index];
    struct line *line = &run->line[index];
    int64_t now = now_of(run);
    line->host->busy = false;
    line->host->next_ms = now + line->host->interval_ms;
    job->status = status;
    line->state = STATE_DONE;
    if (status != STATUS_IO || job->tries >= run->policy.tries || line->host->name[0] == '\0')
        return;
    int64_t wait =
        download_wait_ms(job->tries, run->policy.wait_first_ms, run->policy.wait_longest_ms, &run->random);
    int64_t asked = (int64_t)job->got.retry_after_s * 1000;
    if (asked > run->policy.wait_longest_ms)
        return;
    line->state = STATE_WAITING;
    line->due_ms = now + (asked > wait ? asked : wait);
}

static enum status start_job(struct run *run, size_t index) {
    struct download_job *job = &run->jobs[index];
    struct line *line = &run->line[index];
    enum status status = STATUS_OK;
    problems_free(&job->problems);
    problems_init(&job->problems);
    job->tries++;
    line->host->busy = true;
    if (!transfer_begin(&line->transfer, &job->request, &job->got, &job->problems, &status)) {
        settle(run, index, status);
        return STATUS_OK;
    }
    (void)libcurl.easy_setopt(line->transfer.curl, CURLOPT_PRIVATE, (void *)line);
    if (libcurl.multi_add_handle(run->multi, line->transfer.curl) != CURLM_OK) {
        transfer_close(&line->transfer);
        return STATUS_NO_MEMORY;
    }
    line->state = STATE_RUNNING;
    run->running++;
    return STATUS_OK;
}

static void end_transfer(struct run *run, struct line *line, CURLcode code) {
    size_t index = (size_t)(line - run->line);
    (void)libcurl.multi_remove_handle(run->multi, line->transfer.curl);
    enum status status = transfer_finish(&line->transfer, code);
    transfer_close(&line->transfer);
    run->running--;
    settle(run, index, status);
}

/* ---- all of them ---- */

/* Starts what may start. *wait_ms: until the next one may, when nothing ends before; -1: none waits. */
static enum status start_due(struct run *run, int64_t *wait_ms) {
    enum status status = STATUS_OK;
    *wait_ms = -1;
    for (size_t i = 0; status == STATUS_OK && i < run->count; i++) {
        struct line *line = &run->line[i];
        if (line->state != STATE_WAITING || line->host->busy || run->running >= DOWNLOAD_HOSTS_AT_ONCE)
            continue;
        int64_t due = line->due_ms > line->host->next_ms ? line->due_ms : line->host->next_ms;
        int64_t wait = due - now_of(run);
        if (wait <= 0)
            status = start_job(run, i);
        else if (*wait_ms < 0 || wait < *wait_ms)
            *wait_ms = wait;
        if (line->state == STATE_WAITING && wait <= 0)
            *wait_ms = 0;
    }
    return status;
}

static enum status collect(struct run *run, int64_t wait_ms) {
    int running = 0, left = 0;
    if (libcurl.multi_perform(run->multi, &running) != CURLM_OK)
        return STATUS_NO_MEMORY;
    bool any = false;
    CURLMsg *message;
    while ((message = libcurl.multi_info_read(run->multi, &left)) != NULL) {
        char *line = NULL;
        if (message->msg != CURLMSG_DONE)
            continue;
        CURLcode code = message->data.result;
        (void)libcurl.easy_getinfo(message->easy_handle, CURLINFO_PRIVATE, &line);
        end_transfer(run, (struct line *)(void *)line, code);
        any = true;
    }
    if (!any && run->running > 0) {
        int most = wait_ms >= 0 && wait_ms < POLL_MOST_MS ? (int)wait_ms : POLL_MOST_MS;
        if (libcurl.multi_poll(run->multi, NULL, 0, most, NULL) != CURLM_OK)
            return STATUS_NO_MEMORY;
    }
    return STATUS_OK;
}

static enum status hand_over(struct run *run) {
    enum status status = STATUS_OK;
    while (status == STATUS_OK && run->handed < run->count && run->line[run->handed].state == STATE_DONE) {
        struct download_job *job = &run->jobs[run->handed];
        status = run->take(run->context, run->handed, job);
        download_free(&job->got);
        problems_free(&job->problems);
        problems_init(&job->problems);
        run->handed++;
    }
    return status;
}

/* What is still to do is given up: the program is to end. */
static void give_up(struct run *run) {
    for (size_t i = 0; i < run->count; i++) {
        if (run->line[i].state == STATE_RUNNING) {
            end_transfer(run, &run->line[i], CURLE_ABORTED_BY_CALLBACK);
        } else if (run->line[i].state == STATE_WAITING) {
            run->jobs[i].status = STATUS_IO;
        }
        run->line[i].state = STATE_DONE;
    }
}

static enum status run_all(struct run *run) {
    enum status status = STATUS_OK;
    while (status == STATUS_OK && run->handed < run->count) {
        int64_t wait_ms;
        if (stopped(run))
            give_up(run);
        status = start_due(run, &wait_ms);
        if (status == STATUS_OK && run->running > 0)
            status = collect(run, wait_ms);
        else if (status == STATUS_OK && wait_ms > 0)
            run->policy.clock->sleep_ms(run->policy.clock->context,
                                        wait_ms < POLL_MOST_MS ? wait_ms : POLL_MOST_MS);
        if (status == STATUS_OK)
            status = hand_over(run);
    }
    return status;
}

static struct download_policy with_defaults(const struct download_policy *policy) {
    struct download_policy full = *policy;
    full.clock = full.clock != NULL ? full.clock : &machine_clock;
    full.tries = full.tries > 0 ? full.tries : DOWNLOAD_TRIES_DEFAULT;
    full.wait_first_ms = full.wait_first_ms > 0 ? full.wait_first_ms : DOWNLOAD_WAIT_FIRST_MS;
    full.wait_longest_ms = full.wait_longest_ms > 0 ? full.wait_longest_ms : DOWNLOAD_WAIT_LONGEST_MS;
    return full;
}

static void run_close(struct run *run) {
    for (size_t i = 0; run->line != NULL && i < run->count; i++) {
        if (run->line[i].state == STATE_RUNNING) {
            (void)libcurl.multi_remove_handle(run->multi, run->line[i].transfer.curl);
            transfer_close(&run->line[i].transfer);
        }
        download_free(&run->jobs[i].got);
        problems_free(&run->jobs[i].problems);
        problems_init(&run->jobs[i].problems);
    }
    (void)libcurl.multi_cleanup(run->multi);
    free(run->line);
    free(run->host);
}

enum status download_all(struct download_job *jobs, size_t count, const struct download_policy *policy,
                         download_taker take, void *context) {
    struct run run = {.jobs = jobs, .count = count, .take = take, .context = context};
    run.policy = with_defaults(policy);
    run.random = policy->seed;
    if (run.random == 0 && getrandom(&run.random, sizeof run.random, GRND_NONBLOCK) < 0)
        run.random = (uint64_t)now_of(&run);
    run.line = calloc(count + 1, sizeof *run.line);
    run.host = calloc(count + 1, sizeof *run.host);
    run.multi = libcurl.multi_init();
    enum status status = STATUS_NO_MEMORY;
    if (run.line != NULL && run.host != NULL && run.multi != NULL &&
        libcurl.multi_setopt(run.multi, CURLMOPT_MAX_HOST_CONNECTIONS, 1L) == CURLM_OK) {
        for (size_t i = 0; i < count; i++) {
            problems_init(&jobs[i].problems);
            run.line[i].host = host_of(&run, &jobs[i]);
            run.line[i].due_ms = now_of(&run);
        }
        status = run_all(&run);
    }
    run_close(&run);
    return status;
}
