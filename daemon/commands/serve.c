/* The daemon: the page, and a morning each day. */
#include <errno.h>
#include <malloc.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "core/base/calendar.h"
#include "daemon/base/file.h"
#include "daemon/base/wall_clock.h"
#include "daemon/commands/command.h"
#include "daemon/commands/logins.h"
#include "daemon/commands/mornings.h"
#include "daemon/http/access.h"
#include "daemon/http/page_data.h"
#include "daemon/http/server.h"
#include "daemon/lifecycle/instance.h"
#include "daemon/lifecycle/supervisor.h"
#include "daemon/store/ledger_store.h"

/* How often the clock is looked at. */
#define LOOK_SECONDS 5
#define PEM_MAX      ((size_t)256 << 10)

struct daemon {
    const struct options *options;
    struct settings settings;
    struct mornings mornings;
    struct page_data data;
    struct access *access;
    struct metrics *metrics;
    struct server *server;
    char *certificate, *key; /* of TLS */
    char listen[160];        /* with the port that was taken */
    struct text path;        /* of the database */
    const char
        *apart[7]; /* what runs that make a page get: the database, the logins, the date given for now */
    char today[CALENDAR_ISO_SIZE];
    bool standing; /* the page's thread stood still when it was last looked at */
    int lock;
    sigset_t signals;
    int64_t told_ms; /* when the watchdog was last told */
};

/* ---- signals ---- */

/* Blocked in every thread, so that the main one gets them where it waits. */
static void block_signals(sigset_t *signals) {
    static const int numbers[] = {SIGINT, SIGTERM, SIGHUP, SIGUSR1, SIGCHLD};
    sigemptyset(signals);
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        sigaddset(signals, numbers[i]);
    sigprocmask(SIG_BLOCK, signals, NULL);
}

/* From any thread: the book has something new that wants a morning. */
static void wake(void) {
    (void)kill(getpid(), SIGUSR1);
}

/* Both threads have to go round. What answers requests may stand at one for a while, but not for good. */
static bool is_alive(struct daemon *daemon, int patience_ms) {
    int64_t standing_ms = server_standing_ms(daemon->server);
    bool standing = standing_ms > patience_ms;
    if (standing && !daemon->standing)
        log_line(LOG_LEVEL_ERROR, "the page has not answered for %lld s; the watchdog is told nothing more",
                 (long long)(standing_ms / 1000));
    daemon->standing = standing;
    return !standing;
}

static void tell_watchdog(struct daemon *daemon) {
    int every = supervisor_watchdog_ms();
    int64_t now_ms = wall_clock_running_ms();
    if (every > 0 && is_alive(daemon, every) &&
        (daemon->told_ms == 0 || now_ms - daemon->told_ms >= every / 2)) {
        supervisor_tell("WATCHDOG=1");
        daemon->told_ms = now_ms;
    }
}

/* ---- the page ---- */

static enum status read_certificate(struct daemon *daemon, struct problems *problems) {
    size_t size;
    free(daemon->certificate);
    free(daemon->key);
    daemon->certificate = daemon->key = NULL;
    if (daemon->settings.certificate[0] == '\0')
        return STATUS_OK;
    enum status status =
        file_read(daemon->settings.certificate, PEM_MAX, &daemon->certificate, &size, problems);
    if (status == STATUS_OK)
        status = file_read(daemon->settings.key, PEM_MAX, &daemon->key, &size, problems);
    return status;
}

/* Beyond this machine the page is for those who were let in, so somebody has to be. */
static enum status check_listener(struct daemon *daemon, const char *listen, struct problems *problems) {
    bool on_loopback = true, any = false;
    enum status status = server_on_loopback(listen, &on_loopback, problems);
    if (status == STATUS_OK && !on_loopback)
        status = access_store_any(daemon->data.db, &any, problems);
    if (status == STATUS_OK && !on_loopback && !any) {
        problem_add(problems, NULL, 0, 0, "listen",
                    "found %s, which others can reach, and nobody was let in yet: `waterturn pair --role "
                    "manager NAME` "
                    "first, or listen on 127.0.0.1",
                    listen);
        status = STATUS_REFUSED;
    }
    return status;
}

static void report_page(void *context, const char *message) {
    const struct page_data *data = context;
    metrics_error(data->metrics);
    while (*message != '\0') {
        size_t size = strcspn(message, "\n");
        log_line(LOG_LEVEL_ERROR, "%.*s", (int)size, message);
        message += size + (message[size] == '\n' ? 1 : 0);
    }
}

static enum status start_page(struct daemon *daemon, struct problems *problems) {
    const struct settings *settings = &daemon->settings;
    const char *listen = option_value(daemon->options, "--listen");
    if (listen == NULL)
        listen = settings->listen[0] != '\0' ? settings->listen : SERVER_LISTEN_DEFAULT;
    /* Once a free port was taken, it stays. */
    if (daemon->listen[0] != '\0' && strlen(listen) > 2 && strcmp(listen + strlen(listen) - 2, ":0") == 0)
        listen = daemon->listen;
    daemon->data.address = settings->address[0] != '\0' ? settings->address : NULL;
    enum status status = check_listener(daemon, listen, problems);
    if (status == STATUS_OK)
        status = read_certificate(daemon, problems);
    const struct server_options options = {.listen = listen,
                                           .hosts = settings->hosts,
                                           .data = page_data_functions(&daemon->data),
                                           .access = daemon->access,
                                           .metrics = daemon->metrics,
                                           .certificate = daemon->certificate,
                                           .key = daemon->key,
                                           .secure = strncmp(settings->address, "https://", 8) == 0,
                                           .apart = daemon->apart,
                                           .report = report_page};
    if (status == STATUS_OK)
        status = server_start(&options, &daemon->server, problems);
    if (status != STATUS_OK)
        return status;
    (void)snprintf(daemon->listen, sizeof daemon->listen, "%.*s:%d", (int)(strrchr(listen, ':') - listen),
                   listen, server_port(daemon->server));
    printf("waterturn: the page is at %s://%s/ (Ctrl-C ends)\n",
           daemon->certificate != NULL ? "https" : "http", daemon->listen);
    fflush(stdout);
    return STATUS_OK;
}

/* ---- settings, and reading them again ---- */

/* The farm's own time, also when a form has just set it. An empty book has none. */
static void take_zone(struct daemon *daemon) {
    static struct problems unheard;
    problems_init(&unheard);
    (void)use_farm_zone(daemon->mornings.db, &unheard);
    problems_free(&unheard);
}

/* The runs beside the daemon read them; what is wrong with them is told at the start. */
static enum status check_credentials(const struct options *options, struct problems *problems) {
    struct credentials *credentials = NULL;
    struct ingest_options ingest;
    enum status status = option_ingest(options, &ingest, &credentials, problems);
    credentials_free(credentials);
    return status;
}

/* While no page is served. */
static enum status take_logins(struct daemon *daemon, struct problems *problems) {
    logins_free(daemon->data.with_login);
    daemon->data.with_login = NULL;
    return logins_take(daemon->options, &daemon->data.with_login, problems);
}

static void use_settings(struct daemon *daemon) {
    log_set_level(daemon->settings.log);
    daemon->mornings.settings = &daemon->settings;
}

/* New settings and the certificate are taken if all of them are good; else the old ones
 * stay. The page closes for that moment, since the farm's time zone may only be changed while one thread
 * runs. */
static void reload(struct daemon *daemon) {
    static struct problems problems;
    problems_init(&problems);
    supervisor_tell("RELOADING=1");
    struct settings *old = malloc(sizeof *old);
    if (old == NULL)
        return;
    *old = daemon->settings;
    enum status status = option_settings(daemon->options, &daemon->settings, &problems);
    if (status == STATUS_OK)
        status = check_credentials(daemon->options, &problems);
    if (status == STATUS_OK) {
        server_stop(daemon->server);
        daemon->server = NULL;
        if (daemon->mornings.db != NULL)
            take_zone(daemon);
        status = take_logins(daemon, &problems);
    }
    if (status == STATUS_OK) {
        status = start_page(daemon, &problems);
    }
    log_problems(LOG_LEVEL_ERROR, &problems);
    if (status != STATUS_OK) {
        daemon->settings = *old;
        log_line(LOG_LEVEL_ERROR, "the settings were not taken; the old ones hold");
        problems_free(&problems);
        if (daemon->server == NULL && start_page(daemon, &problems) != STATUS_OK)
            log_problems(LOG_LEVEL_ERROR, &problems);
    } else {
        log_line(LOG_LEVEL_NOTICE, "the settings were read again");
    }
    for (int i = 0; i < daemon->settings.host_count; i++)
        daemon->settings.hosts[i] = daemon->settings.host[i];
    use_settings(daemon);
    free(old);
    problems_free(&problems);
    supervisor_tell("READY=1");
}

/* ---- the loop ---- */

static void ask_for_morning(struct daemon *daemon) {
    if (daemon->mornings.db == NULL)
        return;
    take_zone(daemon);
    daemon->mornings.asked = true;
}

/* Waits for a signal to end, looking at the clock between. */
static enum status run_until_signal(struct daemon *daemon) {
    struct timespec look = {LOOK_SECONDS, 0};
    int watchdog = supervisor_watchdog_ms();
    if (watchdog > 0 && watchdog < LOOK_SECONDS * 1000)
        look = (struct timespec){watchdog / 1000, watchdog % 1000 * 1000000L};
    supervisor_tell("READY=1\nSTATUS=The page is at %s", daemon->listen);
    for (;;) {
        if (daemon->mornings.db != NULL)
            mornings_look(&daemon->mornings);
        if (daemon->server == NULL)
            return STATUS_IO; /* the supervisor starts it anew */
        server_sweep(daemon->server);
        tell_watchdog(daemon);
        int got = sigtimedwait(&daemon->signals, NULL, &look);
        if (got == SIGHUP)
            reload(daemon);
        else if (got == SIGUSR1)
            ask_for_morning(daemon);
        else if (got == SIGCHLD)
            continue;
        else if (got >= 0 || (errno != EAGAIN && errno != EINTR))
            return STATUS_OK;
    }
}

/* ---- start and stop ---- */

/* Three connections: the mornings', the pages' and the forms'. With no file named anywhere the user's own is
 * made. A file that can only be read is shown all the same. */
static enum status open_book(struct daemon *daemon, struct problems *problems) {
    const char *variable = getenv("WATERTURN_DB");
    bool named = option_value(daemon->options, "--db") != NULL || (variable != NULL && variable[0] != '\0');
    enum status status =
        option_open_db(daemon->options, named ? DB_WRITE : DB_CREATE, &daemon->mornings.db, problems);
    bool only_read = status == STATUS_IO;
    if ((status == STATUS_OK || only_read) &&
        option_db_path(daemon->options, false, &daemon->path, problems) != STATUS_OK)
        return STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = instance_take(text_string(&daemon->path), &daemon->lock, problems);
    if (status == STATUS_OK || only_read)
        status = option_open_db(daemon->options, DB_READ, &daemon->data.db, problems);
    if (status != STATUS_OK || only_read)
        return status;
    take_zone(daemon);
    status = option_open_db(daemon->options, DB_WRITE, &daemon->data.writer, problems);
    if (status != STATUS_OK)
        return status;
    db_patience(daemon->data.writer, PAGE_FORM_PATIENCE_MS);
    daemon->data.wake = wake;
    return page_data_key(&daemon->data, problems);
}

static enum status open_books(struct daemon *daemon, struct problems *problems) {
    enum status status = open_book(daemon, problems);
    if (status != STATUS_OK)
        return status;
    daemon->access = access_new(daemon->data.writer != NULL ? daemon->data.writer : daemon->data.db);
    daemon->metrics = daemon->data.metrics = daemon->mornings.metrics = metrics_new();
    return daemon->access != NULL && daemon->metrics != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

static void tell_apart(struct daemon *daemon) {
    const char *credentials = option_value(daemon->options, "--credentials");
    size_t count = 0;
    daemon->apart[count++] = "--db";
    daemon->apart[count++] = text_string(&daemon->path);
    if (credentials != NULL) {
        daemon->apart[count++] = "--credentials";
        daemon->apart[count++] = credentials;
    }
    if (daemon->data.today != CALENDAR_NONE) {
        daemon->apart[count++] = "--today";
        daemon->apart[count++] = calendar_format_iso(daemon->data.today, daemon->today);
    }
}

static enum status start(struct daemon *daemon, struct problems *problems) {
    struct morning_time morning;
    enum status status = option_settings(daemon->options, &daemon->settings, problems);
    if (status == STATUS_OK)
        status = take_logins(daemon, problems);
    if (status == STATUS_OK)
        status = open_books(daemon, problems);
    if (status == STATUS_OK)
        status = option_today(daemon->options, &morning, problems);
    if (status != STATUS_OK)
        return status;
    if (option_value(daemon->options, "--today") != NULL)
        daemon->data.today = daemon->mornings.given = morning.today;
    tell_apart(daemon);
    use_settings(daemon);
    return start_page(daemon, problems);
}

static void stop(struct daemon *daemon) {
    supervisor_tell("STOPPING=1");
    mornings_end(&daemon->mornings);
    server_stop(daemon->server);
    metrics_free(daemon->metrics);
    access_free(daemon->access);
    db_close(daemon->data.writer);
    db_close(daemon->data.db);
    db_close(daemon->mornings.db);
    instance_leave(daemon->lock);
    text_free(&daemon->path);
    logins_free(daemon->data.with_login);
    free(daemon->certificate);
    free(daemon->key);
}

static enum status run_serve(const struct options *options, struct problems *problems) {
    static struct daemon daemon; /* large */
    daemon = (struct daemon){.options = options, .lock = -1};
    text_init(&daemon.path, 0);
    daemon.mornings.options = options;
    daemon.data.today = daemon.mornings.given = CALENDAR_NONE;
    block_signals(&daemon.signals);
    /* One heap for both threads, and what is large goes back to the system when it is freed. */
    (void)mallopt(M_ARENA_MAX, 1);
    (void)mallopt(M_MMAP_THRESHOLD, 64 * 1024);
    (void)mallopt(M_TRIM_THRESHOLD, 128 * 1024);
    enum status status = start(&daemon, problems);
    if (status == STATUS_OK) {
        /* What the start met and went on from: a book that may only be read. */
        log_problems(LOG_LEVEL_WARNING, problems);
        problems_free(problems);
        status = run_until_signal(&daemon);
    }
    stop(&daemon);
    return status;
}

static const struct option_spec serve_options[] = {
    OPTION_DB,
    OPTION_CONFIG,
    OPTION_CREDENTIALS,
    OPTION_TRIES,
    {"--listen", "ADDR:PORT", "where the page is; else as set, else 127.0.0.1:8080"},
    {"--today", "DATE", "show the page as of this day, and run no morning but what a form asks for"},
    OPTION_END};

const struct command command_serve = {
    "serve",
    "",
    0,
    0,
    "serve the page, and run the morning each day",
    "Without a database one is made in the user's data directory, and the page asks what it needs to know.\n"
    "The morning is run at the set time (04:30) on the farm's clock, or at once when today's was missed, and "
    "again "
    "later\nwhile a source fails. SIGTERM and Ctrl-C end it; SIGHUP reads the settings again. Beyond this "
    "machine "
    "(--listen\n0.0.0.0:8080) it serves only devices that were let in: `waterturn pair`.",
    serve_options,
    run_serve};
