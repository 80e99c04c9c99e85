#include "daemon/commands/mornings.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "core/base/calendar.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/lifecycle/supervisor.h"
#include "daemon/morning/keep_backups.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/message_store.h"
#include "daemon/store/weather_store.h"

/* A morning or a sending that takes longer hangs. */
#define WORK_LONGEST_S (30 * 60)
#define TELL_PAUSE_S   60
#define ARGUMENTS_MOST 12

static double seconds_now(void) {
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now); /* goes on while the machine sleeps */
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void report(struct mornings *mornings, enum log_level level, struct problems *problems) {
    if (problems->count > 0 && level == LOG_LEVEL_ERROR)
        metrics_error(mornings->metrics);
    log_problems(level, problems);
    problems_free(problems);
}

/* ---- when ---- */

/* A clock that cannot be right stops the mornings; told once, and again when it is well. */
static bool clock_is_good(struct mornings *mornings, const struct morning_time *now, int32_t newest) {
    const char *advice = schedule_advice(schedule_judge(now, newest));
    if (advice != NULL && !mornings->clock_reported) {
        char iso[CALENDAR_ISO_SIZE];
        log_line(LOG_LEVEL_ERROR, "the clock says %s: %s",
                 now->today != CALENDAR_NONE ? calendar_format_iso(now->today, iso) : "no date", advice);
        supervisor_tell("STATUS=The clock is wrong: %s", advice);
        metrics_error(mornings->metrics);
    } else if (advice == NULL && mornings->clock_reported) {
        log_line(LOG_LEVEL_NOTICE, "the clock can be believed again");
    }
    mornings->clock_reported = advice != NULL;
    return advice == NULL;
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
    mornings->clock_good = mornings->given != CALENDAR_NONE || clock_is_good(mornings, now, newest);
    if (!mornings->clock_good || counts.fields == 0)
        return false;
    if (mornings->asked || mornings->given != CALENDAR_NONE)
        return mornings->asked;
    if (mornings->again_s != 0)
        return seconds_now() >= mornings->again_s;
    return counts.untried > 0 || schedule_due(now, newest, mornings->settings->morning_minute);
}

static bool messages_due(struct mornings *mornings, const struct morning_time *now,
                         struct problems *problems) {
    int64_t due = 0;
    if (mornings->settings->people == 0 || !mornings->clock_good ||
        (mornings->told_s != 0 && seconds_now() - mornings->told_s < TELL_PAUSE_S))
        return false;
    if (mornings->tell)
        return true;
    return message_store_due(mornings->db, &due, problems) == STATUS_OK && due != 0 && due <= now->at;
}

/* ---- beginning and end of what runs ---- */

static void start_work(struct mornings *mornings, enum mornings_work work, const struct morning_time *now,
                       struct problems *problems) {
    static const char *const passed[] = {"--db", "--credentials", "--tries", "--config"};
    const char *arguments[ARGUMENTS_MOST] = {work == WORK_MORNING ? "morning" : "tell"};
    size_t count = 1, most = work == WORK_MORNING ? 3 : 4;
    char iso[CALENDAR_ISO_SIZE];
    for (size_t i = 0; i < most; i++) {
        const char *value = option_value(mornings->options, passed[i]);
        if (value == NULL)
            continue;
        arguments[count++] = passed[i];
        arguments[count++] = value;
    }
    if (mornings->given != CALENDAR_NONE) {
        arguments[count++] = "--today";
        arguments[count++] = calendar_format_iso(mornings->given, iso);
    }
    mornings->began = seconds_now();
    mornings->today = now->today;
    mornings->asked = mornings->asked && work != WORK_MORNING;
    if (work == WORK_TELL) {
        mornings->tell = false;
        mornings->told_s = seconds_now();
    }
    mornings->work = child_start(&mornings->child, arguments, problems) == STATUS_OK ? work : WORK_NONE;
    if (mornings->work == WORK_NONE)
        report(mornings, LOG_LEVEL_ERROR, problems);
}

static size_t sources_failing(struct mornings *mornings, struct problems *problems) {
    struct source_state *sources = NULL;
    size_t count = 0, failing = 0;
    if (weather_store_sources(mornings->db, mornings->today, &sources, &count, problems) != STATUS_OK)
        return 0;
    for (size_t i = 0; i < count; i++)
        failing += sources[i].trouble[0] != '\0';
    free(sources);
    return failing;
}

static void back_up(struct mornings *mornings, struct problems *problems) {
    const struct settings *settings = mornings->settings;
    if (settings->backup_directory[0] == '\0')
        return;
    if (keep_backups_run(mornings->db, settings->backup_directory, mornings->today, settings->backup_days,
                         settings->backup_months, problems) != STATUS_OK)
        report(mornings, LOG_LEVEL_ERROR, problems);
}

static void end_morning(struct mornings *mornings, int code, struct problems *problems) {
    char iso[CALENDAR_ISO_SIZE];
    size_t failing = sources_failing(mornings, problems);
    bool failed = code != 0 || failing > 0;
    mornings->failures = failed ? mornings->failures + 1 : 0;
    mornings->again_s = failed ? seconds_now() + (double)schedule_again_s(mornings->failures) : 0;
    metrics_morning(mornings->metrics, code == 0, seconds_now() - mornings->began);
    (void)calendar_format_iso(mornings->today, iso);
    if (code != 0) {
        metrics_error(mornings->metrics);
        log_line(LOG_LEVEL_ERROR, "the morning of %s ended with %d; it is run again", iso, code);
        supervisor_tell("STATUS=The morning of %s failed", iso);
        return;
    }
    log_line(LOG_LEVEL_INFO, "the morning of %s was run in %.1f s, %zu sources fail", iso,
             seconds_now() - mornings->began, failing);
    supervisor_tell("STATUS=Morning of %s was run, %zu sources fail", iso, failing);
    mornings->tell = true;
    mornings->told_s = 0;
    back_up(mornings, problems);
}

static void look_after(struct mornings *mornings, struct problems *problems) {
    int code = 0;
    if (!child_ended(&mornings->child, &code)) {
        if (seconds_now() - mornings->began < WORK_LONGEST_S)
            return;
        log_line(LOG_LEVEL_ERROR, "what runs takes more than half an hour and is ended");
        child_end(&mornings->child);
        code = 1;
    }
    enum mornings_work work = mornings->work;
    mornings->work = WORK_NONE;
    if (work == WORK_MORNING)
        end_morning(mornings, code, problems);
    else if (code != 0)
        log_line(LOG_LEVEL_ERROR, "the messages could not be sent (%d)", code);
}

void mornings_look(struct mornings *mornings) {
    static struct problems problems; /* large, and one thread looks */
    struct morning_time now =
        mornings->given != CALENDAR_NONE ? wall_clock_given(mornings->given) : wall_clock_now();
    problems_init(&problems);
    if (mornings->work != WORK_NONE)
        look_after(mornings, &problems);
    if (mornings->work == WORK_NONE && is_due(mornings, &now, &problems))
        start_work(mornings, WORK_MORNING, &now, &problems);
    else if (mornings->work == WORK_NONE && messages_due(mornings, &now, &problems))
        start_work(mornings, WORK_TELL, &now, &problems);
    report(mornings, LOG_LEVEL_ERROR, &problems);
}

void mornings_end(struct mornings *mornings) {
    child_end(&mornings->child);
    mornings->work = WORK_NONE;
}
