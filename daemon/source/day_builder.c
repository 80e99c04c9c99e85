#include "daemon/source/day_builder.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/source/day_hours.h"

void day_builder_start(struct day_builder *builder, const struct layout *layout, const char *where,
                       struct problems *problems) {
    memset(builder, 0, sizeof *builder);
    builder->layout = layout;
    builder->time = &layout->time;
    builder->where = where;
    builder->problems = problems;
    builder->problems_before = problems->count;
    weather_days_init(&builder->days);
}

void day_builder_end(struct day_builder *builder) {
    weather_days_free(&builder->days);
    free(builder->reading);
    builder->reading = NULL;
}

/* The pieces of a time as they stand, for a message. Returns `room`. */
static const char *show_time(const struct stamp_parts *parts, char room[RAW_SHOWN_SIZE]) {
    const struct raw pieces[4] = {parts->part[0], parts->part[1], parts->part[2], parts->clock};
    struct text all;
    text_init(&all, 0);
    for (int i = 0; i < 4; i++) {
        if (pieces[i].text == NULL)
            continue;
        if (all.size > 0)
            text_puts(&all, " ");
        text_add(&all, pieces[i].text, pieces[i].size < RAW_SHOWN_SIZE ? pieces[i].size : RAW_SHOWN_SIZE);
    }
    (void)raw_show((struct raw){text_string(&all), all.size}, room);
    text_free(&all);
    return room;
}

bool day_builder_stamp(struct day_builder *builder, const struct stamp_parts *parts,
                       const struct piece_place *place, struct stamp *out) {
    const struct layout_time *time = builder->time;
    char shown[RAW_SHOWN_SIZE];
    if (stamp_read(time, parts, out)) {
        builder->stamped = true;
        return true;
    }
    const struct layout *layout = builder->layout;
    if (!builder->stamped && layout->has_other_time && time == &layout->time &&
        layout->other_time.column_count == time->column_count &&
        stamp_read(&layout->other_time, parts, out)) {
        builder->time = &layout->other_time;
        builder->stamped = true;
        return true;
    }
    problem_add(builder->problems, builder->where, place->line, place->column, place->name,
                "found %s, expected %s%s", show_time(parts, shown), stamp_example(time),
                parts->clock.text != NULL ? " and a time as 1400 or 14:00" : "");
    return false;
}

bool day_builder_station(struct day_builder *builder, struct raw name, int line) {
    char shown[RAW_SHOWN_SIZE];
    (void)raw_show(raw_trim(name), shown);
    if (builder->station[0] == '\0')
        memcpy(builder->station, shown, sizeof shown);
    if (strcmp(builder->station, shown) == 0)
        return true;
    problem_add(builder->problems, builder->where, line, 0, NULL,
                "found station %s, expected only %s as in the rows before: one file holds one station", shown,
                builder->station);
    return false;
}

/* The n-th part between commas, from 1; all of it for 0. Past the last: empty. */
static struct raw part_of(struct raw raw, int part) {
    for (; part > 1; part--) {
        const char *comma = memchr(raw.text, ',', raw.size);
        if (comma == NULL)
            return (struct raw){raw.text, 0};
        raw.size -= (size_t)(comma + 1 - raw.text);
        raw.text = comma + 1;
    }
    const char *comma = part == 1 ? memchr(raw.text, ',', raw.size) : NULL;
    if (comma != NULL)
        raw.size = (size_t)(comma - raw.text);
    return raw;
}

/* Whether a list of texts and numbers has this piece, read as a text or as a number. */
static bool listed(const cJSON *list, struct raw raw, char decimal) {
    double number = 0.0;
    bool is_number = raw_number(raw, decimal, &number);
    const cJSON *item = NULL;
    cJSON_ArrayForEach(item, list) {
        double code = item->valuedouble;
        if (cJSON_IsString(item) ? raw_equals(raw, item->valuestring)
                                 : is_number && number >= code && number <= code)
            return true;
    }
    return false;
}

static bool flagged(const struct layout_flag *flag, struct raw text, char decimal) {
    if (text.text == NULL)
        return false;
    text = raw_trim(part_of(text, flag->part));
    return flag->keep != NULL ? !listed(flag->keep, text, decimal) : listed(flag->drop, text, decimal);
}

static enum status put_reading(struct day_builder *builder, const struct reading *reading) {
    if (builder->reading_count == READINGS_MAX) {
        problem_add(builder->problems, builder->where, reading->line, 0, NULL,
                    "found more than %d readings, expected a file of at most that many", READINGS_MAX);
        return STATUS_NO_ROOM;
    }
    if (builder->reading_count == builder->reading_room) {
        size_t room = builder->reading_room == 0 ? 1024 : builder->reading_room * 2;
        struct reading *more = realloc(builder->reading, room * sizeof *more);
        if (more == NULL)
            return STATUS_NO_MEMORY;
        builder->reading = more;
        builder->reading_room = room;
    }
    builder->reading[builder->reading_count++] = *reading;
    return STATUS_OK;
}

/* The value of a whole day. The same date twice is fine as long as both say the same. */
static enum status put_day(struct day_builder *builder, enum weather_element element, int32_t date,
                           double value, const struct piece_place *place) {
    enum status status = STATUS_OK;
    char iso[CALENDAR_ISO_SIZE];
    struct weather_day *day = weather_days_at(&builder->days, date, &status);
    if (status == STATUS_NO_ROOM)
        problem_add(builder->problems, builder->where, place->line, 0, NULL,
                    "found more than %d days, expected a file of at most that many", WEATHER_DAYS_MAX);
    if (day == NULL)
        return status;
    if (!isnan(day->value[element]) && (day->value[element] < value || day->value[element] > value)) {
        problem_add(builder->problems, builder->where, place->line, place->column, place->name,
                    "found %s = %g for %s, which stands before as %g; expected each date once",
                    weather_element_name(element), value, calendar_format_iso(date, iso),
                    day->value[element]);
        return STATUS_OK;
    }
    day->value[element] = value;
    day->origin[element] = builder->layout->forecast ? ORIGIN_FORECAST : ORIGIN_MEASURED;
    return STATUS_OK;
}

enum status day_builder_put_number(struct day_builder *builder, int rule, const struct stamp *stamp,
                                   double number, const struct unit *unit, const struct piece_place *place) {
    const struct layout_value *value = &builder->layout->value[rule];
    number = units_convert(number * value->scale, unit != NULL ? unit : value->unit, value->target);
    builder->values++;
    if (value->how == HOW_DAY)
        return put_day(builder, value->element, stamp->date, number, place);
    /* The rest of a day or night that is half over tells no highest or lowest value of it. */
    if (value->how == HOW_MIDDLE && stamp->end - stamp->start < value->hours[0] * INT64_C(3600))
        return STATUS_OK;
    struct reading reading = {stamp->start, stamp->end, number, rule, place->line};
    return put_reading(builder, &reading);
}

bool day_builder_missing(const struct day_builder *builder, int rule, struct raw text, struct raw flag) {
    const struct layout_value *value = &builder->layout->value[rule];
    text = raw_trim(text);
    return text.size == 0 || listed(value->missing, text, builder->layout->decimal) ||
           flagged(&value->flag, flag, builder->layout->decimal);
}

enum status day_builder_put(struct day_builder *builder, int rule, const struct stamp *stamp, struct raw text,
                            struct raw flag, const struct unit *unit, const struct piece_place *place) {
    double number = 0.0;
    text = raw_trim(text);
    if (day_builder_missing(builder, rule, text, flag))
        return STATUS_OK;
    if (raw_number(text, builder->layout->decimal, &number))
        return day_builder_put_number(builder, rule, stamp, number, unit, place);
    const struct layout_value *value = &builder->layout->value[rule];
    char shown[RAW_SHOWN_SIZE];
    problem_add(builder->problems, builder->where, place->line, place->column, place->name,
                "found %s, expected a number (%s in %s) or nothing", raw_show(text, shown),
                weather_element_name(value->element), value->unit->symbol);
    return STATUS_OK;
}

enum status day_builder_finish(struct day_builder *builder) {
    if (builder->problems->count > builder->problems_before)
        return STATUS_OK;
    enum status status = day_hours_finish(builder);
    if (status == STATUS_OK && builder->problems->count == builder->problems_before &&
        builder->days.count == 0)
        problem_add(builder->problems, builder->where, 0, 0, NULL,
                    builder->values == 0
                        ? "found no value that the layout \"%s\" takes, expected at least one day of weather"
                        : "found no day that is complete enough for the layout \"%s\", expected at least one",
                    builder->layout->name);
    return status;
}
