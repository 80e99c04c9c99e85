#include "daemon/lifecycle/settings.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/base/nearest.h"
#include "daemon/farm/json_text.h"

#define FILE_BYTES_MAX ((size_t)1 << 20)

enum kind {
    KIND_TEXT,   /* char[size] */
    KIND_TIME,   /* int, minutes: "04:30" */
    KIND_COUNT,  /* int, least..most */
    KIND_CHOICE, /* int, its place among `words` */
    KIND_BOOL,
    KIND_OBJECT, /* more keys, of the same struct */
    KIND_HOSTS,
    KIND_QUIET, /* two times, to quiet_from and quiet_until */
    KIND_WANTS, /* a list of "digest", "urgent" */
    KIND_PEOPLE
};

struct key {
    const char *name; /* NULL ends a table */
    enum kind kind;
    size_t offset, size;
    int least, most;
    const char *const *words; /* NULL after the last */
    const struct key *keys;
};

#define MEMBER(type, member) offsetof(struct type, member), sizeof(((struct type *)0)->member)

static const char *const level_words[] = {"error", "warning", "notice", "info", "debug", NULL};
static const char *const units_words[] = {"farm", "metric", "us", NULL};

static const struct key person_keys[] = {
    {"name", KIND_TEXT, MEMBER(person, name), 0, 0, NULL, NULL},
    {"mail", KIND_TEXT, MEMBER(person, mail), 0, 0, NULL, NULL},
    {"webhook", KIND_TEXT, MEMBER(person, webhook), 0, 0, NULL, NULL},
    {"language", KIND_TEXT, MEMBER(person, language), 0, 0, NULL, NULL},
    {"units", KIND_CHOICE, MEMBER(person, units), 0, 0, units_words, NULL},
    {"at", KIND_TIME, MEMBER(person, digest_minute), 0, 0, NULL, NULL},
    {"quiet", KIND_QUIET, MEMBER(person, quiet_from), 0, 0, NULL, NULL},
    {"messages", KIND_WANTS, MEMBER(person, digest), 0, 0, NULL, NULL},
    {NULL, KIND_TEXT, 0, 0, 0, 0, NULL, NULL}};

static const struct key tls_keys[] = {
    {"certificate", KIND_TEXT, MEMBER(settings, certificate), 0, 0, NULL, NULL},
    {"key", KIND_TEXT, MEMBER(settings, key), 0, 0, NULL, NULL},
    {NULL, KIND_TEXT, 0, 0, 0, 0, NULL, NULL}};

static const struct key backup_keys[] = {
    {"directory", KIND_TEXT, MEMBER(settings, backup_directory), 0, 0, NULL, NULL},
    {"days", KIND_COUNT, MEMBER(settings, backup_days), 1, 366, NULL, NULL},
    {"months", KIND_COUNT, MEMBER(settings, backup_months), 0, 120, NULL, NULL},
    {NULL, KIND_TEXT, 0, 0, 0, 0, NULL, NULL}};

static const struct key mail_keys[] = {
    {"server", KIND_TEXT, MEMBER(settings, mail_server), 0, 0, NULL, NULL},
    {"from", KIND_TEXT, MEMBER(settings, mail_from), 0, 0, NULL, NULL},
    {"authority", KIND_TEXT, MEMBER(settings, mail_authority), 0, 0, NULL, NULL},
    {"plain", KIND_BOOL, MEMBER(settings, mail_plain), 0, 0, NULL, NULL},
    {NULL, KIND_TEXT, 0, 0, 0, 0, NULL, NULL}};

static const struct key root_keys[] = {
    {"listen", KIND_TEXT, MEMBER(settings, listen), 0, 0, NULL, NULL},
    {"address", KIND_TEXT, MEMBER(settings, address), 0, 0, NULL, NULL},
    {"hosts", KIND_HOSTS, MEMBER(settings, host), 0, 0, NULL, NULL},
    {"tls", KIND_OBJECT, 0, 0, 0, 0, NULL, tls_keys},
    {"morning", KIND_TIME, MEMBER(settings, morning_minute), 0, 0, NULL, NULL},
    {"log", KIND_CHOICE, MEMBER(settings, log), 0, 0, level_words, NULL},
    {"backup", KIND_OBJECT, 0, 0, 0, 0, NULL, backup_keys},
    {"mail", KIND_OBJECT, 0, 0, 0, 0, NULL, mail_keys},
    {"people", KIND_PEOPLE, MEMBER(settings, person), 0, 0, NULL, NULL},
    {NULL, KIND_TEXT, 0, 0, 0, 0, NULL, NULL}};

struct reader {
    const struct json_text *json;
    struct settings *settings;
    struct problems *problems;
};

/* ---- what is wrong ---- */

static void expected(const struct reader *reader, const cJSON *item, const char *what) {
    char found[80];
    const struct json_place *place = json_text_place(reader->json, item);
    problem_add(reader->problems, reader->json->name, place->line, place->column, item->string,
                "found %s, expected %s", json_text_quote(reader->json, item, found, sizeof found), what);
}

static void unknown_key(const struct reader *reader, const cJSON *item, const struct key *keys) {
    struct nearest nearest;
    char plain[64];
    const struct json_place *place = json_text_place(reader->json, item);
    nearest_begin(&nearest, item->string);
    for (const struct key *key = keys; key->name != NULL; key++)
        nearest_offer(&nearest, key->name);
    const char *name = nearest.name != NULL ? nearest.name : keys->name;
    problem_add(reader->problems, reader->json->name, place->key_line, place->key_column, NULL,
                "found the key \"%s\", expected one such as \"%s\"",
                json_text_plain(item->string, plain, sizeof plain), name);
}

/* ---- values ---- */

/* Text without control characters, which would reach headers and log lines. */
static void read_text(const struct reader *reader, const cJSON *item, char *out, size_t size) {
    const char *text = cJSON_GetStringValue(item);
    bool clean = text != NULL && text[0] != '\0' && strlen(text) < size;
    for (const char *c = text; clean && *c != '\0'; c++)
        clean = (unsigned char)*c >= 0x20 && *c != 0x7F;
    if (clean)
        memcpy(out, text, strlen(text) + 1);
    else
        expected(reader, item, "a text, not empty and on one line");
}

static void read_time(const struct reader *reader, const cJSON *item, int *out) {
    const char *text = cJSON_GetStringValue(item);
    int hour = 0, minute = 0, end = 0;
    bool good = text != NULL && strlen(text) == 5 && text[2] == ':' &&
                sscanf(text, "%2d:%2d%n", &hour, &minute, &end) == 2 && end == 5 && hour >= 0 && hour < 24 &&
                minute >= 0 && minute < 60;
    if (good)
        *out = hour * 60 + minute;
    else
        expected(reader, item, "a time of the day, as \"04:30\"");
}

static void read_count(const struct reader *reader, const cJSON *item, const struct key *key, int *out) {
    char words[64];
    double value = cJSON_GetNumberValue(item);
    if (value >= key->least && value <= key->most && value == (double)(int)value) {
        *out = (int)value;
        return;
    }
    (void)snprintf(words, sizeof words, "a whole number from %d to %d", key->least, key->most);
    expected(reader, item, words);
}

static void read_choice(const struct reader *reader, const cJSON *item, const struct key *key, void *out) {
    const char *text = cJSON_GetStringValue(item);
    struct text words;
    for (int i = 0; text != NULL && key->words[i] != NULL; i++) {
        if (strcmp(text, key->words[i]) == 0) {
            memcpy(out, &i, sizeof i);
            return;
        }
    }
    text_init(&words, 0);
    text_puts(&words, "one of");
    for (int i = 0; key->words[i] != NULL; i++)
        text_printf(&words, " \"%s\"", key->words[i]);
    expected(reader, item, text_string(&words));
    text_free(&words);
}

static void read_hosts(const struct reader *reader, const cJSON *item) {
    const cJSON *name;
    struct settings *settings = reader->settings;
    if (!cJSON_IsArray(item) || cJSON_GetArraySize(item) > SETTINGS_HOSTS_MAX) {
        expected(reader, item, "a list of at most 8 names");
        return;
    }
    cJSON_ArrayForEach(name, item)
        read_text(reader, name, settings->host[settings->host_count++], sizeof settings->host[0]);
}

static void read_quiet(const struct reader *reader, const cJSON *item, struct person *person) {
    if (!cJSON_IsArray(item) || cJSON_GetArraySize(item) != 2) {
        expected(reader, item, "two times of the day, as [\"21:00\", \"05:30\"]");
        return;
    }
    read_time(reader, cJSON_GetArrayItem(item, 0), &person->quiet_from);
    read_time(reader, cJSON_GetArrayItem(item, 1), &person->quiet_until);
}

static void read_wants(const struct reader *reader, const cJSON *item, struct person *person) {
    const cJSON *word;
    person->digest = person->urgent = false;
    if (!cJSON_IsArray(item))
        expected(reader, item, "a list of \"digest\", \"urgent\"");
    cJSON_ArrayForEach(word, item) {
        const char *text = cJSON_GetStringValue(word);
        if (text != NULL && strcmp(text, "digest") == 0)
            person->digest = true;
        else if (text != NULL && strcmp(text, "urgent") == 0)
            person->urgent = true;
        else
            expected(reader, word, "\"digest\" or \"urgent\"");
    }
}

/* ---- objects ---- */

static void read_object(const struct reader *reader, const cJSON *object, const struct key *keys, void *base);

static bool name_taken(const struct settings *settings, const struct person *person) {
    for (const struct person *other = settings->person; other < person; other++) {
        if (strcmp(other->name, person->name) == 0)
            return true;
    }
    return false;
}

static void read_person(const struct reader *reader, const cJSON *item, struct person *person) {
    *person = (struct person){.digest = true,
                              .urgent = true,
                              .digest_minute = MINUTE_NONE,
                              .quiet_from = MINUTE_NONE,
                              .quiet_until = MINUTE_NONE};
    size_t before = reader->problems->count;
    read_object(reader, item, person_keys, person);
    if (reader->problems->count != before)
        return;
    if (person->name[0] == '\0' || (person->mail[0] == '\0') == (person->webhook[0] == '\0'))
        expected(reader, item, "a person with \"name\" and either \"mail\" or \"webhook\"");
    else if (name_taken(reader->settings, person))
        expected(reader, item, "a name that nobody before it has");
    else if (person->mail[0] != '\0' && strpbrk(person->mail, " <>,;") != NULL)
        expected(reader, item, "one mail address, as \"ana@farm.example\"");
    else if (person->webhook[0] != '\0' && strncmp(person->webhook, "http://", 7) != 0 &&
             strncmp(person->webhook, "https://", 8) != 0)
        expected(reader, item, "a webhook that begins with https:// (or http://)");
}

static void read_people(const struct reader *reader, const cJSON *item) {
    const cJSON *one;
    if (!cJSON_IsArray(item) || cJSON_GetArraySize(item) > SETTINGS_PEOPLE_MAX) {
        expected(reader, item, "a list of at most 64 people");
        return;
    }
    cJSON_ArrayForEach(one, item) {
        read_person(reader, one, &reader->settings->person[reader->settings->people]);
        reader->settings->people++;
    }
}

static void read_value(const struct reader *reader, const cJSON *item, const struct key *key, void *base) {
    char *member = (char *)base + key->offset;
    switch (key->kind) {
    case KIND_TEXT:
        read_text(reader, item, member, key->size);
        break;
    case KIND_TIME:
        read_time(reader, item, (int *)(void *)member);
        break;
    case KIND_COUNT:
        read_count(reader, item, key, (int *)(void *)member);
        break;
    case KIND_CHOICE:
        read_choice(reader, item, key, member);
        break;
    case KIND_BOOL:
        if (cJSON_IsBool(item))
            *(bool *)(void *)member = cJSON_IsTrue(item);
        else
            expected(reader, item, "true or false");
        break;
    case KIND_OBJECT:
        read_object(reader, item, key->keys, base);
        break;
    case KIND_HOSTS:
        read_hosts(reader, item);
        break;
    case KIND_QUIET:
        read_quiet(reader, item, base);
        break;
    case KIND_WANTS:
        read_wants(reader, item, base);
        break;
    case KIND_PEOPLE:
        read_people(reader, item);
        break;
    }
}

static void read_object(const struct reader *reader, const cJSON *object, const struct key *keys,
                        void *base) {
    const cJSON *item;
    if (!cJSON_IsObject(object)) {
        expected(reader, object, "an object");
        return;
    }
    cJSON_ArrayForEach(item, object) {
        const struct key *key = keys;
        while (key->name != NULL && strcmp(key->name, item->string) != 0)
            key++;
        if (key->name == NULL)
            unknown_key(reader, item, keys);
        else
            read_value(reader, item, key, base);
    }
}

/* What no single value shows. */
static void check_together(const struct reader *reader) {
    const struct settings *settings = reader->settings;
    const cJSON *root = reader->json->root;
    bool mails = false;
    for (int i = 0; i < settings->people; i++)
        mails = mails || settings->person[i].mail[0] != '\0';
    if ((settings->certificate[0] == '\0') != (settings->key[0] == '\0'))
        expected(reader, root, "\"certificate\" and \"key\" both in \"tls\"");
    if (mails && (settings->mail_server[0] == '\0' || settings->mail_from[0] == '\0'))
        expected(reader, root,
                 "\"server\" and \"from\" in \"mail\", since there are people with a mail address");
    if (settings->mail_server[0] != '\0' && strncmp(settings->mail_server, "smtp://", 7) != 0 &&
        strncmp(settings->mail_server, "smtps://", 8) != 0)
        expected(reader, root,
                 "a mail server as \"smtps://mail.example:465\" or \"smtp://mail.example:587\"");
    size_t size = strlen(settings->address);
    if (size > 0 &&
        ((strncmp(settings->address, "http://", 7) != 0 && strncmp(settings->address, "https://", 8) != 0) ||
         settings->address[size - 1] == '/'))
        expected(reader, root, "an \"address\" as \"https://farm.example\", without a slash at its end");
}

/* ---- the file ---- */

void settings_default(struct settings *out) {
    memset(out, 0, sizeof *out);
    out->morning_minute = 4 * 60 + 30;
    out->log = LOG_LEVEL_NOTICE;
    out->backup_days = 14;
    out->backup_months = 12;
}

enum status settings_parse(const char *path, const char *text, size_t size, struct settings *out,
                           struct problems *problems) {
    struct json_text json;
    size_t before = problems->count;
    enum status status = json_text_parse(path, text, size, &json, problems);
    if (status != STATUS_OK)
        return status;
    struct settings *fresh = malloc(sizeof *fresh);
    if (fresh != NULL) {
        const struct reader reader = {&json, fresh, problems};
        settings_default(fresh);
        read_object(&reader, json.root, root_keys, fresh);
        if (problems->count == before)
            check_together(&reader);
    }
    json_text_free(&json);
    status = fresh == NULL ? STATUS_NO_MEMORY : problems->count == before ? STATUS_OK : STATUS_REFUSED;
    if (status == STATUS_OK) {
        *out = *fresh;
        for (int i = 0; i < out->host_count; i++)
            out->hosts[i] = out->host[i];
    }
    free(fresh);
    return status;
}

enum status settings_read(const char *path, struct settings *out, struct problems *problems) {
    char *text = NULL;
    size_t size = 0;
    enum status status = file_read(path, FILE_BYTES_MAX, &text, &size, problems);
    if (status == STATUS_OK)
        status = settings_parse(path, text, size, out, problems);
    free(text);
    return status;
}
