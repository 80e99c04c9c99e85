#include "daemon/commands/mornings.h"

#include <malloc.h>
#include <time.h>

#include "core/base/calendar.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/lifecycle/supervisor.h"
#include "daemon/morning/keep_backups.h"
#include "daemon/morning/run.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"

static double seconds_now(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void report(struct mornings *mornings, enum log_level level, struct problems *problems) {
    if (problems->count > 0 && level == LOG_LEVEL_ERROR)
        metrics_error(mornings->metrics);
    log_problems(level, problems);
    problems_free(problems);
}

/* A clock that cannot be right stops the mornings; told once, and again when it is well. */
static bool clock_is_good(struct mornings *mornings, const struct morning_time *now, int32_t newest) {
    const char *advice = schedule_advice(schedule_judge(now, newest));
    if (advice != NULL && !mornings->clock_reported) {
        char iso[CALENDAR_ISO_SIZE];
        log_line(LOG_LEVEL_ERROR, "%s says %s: %s", "the clock",
                 now->today != CALENDAR_NONE ? calendar_format_iso(now->today, iso) : "no date", advice);
        supervisor_tell("STATUS=The clock is wrong: %s", advice);
        metrics_error(mornings->metrics);
    } else if (advice == NULL && mornings->clock_reported) {
        log_line(LOG_LEVEL_NOTICE, "the clock can be believed again");
    }
    mornings->clock_reported = advice != NULL;
    return advice == NULL;
}

static void plan_again(struct mornings *mornings, bool failed, int64_t now) {
    mornings->failures = failed ? mornings->failures + 1 : 0;
    mornings->again_at = failed ? now + schedule_again_s(mornings->failures) : 0;
}

static void run(struct mornings *mornings, const struct morning_time *now, struct problems *problems) {
    struct morning_result result;
    char iso[CALENDAR_ISO_SIZE];
    double began = seconds_now();
    mornings->asked = false;
    enum status status = morning_run(mornings->db, now->today, now->at, &mornings->ingest, &result, problems);
    bool failed = status != STATUS_OK || result.ingest.failed > 0;
    plan_again(mornings, failed && status != STATUS_NOT_FOUND, now->at);
    metrics_morning(mornings->metrics, status == STATUS_OK, seconds_now() - began);
    if (status == STATUS_NOT_FOUND)
        return;
    (void)calendar_format_iso(now->today, iso);
    printf("morning of %s: %s, %zu of %zu sources read, %zu fields\n", iso, status_name(status),
           result.ingest.sources - result.ingest.failed, result.ingest.sources, result.fields);
    fflush(stdout);
    supervisor_tell("STATUS=Morning of %s: %s, %zu of %zu sources read, %zu fields", iso, status_name(status),
                    result.ingest.sources - result.ingest.failed, result.ingest.sources, result.fields);
    /* What a morning of many fields needed goes back to the system: the next one is a day away. */
    malloc_trim(0);
}

static void back_up(struct mornings *mornings, const struct morning_time *now, struct problems *problems) {
    const struct settings *settings = mornings->settings;
    if (settings->backup_directory[0] == '\0')
        return;
    if (keep_backups_run(mornings->db, settings->backup_directory, now->today, settings->backup_days,
                         settings->backup_months, problems) != STATUS_OK)
        report(mornings, LOG_LEVEL_ERROR, problems);
}

/* Whether a morning is to be run at this moment; after downtime it is caught up with. Without a field there
 * is nothing to run. */
static bool is_due(struct mornings *mornings, const struct morning_time *now, struct problems *problems) {
    int32_t newest;
    int64_t at;
    struct farm_counts counts;
    if (farm_store_count(mornings->db, &counts, problems) != STATUS_OK ||
        ledger_store_newest(mornings->db, &newest, &at, problems) != STATUS_OK) {
        report(mornings, LOG_LEVEL_ERROR, problems);
        return false;
    }
    if (mornings->given != CALENDAR_NONE)
        return mornings->asked && counts.fields > 0;
    if (!clock_is_good(mornings, now, newest) || counts.fields == 0)
        return false;
    if (mornings->asked)
        return true;
    if (mornings->again_at != 0)
        return now->at >= mornings->again_at;
    return counts.untried > 0 || schedule_due(now, newest, mornings->settings->morning_minute);
}

void mornings_look(struct mornings *mornings) {
    static struct problems problems; /* large, and one thread looks */
    struct morning_time now =
        mornings->given != CALENDAR_NONE ? wall_clock_given(mornings->given) : wall_clock_now();
    problems_init(&problems);
    if (!is_due(mornings, &now, &problems))
        return;
    run(mornings, &now, &problems);
    report(mornings, LOG_LEVEL_WARNING, &problems);
    back_up(mornings, &now, &problems);
}
