/* The Today page over a loopback connection that stays open: its rate beside that of libmicrohttpd serving
 * the same bytes from memory, its slowest hundredth at rest and while mornings run; then what the daemon
 * needs to start, in memory and on the disk. */
#include <dirent.h>
#include <fcntl.h>
#include <math.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <microhttpd.h>

#include "tests/support/bench.h"
#include "tests/support/http_client.h"
#include "tests/support/large_farm.h"

#define FIELDS        20
#define FIELDS_LARGE  500
#define DAYS          100
#define TODAY         (LARGE_FARM_FIRST + DAYS)
#define REQUESTS      1000
#define REQUESTS_ANEW 100
#define ROUNDS        9
#define STARTS        7
#define P99_MOST_MS   5.0
#define START_MOST    100.0
#define MEMORY_MOST   16.0
#define BINARY_MOST   1.5

static void give_up(const char *what) {
    (void)fprintf(stderr, "bench_page: %s\n", what);
    exit(1);
}

/* ---- the daemon ---- */

struct daemon_run {
    pid_t process;
    int port;
};

static const char *program(void) {
    static char path[400];
    const char *build = getenv("BUILD");
    (void)snprintf(path, sizeof path, "%s/waterturn", build != NULL ? build : "build");
    return path;
}

static void run_anywhere(void) {
    cpu_set_t all;
    memset(&all, 0xff, sizeof all);
    if (sched_setaffinity(0, sizeof all, &all) != 0)
        give_up("a process cannot be set free");
}

static pid_t start_program(char *const arguments[], int output) {
    pid_t process = fork();
    if (process == 0) {
        run_anywhere();
        (void)dup2(output, STDOUT_FILENO);
        (void)dup2(output, STDERR_FILENO); /* what a morning says of sources that are not there */
        execv(program(), arguments);
        _exit(127);
    }
    return process;
}

static struct daemon_run start_daemon(const struct large_farm *farm) {
    int ends[2];
    char day[CALENDAR_ISO_SIZE], line[300] = "", path[sizeof farm->path];
    (void)snprintf(path, sizeof path, "%s", farm->path);
    (void)calendar_format_iso(TODAY, day);
    char serve[] = "serve", db[] = "--db", listen[] = "--listen", where[] = "127.0.0.1:0",
         today[] = "--today";
    char name[] = "waterturn";
    char *const arguments[] = {name, serve, db, path, listen, where, today, day, NULL};
    if (pipe2(ends, O_CLOEXEC) != 0)
        give_up("no pipe");
    struct daemon_run run = {.process = start_program(arguments, ends[1])};
    (void)close(ends[1]);
    FILE *stream = fdopen(ends[0], "r");
    const char *address = NULL;
    while (address == NULL && stream != NULL && fgets(line, sizeof line, stream) != NULL)
        address = strstr(line, "http://127.0.0.1:");
    if (address == NULL)
        give_up("the daemon did not start");
    run.port = atoi(address + strlen("http://127.0.0.1:"));
    (void)fclose(stream);
    return run;
}

static void stop(pid_t process) {
    (void)kill(process, SIGTERM);
    (void)waitpid(process, NULL, 0);
}

static double memory_mb(pid_t process, const char *what) {
    char path[64], line[200], form[40];
    long kb = 0;
    (void)snprintf(path, sizeof path, "/proc/%d/status", (int)process);
    (void)snprintf(form, sizeof form, "%s: %%ld kB", what);
    FILE *stream = fopen(path, "re");
    while (stream != NULL && fgets(line, sizeof line, stream) != NULL) {
        const char *end = strchr(line, ':');
        if (end != NULL && strncmp(line, what, (size_t)(end - line)) == 0)
            kb = strtol(end + 1, NULL, 10);
    }
    if (stream != NULL)
        (void)fclose(stream);
    return (double)kb / 1024;
}

/* ---- the same bytes from memory ---- */

struct memory {
    struct MHD_Response *response;
};

static enum MHD_Result answer(void *context, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *upload,
                              size_t *upload_size, void **state) {
    static int seen;
    const struct memory *memory = context;
    (void)url;
    (void)method;
    (void)version;
    (void)upload;
    (void)upload_size;
    if (*state == NULL) {
        *state = &seen;
        return MHD_YES;
    }
    return MHD_queue_response(connection, MHD_HTTP_OK, memory->response);
}

/* Body and headers as the daemon sent them. */
static struct MHD_Response *response_of(const struct http_client *page) {
    struct MHD_Response *response = MHD_create_response_from_buffer(
        page->size - page->head, page->bytes + page->head, MHD_RESPMEM_MUST_COPY);
    char *line = page->bytes;
    for (char *end; (end = strstr(line, "\r\n")) != NULL && end < page->bytes + page->head - 2;) {
        char name[100], value[400];
        if (sscanf(line, "%99[^:]: %399[^\r]", name, value) == 2 && strcmp(name, "Content-Length") != 0 &&
            strcmp(name, "Date") != 0 && strcmp(name, "Connection") != 0)
            (void)MHD_add_response_header(response, name, value);
        line = end + 2;
    }
    return response;
}

/* In a process of its own, as the daemon is. */
static struct daemon_run start_memory(const struct http_client *page) {
    int ends[2];
    struct daemon_run run = {0};
    if (pipe2(ends, O_CLOEXEC) != 0)
        give_up("no pipe");
    run.process = fork();
    if (run.process == 0) {
        struct memory memory = {response_of(page)};
        struct MHD_Daemon *daemon =
            MHD_start_daemon(MHD_USE_AUTO_INTERNAL_THREAD, 0, NULL, NULL, answer, &memory, MHD_OPTION_END);
        const union MHD_DaemonInfo *info =
            daemon != NULL ? MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_BIND_PORT) : NULL;
        int port = info != NULL ? info->port : 0;
        if (write(ends[1], &port, sizeof port) != (ssize_t)sizeof port)
            _exit(1);
        for (;;)
            (void)pause();
    }
    if (read(ends[0], &run.port, sizeof run.port) != (ssize_t)sizeof run.port || run.port == 0)
        give_up("libmicrohttpd did not start");
    (void)close(ends[0]);
    (void)close(ends[1]);
    return run;
}

/* ---- rates ---- */

static int compare(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

struct pace {
    double rate, p99_ms;
};

/* Requests one after the other. */
static struct pace pace_of(struct http_client *client, const char *path, int requests) {
    static double took[REQUESTS];
    double began = bench_now_s();
    for (int i = 0; i < requests; i++) {
        double asked = bench_now_s();
        if (!http_client_get(client, path))
            give_up("a page did not come");
        took[i] = 1e3 * (bench_now_s() - asked);
    }
    struct pace pace = {.rate = requests / (bench_now_s() - began)};
    qsort(took, (size_t)requests, sizeof *took, compare);
    pace.p99_ms = took[requests * 99 / 100];
    return pace;
}

/* Keeps every thread of a process on one processor. Left to the kernel, client and server now share a
 * processor and now have one each, and a page takes 0.015 ms or 0.1 ms for it, whoever serves it. */
static void keep_on(pid_t process, size_t processor) {
    char path[64];
    cpu_set_t set;
    CPU_ZERO(&set);
    CPU_SET(processor, &set);
    (void)snprintf(path, sizeof path, "/proc/%d/task", (int)process);
    DIR *threads = opendir(path);
    if (threads == NULL)
        give_up("a process has no threads");
    for (const struct dirent *thread; (thread = readdir(threads)) != NULL;) {
        if (thread->d_name[0] != '.' && sched_setaffinity(atoi(thread->d_name), sizeof set, &set) != 0)
            give_up("a thread cannot be kept on a processor");
    }
    (void)closedir(threads);
}

struct rival {
    struct http_client *client;
    pid_t process;
};

/* Rounds in which the daemon and its rival take turns, the servers on `processor`, the client on the first.
 */
static int bench_rate(struct rival own, struct rival memory, size_t processor, const char *work) {
    double ratio[ROUNDS], own_rate[ROUNDS], memory_rate[ROUNDS], p99_ms[ROUNDS];
    keep_on(getpid(), 0);
    keep_on(own.process, processor);
    keep_on(memory.process, processor);
    for (int round = 0; round < ROUNDS; round++) {
        struct pace pace = pace_of(own.client, "/", REQUESTS), other = pace_of(memory.client, "/", REQUESTS);
        own_rate[round] = pace.rate;
        memory_rate[round] = other.rate;
        p99_ms[round] = pace.p99_ms;
        ratio[round] = pace.rate / other.rate;
    }
    struct bench_row row = {
        .work = work, .ratio = bench_median(ratio, ROUNDS), .goal = "half its rate; p99 under 5 ms"};
    double slowest_ms = bench_median(p99_ms, ROUNDS);
    (void)snprintf(row.figure, sizeof row.figure, "%.0f pages/s, p99 %.2f ms", bench_median(own_rate, ROUNDS),
                   slowest_ms);
    (void)snprintf(row.against, sizeof row.against, "libmicrohttpd, the same %zu bytes from memory: %.0f/s",
                   memory.client->size - memory.client->head, bench_median(memory_rate, ROUNDS));
    row.met = row.ratio >= 0.5 && slowest_ms < P99_MOST_MS;
    return bench_row_print(&row);
}

/* Seconds of a processor that another process took. */
static double cpu_of(pid_t process) {
    clockid_t clock;
    struct timespec time;
    if (clock_getcpuclockid(process, &clock) != 0 || clock_gettime(clock, &time) != 0)
        give_up("the daemon's clock cannot be read");
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

/* With a query a page is not kept: each is made from the book, rendered and packed. */
static int bench_anew(pid_t process, struct http_client *client) {
    double cpu_ms[ROUNDS];
    for (int round = 0; round < ROUNDS; round++) {
        double began = cpu_of(process);
        (void)pace_of(client, "/?from=0", REQUESTS_ANEW);
        cpu_ms[round] = 1e3 * (cpu_of(process) - began) / REQUESTS_ANEW;
    }
    double middle = bench_median(cpu_ms, ROUNDS);
    struct bench_row row = {.work = "the same page made anew, as after each change of the book",
                            .ratio = NAN,
                            .goal = "under 5 ms",
                            .met = middle < P99_MOST_MS};
    (void)snprintf(row.figure, sizeof row.figure, "%.1f ms of a processor", middle);
    return bench_row_print(&row);
}

/* Rests and mornings take turns; mornings run on any processor. */
static int bench_mornings(const struct large_farm *farm, struct http_client *client, const char *work) {
    double rest[ROUNDS], busy[ROUNDS], slowest_ms = 0;
    char day[CALENDAR_ISO_SIZE], path[sizeof farm->path];
    char name[] = "waterturn", morning[] = "morning", db[] = "--db", today[] = "--today";
    (void)snprintf(path, sizeof path, "%s", farm->path);
    (void)calendar_format_iso(TODAY, day);
    char *const arguments[] = {name, morning, db, path, today, day, NULL};
    int nothing = open("/dev/null", O_WRONLY | O_CLOEXEC), mornings = 0;
    for (int round = 0; round < ROUNDS; round++) {
        static double took[100 * REQUESTS];
        size_t count = 0;
        rest[round] = pace_of(client, "/", REQUESTS).p99_ms;
        double until = bench_now_s() + 0.5;
        while (bench_now_s() < until) {
            pid_t running = start_program(arguments, nothing);
            mornings++;
            while (waitpid(running, NULL, WNOHANG) == 0 && count < 100 * REQUESTS) {
                double asked = bench_now_s();
                if (!http_client_get(client, "/"))
                    give_up("a page did not come during a morning");
                took[count++] = 1e3 * (bench_now_s() - asked);
            }
        }
        qsort(took, count, sizeof *took, compare);
        busy[round] = took[count * 99 / 100];
        slowest_ms = fmax(slowest_ms, took[count - 1]);
    }
    (void)close(nothing);
    double rest_ms = bench_median(rest, ROUNDS), busy_ms = bench_median(busy, ROUNDS);
    struct bench_row row = {.work = work, .ratio = busy_ms / rest_ms, .goal = "p99 within 3 times"};
    (void)snprintf(row.figure, sizeof row.figure, "p99 %.2f ms, slowest %.1f ms (%d mornings)", busy_ms,
                   slowest_ms, mornings);
    (void)snprintf(row.against, sizeof row.against, "itself at rest: p99 %.2f ms", rest_ms);
    row.met = row.ratio <= 3;
    return bench_row_print(&row);
}

static int bench_today(void) {
    struct large_farm farm;
    struct http_client own, memory;
    large_farm_open(&farm, FIELDS, DAYS);
    large_farm_weather(&farm, TODAY, true);
    (void)large_farm_morning(&farm, TODAY);
    struct daemon_run daemon = start_daemon(&farm);
    if (!http_client_open(&own, daemon.port) || !http_client_get(&own, "/") || !own.packed)
        give_up("Today did not come, or not as gzip");
    size_t bytes = own.size - own.head;
    struct daemon_run beside = start_memory(&own);
    if (!http_client_open(&memory, beside.port) || !http_client_get(&memory, "/") ||
        memory.size - memory.head != bytes)
        give_up("libmicrohttpd gave other bytes");
    struct rival pages = {&own, daemon.process}, bytes_only = {&memory, beside.process};
    int missed = bench_rate(pages, bytes_only, 0,
                            "Today page, 20 fields, loopback, keep-alive, gzip; one processor for both ends");
    size_t processors = sysconf(_SC_NPROCESSORS_ONLN) > 1 ? 2 : 1;
    if (processors > 1)
        missed += bench_rate(pages, bytes_only, 1, "the same, a processor for either end");
    http_client_close(&memory);
    stop(beside.process);
    missed += bench_anew(daemon.process, &own);
    for (size_t processor = 0; processor < processors; processor++) {
        keep_on(daemon.process, processor);
        missed += bench_mornings(&farm, &own,
                                 processor == 0 ? "Today page while mornings run; one processor for both ends"
                                                : "the same, a processor for either end");
    }
    http_client_close(&own);
    stop(daemon.process);
    large_farm_close(&farm);
    return missed;
}

/* ---- start, memory, size ---- */

static int print_limit(const char *work, double figure, const char *unit, double most) {
    char goal[40];
    (void)snprintf(goal, sizeof goal, "%g %s", most, unit);
    struct bench_row row = {.work = work, .ratio = NAN, .goal = goal, .met = figure <= most};
    (void)snprintf(row.figure, sizeof row.figure, "%.*f %s", figure < 10 ? 2 : 1, figure, unit);
    return bench_row_print(&row);
}

static double binary_mb(void) {
    char command[900];
    struct stat info;
    (void)snprintf(command, sizeof command, "strip -o %s.stripped %s", program(), program());
    bool good = system(command) == 0;
    (void)snprintf(command, sizeof command, "%s.stripped", program());
    good = good && stat(command, &info) == 0;
    (void)unlink(command);
    if (!good)
        give_up("the program cannot be stripped");
    return (double)info.st_size / 1e6;
}

/* Others only make a start longer. */
static double least_of(const double start_ms[STARTS]) {
    double least = start_ms[0];
    for (int i = 1; i < STARTS; i++)
        least = fmin(least, start_ms[i]);
    return least;
}

static int bench_needs(void) {
    static const char *const pages[] = {
        "/", "/?from=50", "/api/today", "/field/Field%207", "/field/Field%207/ledger", "/sources"};
    struct large_farm farm;
    double start_ms[STARTS], most_mb = 0;
    large_farm_open(&farm, FIELDS_LARGE, DAYS);
    large_farm_weather(&farm, TODAY, true);
    (void)large_farm_morning(&farm, TODAY);
    for (int i = 0; i < STARTS; i++) {
        struct http_client client;
        double began = bench_now_s();
        struct daemon_run daemon = start_daemon(&farm);
        if (!http_client_open(&client, daemon.port) || !http_client_get(&client, "/"))
            give_up("the first page did not come");
        start_ms[i] = 1e3 * (bench_now_s() - began);
        for (size_t k = 0; i == STARTS - 1 && k < 5 * sizeof pages / sizeof pages[0]; k++) {
            if (!http_client_get(&client, pages[k % (sizeof pages / sizeof pages[0])]))
                give_up("a page did not come");
        }
        most_mb = memory_mb(daemon.process, "VmHWM");
        http_client_close(&client);
        stop(daemon.process);
    }
    large_farm_close(&farm);
    int missed =
        print_limit("start to first page, 500 fields, best of 7", least_of(start_ms), "ms", START_MOST);
    missed += print_limit("resident memory at most, 500 fields, pages read", most_mb, "MB", MEMORY_MOST);
    return missed + print_limit("the program, stripped", binary_mb(), "MB", BINARY_MOST);
}

int main(void) {
    int missed = bench_today();
    missed += bench_needs();
    return missed == 0 ? 0 : 1;
}
