#include "daemon/http/apart.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/http/access.h"
#include "daemon/http/connections.h"
#include "daemon/lifecycle/child.h"

#define LONGEST_MS     (2 * 60 * 1000)
#define LOOK_MS        500 /* how soon a stop is noticed */
#define BYTES_MOST     ((size_t)16 << 20)
#define ARGUMENTS_MOST 16

struct apart {
    const char *const *arguments;
    pthread_mutex_t lock;
    pthread_cond_t gone;
    size_t running;
    bool ending;
};

struct apart_job {
    struct apart *apart;
    struct MHD_Connection *connection;
    struct child child;
    int output, code; /* where it writes; how it ended */
    int64_t began_ms;
    bool late;
    struct text bytes; /* all that it wrote */
    char type[PAGE_HEAD_SIZE], disposition[PAGE_HEAD_SIZE];
};

struct apart *apart_new(const char *const *arguments) {
    struct apart *apart = calloc(1, sizeof *apart);
    if (apart == NULL)
        return NULL;
    apart->arguments = arguments;
    pthread_mutex_init(&apart->lock, NULL);
    pthread_cond_init(&apart->gone, NULL);
    return apart;
}

void apart_free(struct apart *apart) {
    if (apart == NULL)
        return;
    pthread_cond_destroy(&apart->gone);
    pthread_mutex_destroy(&apart->lock);
    free(apart);
}

void apart_end(struct apart *apart) {
    if (apart == NULL)
        return;
    pthread_mutex_lock(&apart->lock);
    apart->ending = true;
    while (apart->running > 0)
        pthread_cond_wait(&apart->gone, &apart->lock);
    pthread_mutex_unlock(&apart->lock);
}

/* ---- the run ---- */

static bool is_ending(struct apart *apart) {
    pthread_mutex_lock(&apart->lock);
    bool ending = apart->ending;
    pthread_mutex_unlock(&apart->lock);
    return ending;
}

/* False: there is no more to come, or it takes too long. */
static bool read_on(struct apart_job *job) {
    char bytes[4096];
    struct pollfd waiting = {.fd = job->output, .events = POLLIN};
    int ready = poll(&waiting, 1, LOOK_MS);
    job->late = connections_now_ms() - job->began_ms > LONGEST_MS || is_ending(job->apart);
    if (ready <= 0 || job->late)
        return !job->late && (ready == 0 || errno == EINTR);
    ssize_t got = read(job->output, bytes, sizeof bytes);
    if (got < 0)
        return errno == EINTR;
    text_add(&job->bytes, bytes, (size_t)got);
    return got > 0 && !text_failed(&job->bytes);
}

static void end_run(struct apart_job *job) {
    (void)close(job->output);
    if (job->late || text_failed(&job->bytes)) {
        child_end(&job->child);
        job->code = -1;
    } else {
        job->code = child_wait(&job->child);
    }
}

static void *look_after(void *context) {
    struct apart_job *job = context;
    struct apart *apart = job->apart;
    while (read_on(job)) {
    }
    end_run(job);
    pthread_mutex_lock(&apart->lock);
    MHD_resume_connection(job->connection); /* from here on the job may be gone */
    apart->running--;
    pthread_cond_broadcast(&apart->gone);
    pthread_mutex_unlock(&apart->lock);
    return NULL;
}

/* "/replay?field=North", as it came. */
static void write_address(const struct request *request, struct text *out) {
    char before = '?';
    text_puts(out, request->path);
    for (size_t i = 0; request->query != NULL && i < request->query->count; i++) {
        const struct fill_item *item = &request->query->item[i];
        if (item->value == NULL)
            continue;
        text_printf(out, "%c%s=", before, item->name);
        request_encode(item->value, out);
        before = '&';
    }
}

static enum status start_run(struct apart_job *job, const struct request *request,
                             struct problems *problems) {
    struct text address;
    text_init(&address, 0);
    write_address(request, &address);
    const char *arguments[ARGUMENTS_MOST] = {"page", text_string(&address), "--head", "--language",
                                             words_language(request->words)};
    size_t count = 5;
    if (request->units != UNITS_OF_FARM) {
        arguments[count++] = "--units";
        arguments[count++] = request->units == UNITS_US ? "us" : "metric";
    }
    if (request->visitor != NULL) {
        arguments[count++] = "--role";
        arguments[count++] = access_role_name(request->visitor->role);
    }
    for (size_t i = 0; job->apart->arguments[i] != NULL && count + 1 < ARGUMENTS_MOST; i++)
        arguments[count++] = job->apart->arguments[i];
    enum status status = text_failed(&address)
                             ? STATUS_NO_MEMORY
                             : child_start_heard(&job->child, arguments, &job->output, problems);
    text_free(&address);
    return status;
}

static bool take_place(struct apart *apart) {
    pthread_mutex_lock(&apart->lock);
    bool room = !apart->ending && apart->running < APART_MOST;
    apart->running += room;
    pthread_mutex_unlock(&apart->lock);
    return room;
}

static void leave_place(struct apart *apart) {
    pthread_mutex_lock(&apart->lock);
    apart->running--;
    pthread_cond_broadcast(&apart->gone);
    pthread_mutex_unlock(&apart->lock);
}

struct apart_job *apart_begin(struct apart *apart, struct MHD_Connection *connection,
                              const struct request *request) {
    static struct problems problems; /* large; one thread begins */
    pthread_t thread;
    if (!take_place(apart))
        return NULL;
    struct apart_job *job = calloc(1, sizeof *job);
    if (job == NULL) {
        leave_place(apart);
        return NULL;
    }
    job->apart = apart;
    job->connection = connection;
    job->began_ms = connections_now_ms();
    text_init(&job->bytes, BYTES_MOST);
    problems_init(&problems);
    enum status status = start_run(job, request, &problems);
    problems_free(&problems);
    if (status != STATUS_OK) {
        leave_place(apart);
        free(job);
        return NULL;
    }
    MHD_suspend_connection(connection);
    if (pthread_create(&thread, NULL, look_after, job) == 0) {
        (void)pthread_detach(thread);
    } else {
        job->late = true;
        end_run(job);
        MHD_resume_connection(connection);
        leave_place(apart);
    }
    return job;
}

/* ---- what came of it ---- */

int64_t apart_began_ms(const struct apart_job *job) {
    return job->began_ms;
}

/* Takes one line of the head off. */
static bool take_line(const char **at, char out[PAGE_HEAD_SIZE]) {
    size_t size = strcspn(*at, "\n");
    if ((*at)[size] != '\n' || size >= PAGE_HEAD_SIZE)
        return false;
    memcpy(out, *at, size);
    out[size] = '\0';
    *at += size + 1;
    return true;
}

enum status apart_take(struct apart_job *job, struct reply *reply) {
    char status[PAGE_HEAD_SIZE];
    const char *at = text_string(&job->bytes);
    bool whole = job->code == 0 && take_line(&at, status) && take_line(&at, job->type) &&
                 take_line(&at, job->disposition);
    long number = whole ? strtol(status, NULL, 10) : 0;
    if (number < 200 || number > 599) {
        problem_add(&reply->problems, NULL, 0, 0, "page",
                    job->late ? "took too long" : "its run ended with %d", job->code);
        return STATUS_IO;
    }
    reply->status = (unsigned)number;
    reply->type = job->type;
    reply->disposition = job->disposition[0] != '\0' ? job->disposition : NULL;
    /* The same bytes, without the head. */
    size_t head = (size_t)(at - job->bytes.data);
    memmove(job->bytes.data, at, job->bytes.size - head + 1);
    job->bytes.size -= head;
    text_free(&reply->body);
    reply->body = job->bytes;
    text_init(&job->bytes, 0);
    return STATUS_OK;
}

void apart_job_free(struct apart_job *job) {
    if (job == NULL)
        return;
    text_free(&job->bytes);
    free(job);
}
