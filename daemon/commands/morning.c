#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/cores.h"
#include "daemon/base/wall_clock.h"
#include "daemon/commands/command.h"
#include "daemon/http/page_data.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/morning/run.h"
#include "daemon/source/download.h"
#include "daemon/store/ledger_store.h"

#define PLURAL(count) ((count) == 1 ? "" : "s")

static void print_result(const struct morning_result *result, int32_t today) {
    char iso[CALENDAR_ISO_SIZE];
    printf("%s: %zu of %zu sources read, %zu day%s of weather new or changed; %zu field%s, %zu planting%s",
           calendar_format_iso(today, iso), result->ingest.sources - result->ingest.failed,
           result->ingest.sources, result->ingest.days_changed, PLURAL(result->ingest.days_changed),
           result->fields, PLURAL(result->fields), result->plantings, PLURAL(result->plantings));
    if (result->refused > 0)
        printf(", %zu that cannot be computed", result->refused);
    putchar('\n');
}

/* A clock that cannot be right computes nothing; a date that is given is meant. */
static enum status check_clock(const struct options *options, struct db *db, const struct morning_time *now,
                               struct problems *problems) {
    int32_t newest = CALENDAR_NONE;
    int64_t at;
    enum status status = ledger_store_newest(db, &newest, &at, problems);
    const char *advice = schedule_advice(schedule_judge(now, newest));
    if (status != STATUS_OK || advice == NULL || option_value(options, "--today") != NULL)
        return status;
    problem_add(problems, NULL, 0, 0, NULL, "%s", advice);
    return STATUS_REFUSED;
}

/* How much is done at the same time. */
static enum status how_many(const struct options *options, struct morning_how *how,
                            struct problems *problems) {
    double threads, at_once = MORNING_AT_ONCE;
    enum status status = option_number(options, "--threads", 1, CORES_MAX, cores_count(), &threads, problems);
    if (status == STATUS_OK)
        status = option_number(options, "--at-once", 1, 1e6, MORNING_AT_ONCE, &at_once, problems);
    if (status != STATUS_OK)
        return status;
    how->threads = (int)threads;
    how->at_once = (size_t)at_once;
    return STATUS_OK;
}

/* Forms wait four seconds for the book. So a morning of several transactions ends one every second, and
 * leaves the book alone for long enough that whoever waits comes in: SQLite tries again after a tenth of a
 * second. */
#define HOLD_MOST_MS 1000
#define PAUSE_NS     120000000

/* Since the book was last left alone, `context`; before that it was not held. */
static bool held_long(void *context) {
    int64_t *since_ms = context, now_ms = wall_clock_running_ms();
    if (*since_ms < 0)
        *since_ms = now_ms;
    return now_ms - *since_ms > HOLD_MOST_MS;
}

static void let_others_write(void *context) {
    if (!held_long(context))
        return;
    (void)nanosleep(&(struct timespec){.tv_nsec = PAUSE_NS}, NULL);
    *(int64_t *)context = wall_clock_running_ms();
}

/* Pages are asked for by people and take a moment; a morning takes all processors and nobody waits for it.
 * From 12 on the kernel lets a page in at once, at 5 only after some ms. Not further down: forms wait while
 * it writes, and beside programs that take every processor it must still get a part of them. */
#define GIVES_WAY 12

static enum status run_morning(const struct options *options, struct problems *problems) {
    struct db *db = NULL;
    struct morning_time morning;
    struct morning_result result;
    struct ingest_options ingest;
    int64_t held_since_ms = -1;
    struct morning_how how = {.enough = held_long, .between = let_others_write, .context = &held_since_ms};
    struct credentials *credentials = NULL;
    (void)!nice(GIVES_WAY);
    enum status status = how_many(options, &how, problems);
    if (status == STATUS_OK)
        status = option_open_db(options, DB_WRITE, &db, problems);
    if (status == STATUS_OK)
        status = use_farm_zone(db, problems);
    if (status == STATUS_OK)
        status = option_today(options, &morning, problems);
    if (status == STATUS_OK)
        status = check_clock(options, db, &morning, problems);
    if (status == STATUS_OK)
        status = option_ingest(options, &ingest, &credentials, problems);
    if (status == STATUS_OK)
        status = download_start(problems);
    if (status == STATUS_OK) {
        how.download = option_value(options, "--stored") != NULL ? NULL : &ingest;
        status = morning_run(db, &morning, &how, &result, problems);
        download_stop();
    }
    credentials_free(credentials);
    if (status == STATUS_OK)
        print_result(&result, morning.today);
    db_close(db);
    return status;
}

static const struct option_spec morning_options[] = {
    OPTION_DB,
    OPTION_TODAY,
    OPTION_CREDENTIALS,
    OPTION_TRIES,
    {"--stored", NULL, "download nothing, work with the weather that is stored"},
    {"--threads", "N", "that compute; else as many as there are cores"},
    {"--at-once", "FIELDS", "stored in one transaction at most; else 8192"},
    OPTION_END};

const struct command command_morning = {
    "morning",
    "",
    0,
    0,
    "download the weather and make the calls, once",
    "A source that cannot be read is named on standard error, and the calls are made from what is stored; "
    "they say\n"
    "how old that is. Running it again for the same morning changes nothing more.",
    morning_options,
    run_morning};
