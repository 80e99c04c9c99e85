/* JSON text to the rules of a layout. config/layouts/README.md tells what each key means. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/nearest.h"
#include "daemon/source/layout_keys.h"
#include "daemon/source/layout_rules.h"

#define COLUMNS_MAX 1024

static const char *const top_keys[] = {
    "title",     "description", "kind",    "forecast", "encoding",  "wind_height", "missing", "header",
    "separator", "quote",       "decimal", "comment",  "skip_rows", "skip_to",     "others",  "unit_rows",
    "last_line", "fields",      "length",  "item",     "repeat",    "element",     "station", "form",
    "rows",      "time",        "values",  "address",  NULL};
static const char *const time_keys[] = {"column",   "columns",     "clock", "format",     "offset",
                                        "step",     "until_next",  "marks", "day_begins", "day_named",
                                        "complete", "summer_time", NULL};
static const char *const value_keys[] = {"column",           "columns", "key",      "unit", "unit_at",
                                         "unit_in_preamble", "scale",   "missing",  "flag", "how",
                                         "required",         "hours",   "complete", NULL};
static const char *const flag_keys[] = {"column", "columns", "part", "keep", "drop", NULL};
static const char *const repeat_keys[] = {"first", "width", "count", NULL};

static const struct layout_word kinds[] = {
    {"delimited", LAYOUT_DELIMITED}, {"columns", LAYOUT_COLUMNS}, {"json", LAYOUT_JSON}, {NULL, 0}};
static const struct layout_word forms[] = {{"side by side", FORM_SIDE_BY_SIDE},
                                           {"list", FORM_LIST},
                                           {"by date", FORM_BY_DATE},
                                           {"intervals", FORM_INTERVALS},
                                           {NULL, 0}};
static const struct layout_word formats[] = {{"iso", TIME_ISO},
                                             {"yyyymmdd", TIME_YYYYMMDD},
                                             {"year, day of year", TIME_YEAR_DAY},
                                             {"year, month, day", TIME_YEAR_MONTH_DAY},
                                             {"year, month", TIME_YEAR_MONTH},
                                             {"month/day/year", TIME_MONTH_DAY_YEAR},
                                             {"day/month/year", TIME_DAY_MONTH_YEAR},
                                             {"epoch", TIME_EPOCH},
                                             {NULL, 0}};
static const struct layout_word hows[] = {
    {"day", HOW_DAY}, {"mean", HOW_MEAN},       {"sum", HOW_SUM},       {"max", HOW_MAX},
    {"min", HOW_MIN}, {"running", HOW_RUNNING}, {"middle", HOW_MIDDLE}, {NULL, 0}};
static const struct layout_word ignoring[] = {{"refuse", 0}, {"ignore", 1}, {NULL, 0}};
static const struct layout_word last_lines[] = {{"ends", 0}, {"any", 1}, {NULL, 0}};
static const struct layout_word encodings[] = {{"utf-8", 0}, {"latin-1", 1}, {NULL, 0}};
static const struct layout_word ends[] = {{"start", 0}, {"end", 1}, {NULL, 0}};

/* The unit in which a weather_day holds an element. */
static const struct unit *element_unit(enum weather_element element) {
    static const char *const unit[WEATHER_ELEMENT_COUNT] = {
        [WEATHER_TMAX_C] = "degC",    [WEATHER_TMIN_C] = "degC",      [WEATHER_TMEAN_C] = "degC",
        [WEATHER_TDEW_C] = "degC",    [WEATHER_TDRY_C] = "degC",      [WEATHER_TWET_C] = "degC",
        [WEATHER_RH_MAX_PCT] = "%",   [WEATHER_RH_MIN_PCT] = "%",     [WEATHER_RH_MEAN_PCT] = "%",
        [WEATHER_EA_KPA] = "kPa",     [WEATHER_PRESSURE_KPA] = "kPa", [WEATHER_WIND_M_S] = "m/s",
        [WEATHER_RS_MJ_M2] = "MJ/m2", [WEATHER_SUN_H] = "h",          [WEATHER_RAIN_MM] = "mm"};
    return units_find(unit[element]);
}

/* A place as written: a header name or pointer, a number, or characters as "1-11". */
static bool read_place(const struct layout_keys *keys, const char *key, const cJSON *item, bool characters,
                       struct layout_place *place) {
    memset(place, 0, sizeof *place);
    if (cJSON_IsNumber(item) && item->valuedouble >= 1 && item->valuedouble <= COLUMNS_MAX) {
        place->number = (int)item->valuedouble;
        return true;
    }
    if (cJSON_IsString(item) && item->valuestring[0] != '\0') {
        if (!characters) {
            place->name = item->valuestring;
            return true;
        }
        char after = '\0';
        if (sscanf(item->valuestring, "%4d-%4d%c", &place->from, &place->to, &after) == 2 &&
            place->from >= 1 && place->to >= place->from)
            return true;
    }
    layout_keys_say(keys, key,
                    characters ? "expected a column's number, or its characters as \"1-11\""
                               : "expected a column's name or its number, from 1");
    return false;
}

static const cJSON *get(const struct layout_keys *keys, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(keys->object, key);
}

static void read_one_place(const struct layout_keys *keys, const char *key, const struct layout *layout,
                           struct layout_place *place) {
    memset(place, 0, sizeof *place);
    if (get(keys, key) != NULL)
        (void)read_place(keys, key, get(keys, key), layout->kind == LAYOUT_COLUMNS, place);
}

/* "column": one place, or "columns": several, the first that is there counts (or, of a time, all of them). */
static int read_places(const struct layout_keys *keys, const struct layout *layout,
                       struct layout_place *places, int room) {
    bool characters = layout->kind == LAYOUT_COLUMNS;
    if (get(keys, "column") != NULL)
        return read_place(keys, "column", get(keys, "column"), characters, &places[0]) ? 1 : 0;
    const cJSON *list = get(keys, "columns"), *item = NULL;
    int count = 0;
    if (!cJSON_IsArray(list) || cJSON_GetArraySize(list) < 1 || cJSON_GetArraySize(list) > room) {
        layout_keys_say(keys, "column", "expected a column, or \"columns\" with a list of 1 to %d", room);
        return 0;
    }
    cJSON_ArrayForEach(item, list) {
        if (read_place(keys, "columns", item, characters, &places[count]))
            count++;
    }
    return count;
}

/* "+02:00", "-05:30" or "utc" in seconds. */
static bool read_offset(const char *text, int32_t *offset) {
    int hours = 0, minutes = 0;
    char sign = '+', after = '\0';
    *offset = 0;
    if (strcmp(text, "utc") == 0)
        return true;
    if (sscanf(text, "%c%2d:%2d%c", &sign, &hours, &minutes, &after) != 3 || (sign != '+' && sign != '-') ||
        hours > 14 || minutes > 59 || hours < 0 || minutes < 0)
        return false;
    *offset = (sign == '-' ? -1 : 1) * (hours * 3600 + minutes * 60);
    return true;
}

static int columns_of_format(enum layout_time_format format) {
    switch (format) {
    case TIME_YEAR_DAY:
    case TIME_YEAR_MONTH:
        return 2;
    case TIME_YEAR_MONTH_DAY:
        return 3;
    default:
        return 1;
    }
}

/* A quantity of time as "1 h" or "5 min", in seconds. */
static int32_t read_span(const struct layout_keys *keys, const char *key) {
    const char *text = layout_keys_text(keys, key, NULL);
    if (text == NULL)
        return 0;
    char *end = NULL;
    double number = strtod(text, &end);
    const struct unit *unit = units_find(end);
    double seconds =
        unit != NULL && unit->kind == UNIT_TIME ? 3600.0 * units_to_si(number, unit) : (double)NAN;
    if (seconds >= 60.0 && seconds <= 86400.0)
        return (int32_t)lround(seconds);
    layout_keys_say(keys, key, "found \"%s\", expected a time from 1 minute to 1 day, as \"1 h\"", text);
    return 0;
}

static void read_time(struct layout *layout, const struct layout_keys *top, const cJSON *object,
                      struct layout_time *time) {
    struct layout_keys keys = {top->file, "time", object, top->problems};
    if (!cJSON_IsObject(keys.object)) {
        layout_keys_say(top, "time", "expected an object that tells where the dates stand");
        return;
    }
    layout_keys_check(&keys, time_keys);
    time->format = (enum layout_time_format)layout_keys_word(&keys, "format", formats, TIME_ISO);
    if (layout->kind != LAYOUT_JSON || layout->form != FORM_BY_DATE)
        time->column_count = read_places(&keys, layout, time->column, 3);
    if (time->column_count > 0 && time->column_count != columns_of_format(time->format))
        layout_keys_say(&keys, "columns", "found %d columns, expected %d for this format", time->column_count,
                        columns_of_format(time->format));
    read_one_place(&keys, "clock", layout, &time->clock);
    time->step_s = read_span(&keys, "step");
    time->until_next = layout_keys_flag(&keys, "until_next", false);
    time->marks_end = layout_keys_word(&keys, "marks", ends, 0) == 1;
    time->day_begins_s = (int32_t)lround(3600.0 * layout_keys_number(&keys, "day_begins", 0.0, 23.99, 0.0));
    time->named_by_end = layout_keys_word(&keys, "day_named", ends, 0) == 1;
    time->complete = layout_keys_number(&keys, "complete", 0.0, 1.0, 0.9);
    time->summer_time = layout_keys_flag(&keys, "summer_time", false);
    const char *offset = layout_keys_text(&keys, "offset", NULL);
    if (offset != NULL) {
        time->zone = ZONE_FIXED;
        if (!read_offset(offset, &time->zone_offset_s))
            layout_keys_say(&keys, "offset", "found \"%s\", expected \"utc\" or an offset as \"-05:00\"",
                            offset);
    }
}

/* "time": one object, or a list of two for files whose dates stand in one of two ways. */
static void read_times(struct layout *layout, const struct layout_keys *top) {
    const cJSON *time = get(top, "time");
    bool two = cJSON_IsArray(time) && cJSON_GetArraySize(time) == 2 && layout->kind == LAYOUT_DELIMITED;
    read_time(layout, top, two ? time->child : time, &layout->time);
    if (two)
        read_time(layout, top, time->child->next, &layout->other_time);
    layout->has_other_time = two;
}

static void read_flag(struct layout *layout, const struct layout_keys *value_at, struct layout_flag *flag) {
    char path[128];
    (void)snprintf(path, sizeof path, "%s.flag", value_at->path);
    struct layout_keys keys = {value_at->file, path, get(value_at, "flag"), value_at->problems};
    if (keys.object == NULL)
        return;
    if (!cJSON_IsObject(keys.object)) {
        layout_keys_say(value_at, "flag", "expected an object with column, and keep or drop");
        return;
    }
    layout_keys_check(&keys, flag_keys);
    flag->places.count = read_places(&keys, layout, flag->places.at, LAYOUT_PLACES_MAX);
    flag->part = layout_keys_count(&keys, "part", 20, 0);
    flag->keep = layout_keys_list(&keys, "keep");
    flag->drop = layout_keys_list(&keys, "drop");
    if ((flag->keep == NULL) == (flag->drop == NULL))
        layout_keys_say(&keys, "", "expected either keep or drop");
}

static void read_unit(const struct layout_keys *keys, struct layout_value *value) {
    value->target = element_unit(value->element);
    value->unit = value->target;
    const char *text = layout_keys_text(keys, "unit", NULL);
    if (text == NULL)
        return;
    const struct unit *unit = units_find(text);
    if (unit == NULL || unit->kind != value->target->kind)
        layout_keys_say(keys, "unit", "found \"%s\", expected a unit of %s, as \"%s\"", text,
                        units_kind_name(value->target->kind), value->target->symbol);
    else
        value->unit = unit;
}

/* "hours": one number for each place, how long its readings hold. */
static void read_hours(const struct layout_keys *keys, struct layout_value *value) {
    const cJSON *list = layout_keys_list(keys, "hours"), *item = NULL;
    int count = 0;
    cJSON_ArrayForEach(item, list) {
        if (!cJSON_IsNumber(item) || item->valuedouble < 1 || item->valuedouble > 24 ||
            count == LAYOUT_PLACES_MAX) {
            layout_keys_say(keys, "hours", "expected a number from 1 to 24 for each column");
            return;
        }
        value->hours[count++] = (int)item->valuedouble;
    }
    if (list != NULL && count != value->places.count)
        layout_keys_say(keys, "hours", "found %d numbers, expected one for each of the %d columns", count,
                        value->places.count);
}

static void read_value(struct layout *layout, const struct layout_keys *keys, enum weather_element element,
                       const cJSON *missing) {
    struct layout_value *value = &layout->value[layout->value_count++];
    memset(value, 0, sizeof *value);
    layout_keys_check(keys, value_keys);
    value->element = element;
    bool shared = layout->element.name != NULL || layout->element.number > 0 || layout->element.from > 0;
    value->key = layout_keys_text(keys, "key", NULL);
    if (shared && value->key == NULL)
        layout_keys_say(keys, "key", "expected what the element column says for this value");
    value->places.count = read_places(keys, layout, value->places.at, LAYOUT_PLACES_MAX);
    read_unit(keys, value);
    value->unit_at = layout_keys_texts(keys, "unit_at");
    value->unit_in_preamble = layout_keys_flag(keys, "unit_in_preamble", false);
    value->scale = layout_keys_number(keys, "scale", -1e9, 1e9, 1.0);
    value->missing = layout_keys_list(keys, "missing");
    if (value->missing == NULL)
        value->missing = missing;
    read_flag(layout, keys, &value->flag);
    value->how = (enum layout_how)layout_keys_word(keys, "how", hows, HOW_DAY);
    value->required = layout_keys_flag(keys, "required", false);
    value->complete = layout_keys_number(keys, "complete", 0.0, 1.0, layout->time.complete);
    read_hours(keys, value);
    bool intervals = layout->kind == LAYOUT_JSON && layout->form == FORM_INTERVALS;
    bool hours = layout->time.step_s > 0 || intervals;
    if ((value->how == HOW_DAY) == hours)
        layout_keys_say(keys, "how", "expected %s",
                        hours ? "how the readings of a day become one value"
                              : "no such key, since the rows are days");
}

/* "values": {"tmax_c": {...}} or {"tmax_c": [{...}, {...}]}. */
static void read_values(struct layout *layout, const struct layout_keys *top) {
    const cJSON *values = get(top, "values"), *entry = NULL;
    const cJSON *missing = layout_keys_list(top, "missing");
    if (!cJSON_IsObject(values) || values->child == NULL)
        layout_keys_say(top, "values", "expected an object with at least one value");
    cJSON_ArrayForEach(entry, values) {
        char path[128];
        (void)snprintf(path, sizeof path, "values.%.80s", entry->string);
        enum weather_element element = weather_element_of(entry->string);
        if (element >= WEATHER_ELEMENT_COUNT) {
            struct nearest nearest;
            nearest_begin(&nearest, entry->string);
            for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++)
                nearest_offer(&nearest, weather_element_name((enum weather_element)e));
            problem_add(top->problems, top->file, 0, 0, path,
                        "found a value that weather does not have, expected %s%s",
                        nearest.name != NULL ? "perhaps " : "one like ",
                        nearest.name != NULL ? nearest.name : "tmax_c");
            continue;
        }
        const cJSON *rule = cJSON_IsArray(entry) ? entry->child : entry;
        for (; rule != NULL; rule = cJSON_IsArray(entry) ? rule->next : NULL) {
            struct layout_keys keys = {top->file, path, rule, top->problems};
            if (!cJSON_IsObject(rule) || layout->value_count == LAYOUT_VALUES_MAX) {
                layout_keys_say(&keys, "", "expected an object, and at most %d of them", LAYOUT_VALUES_MAX);
                break;
            }
            read_value(layout, &keys, element, missing);
            layout->value[layout->value_count - 1].path = entry->string;
            if (cJSON_IsArray(entry) && layout->value[layout->value_count - 1].how == HOW_DAY)
                layout_keys_say(&keys, "",
                                "found a list, expected one object: a list is for readings made into days");
        }
    }
}

static void read_repeat(struct layout *layout, const struct layout_keys *top) {
    struct layout_keys keys = {top->file, "repeat", get(top, "repeat"), top->problems};
    if (keys.object == NULL)
        return;
    layout_keys_check(&keys, repeat_keys);
    layout->repeat.first = layout_keys_count(&keys, "first", 100000, 0);
    layout->repeat.width = layout_keys_count(&keys, "width", 1000, 0);
    layout->repeat.count = layout_keys_count(&keys, "count", 31, 0);
    if (layout->kind != LAYOUT_COLUMNS || layout->repeat.first < 1 || layout->repeat.width < 1 ||
        layout->repeat.count < 1)
        layout_keys_say(&keys, "", "expected first, width and count, all above 0, in a layout of columns");
}

static void read_top(struct layout *layout, const struct layout_keys *keys) {
    layout_keys_check(keys, top_keys);
    layout->title = layout_keys_text(keys, "title", "");
    layout->address = layout_keys_text(keys, "address", NULL);
    layout->kind = (enum layout_kind)layout_keys_word(keys, "kind", kinds, LAYOUT_DELIMITED);
    layout->forecast = layout_keys_flag(keys, "forecast", false);
    layout->latin1 = layout_keys_word(keys, "encoding", encodings, 0) == 1;
    layout->wind_height_m = layout_keys_number(keys, "wind_height", 0.5, 100.0, (double)NAN);
    layout->separator = layout_keys_sign(keys, "separator", ',');
    layout->quote = layout_keys_sign(keys, "quote", '"');
    layout->decimal = layout_keys_sign(keys, "decimal", '.');
    layout->comment = layout_keys_sign(keys, "comment", '\0');
    if (layout->kind == LAYOUT_DELIMITED &&
        (layout->separator == layout->quote || layout->separator == layout->decimal ||
         layout->quote == layout->decimal))
        layout_keys_say(keys, "separator",
                        "expected three different signs for separator, quote and decimal mark");
    layout->header = layout_keys_flag(keys, "header", layout->kind == LAYOUT_DELIMITED);
    layout->ignore_others = layout_keys_word(keys, "others", ignoring, 0) == 1;
    layout->any_last_line = layout_keys_word(keys, "last_line", last_lines, 0) == 1;
    layout->skip_rows = layout_keys_count(keys, "skip_rows", 1000, 0);
    layout->unit_rows = layout_keys_count(keys, "unit_rows", 10, 0);
    layout->skip_to = layout_keys_text(keys, "skip_to", NULL);
    layout->fields = layout_keys_count(keys, "fields", COLUMNS_MAX, 0);
    layout->form = (enum layout_form)layout_keys_word(keys, "form", forms, FORM_SIDE_BY_SIDE);
    layout->rows = layout_keys_texts(keys, "rows");
    layout->item = layout_keys_text(keys, "item", "/value");
    layout->length = layout_keys_count(keys, "length", 10000, 0);
    read_repeat(layout, keys);
    read_one_place(keys, "element", layout, &layout->element);
    read_one_place(keys, "station", layout, &layout->station);
    read_times(layout, keys);
    read_values(layout, keys);
}

/* Line and column of an offset, from 1. */
static void place_of(const char *text, const char *at, int *line, int *column) {
    *line = *column = 1;
    for (const char *p = text; p < at; p++) {
        *column = *p == '\n' ? 1 : *column + 1;
        *line += *p == '\n';
    }
}

enum status layout_parse(const char *name, const char *json, size_t size, struct layout **out,
                         struct problems *problems) {
    size_t before = problems->count;
    struct layout *layout = calloc(1, sizeof *layout);
    if (layout == NULL)
        return STATUS_NO_MEMORY;
    const char *end = NULL;
    layout->json = cJSON_ParseWithLengthOpts(json, size, &end, false);
    if (!cJSON_IsObject(layout->json)) {
        int line = 0, column = 0;
        place_of(json, end != NULL ? end : json, &line, &column);
        problem_add(problems, name, line, column, NULL,
                    "found no JSON object that can be read, expected a layout");
        layout_free(layout);
        return STATUS_REFUSED;
    }
    (void)snprintf(layout->name, sizeof layout->name, "%s", name);
    struct layout_keys keys = {name, "", layout->json, problems};
    read_top(layout, &keys);
    if (problems->count > before) {
        layout_free(layout);
        return STATUS_REFUSED;
    }
    *out = layout;
    return STATUS_OK;
}
