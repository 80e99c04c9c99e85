/* Looks at everything that the daemon rests on, and says what to do. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#include "daemon/commands/command.h"
#include "daemon/http/page_data.h"
#include "daemon/http/server.h"
#include "daemon/lifecycle/instance.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/morning/keep_backups.h"
#include "daemon/store/access_store.h"
#include "daemon/store/health_store.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/weather_store.h"

#define SPACE_LEAST_BYTES (200.0 * 1024 * 1024)
#define BACKUP_OLD_DAYS   2
#define SOURCE_OLD_S      (36 * 3600)

struct doctor {
    const struct options *options;
    struct settings settings;
    struct db *db; /* NULL: it cannot be opened */
    struct text path;
    int ill;
    struct problems problems;
};

static void well(const char *what, const char *how) {
    printf("good     %-12s %s\n", what, how);
}

static void ill(struct doctor *doctor, const char *what, const char *how, const char *advice) {
    printf("NOT GOOD %-12s %s\n%22s%s\n", what, how, "", advice);
    doctor->ill++;
}

/* Not wrong, but better otherwise. */
static void consider(const char *what, const char *how, const char *advice) {
    printf("consider %-12s %s\n%22s%s\n", what, how, "", advice);
}

/* What the last check added to the problems, each as a line. */
static void ill_problems(struct doctor *doctor, const char *what, const char *advice) {
    struct text words;
    text_init(&words, 0);
    problems_print(&doctor->problems, &words);
    for (const char *line = text_string(&words); *line != '\0';) {
        char text[1024];
        size_t size = strcspn(line, "\n");
        (void)snprintf(text, sizeof text, "%.*s", (int)size, line);
        line += size + (line[size] == '\n' ? 1 : 0);
        ill(doctor, what, text, *line == '\0' ? advice : "");
    }
    text_free(&words);
    problems_free(&doctor->problems);
}

static void look_at_settings(struct doctor *doctor) {
    const char *path = option_config(doctor->options);
    if (option_settings(doctor->options, &doctor->settings, &doctor->problems) != STATUS_OK) {
        ill_problems(doctor, "settings", "Correct the file; the daemon keeps its old settings until then.");
        settings_default(&doctor->settings);
    } else {
        well("settings", path != NULL ? path : "none: what is usual holds");
    }
}

static void look_at_credentials(struct doctor *doctor) {
    struct ingest_options ingest;
    struct credentials *credentials = NULL;
    if (option_ingest(doctor->options, &ingest, &credentials, &doctor->problems) != STATUS_OK)
        ill_problems(doctor, "credentials", "Correct the file or its permissions.");
    else
        well("credentials", credentials != NULL ? "can be read, by its owner alone" : "none");
    credentials_free(credentials);
}

static void look_at_database(struct doctor *doctor) {
    enum status status = db_open(text_string(&doctor->path), DB_CHECK, &doctor->db, &doctor->problems);
    if (status == STATUS_NOT_FOUND)
        ill_problems(doctor, "database", "The service's is named by `--db /var/lib/waterturn/farm.db`.");
    else if (status != STATUS_OK || health_store_check(doctor->db, &doctor->problems) != STATUS_OK)
        ill_problems(doctor, "database",
                     "If it is damaged: stop the daemon and `waterturn restore` the newest backup.");
    else
        well("database", text_string(&doctor->path));
}

static void look_at_permissions(struct doctor *doctor) {
    struct stat about;
    const char *path = text_string(&doctor->path);
    if (stat(path, &about) != 0)
        return;
    if ((about.st_mode & (S_IRWXG | S_IRWXO)) != 0)
        ill(doctor, "permissions", "others on this machine can read the database", "`chmod go= FILE`");
    else if (access(path, W_OK) != 0)
        ill(doctor, "permissions", "this user cannot write the database",
            "Run this as the user of the daemon: `sudo -u waterturn waterturn doctor`.");
    else
        well("permissions", "the database is its owner's alone");
}

static void look_at_space(struct doctor *doctor) {
    struct statvfs room;
    char text[96];
    if (statvfs(text_string(&doctor->path), &room) != 0)
        return;
    double bytes = (double)room.f_bavail * (double)room.f_frsize;
    (void)snprintf(text, sizeof text, "%.0f MB left on the disk", bytes / 1e6);
    if (bytes < SPACE_LEAST_BYTES)
        ill(doctor, "disk", text, "Make room: a full disk stops records and mornings.");
    else
        well("disk", text);
}

static void look_at_clock(struct doctor *doctor, const struct morning_time *now, int32_t newest) {
    char text[64], iso[CALENDAR_ISO_SIZE];
    const char *advice = schedule_advice(schedule_judge(now, newest));
    (void)snprintf(text, sizeof text, "%s %02d:%02d on the farm's clock",
                   now->today != CALENDAR_NONE ? calendar_format_iso(now->today, iso) : "no date",
                   now->minute / 60, now->minute % 60);
    if (advice != NULL)
        ill(doctor, "clock", text, advice);
    else
        well("clock", text);
}

static void look_at_mornings(struct doctor *doctor, const struct morning_time *now, int32_t newest) {
    char text[64], iso[CALENDAR_ISO_SIZE];
    if (newest == CALENDAR_NONE) {
        ill(doctor, "mornings", "none was run yet", "`waterturn morning`, or let `waterturn serve` run.");
        return;
    }
    (void)snprintf(text, sizeof text, "the newest is of %s", calendar_format_iso(newest, iso));
    if (now->today != CALENDAR_NONE && newest + 1 < now->today)
        ill(doctor, "mornings", text, "Is the daemon running? `systemctl status waterturn`");
    else
        well("mornings", text);
}

static void look_at_sources(struct doctor *doctor, const struct morning_time *now) {
    struct source_state *states = NULL;
    size_t count = 0;
    if (weather_store_sources(doctor->db, now->today, &states, &count, &doctor->problems) != STATUS_OK) {
        ill_problems(doctor, "sources", "");
        return;
    }
    if (count == 0)
        ill(doctor, "sources", "there are none",
            "Without weather nothing can be said: add one on the page Sources.");
    for (size_t i = 0; i < count; i++) {
        char text[FARM_NAME_SIZE + FARM_TEXT_SIZE + 8];
        static const char kept[] = {PROBLEM_KEPT, '\0'};
        (void)snprintf(text, sizeof text, "%s: %.*s", states[i].name, (int)strcspn(states[i].trouble, kept),
                       states[i].trouble);
        if (states[i].trouble[0] != '\0')
            ill(doctor, "source", text, "The page Sources tells more; `waterturn sources` too.");
        else if (states[i].taken_at == 0 || now->at - states[i].taken_at > SOURCE_OLD_S)
            ill(doctor, "source", states[i].name,
                "It was not read for more than a day. `waterturn morning` tries it.");
        else
            well("source", states[i].name);
    }
    free(states);
}

static void look_at_listener(struct doctor *doctor) {
    bool on_loopback = true, any = false;
    const char *listen = doctor->settings.listen[0] != '\0' ? doctor->settings.listen : SERVER_LISTEN_DEFAULT;
    if (server_on_loopback(listen, &on_loopback, &doctor->problems) != STATUS_OK ||
        access_store_any(doctor->db, &any, &doctor->problems) != STATUS_OK)
        ill_problems(doctor, "listener", "Correct \"listen\" in the settings.");
    else if (!on_loopback && !any)
        ill(doctor, "listener", listen, "Nobody was let in yet: `waterturn pair --role manager NAME`.");
    else if (!on_loopback && doctor->settings.certificate[0] == '\0')
        consider(
            "listener", listen,
            "Others can reach it, and without \"tls\" those between can read along: fine in a network of "
            "your own only.");
    else
        well("listener", listen);
    if (any && on_loopback && doctor->settings.address[0] == '\0')
        well("access", "only devices that were let in");
    else if (!any)
        well("access", "everybody on this machine, nobody else");
}

/* A daemon that runs has the lock. */
static void look_at_daemon(struct doctor *doctor) {
    int lock = -1;
    enum status status = instance_take(text_string(&doctor->path), &lock, &doctor->problems);
    problems_free(&doctor->problems);
    instance_leave(lock);
    if (status == STATUS_BUSY)
        well("daemon", "runs");
    else
        ill(doctor, "daemon", "does not run", "`systemctl start waterturn`, or `waterturn serve`");
}

static void look_at_backups(struct doctor *doctor, const struct morning_time *now) {
    char iso[CALENDAR_ISO_SIZE];
    const char *directory = doctor->settings.backup_directory;
    if (directory[0] == '\0') {
        consider("backups", "none are made", "Set \"backup\": {\"directory\": ...}, best on another disk.");
        return;
    }
    int32_t newest = keep_backups_newest(directory);
    if (newest == CALENDAR_NONE || newest + BACKUP_OLD_DAYS < now->today)
        ill(doctor, "backups", newest != CALENDAR_NONE ? calendar_format_iso(newest, iso) : "none yet",
            "Can the daemon write there? Its log says.");
    else
        well("backups", calendar_format_iso(newest, iso));
}

static enum status run_doctor(const struct options *options, struct problems *problems) {
    static struct doctor doctor;
    int32_t newest = CALENDAR_NONE;
    int64_t at;
    doctor.options = options;
    problems_init(&doctor.problems);
    text_init(&doctor.path, 0);
    enum status status = option_db_path(options, false, &doctor.path, problems);
    if (status != STATUS_OK)
        return status;
    look_at_settings(&doctor);
    look_at_credentials(&doctor);
    look_at_database(&doctor);
    look_at_permissions(&doctor);
    look_at_space(&doctor);
    if (doctor.db != NULL) {
        (void)use_farm_zone(doctor.db, &doctor.problems);
        (void)ledger_store_newest(doctor.db, &newest, &at, &doctor.problems);
        problems_free(&doctor.problems);
        struct morning_time now = wall_clock_now();
        look_at_daemon(&doctor);
        look_at_clock(&doctor, &now, newest);
        look_at_mornings(&doctor, &now, newest);
        look_at_sources(&doctor, &now);
        look_at_listener(&doctor);
        look_at_backups(&doctor, &now);
    }
    db_close(doctor.db);
    text_free(&doctor.path);
    if (doctor.ill == 0)
        return STATUS_OK;
    problem_add(problems, NULL, 0, 0, NULL, "%d of these %s not good", doctor.ill,
                doctor.ill == 1 ? "is" : "are");
    return STATUS_REFUSED;
}

static const struct option_spec doctor_options[] = {OPTION_DB, OPTION_CONFIG, OPTION_CREDENTIALS,
                                                    OPTION_TRIES, OPTION_END};

const struct command command_doctor = {"doctor",
                                       "",
                                       0,
                                       0,
                                       "look at everything the daemon rests on, and say what to do",
                                       "Settings, credentials, database, permissions, disk, clock, mornings, "
                                       "sources, listener, backups. Nothing is "
                                       "changed.",
                                       doctor_options,
                                       run_doctor};
