/* The daemon: the page, and a morning each day. */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#include "daemon/commands/command.h"
#include "daemon/http/page_data.h"
#include "daemon/http/server.h"
#include "daemon/morning/run.h"
#include "daemon/source/download.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"

/* When the morning is run, on the farm's clock: before people are up, after the night's weather is in. */
#define MORNING_MINUTE (4 * 60 + 30)
/* How often the clock is looked at. */
#define LOOK_SECONDS        20
#define AGAIN_FIRST_MINUTES 15
/* How long a form waits while a morning is written, before it is handed back. */
#define FORM_PATIENCE_MS 4000

static void print_problems(struct problems *problems) {
    struct text words;
    text_init(&words, 0);
    problems_print(problems, &words);
    fputs(text_string(&words), stderr);
    text_free(&words);
    problems_free(problems);
}

/* What the mornings are run with, and when one whose sources failed is run again. */
struct mornings {
    struct db *db;
    struct ingest_options ingest;
    int32_t given;    /* the date given for now: no morning comes by itself; CALENDAR_NONE */
    bool asked;       /* a form changed what the morning works on */
    int64_t again_at; /* 0: all sources were read */
    int failures;     /* in a row */
};

static void ask_for_morning(void) {
    (void)kill(getpid(), SIGUSR1);
}

/* Whether today's morning is still to be run; after downtime it is caught up with. Without a field there is
 * nothing to run. */
static bool morning_due(const struct mornings *mornings, const struct morning_time *now,
                        struct problems *problems) {
    int32_t newest;
    int64_t at;
    struct farm_counts counts;
    if (farm_store_count(mornings->db, &counts, problems) != STATUS_OK || counts.fields == 0 ||
        ledger_store_newest(mornings->db, &newest, &at, problems) != STATUS_OK)
        return false;
    if (mornings->asked || mornings->given != CALENDAR_NONE)
        return mornings->asked;
    if (counts.untried > 0 || (mornings->again_at != 0 && now->at >= mornings->again_at))
        return true;
    return newest == CALENDAR_NONE || (newest < now->today && now->minute >= MORNING_MINUTE);
}

/* A source that failed is asked again in a quarter of an hour, then half an hour, then each hour. */
static void plan_again(struct mornings *mornings, const struct morning_result *result, int64_t now) {
    int minutes = AGAIN_FIRST_MINUTES << (mornings->failures < 2 ? mornings->failures : 2);
    bool failed = result->ingest.failed > 0;
    mornings->failures = failed ? mornings->failures + 1 : 0;
    mornings->again_at = failed ? now + (int64_t)minutes * 60 : 0;
}

static void run_if_due(struct mornings *mornings, struct problems *problems) {
    struct morning_time now =
        mornings->given != CALENDAR_NONE ? wall_clock_given(mornings->given) : wall_clock_now();
    if (!morning_due(mornings, &now, problems))
        return;
    struct morning_result result;
    char iso[CALENDAR_ISO_SIZE];
    mornings->asked = false;
    enum status status = morning_run(mornings->db, now.today, now.at, &mornings->ingest, &result, problems);
    plan_again(mornings, &result, now.at);
    printf("morning of %s: %s, %zu of %zu sources read, %zu fields\n", calendar_format_iso(now.today, iso),
           status_name(status), result.ingest.sources - result.ingest.failed, result.ingest.sources,
           result.fields);
    fflush(stdout);
}

/* The farm's own time, also when a form has just set it. An empty book has none. */
static void take_zone(struct db *db) {
    struct problems *unused = malloc(sizeof *unused);
    if (unused == NULL)
        return;
    problems_init(unused);
    (void)use_farm_zone(db, unused);
    problems_free(unused);
    free(unused);
}

/* Waits for a signal to end, looking at the clock between. */
static void run_until_signal(struct mornings *mornings, const sigset_t *signals, struct problems *problems) {
    struct timespec look = {LOOK_SECONDS, 0};
    for (;;) {
        if (mornings->db != NULL)
            run_if_due(mornings, problems);
        print_problems(problems);
        int signal = sigtimedwait(signals, NULL, &look);
        if (signal == SIGUSR1 && mornings->db != NULL) {
            take_zone(mornings->db);
            mornings->asked = true;
        } else if (signal >= 0 || (errno != EAGAIN && errno != EINTR)) {
            return;
        }
    }
}

/* A download under way is given up when a signal to end has come. */
static bool signal_waits(void *context) {
    const sigset_t *signals = context;
    sigset_t pending;
    sigemptyset(&pending);
    if (sigpending(&pending) != 0)
        return false;
    return (sigismember(signals, SIGINT) == 1 && sigismember(&pending, SIGINT) == 1) ||
           (sigismember(signals, SIGTERM) == 1 && sigismember(&pending, SIGTERM) == 1);
}

static void report(void *context, const char *message) {
    (void)context;
    fputs(message, stderr);
}

static enum status serve_page(const struct options *options, struct mornings *mornings,
                              struct page_data *data, sigset_t *signals, struct problems *problems) {
    struct server *server = NULL;
    const struct server_options server_options = {
        .listen = option_value(options, "--listen"), .data = page_data_functions(data), .report = report};
    enum status status = server_start(&server_options, &server, problems);
    if (status != STATUS_OK)
        return status;
    printf("waterturn: the page is at http://127.0.0.1:%d/ (Ctrl-C ends)\n", server_port(server));
    fflush(stdout);
    mornings->ingest.policy.stop = signal_waits;
    mornings->ingest.policy.stop_context = signals;
    run_until_signal(mornings, signals, problems);
    server_stop(server);
    return STATUS_OK;
}

/* Three connections: the mornings', the pages' and the forms'. With no file named anywhere the user's own is
 * made. A file that can only be read is shown all the same. */
static enum status open_book(const struct options *options, struct mornings *mornings, struct page_data *data,
                             struct problems *problems) {
    const char *variable = getenv("WATERTURN_DB");
    bool named = option_value(options, "--db") != NULL || (variable != NULL && variable[0] != '\0');
    enum status status = option_open_db(options, named ? DB_WRITE : DB_CREATE, &mornings->db, problems);
    bool only_read = status == STATUS_IO;
    if (status == STATUS_OK || only_read)
        status = option_open_db(options, DB_READ, &data->db, problems);
    if (status != STATUS_OK || only_read)
        return status;
    take_zone(mornings->db);
    status = option_open_db(options, DB_WRITE, &data->writer, problems);
    if (status != STATUS_OK)
        return status;
    db_patience(data->writer, FORM_PATIENCE_MS);
    data->wake = ask_for_morning;
    return page_data_key(data, problems);
}

/* Blocked in every thread, so that the main one gets them where it waits. */
static void block_signals(sigset_t *signals) {
    sigemptyset(signals);
    sigaddset(signals, SIGINT);
    sigaddset(signals, SIGTERM);
    sigaddset(signals, SIGUSR1);
    sigprocmask(SIG_BLOCK, signals, NULL);
}

static enum status run_serve(const struct options *options, struct problems *problems) {
    struct mornings mornings = {.given = CALENDAR_NONE};
    struct credentials *credentials = NULL;
    struct page_data data = {.today = CALENDAR_NONE};
    struct morning_time morning;
    sigset_t signals;
    block_signals(&signals);
    enum status status = open_book(options, &mornings, &data, problems);
    if (status == STATUS_OK)
        status = option_today(options, &morning, problems);
    if (status == STATUS_OK && option_value(options, "--today") != NULL)
        data.today = mornings.given = morning.today;
    if (status == STATUS_OK)
        status = option_ingest(options, &mornings.ingest, &credentials, problems);
    if (status == STATUS_OK)
        status = download_start();
    if (status == STATUS_OK) {
        status = serve_page(options, &mornings, &data, &signals, problems);
        download_stop();
    }
    credentials_free(credentials);
    db_close(data.writer);
    db_close(data.db);
    db_close(mornings.db);
    return status;
}

static const struct option_spec serve_options[] = {
    OPTION_DB,
    OPTION_CREDENTIALS,
    OPTION_TRIES,
    {"--listen", "ADDR:PORT", "where the page is; else 127.0.0.1:8080. Loopback only"},
    {"--today", "DATE", "show the page as of this day, and run no morning but what a form asks for"},
    OPTION_END};

const struct command command_serve = {
    "serve",
    "",
    0,
    0,
    "serve the page, and run the morning each day",
    "Without a database one is made in the user's data directory, and the page asks what it needs to know.\n"
    "The morning is run at 04:30 on the farm's clock, or at once when "
    "today's was missed, and again later\nwhile a source fails. SIGTERM and Ctrl-C end it.",
    serve_options,
    run_serve};
