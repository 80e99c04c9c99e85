/* Days in JSON: arrays side by side, a list of objects, objects keyed by date, or one list of intervals for
 * each value. Places are JSON Pointers (RFC 6901). */
#include <stdio.h>
#include <string.h>

#include "daemon/source/json_pointer.h"
#include "daemon/source/readers.h"

/* A parsed tree takes many times the room of its text. */
#define JSON_BYTES_MAX ((size_t)8 << 20)

#define PATH_SIZE 160

struct json_days {
    struct day_builder *builder;
    const struct layout *layout;
    const cJSON *root, *rows;
    const char *rows_name;
};

/* The place of a value: which of its layout's places it was, and what stands there. */
struct found {
    const cJSON *json;
    const char *name;
    int place;
};

static void say(const struct json_days *file, const char *path, const char *what) {
    problem_add(file->builder->problems, file->builder->where, 0, 0, path, "%s", what);
}

/* A name is a pointer when it begins with '/', else a key. */
static const cJSON *get(const cJSON *from, const char *name) {
    if (from == NULL || name == NULL)
        return NULL;
    return name[0] == '/' ? json_pointer_get(from, name) : cJSON_GetObjectItemCaseSensitive(from, name);
}

static struct found find(const cJSON *from, const struct layout_value *value) {
    struct found found = {NULL, value->places.at[0].name, 0};
    for (int i = 0; i < value->places.count && found.json == NULL; i++) {
        found.json = get(from, value->places.at[i].name);
        if (found.json != NULL)
            found = (struct found){found.json, value->places.at[i].name, i};
    }
    return found;
}

/* The text, or the n-th of a list of texts; NULL past the last. */
static const char *text_at(const cJSON *texts, int n) {
    const cJSON *item = cJSON_IsArray(texts) ? cJSON_GetArrayItem(texts, n) : n == 0 ? texts : NULL;
    return cJSON_IsString(item) ? item->valuestring : NULL;
}

/* Where the file names a unit; '*' in the pointer stands for the name under which the value was found. */
static const cJSON *unit_item(const struct json_days *file, const cJSON *unit_at, const char *name) {
    char pointer[PATH_SIZE];
    const cJSON *item = NULL;
    const char *pattern = NULL;
    for (int n = 0; item == NULL && (pattern = text_at(unit_at, n)) != NULL; n++) {
        const char *star = strchr(pattern, '*');
        int before = star != NULL ? (int)(star - pattern) : (int)strlen(pattern);
        int length = snprintf(pointer, sizeof pointer, "%.*s%s%s", before, pattern, star != NULL ? name : "",
                              star != NULL ? star + 1 : "");
        if (length > 0 && (size_t)length < sizeof pointer)
            item = json_pointer_get(file->root, pointer);
    }
    return item;
}

/* False, with a problem, when the file names a unit that the value cannot have. NULL in *unit: it names none.
 */
static bool unit_of(const struct json_days *file, const struct layout_value *value, const char *name,
                    const struct unit **unit) {
    *unit = NULL;
    const cJSON *item = value->unit_at != NULL ? unit_item(file, value->unit_at, name) : NULL;
    if (!cJSON_IsString(item))
        return true;
    /* "wmoUnit:km_h-1": a prefix, and '_' for the blank. */
    char symbol[40], shown[RAW_SHOWN_SIZE];
    const char *colon = strrchr(item->valuestring, ':');
    (void)snprintf(symbol, sizeof symbol, "%s", colon != NULL ? colon + 1 : item->valuestring);
    for (char *c = symbol; *c != '\0'; c++) {
        if (*c == '_')
            *c = ' ';
    }
    *unit = units_find(symbol);
    if (*unit != NULL && (*unit)->kind == value->target->kind)
        return true;
    problem_add(file->builder->problems, file->builder->where, 0, 0, name,
                "found the unit %s, expected one of %s, as \"%s\"",
                raw_show(raw_of(item->valuestring), shown), units_kind_name(value->target->kind),
                value->unit->symbol);
    return false;
}

/* Times and values. */

static bool stamp_of(const struct json_days *file, const cJSON *time, const char *path, struct stamp *stamp) {
    char number[32] = "";
    struct stamp_parts parts = {.part = {{number, 0}}};
    struct piece_place place = {0, 0, path};
    if (cJSON_IsString(time)) {
        parts.part[0] = raw_of(time->valuestring);
    } else if (cJSON_IsNumber(time)) {
        (void)snprintf(number, sizeof number, "%.0f", time->valuedouble);
        parts.part[0] = raw_of(number);
    }
    return day_builder_stamp(file->builder, &parts, &place, stamp);
}

static enum status put(const struct json_days *file, int rule, const struct stamp *stamp, const cJSON *json,
                       const struct unit *unit, const char *path) {
    struct piece_place place = {0, 0, path};
    const struct raw no_flag = {NULL, 0};
    char number[40];
    if (json == NULL || cJSON_IsNull(json))
        return STATUS_OK;
    if (cJSON_IsString(json))
        return day_builder_put(file->builder, rule, stamp, raw_of(json->valuestring), no_flag, unit, &place);
    if (!cJSON_IsNumber(json)) {
        say(file, path, "found no number, expected one, or null");
        return STATUS_OK;
    }
    (void)snprintf(number, sizeof number, "%.17g", json->valuedouble);
    if (day_builder_missing(file->builder, rule, raw_of(number), no_flag))
        return STATUS_OK;
    return day_builder_put_number(file->builder, rule, stamp, json->valuedouble, unit, &place);
}

static bool is_required_missing(const struct json_days *file, const struct layout_value *value) {
    if (value->required)
        say(file, value->places.at[0].name, "found nothing there, and this layout cannot do without it");
    return value->required;
}

/* The forms. */

static enum status read_side_by_side(const struct json_days *file) {
    const struct layout *layout = file->layout;
    const char *time_name = layout->time.column[0].name;
    const cJSON *times = get(file->rows, time_name);
    char path[PATH_SIZE];
    if (!cJSON_IsArray(times)) {
        say(file, time_name, "found no list of dates; is this file of another layout?");
        return STATUS_OK;
    }
    enum status status = STATUS_OK;
    for (int rule = 0; rule < layout->value_count && status == STATUS_OK; rule++) {
        struct found found = find(file->rows, &layout->value[rule]);
        const struct unit *unit = NULL;
        if (found.json == NULL ? is_required_missing(file, &layout->value[rule]) || true
                               : !unit_of(file, &layout->value[rule], found.name, &unit))
            continue;
        if (cJSON_GetArraySize(found.json) != cJSON_GetArraySize(times)) {
            say(file, found.name, "found a list that is not as long as the list of dates");
            continue;
        }
        const cJSON *time = times->child, *json = found.json->child;
        for (int i = 0; time != NULL && json != NULL && status == STATUS_OK;
             i++, time = time->next, json = json->next) {
            struct stamp stamp;
            (void)snprintf(path, sizeof path, "%.100s[%d]", found.name, i);
            if (stamp_of(file, time, path, &stamp))
                status = put(file, rule, &stamp, json, unit, path);
        }
    }
    return status;
}

static enum status read_item(const struct json_days *file, const cJSON *item, int index) {
    const struct layout *layout = file->layout;
    char path[PATH_SIZE];
    struct stamp stamp;
    (void)snprintf(path, sizeof path, "%.100s[%d]", file->rows_name, index);
    if (!stamp_of(file, get(item, layout->time.column[0].name), path, &stamp))
        return STATUS_OK;
    enum status status = STATUS_OK;
    for (int rule = 0; rule < layout->value_count && status == STATUS_OK; rule++) {
        const struct layout_value *value = &layout->value[rule];
        struct found found = find(item, value);
        const struct unit *unit = NULL;
        if (found.json == NULL || !unit_of(file, value, found.name, &unit))
            continue;
        struct stamp span = stamp;
        if (value->hours[found.place] > 0)
            span.end = span.start + value->hours[found.place] * INT64_C(3600);
        (void)snprintf(path, sizeof path, "%.60s[%d]: %.60s", file->rows_name, index, found.name);
        status = put(file, rule, &span, found.json, unit, path);
    }
    return status;
}

static enum status read_list(const struct json_days *file) {
    enum status status = STATUS_OK;
    const cJSON *item = NULL;
    int index = 0;
    if (!cJSON_IsArray(file->rows)) {
        say(file, file->rows_name, "found no list of times there; is this file of another layout?");
        return STATUS_OK;
    }
    cJSON_ArrayForEach(item, file->rows) {
        if (status == STATUS_OK)
            status = read_item(file, item, index++);
    }
    return status;
}

static enum status read_by_date(const struct json_days *file) {
    const struct layout *layout = file->layout;
    enum status status = STATUS_OK;
    for (int rule = 0; rule < layout->value_count && status == STATUS_OK; rule++) {
        struct found found = find(file->rows, &layout->value[rule]);
        const struct unit *unit = NULL;
        const cJSON *item = NULL;
        if (found.json == NULL ? is_required_missing(file, &layout->value[rule]) || true
                               : !unit_of(file, &layout->value[rule], found.name, &unit))
            continue;
        if (!cJSON_IsObject(found.json))
            say(file, found.name, "found no object with dates as its keys");
        cJSON_ArrayForEach(item, found.json) {
            struct stamp stamp;
            char path[PATH_SIZE];
            cJSON key = {.type = cJSON_String, .valuestring = item->string};
            (void)snprintf(path, sizeof path, "%.60s: %.60s", found.name,
                           item->string != NULL ? item->string : "");
            if (item->string != NULL && status == STATUS_OK && stamp_of(file, &key, path, &stamp))
                status = put(file, rule, &stamp, item, unit, path);
        }
    }
    return status;
}

static enum status read_intervals(const struct json_days *file) {
    const struct layout *layout = file->layout;
    enum status status = STATUS_OK;
    for (int rule = 0; rule < layout->value_count && status == STATUS_OK; rule++) {
        const struct layout_value *value = &layout->value[rule];
        struct found found = find(file->rows, value);
        const struct unit *unit = NULL;
        const cJSON *item = NULL;
        int index = 0;
        if (found.json == NULL ? is_required_missing(file, value) || true
                               : !unit_of(file, value, found.name, &unit))
            continue;
        cJSON_ArrayForEach(item, found.json) {
            struct stamp stamp;
            char path[PATH_SIZE];
            (void)snprintf(path, sizeof path, "%.100s[%d]", found.name, index++);
            if (status == STATUS_OK && stamp_of(file, get(item, layout->time.column[0].name), path, &stamp))
                status = put(file, rule, &stamp, get(item, layout->item), unit, path);
        }
    }
    return status;
}

/* The file. */

static void say_no_json(const struct json_days *file, const char *text, const char *end) {
    int line = 1, column = 1;
    for (const char *at = text; at < end; at++) {
        column = *at == '\n' ? 1 : column + 1;
        line += *at == '\n';
    }
    problem_add(file->builder->problems, file->builder->where, line, column, NULL,
                "found no JSON that can be read from here on, expected a whole JSON file; it may be cut "
                "short");
}

static const char *only_blanks(const char *from, const char *end) {
    while (from < end && strchr(" \t\r\n", *from) != NULL)
        from++;
    return from;
}

static const cJSON *find_rows(struct json_days *file) {
    const cJSON *rows = file->layout->rows == NULL ? file->root : NULL;
    const char *pointer = NULL;
    for (int n = 0; rows == NULL && (pointer = text_at(file->layout->rows, n)) != NULL; n++) {
        file->rows_name = pointer;
        rows = json_pointer_get(file->root, pointer);
    }
    return rows;
}

enum status json_days_read(struct day_builder *builder, const unsigned char *bytes, size_t size) {
    static enum status (*const read_form[])(const struct json_days *file) = {
        [FORM_SIDE_BY_SIDE] = read_side_by_side,
        [FORM_LIST] = read_list,
        [FORM_BY_DATE] = read_by_date,
        [FORM_INTERVALS] = read_intervals};
    const char *text = (const char *)bytes, *end = NULL;
    struct json_days file = {.builder = builder, .layout = builder->layout};
    if (size > JSON_BYTES_MAX) {
        problem_add(builder->problems, builder->where, 0, 0, NULL,
                    "found %zu bytes of JSON, expected at most %zu", size, JSON_BYTES_MAX);
        return STATUS_NO_ROOM;
    }
    cJSON *root = cJSON_ParseWithLengthOpts(text, size, &end, false);
    if (root == NULL || only_blanks(end, text + size) != text + size) {
        say_no_json(&file, text, end != NULL ? end : text);
        cJSON_Delete(root);
        return STATUS_OK;
    }
    file.root = root;
    file.rows_name = "";
    file.rows = find_rows(&file);
    enum status status = STATUS_OK;
    if (file.rows == NULL)
        say(&file, file.rows_name, "found nothing there; is this file of another layout?");
    else
        status = read_form[builder->layout->form](&file);
    cJSON_Delete(root);
    return status;
}
