#include "daemon/farm/farm_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/wall_clock.h"
#include "daemon/farm/farm_file_inside.h"
#include "daemon/source/address_template.h"

/* ---- the entries that are no more than their keys ---- */

static void read_station(struct reader *reader, const cJSON *item, void *out) {
    struct farm_station *station = out;
    farm_station_begin(station);
    (void)reader_object(reader, item, farm_file_station_keys, station);
}

/* A member that its key has let through, and that is still not right. */
static void refuse_member(struct reader *reader, const cJSON *object, const char *key, const char *expected) {
    size_t path = reader_enter(reader, key, -1);
    reader_expected(reader, cJSON_GetObjectItemCaseSensitive(object, key), expected);
    reader_leave(reader, path);
}

static void refuse_word(struct reader *reader, const cJSON *object, const char *key, const char *word) {
    size_t path = reader_enter(reader, key, -1);
    reader_problem(reader, cJSON_GetObjectItemCaseSensitive(object, key),
                   "found %s, expected one of " ADDRESS_TEMPLATE_WORDS, word);
    reader_leave(reader, path);
}

/* Names that become a part of a path hold nothing that leads elsewhere. */
static bool plain_name(const char *name, const char *allowed) {
    static const char letters[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-";
    if (strchr(letters, name[0]) == NULL || strstr(name, "..") != NULL)
        return false;
    for (const char *at = name; *at != '\0'; at++)
        if (strchr(letters, *at) == NULL && strchr(allowed, *at) == NULL)
            return false;
    return true;
}

static bool is_address(const char *address) {
    static const char *const scheme[] = {"http://", "https://", "file:"};
    for (size_t i = 0; i < sizeof scheme / sizeof scheme[0]; i++)
        if (strncmp(address, scheme[i], strlen(scheme[i])) == 0)
            return true;
    return false;
}

static void read_source(struct reader *reader, const cJSON *item, void *out) {
    struct farm_source *source = out;
    farm_source_begin(source);
    (void)reader_object(reader, item, farm_file_source_keys, source);
    if (source->layout[0] != '\0' && !plain_name(source->layout, "."))
        refuse_member(reader, item, "layout", "the name of a layout, as \"plain\"");
    const char *address = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(item, "address"));
    if (address == NULL)
        return;
    char wrong[ADDRESS_TEMPLATE_WORD_SIZE];
    if (!is_address(address))
        refuse_member(reader, item, "address", "an address that begins with http://, https:// or file:");
    else if (address[0] == 'h' && !address_names_host(address))
        refuse_member(reader, item, "address",
                      "a host behind the scheme, and no blank: https://example.org/days.csv");
    else if (!address_template_check(address, wrong))
        refuse_word(reader, item, "address", wrong);
}

static void read_soil(struct reader *reader, const cJSON *item, void *out) {
    reader_soil(reader, item, out);
}

static void read_supply(struct reader *reader, const cJSON *item, void *out) {
    struct farm_supply *supply = out;
    farm_supply_begin(supply);
    (void)reader_object(reader, item, farm_file_supply_keys, supply);
}

static void read_field(struct reader *reader, const cJSON *item, void *out) {
    reader_field(reader, item, out);
}

static void read_planting(struct reader *reader, const cJSON *item, void *out) {
    reader_planting(reader, item, out);
}

static void read_turn(struct reader *reader, const cJSON *item, void *out) {
    farm_turn_mark_begin(out);
    (void)reader_object(reader, item, farm_file_turn_keys, out);
}

static void read_record(struct reader *reader, const cJSON *item, void *out) {
    reader_record(reader, item, out);
}

static void read_trial(struct reader *reader, const cJSON *item, void *out) {
    struct farm_trial *trial = out;
    for (int i = 0; i < FARM_PLOTS_MAX; i++)
        trial->plot[i].area_m2 = (double)NAN;
    (void)reader_object(reader, item, farm_file_trial_keys, out);
}

/* ---- the lists ---- */

#define LIST(member, type)                                                                                   \
    offsetof(struct farm, member), offsetof(struct farm, member##_count), sizeof(struct type)

static const struct {
    size_t array, count, stride;
    void (*read)(struct reader *reader, const cJSON *item, void *out);
} lists[LIST_COUNT] = {
    [LIST_STATIONS] = {LIST(station, farm_station), read_station},
    [LIST_SOURCES] = {LIST(source, farm_source), read_source},
    [LIST_SOILS] = {LIST(soil, farm_soil), read_soil},
    [LIST_SUPPLIES] = {LIST(supply, farm_supply), read_supply},
    [LIST_FIELDS] = {LIST(field, farm_field), read_field},
    [LIST_PLANTINGS] = {LIST(planting, farm_planting), read_planting},
    [LIST_TURNS] = {LIST(turn_mark, farm_turn_mark), read_turn},
    [LIST_RECORDS] = {LIST(record, farm_record), read_record},
    [LIST_TRIALS] = {LIST(trial, farm_trial), read_trial},
};

/* Fields are before records in the lists, and records want to find theirs. */
static enum status index_fields(struct reader *reader, enum check_list list) {
    if (list != LIST_FIELDS)
        return STATUS_OK;
    return check_names_make(&reader->fields, reader->farm->field, reader->farm->field_count,
                            sizeof *reader->farm->field);
}

static enum status read_list(struct reader *reader, const cJSON *root, enum check_list list) {
    const char *name = check_list_name(list);
    const cJSON *array = cJSON_GetObjectItemCaseSensitive(root, name);
    if (array != NULL && !cJSON_IsArray(array)) {
        size_t path = reader_enter(reader, name, -1);
        reader_expected(reader, array, "a list of objects, as [{...}]");
        reader_leave(reader, path);
    }
    size_t count = cJSON_IsArray(array) ? (size_t)cJSON_GetArraySize(array) : 0;
    if (count == 0)
        return STATUS_OK;
    char *entries = calloc(count, lists[list].stride);
    reader->item[list] = calloc(count, sizeof(const cJSON *));
    memcpy((char *)reader->farm + lists[list].array, &entries, sizeof entries);
    if (entries == NULL || reader->item[list] == NULL)
        return STATUS_NO_MEMORY;
    memcpy((char *)reader->farm + lists[list].count, &count, sizeof count);
    size_t index = 0;
    for (const cJSON *item = array->child; item != NULL; item = item->next, index++) {
        size_t path = reader_enter(reader, name, (long)index);
        reader->item[list][index] = item;
        lists[list].read(reader, item, entries + index * lists[list].stride);
        reader_leave(reader, path);
    }
    return index_fields(reader, list);
}

/* ---- the whole ---- */

/* The place of "stage_dates.mid" of an entry, or of the deepest part of it that is there. */
static struct check_place where(const void *context, enum check_list list, size_t index, const char *key) {
    const struct reader *reader = context;
    const cJSON *item = reader->item[list][index];
    for (;;) {
        char part[40];
        size_t size = strcspn(key, ".[");
        if (size == 0 || size >= sizeof part)
            break;
        memcpy(part, key, size);
        part[size] = '\0';
        const cJSON *next = cJSON_GetObjectItemCaseSensitive(item, part);
        if (next == NULL)
            break;
        item = next;
        key += size;
        if (*key == '[') {
            char *end;
            next = cJSON_GetArrayItem(item, (int)strtol(key + 1, &end, 10));
            item = next != NULL ? next : item;
            key = *end == ']' ? end + 1 : end;
        }
        key += *key == '.';
    }
    const struct json_place *place = json_text_place(reader->json, item);
    return (struct check_place){reader->json->name, place->line, place->column};
}

static void read_head(struct reader *reader, const cJSON *root) {
    (void)reader_object(reader, root, farm_file_root_keys, NULL);
    const cJSON *head = cJSON_GetObjectItemCaseSensitive(root, "farm");
    if (head == NULL)
        return;
    size_t path = reader_enter(reader, "farm", -1);
    (void)reader_object(reader, head, farm_file_farm_keys, reader->farm);
    const char *zone = reader->farm->time_zone;
    if (zone[0] != '\0' && !plain_name(zone, "/+"))
        refuse_member(reader, head, "time_zone", "the name of a time zone, as \"America/Chicago\"");
    else if (zone[0] != '\0' && !wall_clock_knows(zone))
        refuse_member(reader, head, "time_zone",
                      "a time zone that this machine knows, as \"America/Chicago\"");
    reader_leave(reader, path);
}

static enum status read_farm(struct reader *reader) {
    size_t before = reader->problems->count;
    const cJSON *root = reader->json->root;
    read_head(reader, root);
    enum status status = STATUS_OK;
    for (int list = 0; list < LIST_COUNT && status == STATUS_OK; list++)
        status = read_list(reader, root, (enum check_list)list);
    if (status == STATUS_OK)
        status = check_relations(reader->farm, where, reader, reader->problems);
    if (status == STATUS_OK && reader->problems->count > before)
        status = STATUS_REFUSED;
    if (status == STATUS_OK)
        status = check_values(reader->farm, where, reader, reader->problems);
    return status == STATUS_OK ? farm_sort_records(reader->farm) : status;
}

enum status farm_file_read(const char *name, const char *text, size_t size, struct farm *farm,
                           struct problems *problems) {
    farm_init(farm);
    size_t told = problems->kept;
    struct json_text json;
    enum status status = json_text_parse(name, text, size, &json, problems);
    if (status != STATUS_OK)
        return status;
    struct library *library = NULL;
    struct reader reader = {.json = &json, .problems = problems, .farm = farm};
    status = library_open(&library, problems);
    reader.library = library;
    if (status == STATUS_OK)
        status = read_farm(&reader);
    problems_sort(problems, told);
    for (int list = 0; list < LIST_COUNT; list++)
        free(reader.item[list]);
    check_names_free(&reader.fields);
    library_free(library);
    json_text_free(&json);
    if (status != STATUS_OK)
        farm_free(farm);
    return status;
}
