#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/nearest.h"
#include "daemon/farm/expected.h"
#include "daemon/farm/farm_file_inside.h"

#define WORDS_SIZE 400

/* ---- where, and what is wrong ---- */

size_t reader_enter(struct reader *reader, const char *key, long index) {
    size_t before = reader->path_size, left = sizeof reader->path - before;
    char *to = reader->path + before;
    int count = index >= 0 ? snprintf(to, left, "%s[%ld]", key, index)
                           : snprintf(to, left, "%s%s", before > 0 ? "." : "", key);
    if (count > 0 && (size_t)count < left)
        reader->path_size += (size_t)count;
    return before;
}

void reader_leave(struct reader *reader, size_t path_size) {
    reader->path_size = path_size;
    reader->path[path_size] = '\0';
}

/* The place of a value. */
static struct problem_place place_of(const struct reader *reader, const cJSON *item) {
    const struct json_place *at = json_text_place(reader->json, item);
    return (struct problem_place){reader->json->name, at->line, at->column, reader->path, reader->missing};
}

void reader_problem(struct reader *reader, const cJSON *item, const char *format, ...) {
    const struct problem_place place = place_of(reader, item);
    va_list arguments;
    va_start(arguments, format);
    problem_add_list(reader->problems, &place, format, arguments);
    va_end(arguments);
}

#define FOUND_SIZE 100

void reader_expected(struct reader *reader, const cJSON *item, const char *expected) {
    char found[FOUND_SIZE];
    const struct problem_place place = place_of(reader, item);
    expected_tell(reader->problems, &place, json_text_quote(reader->json, item, found, sizeof found),
                  expected);
}

/* Appends to a sentence as far as there is room. */
static void append(char *words, const char *more) {
    size_t used = strlen(words);
    (void)snprintf(words + used, WORDS_SIZE - used, "%s", more);
}

/* `"dual" or "single"`. */
static void expected_choice(const struct key *key, char *words) {
    words[0] = '\0';
    for (int i = 0; key->choice(i) != NULL; i++) {
        append(words, i == 0 ? "" : key->choice(i + 1) != NULL ? ", " : " or ");
        append(words, "\"");
        append(words, key->choice(i));
        append(words, "\"");
    }
}

/* What a key wants, in words. */
static void expected_of(const struct key *key, char *words) {
    static const char *const usual[] = {
        [KEY_NAME] = "a name of 1 to 63 bytes without control characters",
        [KEY_TEXT] = "a text of at most 1023 bytes",
        [KEY_BOOL] = "true or false",
        [KEY_DATE] = "a date that exists, as \"2026-05-20\"",
        [KEY_DAYS] = "days of the week, as \"mon wed fri\"",
        [KEY_MOMENT] = "a day and a full hour, as \"2026-07-15 06:00\"",
        [KEY_OBJECT] = "an object, as {...}",
        [KEY_NAMES] = "a list of names",
        [KEY_LIST] = "a list of objects, as [{...}]",
        [KEY_ELSEWHERE] = "a value",
    };
    words[0] = '\0';
    if (key->expected != NULL) {
        append(words, key->expected);
    } else if (key->kind == KEY_CHOICE || key->kind == KEY_FLAG) {
        expected_choice(key, words);
    } else if (key->kind == KEY_WHOLE) {
        (void)snprintf(words, WORDS_SIZE, "a whole number%s, %g to %g",
                       key->quantity == QUANTITY_HOURS ? " of hours" : "", key->limits.min, key->limits.max);
    } else if (key->kind == KEY_QUANTITY) {
        if (key->count > 0)
            (void)snprintf(words, WORDS_SIZE, "a list of %d, each ", key->count);
        quantity_expected(key->quantity, words + strlen(words));
    } else {
        append(words, usual[key->kind]);
    }
}

static bool refuse(struct reader *reader, const cJSON *item, const struct key *key) {
    char words[WORDS_SIZE], found[FOUND_SIZE];
    const struct problem_place place = place_of(reader, item);
    (void)json_text_quote(reader->json, item, found, sizeof found);
    if (key->expected == NULL && key->kind == KEY_WHOLE) {
        expected_tell_whole(reader->problems, &place, found, key->quantity == QUANTITY_HOURS, key->limits.min,
                            key->limits.max);
    } else if (key->expected == NULL && (key->kind == KEY_CHOICE || key->kind == KEY_FLAG)) {
        expected_tell_choice(reader->problems, &place, found, key->choice);
    } else {
        expected_of(key, words);
        expected_tell(reader->problems, &place, found, words);
    }
    return false;
}

bool reader_has(const cJSON *object, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(object, key) != NULL;
}

/* ---- one value ---- */

static bool read_string(struct reader *reader, const cJSON *item, const struct key *key, char *out) {
    size_t room = key->kind == KEY_NAME ? FARM_NAME_SIZE : FARM_TEXT_SIZE;
    if (!cJSON_IsString(item))
        return refuse(reader, item, key);
    const char *text = item->valuestring;
    size_t size = strlen(text);
    bool fits = size < room && (size > 0 || key->kind == KEY_TEXT);
    for (size_t i = 0; i < size; i++) {
        unsigned char c = (unsigned char)text[i];
        if (c == 0x7F || (c < 0x20 && (key->kind == KEY_NAME || (c != '\n' && c != '\t'))))
            fits = false;
    }
    if (!fits)
        return refuse(reader, item, key);
    memcpy(out, text, size + 1);
    return true;
}

static bool read_quantity(struct reader *reader, const cJSON *item, const struct key *key, double *out) {
    if (key->nullable && cJSON_IsNull(item)) {
        *out = NAN;
        return true;
    }
    struct quantity quantity = {NAN, NULL};
    char words[QUANTITY_WORDS_SIZE], usual[QUANTITY_WORDS_SIZE];
    enum status status = STATUS_REFUSED;
    if (cJSON_IsString(item))
        status = quantity_read(item->valuestring, key->quantity, &quantity, words);
    else if (cJSON_IsNumber(item))
        status = quantity_of_number(item->valuedouble, key->quantity, &quantity, words);
    else
        quantity_expected(key->quantity, words);
    if (status == STATUS_OK && quantity_within(&quantity, key->quantity, &key->limits, words) != STATUS_OK) {
        char found[FOUND_SIZE];
        const struct problem_place place = place_of(reader, item);
        expected_tell_limits(reader->problems, &place,
                             json_text_quote(reader->json, item, found, sizeof found), &quantity,
                             key->quantity, &key->limits);
        return false;
    }
    if (status == STATUS_OK) {
        *out = quantity.value;
        return true;
    }
    quantity_expected(key->quantity, usual);
    bool own = key->expected != NULL && key->count == 0 && strcmp(words, usual) == 0;
    reader_expected(reader, item, own ? key->expected : words);
    return false;
}

/* `count` quantities: a list of them, one for all, or null. */
static bool read_quantities(struct reader *reader, const cJSON *item, const struct key *key, double *out) {
    bool same = (key->spread && !cJSON_IsArray(item)) || (key->nullable && cJSON_IsNull(item));
    if (!same && (!cJSON_IsArray(item) || cJSON_GetArraySize(item) != key->count))
        return refuse(reader, item, key);
    bool good = true;
    const cJSON *value = same ? item : item->child;
    for (int i = 0; i < key->count; i++) {
        size_t path = same ? reader->path_size : reader_enter(reader, "", i);
        good = read_quantity(reader, value, key, &out[i]) && good;
        reader_leave(reader, path);
        if (same && !good)
            return false;
        if (!same)
            value = value->next;
    }
    return good;
}

static bool read_choice(struct reader *reader, const cJSON *item, const struct key *key, void *out) {
    if (!cJSON_IsString(item))
        return refuse(reader, item, key);
    struct nearest nearest;
    nearest_begin(&nearest, item->valuestring);
    for (int i = 0; key->choice(i) != NULL; i++) {
        nearest_offer(&nearest, key->choice(i));
        if (strcmp(item->valuestring, key->choice(i)) == 0) {
            bool flag = i != 0;
            /* An enum has the size of an int in every compiler that this builds with. */
            memcpy(out, key->kind == KEY_FLAG ? (void *)&flag : (void *)&i,
                   key->kind == KEY_FLAG ? sizeof flag : sizeof i);
            return true;
        }
    }
    char words[WORDS_SIZE];
    if (nearest.name == NULL)
        return refuse(reader, item, key);
    (void)snprintf(words, sizeof words, "\"%s\"", nearest.name);
    reader_expected(reader, item, words);
    return false;
}

static bool read_date(struct reader *reader, const cJSON *item, const struct key *key, int32_t *out) {
    int32_t date = CALENDAR_NONE;
    if (!cJSON_IsString(item) || calendar_parse_iso(item->valuestring, &date) != STATUS_OK)
        return refuse(reader, item, key);
    *out = date;
    return true;
}

static bool read_whole(struct reader *reader, const cJSON *item, const struct key *key, int *out) {
    struct quantity quantity = {NAN, NULL};
    char words[QUANTITY_WORDS_SIZE];
    enum status status = STATUS_REFUSED;
    if (cJSON_IsString(item))
        status = quantity_read(item->valuestring, key->quantity, &quantity, words);
    else if (cJSON_IsNumber(item))
        status = quantity_of_number(item->valuedouble, key->quantity, &quantity, words);
    if (status == STATUS_OK)
        status = quantity_within(&quantity, key->quantity, &key->limits, words);
    if (status != STATUS_OK || quantity.value != floor(quantity.value))
        return refuse(reader, item, key);
    *out = (int)quantity.value;
    return true;
}

const char *farm_file_weekday(int day) {
    static const char *const name[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};
    return name[day];
}

static bool read_days(struct reader *reader, const cJSON *item, const struct key *key, unsigned *out) {
    const char *at = cJSON_IsString(item) ? item->valuestring : "";
    unsigned days = 0;
    while (*at != '\0') {
        size_t size = strcspn(at, " ");
        int day = 0;
        while (day < 7 && (size != 3 || strncmp(at, farm_file_weekday(day), size) != 0))
            day++;
        if (size > 0 && day == 7)
            return refuse(reader, item, key);
        if (size > 0)
            days |= 1u << day;
        at += size + (at[size] == ' ');
    }
    if (days == 0)
        return refuse(reader, item, key);
    *out = days;
    return true;
}

/* "2026-07-15 06:00", or with the T of ISO 8601 in between. */
static bool read_moment(struct reader *reader, const cJSON *item, const struct key *key, char *base) {
    const char *text = cJSON_IsString(item) ? item->valuestring : "";
    char date[CALENDAR_ISO_SIZE];
    int32_t day = CALENDAR_NONE;
    if (strlen(text) != 16 || (text[10] != ' ' && text[10] != 'T') || strcmp(text + 13, ":00") != 0 ||
        strspn(text + 11, "0123456789") != 2)
        return refuse(reader, item, key);
    (void)snprintf(date, sizeof date, "%.10s", text);
    int hour = (text[11] - '0') * 10 + text[12] - '0';
    if (hour > 23 || calendar_parse_iso(date, &day) != STATUS_OK)
        return refuse(reader, item, key);
    memcpy(base + key->offset, &day, sizeof day);
    memcpy(base + key->count_offset, &hour, sizeof hour);
    return true;
}

static bool read_list(struct reader *reader, const cJSON *item, const struct key *key, char *base) {
    int count = cJSON_IsArray(item) ? cJSON_GetArraySize(item) : 0;
    if (count < 1 || count > key->count)
        return refuse(reader, item, key);
    bool good = true;
    long index = 0;
    for (const cJSON *entry = item->child; entry != NULL; entry = entry->next, index++) {
        size_t path = reader_enter(reader, "", index);
        good =
            reader_object(reader, entry, key->keys, base + key->offset + (size_t)index * key->stride) && good;
        reader_leave(reader, path);
    }
    memcpy(base + key->count_offset, &count, sizeof count);
    return good;
}

static bool read_names(struct reader *reader, const cJSON *item, const struct key *key, char *base) {
    static const struct key name = {.kind = KEY_NAME};
    int count = cJSON_IsArray(item) ? cJSON_GetArraySize(item) : 0;
    if (count < 1 || count > key->count)
        return refuse(reader, item, key);
    bool good = true;
    long index = 0;
    for (const cJSON *entry = item->child; entry != NULL; entry = entry->next, index++) {
        size_t path = reader_enter(reader, "", index);
        good = read_string(reader, entry, &name, base + key->offset + (size_t)index * FARM_NAME_SIZE) && good;
        reader_leave(reader, path);
    }
    memcpy(base + key->count_offset, &count, sizeof count);
    return good;
}

bool reader_value(struct reader *reader, const cJSON *item, const struct key *key, void *base) {
    if (key->kind == KEY_ELSEWHERE) /* of an object that is no struct: there is no `base` */
        return true;
    char *out = (char *)base + key->offset;
    switch (key->kind) {
    case KEY_NAME:
    case KEY_TEXT:
        return read_string(reader, item, key, out);
    case KEY_QUANTITY:
        if (key->keys != NULL && cJSON_IsObject(item))
            return reader_object(reader, item, key->keys, base);
        return key->count > 0 ? read_quantities(reader, item, key, (double *)(void *)out)
                              : read_quantity(reader, item, key, (double *)(void *)out);
    case KEY_BOOL:
        if (!cJSON_IsBool(item))
            return refuse(reader, item, key);
        *(bool *)(void *)out = cJSON_IsTrue(item);
        return true;
    case KEY_CHOICE:
    case KEY_FLAG:
        return read_choice(reader, item, key, out);
    case KEY_DATE:
        return read_date(reader, item, key, (int32_t *)(void *)out);
    case KEY_WHOLE:
        return read_whole(reader, item, key, (int *)(void *)out);
    case KEY_DAYS:
        return read_days(reader, item, key, (unsigned *)(void *)out);
    case KEY_MOMENT:
        return read_moment(reader, item, key, base);
    case KEY_OBJECT:
        return cJSON_IsObject(item) ? reader_object(reader, item, key->keys, base)
                                    : refuse(reader, item, key);
    case KEY_NAMES:
        return read_names(reader, item, key, base);
    case KEY_LIST:
        return read_list(reader, item, key, base);
    case KEY_ELSEWHERE:
        break;
    }
    return true;
}

bool reader_member(struct reader *reader, const cJSON *object, const struct key *key, void *base) {
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key->name);
    if (item == NULL)
        return false;
    size_t path = reader_enter(reader, key->name, -1);
    bool good = reader_value(reader, item, key, base);
    reader_leave(reader, path);
    return good;
}

/* ---- all keys of an object ---- */

static const struct key *find_key(const struct key *keys, const char *name) {
    for (const struct key *key = keys; key->name != NULL; key++)
        if (strcmp(key->name, name) == 0)
            return key;
    return NULL;
}

/* The nearest known key, or all of them. */
static void tell_unknown(struct reader *reader, const cJSON *item, const struct key *keys) {
    if (reader->problems->kept == PROBLEMS_MAX) {
        problem_add(reader->problems, NULL, 0, 0, NULL, "an unknown key"); /* counted, no more */
        return;
    }
    struct nearest nearest;
    nearest_begin(&nearest, item->string);
    char words[WORDS_SIZE] = "", plain[FARM_NAME_SIZE];
    for (const struct key *key = keys; key->name != NULL; key++) {
        nearest_offer(&nearest, key->name);
        append(words, key == keys ? "" : ", ");
        append(words, key->name);
    }
    bool near = nearest.name != NULL;
    const struct json_place *at = json_text_place(reader->json, item);
    const struct problem_place place = {reader->json->name, at->key_line, at->key_column, reader->path, NULL};
    problem_tell_at(reader->problems, &place, near ? "key_near" : "key",
                    near ? "found the unknown key \"{found}\", expected \"{expected}\""
                         : "found the unknown key \"{found}\", expected one of {expected}",
                    "found", json_text_plain(item->string, plain, sizeof plain), "expected",
                    near ? nearest.name : words, PROBLEM_END);
}

static bool tell_missing(struct reader *reader, const cJSON *item, const struct key *keys) {
    bool good = true;
    for (const struct key *key = keys; key->name != NULL; key++) {
        if (!key->required || cJSON_GetObjectItemCaseSensitive(item, key->name) != NULL)
            continue;
        char words[WORDS_SIZE];
        expected_of(key, words);
        reader->missing = key->name;
        const struct problem_place place = place_of(reader, item);
        problem_tell_at(reader->problems, &place, "key_missing", "found no \"{found}\", expected {expected}",
                        "found", key->name, "expected/problem.said.", words, PROBLEM_END);
        reader->missing = NULL;
        good = false;
    }
    return good;
}

bool reader_object(struct reader *reader, const cJSON *item, const struct key *keys, void *base) {
    if (!cJSON_IsObject(item)) {
        reader_expected(reader, item, "an object, as {...}");
        return false;
    }
    bool good = true;
    for (const cJSON *child = item->child; child != NULL; child = child->next) {
        const struct key *key = find_key(keys, child->string);
        if (key == NULL) {
            tell_unknown(reader, child, keys);
            good = false;
            continue;
        }
        size_t path = reader_enter(reader, key->name, -1);
        good = reader_value(reader, child, key, base) && good;
        reader_leave(reader, path);
    }
    return tell_missing(reader, item, keys) && good;
}
