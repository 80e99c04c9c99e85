/* Tells people of the calls: puts what they are to know into the queue, and sends what is due. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sodium.h>

#include "daemon/commands/command.h"
#include "daemon/http/page_data.h"
#include "daemon/lifecycle/instance.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/morning/notify.h"
#include "daemon/source/download.h"
#include "daemon/store/message_store.h"
#include "daemon/view/digest.h"

#define STALE_S    (18 * 3600) /* a call of the morning is of no use at night */
#define TRIES_MOST 12

struct telling {
    struct db *db;
    const struct settings *settings;
    const struct credentials *credentials;
    struct morning_time now;
    struct farm_facts facts;
    struct field_morning *mornings;
    size_t count;
    int sent, waiting;
    struct problems *problems;
};

/* ---- what people are to know ---- */

static const char *link_of(const struct telling *telling) {
    return telling->settings->address[0] != '\0' ? telling->settings->address : NULL;
}

/* Not before the person's time for it, nor within quiet hours. */
static int64_t due_of(const struct telling *telling, const struct person *person, bool digest) {
    int64_t at = telling->now.at;
    if (digest && person->digest_minute > telling->now.minute)
        at += (int64_t)(person->digest_minute - telling->now.minute) * 60;
    return schedule_after_quiet(at, person->quiet_from, person->quiet_until);
}

static enum status queue(struct telling *telling, const struct person *person, const char *matter,
                         const struct digest *digest, bool of_morning, bool *added) {
    struct message message = {.made_at = telling->now.at,
                              .due_at = due_of(telling, person, of_morning),
                              .subject = (char *)(uintptr_t)text_string(&digest->subject),
                              .body = (char *)(uintptr_t)text_string(&digest->body),
                              .data = (char *)(uintptr_t)text_string(&digest->data)};
    message.stale_at = message.due_at + STALE_S;
    (void)snprintf(message.person, sizeof message.person, "%s", person->name);
    (void)snprintf(message.matter, sizeof message.matter, "%s", matter);
    return message_store_add(telling->db, &message, added, telling->problems);
}

static enum status tell_field(struct telling *telling, const struct person *person,
                              const struct field_morning *morning) {
    return message_store_tell(telling->db, person->name, morning->field, telling->facts.last_run,
                              morning->call.kind, telling->problems);
}

static enum status queue_digest(struct telling *telling, const struct person *person,
                                const struct view_context *context, bool *added) {
    char matter[MESSAGE_MATTER_SIZE], iso[CALENDAR_ISO_SIZE];
    struct digest digest;
    (void)snprintf(matter, sizeof matter, "digest %s", calendar_format_iso(telling->facts.last_run, iso));
    digest_init(&digest);
    bool made = digest_morning(context, telling->mornings, telling->count, link_of(telling), &digest);
    enum status status = made ? queue(telling, person, matter, &digest, true, added) : STATUS_NO_MEMORY;
    digest_free(&digest);
    for (size_t i = 0; status == STATUS_OK && *added && i < telling->count; i++)
        status = tell_field(telling, person, &telling->mornings[i]);
    return status;
}

static enum status queue_change(struct telling *telling, const struct person *person,
                                const struct view_context *context, const struct field_morning *morning,
                                enum call_kind before) {
    char matter[MESSAGE_MATTER_SIZE], iso[CALENDAR_ISO_SIZE];
    struct digest digest;
    bool added = false;
    (void)snprintf(matter, sizeof matter, "call %s %s %s", calendar_format_iso(telling->facts.last_run, iso),
                   call_kind_key(morning->call.kind), morning->field);
    digest_init(&digest);
    bool made = digest_change(context, morning, before, link_of(telling), &digest);
    enum status status = made ? queue(telling, person, matter, &digest, false, &added) : STATUS_NO_MEMORY;
    digest_free(&digest);
    return status;
}

/* A field of which a person was never told counts as held: the first "water today" is news. */
static enum status queue_changes(struct telling *telling, const struct person *person,
                                 const struct view_context *context) {
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < telling->count; i++) {
        const struct field_morning *morning = &telling->mornings[i];
        enum call_kind before = CALL_HOLD;
        int32_t day;
        status =
            message_store_told(telling->db, person->name, morning->field, &day, &before, telling->problems);
        if (status == STATUS_NOT_FOUND)
            status = STATUS_OK;
        if (status == STATUS_OK && person->urgent && digest_urgent(before, morning->call.kind))
            status = queue_change(telling, person, context, morning, before);
        if (status == STATUS_OK)
            status = tell_field(telling, person, morning);
    }
    return status;
}

static enum status queue_person(struct telling *telling, const struct person *person) {
    struct words *words = words_open(person->language[0] != '\0' ? person->language : "en");
    bool added = false;
    if (words == NULL) {
        problem_add(telling->problems, NULL, 0, 0, person->name,
                    "found the language \"%s\", expected \"en\" or \"es\"", person->language);
        return STATUS_REFUSED;
    }
    const struct view_context context = {
        &telling->facts, person->units == 0 ? telling->facts.us_units : person->units == 2, words};
    /* The message and what the person then knows are one transaction. */
    enum status status = db_begin(telling->db, telling->problems);
    if (status == STATUS_OK) {
        if (person->digest)
            status = queue_digest(telling, person, &context, &added);
        if (status == STATUS_OK && !added)
            status = queue_changes(telling, person, &context);
        status = db_end(telling->db, status, telling->problems);
    }
    words_close(words);
    return status;
}

/* Only of today's morning: what an older one called is no news. */
static enum status queue_all(struct telling *telling) {
    enum status status = farm_facts_load(telling->db, telling->now.today, &telling->facts, telling->problems);
    if (status != STATUS_OK || telling->facts.last_run != telling->now.today)
        return status;
    status = ledger_store_mornings(telling->db, &telling->mornings, &telling->count, telling->problems);
    for (int i = 0; status == STATUS_OK && i < telling->settings->people; i++)
        status = queue_person(telling, &telling->settings->person[i]);
    free(telling->mornings);
    return status;
}

/* ---- sending ---- */

static const struct person *person_of(const struct settings *settings, const char *name) {
    for (int i = 0; i < settings->people; i++) {
        if (strcmp(settings->person[i].name, name) == 0)
            return &settings->person[i];
    }
    return NULL;
}

static enum notify_outcome send_message(const struct telling *telling, const struct person *person,
                                        const struct message *message, int64_t *retry_after_s,
                                        struct text *trouble) {
    unsigned char hash[16];
    char id[2 * sizeof hash + 1];
    crypto_generichash_state state;
    crypto_generichash_init(&state, NULL, 0, sizeof hash);
    crypto_generichash_update(&state, (const unsigned char *)message->person, strlen(message->person) + 1);
    crypto_generichash_update(&state, (const unsigned char *)message->matter, strlen(message->matter) + 1);
    crypto_generichash_final(&state, hash, sizeof hash);
    sodium_bin2hex(id, sizeof id, hash, sizeof hash);
    if (person->webhook[0] != '\0') {
        const struct notify_webhook webhook = {.address = person->webhook,
                                               .data = message->data,
                                               .token =
                                                   credentials_find(telling->credentials, person->name).token,
                                               .id = id};
        return notify_webhook(&webhook, retry_after_s, trouble);
    }
    const struct notify_mail mail = {
        .server = telling->settings->mail_server,
        .plain = telling->settings->mail_plain,
        .authority = telling->settings->mail_authority[0] != '\0' ? telling->settings->mail_authority : NULL,
        .login = credentials_find(telling->credentials, "mail").login,
        .from = telling->settings->mail_from,
        .to = person->mail,
        .subject = message->subject,
        .body = message->body,
        .id = id,
        .at = message->made_at};
    return notify_mail(&mail, trouble);
}

static enum status note_outcome(struct telling *telling, const struct person *person,
                                const struct message *message, enum notify_outcome outcome,
                                int64_t retry_after_s, const char *trouble) {
    static const enum message_state states[] = {MESSAGE_SENT, MESSAGE_WAITING, MESSAGE_DROPPED,
                                                MESSAGE_UNSURE};
    enum message_state state = states[outcome];
    int64_t wait = notify_wait_s(message->tries + 1);
    if (state == MESSAGE_WAITING && message->tries + 1 >= TRIES_MOST)
        state = MESSAGE_DROPPED;
    int64_t due = telling->now.at + (retry_after_s > wait ? retry_after_s : wait);
    telling->sent += state == MESSAGE_SENT;
    telling->waiting += state == MESSAGE_WAITING;
    if (state != MESSAGE_SENT)
        problem_add(telling->problems, NULL, 0, 0, message->person, "%s: %s%s", message->matter, trouble,
                    state == MESSAGE_WAITING  ? "; it is tried again"
                    : state == MESSAGE_UNSURE ? "; it may have arrived, and is not sent again"
                                              : "; it is given up");
    return message_store_end(telling->db, message, state,
                             schedule_after_quiet(due, person->quiet_from, person->quiet_until), trouble,
                             telling->problems);
}

static enum status send_one(struct telling *telling, const struct message *message) {
    const struct person *person = person_of(telling->settings, message->person);
    struct text trouble;
    int64_t retry_after_s = 0;
    if (person == NULL)
        return message_store_end(telling->db, message, MESSAGE_DROPPED, telling->now.at,
                                 "no such person any more", telling->problems);
    enum status status = message_store_begin(telling->db, message, telling->problems);
    if (status != STATUS_OK)
        return status;
    text_init(&trouble, 4096);
    enum notify_outcome outcome = send_message(telling, person, message, &retry_after_s, &trouble);
    status = note_outcome(telling, person, message, outcome, retry_after_s, text_string(&trouble));
    text_free(&trouble);
    return status;
}

static enum status send_due(struct telling *telling) {
    struct message message;
    enum status status = message_store_tidy(telling->db, telling->now.at, telling->problems);
    while (status == STATUS_OK) {
        status = message_store_next(telling->db, telling->now.at, &message, telling->problems);
        if (status == STATUS_OK) {
            status = send_one(telling, &message);
            message_free(&message);
        }
    }
    return status == STATUS_NOT_FOUND ? STATUS_OK : status;
}

/* ---- the command ---- */

/* "--time HH:MM" on the day that --today names, on the farm's clock. */
static enum status take_time(const struct options *options, struct morning_time *now,
                             struct problems *problems) {
    const char *text = option_value(options, "--time");
    int hour = 0, minute = 0, end = 0;
    if (text == NULL)
        return STATUS_OK;
    if (sscanf(text, "%2d:%2d%n", &hour, &minute, &end) != 2 || text[end] != '\0' || hour > 23 ||
        minute > 59) {
        problem_add(problems, NULL, 0, 0, NULL, "--time: found %s, expected a time of the day as 05:30",
                    text);
        return STATUS_USAGE;
    }
    int64_t at = (int64_t)now->today * 86400 + hour * 3600 + minute * 60;
    at -= wall_clock_zone_s(NULL, at);
    *now = (struct morning_time){now->today, at, hour * 60 + minute};
    return STATUS_OK;
}

static enum status open_all(const struct options *options, struct telling *telling, struct settings *settings,
                            struct credentials **credentials, int *lock) {
    struct ingest_options ingest;
    struct text path;
    text_init(&path, 0);
    struct problems *problems = telling->problems;
    enum status status = option_settings(options, settings, problems);
    if (status == STATUS_OK)
        status = option_ingest(options, &ingest, credentials, problems);
    if (status == STATUS_OK)
        status = option_open_db(options, DB_WRITE, &telling->db, problems);
    if (status == STATUS_OK)
        status = option_db_path(options, false, &path, problems);
    text_puts(&path, ".tell");
    if (status == STATUS_OK)
        status = instance_take(text_string(&path), lock, problems);
    if (status == STATUS_OK)
        status = use_farm_zone(telling->db, problems);
    if (status == STATUS_OK)
        status = option_today(options, &telling->now, problems);
    if (status == STATUS_OK)
        status = take_time(options, &telling->now, problems);
    text_free(&path);
    return status;
}

static enum status run_tell(const struct options *options, struct problems *problems) {
    static struct settings settings;
    struct telling telling = {.settings = &settings, .problems = problems};
    struct credentials *credentials = NULL;
    int lock = -1;
    enum status status = open_all(options, &telling, &settings, &credentials, &lock);
    telling.credentials = credentials;
    if (status == STATUS_OK)
        status = queue_all(&telling);
    if (status == STATUS_OK && sodium_init() >= 0 && (status = download_start(problems)) == STATUS_OK) {
        status = send_due(&telling);
        download_stop();
    }
    if (status == STATUS_OK && telling.sent + telling.waiting > 0)
        printf("%d messages sent, %d to be tried again\n", telling.sent, telling.waiting);
    instance_leave(lock);
    db_close(telling.db);
    credentials_free(credentials);
    return status;
}

static const struct option_spec tell_options[] = {
    OPTION_DB,
    OPTION_CONFIG,
    OPTION_CREDENTIALS,
    OPTION_TRIES,
    OPTION_TODAY,
    {"--time", "HH:MM", "with --today: the time that stands for now, on the farm's clock"},
    OPTION_END};

const struct command command_tell = {"tell",
                                     "",
                                     0,
                                     0,
                                     "send people the messages that are due",
                                     "The people and the mail server are in the settings. The daemon does "
                                     "this by itself; each matter is told to a "
                                     "person\nat most once.",
                                     tell_options,
                                     run_tell};
