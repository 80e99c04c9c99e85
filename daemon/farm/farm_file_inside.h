/* What the files of the farm file share: tables of keys that say where a value goes, how it is read, checked
 * and written, and the reader that walks them. Nobody else includes this. */
#ifndef WATERTURN_FARM_FILE_INSIDE_H
#define WATERTURN_FARM_FILE_INSIDE_H

#include "daemon/farm/check.h"
#include "daemon/farm/farm.h"
#include "daemon/farm/json_text.h"
#include "daemon/farm/library.h"
#include "daemon/farm/quantity.h"

enum key_kind {
    KEY_NAME,     /* char[FARM_NAME_SIZE] */
    KEY_TEXT,     /* char[FARM_TEXT_SIZE] */
    KEY_QUANTITY, /* double, or double[count] */
    KEY_BOOL,
    KEY_CHOICE,   /* an enum, by choice() */
    KEY_FLAG,     /* bool, by choice() of 0 and 1 */
    KEY_DATE,     /* int32_t */
    KEY_WHOLE,    /* int: a whole number; 0 is left out when it is not required */
    KEY_DAYS,     /* unsigned: days of the week, bit 0 Monday */
    KEY_MOMENT,   /* int32_t, a day, and an int at `count_offset`, the full hour */
    KEY_OBJECT,   /* more keys, of the same struct */
    KEY_NAMES,    /* char[count][FARM_NAME_SIZE], `count` at most, their number in an int at `count_offset` */
    KEY_LIST,     /* objects of `stride` bytes, `count` at most, their number in an int at `count_offset` */
    KEY_ELSEWHERE /* known, but read by a function of its own and never written */
};

struct key {
    const char *name; /* NULL ends a table */
    enum key_kind kind;
    bool required;
    bool nullable; /* null stands for NaN */
    bool spread;   /* one value may stand for all `count` */
    bool sparse;   /* KEY_BOOL: left out when false */
    size_t offset;
    enum quantity_kind quantity;
    struct quantity_limits limits;
    int count; /* 0: a single value */
    size_t count_offset, stride;
    const char *(*choice)(int index); /* the words, in the order of the enum; NULL past the last */
    const struct key *keys; /* KEY_OBJECT, KEY_LIST; of KEY_QUANTITY: understood in place of one value */
    const char *expected;   /* in place of the usual words */
};

extern const struct key farm_file_root_keys[], farm_file_farm_keys[], farm_file_station_keys[],
    farm_file_source_keys[], farm_file_soil_keys[], farm_file_supply_keys[], farm_file_field_keys[],
    farm_file_planting_keys[], farm_file_turn_keys[], farm_file_trial_keys[];

/* Of the values that are read by a function of their own. */
extern const struct key farm_file_sand_key, farm_file_clay_key, farm_file_organic_key,
    farm_file_record_kind_key, farm_file_volume_key, farm_file_hours_key;

/* The keys of a record of a kind. */
const struct key *farm_file_record_keys(enum record_kind kind);

/* "mon" .. "sun" of 0 .. 6. */
const char *farm_file_weekday(int day);

struct reader {
    const struct json_text *json;
    struct problems *problems;
    const struct library *library;
    struct farm *farm;
    struct check_names fields;      /* once the fields were read */
    const cJSON **item[LIST_COUNT]; /* the object of each entry */
    char path[256];
    size_t path_size;
    const char *missing; /* the key that is told to be missing; NULL: none */
    bool no_memory;
};

/* Steps of the path that messages name: "fields[2]", ".area". `key` or `index` (-1: none). Returns what
 * reader_leave() wants. */
size_t reader_enter(struct reader *reader, const char *key, long index);
void reader_leave(struct reader *reader, size_t path_size);

/* "found X, expected Y" at the value; and a sentence of its own at the value. */
void reader_expected(struct reader *reader, const cJSON *item, const char *expected);
void reader_problem(struct reader *reader, const cJSON *item, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Whether an object has a key. */
bool reader_has(const cJSON *object, const char *key);
/* One value to the members of `base` that its key names; they are left alone when it is refused. */
bool reader_value(struct reader *reader, const cJSON *item, const struct key *key, void *base);
/* The same for the value of `key` in an object; false also when there is none. */
bool reader_member(struct reader *reader, const cJSON *object, const struct key *key, void *base);
/* All keys of an object; unknown and missing ones are told. False when something was. */
bool reader_object(struct reader *reader, const cJSON *item, const struct key *keys, void *base);

/* The entries of the lists that are more than their keys. */
void reader_soil(struct reader *reader, const cJSON *item, struct farm_soil *out);
void reader_field(struct reader *reader, const cJSON *item, struct farm_field *out);
void reader_planting(struct reader *reader, const cJSON *item, struct farm_planting *out);
void reader_record(struct reader *reader, const cJSON *item, struct farm_record *out);

#endif
