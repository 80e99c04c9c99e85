#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/text.h"
#include "daemon/farm/farm_file.h"
#include "daemon/farm/farm_file_inside.h"

/* The same tables of keys, the other way. Every value is written, the crop's too, so that the file means the
 * same with any other version of the crop tables. */

struct writer {
    struct text *out;
    int depth;    /* of the brackets that are open */
    bool inline_; /* on one line */
    bool first;   /* nothing stands in the innermost bracket yet */
};

static void write_object(struct writer *writer, const struct key *keys, const void *base);

/* ---- brackets and strings ---- */

static void separate(struct writer *writer) {
    text_puts(writer->out, writer->first ? "" : ",");
    if (!writer->inline_)
        text_printf(writer->out, "\n%*s", writer->depth * 2, "");
    else if (!writer->first)
        text_puts(writer->out, " ");
    writer->first = false;
}

static void open(struct writer *writer, const char *bracket) {
    text_puts(writer->out, bracket);
    writer->depth++;
    writer->first = true;
}

static void close(struct writer *writer, const char *bracket) {
    writer->depth--;
    if (!writer->inline_ && !writer->first)
        text_printf(writer->out, "\n%*s", writer->depth * 2, "");
    text_puts(writer->out, bracket);
    writer->first = false;
}

static void write_string(struct writer *writer, const char *string) {
    text_puts(writer->out, "\"");
    for (const char *at = string; *at != '\0'; at++) {
        unsigned char c = (unsigned char)*at;
        if (c == '"' || c == '\\')
            text_printf(writer->out, "\\%c", c);
        else if (c < 0x20 || c == 0x7F)
            text_printf(writer->out, "\\u%04x", (unsigned)c);
        else
            text_add(writer->out, at, 1);
    }
    text_puts(writer->out, "\"");
}

static void write_key(struct writer *writer, const char *name) {
    separate(writer);
    write_string(writer, name);
    text_puts(writer->out, ": ");
}

/* ---- values ---- */

static void write_quantity(struct writer *writer, const struct key *key, double value) {
    char words[QUANTITY_WORDS_SIZE];
    bool bare;
    if (isnan(value)) {
        text_puts(writer->out, "null");
        return;
    }
    quantity_write(value, key->quantity, words, &bare);
    if (bare)
        text_puts(writer->out, words);
    else
        write_string(writer, words);
}

static bool same_everywhere(const double *value, int count) {
    for (int i = 1; i < count; i++)
        if (memcmp(&value[i], &value[0], sizeof *value) != 0 && !(isnan(value[i]) && isnan(value[0])))
            return false;
    return true;
}

static void write_quantities(struct writer *writer, const struct key *key, const double *value) {
    if (same_everywhere(value, key->count) && (key->spread || isnan(value[0]))) {
        write_quantity(writer, key, value[0]);
        return;
    }
    text_puts(writer->out, "[");
    for (int i = 0; i < key->count; i++) {
        text_puts(writer->out, i > 0 ? ", " : "");
        write_quantity(writer, key, value[i]);
    }
    text_puts(writer->out, "]");
}

static void write_names(struct writer *writer, const struct key *key, const char *base) {
    int count;
    memcpy(&count, base + key->count_offset, sizeof count);
    text_puts(writer->out, "[");
    for (int i = 0; i < count; i++) {
        text_puts(writer->out, i > 0 ? ", " : "");
        write_string(writer, base + key->offset + (size_t)i * FARM_NAME_SIZE);
    }
    text_puts(writer->out, "]");
}

static void write_entries(struct writer *writer, const struct key *key, const char *base) {
    int count;
    memcpy(&count, base + key->count_offset, sizeof count);
    bool inline_ = writer->inline_;
    open(writer, "[");
    for (int i = 0; i < count; i++) {
        writer->inline_ = inline_;
        separate(writer);
        writer->inline_ = true;
        open(writer, "{");
        write_object(writer, key->keys, base + key->offset + (size_t)i * key->stride);
        close(writer, "}");
    }
    writer->inline_ = inline_;
    close(writer, "]");
}

/* Whether a key stands in the file: what is missing and has no null to say so does not. */
static bool present(const struct key *key, const char *base) {
    const char *at = base + key->offset;
    int count;
    int32_t date;
    int whole;
    switch (key->kind) {
    case KEY_NAME:
    case KEY_TEXT:
        return key->required || at[0] != '\0';
    case KEY_QUANTITY:
        return key->nullable || !isnan(*(const double *)(const void *)at);
    case KEY_DATE:
        memcpy(&date, at, sizeof date);
        return date != CALENDAR_NONE;
    case KEY_WHOLE:
    case KEY_DAYS:
        memcpy(&whole, at, sizeof whole);
        return key->required || whole != 0;
    case KEY_NAMES:
    case KEY_LIST:
        memcpy(&count, base + key->count_offset, sizeof count);
        return count > 0;
    case KEY_OBJECT:
        for (const struct key *part = key->keys; part->name != NULL; part++)
            if (present(part, base))
                return true;
        return false;
    case KEY_ELSEWHERE:
        return false;
    case KEY_BOOL:
        return !key->sparse || *(const bool *)(const void *)at;
    case KEY_MOMENT:
    case KEY_CHOICE:
    case KEY_FLAG:
        break;
    }
    return true;
}

static void write_word(struct writer *writer, const struct key *key, const char *at) {
    int index;
    if (key->kind == KEY_FLAG)
        index = *(const bool *)(const void *)at ? 1 : 0;
    else
        memcpy(&index, at, sizeof index);
    write_string(writer, key->choice(index) != NULL ? key->choice(index) : "");
}

static void write_days(struct writer *writer, const char *at) {
    unsigned days;
    char words[40] = "";
    memcpy(&days, at, sizeof days);
    for (int day = 0; day < 7; day++)
        if ((days >> day & 1u) != 0)
            (void)snprintf(words + strlen(words), sizeof words - strlen(words), "%s%s",
                           words[0] != '\0' ? " " : "", farm_file_weekday(day));
    write_string(writer, words);
}

static void write_moment(struct writer *writer, const struct key *key, const char *base) {
    char date[CALENDAR_ISO_SIZE];
    int32_t day;
    int hour;
    memcpy(&day, base + key->offset, sizeof day);
    memcpy(&hour, base + key->count_offset, sizeof hour);
    text_printf(writer->out, "\"%s %02d:00\"", calendar_format_iso(day, date), hour);
}

static void write_nested(struct writer *writer, const struct key *keys, const void *base) {
    bool inline_ = writer->inline_;
    writer->inline_ = true;
    open(writer, "{");
    write_object(writer, keys, base);
    close(writer, "}");
    writer->inline_ = inline_;
}

static void write_value(struct writer *writer, const struct key *key, const char *base) {
    const char *at = base + key->offset;
    char date[CALENDAR_ISO_SIZE];
    int32_t day;
    int whole;
    switch (key->kind) {
    case KEY_NAME:
    case KEY_TEXT:
        write_string(writer, at);
        break;
    case KEY_QUANTITY:
        if (key->keys != NULL)
            write_nested(writer, key->keys, base);
        else if (key->count > 0)
            write_quantities(writer, key, (const double *)(const void *)at);
        else
            write_quantity(writer, key, *(const double *)(const void *)at);
        break;
    case KEY_BOOL:
        text_puts(writer->out, *(const bool *)(const void *)at ? "true" : "false");
        break;
    case KEY_CHOICE:
    case KEY_FLAG:
        write_word(writer, key, at);
        break;
    case KEY_DATE:
        memcpy(&day, at, sizeof day);
        write_string(writer, calendar_format_iso(day, date));
        break;
    case KEY_WHOLE:
        memcpy(&whole, at, sizeof whole);
        write_quantity(writer, key, whole);
        break;
    case KEY_DAYS:
        write_days(writer, at);
        break;
    case KEY_MOMENT:
        write_moment(writer, key, base);
        break;
    case KEY_OBJECT:
        write_nested(writer, key->keys, base);
        break;
    case KEY_NAMES:
        write_names(writer, key, base);
        break;
    case KEY_LIST:
        write_entries(writer, key, base);
        break;
    case KEY_ELSEWHERE:
        break;
    }
}

static void write_object(struct writer *writer, const struct key *keys, const void *base) {
    for (const struct key *key = keys; key->name != NULL; key++) {
        if (!present(key, base))
            continue;
        write_key(writer, key->name);
        write_value(writer, key, base);
    }
}

/* ---- sorted lists ---- */

/* Entries begin with their name, or with that of their field. */
static int by_name(const void *a, const void *b) {
    const char *x = *(const char *const *)a, *y = *(const char *const *)b;
    int order = strcmp(x, y);
    return order != 0 ? order : (x > y) - (x < y);
}

static int by_planting(const void *a, const void *b) {
    const struct farm_planting *x = *(const struct farm_planting *const *)a;
    const struct farm_planting *y = *(const struct farm_planting *const *)b;
    int order = strcmp(x->field, y->field);
    if (order == 0)
        order = (x->planting_date > y->planting_date) - (x->planting_date < y->planting_date);
    return order != 0 ? order : (x > y) - (x < y);
}

static int by_record(const void *a, const void *b) {
    const struct farm_record *x = *(const struct farm_record *const *)a;
    const struct farm_record *y = *(const struct farm_record *const *)b;
    int order = strcmp(x->field, y->field);
    if (order == 0)
        order = (x->date > y->date) - (x->date < y->date);
    if (order == 0)
        order = ((int)x->kind > (int)y->kind) - ((int)x->kind < (int)y->kind);
    return order != 0 ? order : (x > y) - (x < y);
}

static int by_turn(const void *a, const void *b) {
    const struct farm_turn_mark *x = *(const struct farm_turn_mark *const *)a;
    const struct farm_turn_mark *y = *(const struct farm_turn_mark *const *)b;
    int order = strcmp(x->field, y->field);
    if (order == 0)
        order = (x->date > y->date) - (x->date < y->date);
    if (order == 0)
        order = x->hour - y->hour;
    return order != 0 ? order : (x > y) - (x < y);
}

/* A line each. */
static bool is_short(enum check_list list) {
    return list == LIST_RECORDS || list == LIST_TURNS;
}

static bool write_list(struct writer *writer, enum check_list list, const struct key *keys, const void *array,
                       size_t count, size_t stride) {
    const char **entry = calloc(count + 1, sizeof *entry);
    if (entry == NULL)
        return false;
    for (size_t i = 0; i < count; i++)
        entry[i] = (const char *)array + i * stride;
    qsort(entry, count, sizeof *entry,
          list == LIST_RECORDS     ? by_record
          : list == LIST_PLANTINGS ? by_planting
          : list == LIST_TURNS     ? by_turn
                                   : by_name);
    write_key(writer, check_list_name(list));
    open(writer, "[");
    for (size_t i = 0; i < count; i++) {
        separate(writer);
        writer->inline_ = is_short(list);
        open(writer, "{");
        /* A record begins with its field, which does not say its kind. */
        const struct farm_record *record = list == LIST_RECORDS ? (const void *)entry[i] : NULL;
        write_object(writer, record != NULL ? farm_file_record_keys(record->kind) : keys, entry[i]);
        close(writer, "}");
        writer->inline_ = false;
    }
    close(writer, "]");
    free(entry);
    return true;
}

static bool write_lists(struct writer *writer, const struct farm *farm) {
    return write_list(writer, LIST_STATIONS, farm_file_station_keys, farm->station, farm->station_count,
                      sizeof *farm->station) &&
           write_list(writer, LIST_SOURCES, farm_file_source_keys, farm->source, farm->source_count,
                      sizeof *farm->source) &&
           write_list(writer, LIST_SOILS, farm_file_soil_keys, farm->soil, farm->soil_count,
                      sizeof *farm->soil) &&
           write_list(writer, LIST_SUPPLIES, farm_file_supply_keys, farm->supply, farm->supply_count,
                      sizeof *farm->supply) &&
           write_list(writer, LIST_FIELDS, farm_file_field_keys, farm->field, farm->field_count,
                      sizeof *farm->field) &&
           write_list(writer, LIST_PLANTINGS, farm_file_planting_keys, farm->planting, farm->planting_count,
                      sizeof *farm->planting) &&
           write_list(writer, LIST_TURNS, farm_file_turn_keys, farm->turn_mark, farm->turn_mark_count,
                      sizeof *farm->turn_mark) &&
           write_list(writer, LIST_RECORDS, NULL, farm->record, farm->record_count, sizeof *farm->record) &&
           write_list(writer, LIST_TRIALS, farm_file_trial_keys, farm->trial, farm->trial_count,
                      sizeof *farm->trial);
}

char *farm_file_write(const struct farm *farm) {
    struct text out;
    text_init(&out, 0);
    struct writer writer = {.out = &out};
    open(&writer, "{");
    write_key(&writer, "farm");
    open(&writer, "{");
    write_object(&writer, farm_file_farm_keys, farm);
    close(&writer, "}");
    bool whole = write_lists(&writer, farm);
    close(&writer, "}");
    text_puts(&out, "\n");
    char *text = text_take(&out);
    if (whole)
        return text;
    free(text);
    return NULL;
}
