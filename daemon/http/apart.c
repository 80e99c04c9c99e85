#include "daemon/http/apart.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "daemon/base/wall_clock.h"
#include "daemon/http/access.h"
#include "daemon/http/connections.h"
#include "daemon/http/page_data.h"
#include "daemon/lifecycle/child.h"

#define LONGEST_MS     (2 * 60 * 1000)
#define LOOK_MS        500 /* how soon a stop is noticed */
#define BYTES_MOST     ((size_t)16 << 20)
#define ARGUMENTS_MOST CHILD_ARGUMENTS_MOST

struct apart {
    const char *const *arguments;
    void (*poke)(void *context);
    void *context;
    pthread_mutex_t lock;
    pthread_cond_t gone;
    size_t running, pages; /* pages: how many of them are no forms */
    bool ending;
};

struct apart_job {
    struct apart *apart;
    struct MHD_Connection *connection;
    struct child child;
    pthread_t thread; /* looks after it, and is joined when the job is freed */
    bool threaded;
    int output, code; /* where it writes; how it ended */
    int64_t began_ms;
    bool page; /* and no form */
    bool late;
    struct text bytes; /* all that it wrote */
    char type[PAGE_HEAD_SIZE], disposition[PAGE_HEAD_SIZE], location[PAGE_HEAD_SIZE];
};

struct apart *apart_new(const char *const *arguments, void (*poke)(void *context), void *context) {
    struct apart *apart = calloc(1, sizeof *apart);
    if (apart == NULL)
        return NULL;
    apart->arguments = arguments;
    apart->poke = poke;
    apart->context = context;
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
    job->late = wall_clock_running_ms() - job->began_ms > LONGEST_MS || is_ending(job->apart);
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

/* `connection`: goes on; NULL: none waits. */
static void leave_place(struct apart *apart, bool page, struct MHD_Connection *connection) {
    pthread_mutex_lock(&apart->lock);
    if (connection != NULL) {
        MHD_resume_connection(connection);
        apart->poke(apart->context);
    }
    apart->running--;
    apart->pages -= page;
    pthread_cond_broadcast(&apart->gone);
    pthread_mutex_unlock(&apart->lock);
}

static void *look_after(void *context) {
    struct apart_job *job = context;
    while (read_on(job)) {
    }
    end_run(job);
    leave_place(job->apart, job->page, job->connection);
    return NULL;
}

/* "/replay?field=North", as it came. */
static void write_address(const struct request *request, struct text *out) {
    text_puts(out, request->path);
    if (request->query == NULL || request->query->count == 0)
        return;
    text_puts(out, "?");
    request_write_fill(request->query, out);
}

/* The form goes in by a file without a name, which holds it however long it is. -1: it cannot. */
static int form_file(const struct fill *form) {
    struct text body;
    text_init(&body, 0);
    request_write_fill(form, &body);
    int file = text_failed(&body) ? -1 : memfd_create("form", MFD_CLOEXEC);
    if (file >= 0 &&
        (write(file, text_string(&body), body.size) != (ssize_t)body.size || lseek(file, 0, SEEK_SET) != 0)) {
        (void)close(file);
        file = -1;
    }
    text_free(&body);
    return file;
}

/* What the run is told of who asks and how. */
static size_t tell_request(const struct request *request, const char **arguments) {
    size_t count = 0;
    arguments[count++] = "--language";
    arguments[count++] = words_language(request->words);
    if (request->units != UNITS_OF_FARM) {
        arguments[count++] = "--units";
        arguments[count++] = request->units == UNITS_US ? "us" : "metric";
    }
    if (request->visitor != NULL) {
        arguments[count++] = "--role";
        arguments[count++] = access_role_name(request->visitor->role);
    }
    if (request->form == NULL && request->data->book->writer != NULL)
        arguments[count++] = "--writable";
    if (request->visitor != NULL && request->form != NULL) {
        arguments[count++] = "--who";
        arguments[count++] = request->visitor->name;
    }
    return count;
}

static enum status start_run(struct apart_job *job, const struct request *request,
                             struct problems *problems) {
    struct text address;
    int form = -1;
    text_init(&address, 0);
    write_address(request, &address);
    const char *arguments[ARGUMENTS_MOST + 1] = {"page", text_string(&address), "--head"};
    size_t count = 3;
    enum status status = text_failed(&address) ? STATUS_NO_MEMORY : STATUS_OK;
    if (request->form != NULL) {
        arguments[count++] = "--form";
        form = form_file(request->form);
        status = form >= 0 ? status : STATUS_IO;
    }
    count += tell_request(request, arguments + count);
    for (size_t i = 0; job->apart->arguments[i] != NULL && count < ARGUMENTS_MOST; i++)
        arguments[count++] = job->apart->arguments[i];
    if (status == STATUS_OK)
        status = child_start_heard(&job->child, arguments, form, &job->output, problems);
    if (form >= 0)
        (void)close(form);
    text_free(&address);
    return status;
}

static bool take_place(struct apart *apart, bool page) {
    pthread_mutex_lock(&apart->lock);
    bool room = !apart->ending && apart->running < APART_MOST && (!page || apart->pages < APART_PAGES_MOST);
    apart->running += room;
    apart->pages += room && page;
    pthread_mutex_unlock(&apart->lock);
    return room;
}

struct apart_job *apart_begin(struct apart *apart, struct MHD_Connection *connection,
                              const struct request *request) {
    static struct problems problems; /* large; one thread begins */
    bool page = request->form == NULL;
    if (!take_place(apart, page))
        return NULL;
    struct apart_job *job = calloc(1, sizeof *job);
    if (job == NULL) {
        leave_place(apart, page, NULL);
        return NULL;
    }
    job->page = page;
    job->apart = apart;
    job->connection = connection;
    job->began_ms = wall_clock_running_ms();
    text_init(&job->bytes, BYTES_MOST);
    problems_init(&problems);
    enum status status = start_run(job, request, &problems);
    problems_free(&problems);
    if (status != STATUS_OK) {
        leave_place(apart, page, NULL);
        free(job);
        return NULL;
    }
    MHD_suspend_connection(connection);
    job->threaded = pthread_create(&job->thread, NULL, look_after, job) == 0;
    if (!job->threaded) {
        job->late = true;
        end_run(job);
        leave_place(apart, page, connection);
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
    char status[PAGE_HEAD_SIZE], wake[PAGE_HEAD_SIZE];
    const char *at = text_string(&job->bytes);
    bool whole = job->code == 0 && take_line(&at, status) && take_line(&at, job->type) &&
                 take_line(&at, job->disposition) && take_line(&at, job->location) && take_line(&at, wake) &&
                 strlen(job->location) < sizeof reply->location;
    long number = whole ? strtol(status, NULL, 10) : 0;
    if (number < 200 || number > 599) {
        problem_add(&reply->problems, NULL, 0, 0, "page",
                    job->late ? "took too long" : "its run ended with %d", job->code);
        return STATUS_IO;
    }
    reply->status = (unsigned)number;
    reply->wakes = strcmp(wake, "wake") == 0;
    reply->type = job->type;
    memcpy(reply->location, job->location, strlen(job->location) + 1);
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
    if (job->threaded)
        (void)pthread_join(job->thread, NULL);
    text_free(&job->bytes);
    free(job);
}
