#include "daemon/source/day_hours.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/source/hour_table.h"
#include "daemon/source/place_days.h"

/* A counter's growth over a longer gap than this cannot be told apart by hours. */
#define RUNNING_GAP_MAX_S INT64_C(10800)
/* The clock is set back once a year; one hour of it may stand in a file twice. */
#define SET_BACK_S       INT64_C(3600)
#define SET_BACK_APART_D 180

/* One value through its days. */

struct slot {
    int32_t date;
    int64_t covered, until; /* seconds of the day with a reading; where the last one ends */
    double sum, weighed, most, least;
    bool any;
};

struct slots {
    struct slot *slot;
    size_t count, room;
};

/* The slot of a date, empty when new; the search begins at the end, where it nearly always is. */
static struct slot *slot_at(struct slots *slots, int32_t date) {
    size_t place = slots->count;
    while (place > 0 && slots->slot[place - 1].date > date)
        place--;
    if (place > 0 && slots->slot[place - 1].date == date)
        return &slots->slot[place - 1];
    if (slots->count == slots->room) {
        size_t room = slots->room == 0 ? 64 : slots->room * 2;
        struct slot *slot = realloc(slots->slot, room * sizeof *slot);
        if (slot == NULL)
            return NULL;
        slots->slot = slot;
        slots->room = room;
    }
    memmove(&slots->slot[place + 1], &slots->slot[place], (slots->count - place) * sizeof *slots->slot);
    slots->count++;
    slots->slot[place] =
        (struct slot){.date = date, .until = INT64_MIN, .most = -INFINITY, .least = INFINITY};
    return &slots->slot[place];
}

static void add_part(struct slot *slot, const struct reading *reading, int64_t from, int64_t to) {
    double span = (double)(reading->end - reading->start);
    double part = (double)(to - from);
    int64_t fresh = from > slot->until ? from : slot->until;
    if (to > fresh)
        slot->covered += to - fresh;
    if (to > slot->until)
        slot->until = to;
    slot->sum += reading->value * (part / span);
    slot->weighed += part;
    slot->any = true;
    slot->most = fmax(slot->most, reading->value);
    slot->least = fmin(slot->least, reading->value);
}

/* Shares a reading out over the days that its interval meets; for means the parts are weighed by their
 * length. */
static enum status share_out(const struct layout *layout, struct slots *slots, const struct reading *reading,
                             bool mean) {
    for (int64_t from = reading->start; from < reading->end;) {
        int32_t date = place_date(layout, from);
        int64_t next = place_day_start(layout, date + 1);
        int64_t to = next > from && next < reading->end ? next : reading->end;
        struct slot *slot = slot_at(slots, date);
        if (slot == NULL)
            return STATUS_NO_MEMORY;
        struct reading part = *reading;
        if (mean)
            part.value *= (double)(reading->end - reading->start);
        add_part(slot, &part, from, to);
        from = to;
    }
    return STATUS_OK;
}

/* A value that belongs whole to the day in which the middle of its interval lies. */
static enum status put_whole(const struct layout *layout, struct slots *slots,
                             const struct reading *reading) {
    int32_t date = place_date(layout, reading->start + (reading->end - reading->start) / 2);
    struct slot *slot = slot_at(slots, date);
    if (slot == NULL)
        return STATUS_NO_MEMORY;
    slot->any = true;
    slot->covered = PLACE_DAY_S * 2; /* complete, however long the day */
    slot->most = fmax(slot->most, reading->value);
    slot->least = fmin(slot->least, reading->value);
    return STATUS_OK;
}

static enum status fill_slots(const struct layout *layout, const struct layout_value *value,
                              struct slots *slots, const struct reading *reading, size_t count) {
    enum status status = STATUS_OK;
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        struct reading growth = reading[i];
        switch (value->how) {
        case HOW_RUNNING:
            if (i == 0)
                break;
            growth.start = reading[i - 1].start;
            growth.end = reading[i].start;
            growth.value = reading[i].value >= reading[i - 1].value ? reading[i].value - reading[i - 1].value
                                                                    : reading[i].value;
            if (growth.end - growth.start <= RUNNING_GAP_MAX_S)
                status = share_out(layout, slots, &growth, false);
            break;
        case HOW_MIDDLE:
            status = put_whole(layout, slots, &reading[i]);
            break;
        default:
            status = share_out(layout, slots, &reading[i], value->how == HOW_MEAN);
        }
    }
    return status;
}

/* `length`: of the day, in seconds. A mean radiation is one of a day of 24 hours: what came down in a day of
 * 23 is less. */
static double slot_value(const struct layout_value *value, const struct slot *slot, int64_t length) {
    switch (value->how) {
    case HOW_MEAN:
        return slot->sum / slot->weighed *
               (value->element == WEATHER_RS_MJ_M2 ? (double)length / PLACE_DAY_S : 1);
    case HOW_MAX:
        return slot->most;
    case HOW_MIN:
        return slot->least;
    case HOW_MIDDLE:
        return value->element == WEATHER_TMIN_C || value->element == WEATHER_RH_MIN_PCT ? slot->least
                                                                                        : slot->most;
    default:
        return slot->sum;
    }
}

/* Days of which too little is there stay missing. Of several rules for one element the first that has the day
 * counts. */
static enum status emit(struct day_builder *builder, const struct layout_value *value,
                        const struct slots *slots) {
    const struct layout *layout = builder->layout;
    enum status status = STATUS_OK;
    for (size_t i = 0; i < slots->count && status == STATUS_OK; i++) {
        const struct slot *slot = &slots->slot[i];
        int64_t length = place_day_length(layout, slot->date);
        if (!slot->any || (double)slot->covered < value->complete * (double)length)
            continue;
        int32_t date = layout->time.named_by_end ? slot->date + 1 : slot->date;
        if (!calendar_valid(date))
            continue;
        struct weather_day *day = weather_days_at(&builder->days, date, &status);
        if (day != NULL && isnan(day->value[value->element])) {
            day->value[value->element] = slot_value(value, slot, length);
            day->origin[value->element] = layout->forecast ? ORIGIN_FORECAST : ORIGIN_MEASURED;
        }
    }
    return status;
}

/* Readings in order. */

static int by_rule_and_time(const void *left, const void *right) {
    const struct reading *a = left, *b = right;
    if (a->rule != b->rule)
        return a->rule < b->rule ? -1 : 1;
    if (a->start != b->start)
        return a->start < b->start ? -1 : 1;
    if (a->end != b->end)
        return a->end < b->end ? -1 : 1;
    return a->line < b->line ? -1 : a->line > b->line;
}

/* Readings that hold until the next one, at most the layout's step; the last one is left without a span. */
static void close_spans(const struct layout *layout, struct reading *reading, size_t count) {
    for (size_t i = 0; i + 1 < count; i++) {
        int64_t longest = reading[i].start + layout->time.step_s;
        if (layout->time.until_next && reading[i].end == reading[i].start)
            reading[i].end = reading[i + 1].start < longest ? reading[i + 1].start : longest;
    }
}

static void say_twice(struct day_builder *builder, const struct reading *first,
                      const struct reading *second) {
    char iso[CALENDAR_ISO_SIZE];
    const struct layout_value *value = &builder->layout->value[second->rule];
    int64_t local = second->start + place_offset(builder->layout, second->start);
    int32_t date = (int32_t)(local / PLACE_DAY_S - (local % PLACE_DAY_S < 0));
    int minutes = (int)((local - date * PLACE_DAY_S) / 60);
    problem_add(builder->problems, builder->where, second->line, 0, weather_element_name(value->element),
                "found %g for %s %02d:%02d, for which %g stands before; expected readings that do not "
                "overlap",
                second->value, calendar_format_iso(date, iso), minutes / 60, minutes % 60, first->value);
}

/* Takes out readings that stand in the file twice, and judges those that contradict each other. Where the
 * clock was set back an hour stands twice and both are true. Returns how many are left. */
static size_t without_repeats(struct day_builder *builder, struct reading *reading, size_t count) {
    const struct layout *layout = builder->layout;
    enum layout_how how = layout->value[reading->rule].how;
    int32_t set_back = CALENDAR_NONE;
    int64_t twice = 0;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        struct reading *last = kept > 0 ? &reading[kept - 1] : NULL;
        bool same = last != NULL && last->start == reading[i].start && last->end == reading[i].end;
        if (same && last->value <= reading[i].value && last->value >= reading[i].value)
            continue;
        if (last != NULL && how != HOW_MAX && how != HOW_MIN && how != HOW_MIDDLE && how != HOW_RUNNING &&
            reading[i].start < last->end) {
            int32_t date = place_date(layout, reading[i].start);
            bool new_date = date != set_back;
            bool allowed = same && layout->time.zone == ZONE_AS_WRITTEN &&
                           (!new_date || set_back == CALENDAR_NONE || date - set_back >= SET_BACK_APART_D);
            twice = (new_date ? 0 : twice) + (reading[i].end - reading[i].start);
            set_back = date;
            if (!allowed || twice > SET_BACK_S)
                say_twice(builder, last, &reading[i]);
        }
        reading[kept++] = reading[i];
    }
    return kept;
}

static enum status finish_rule(struct day_builder *builder, struct hour_table *hours, struct reading *reading,
                               size_t count) {
    const struct layout_value *value = &builder->layout->value[reading->rule];
    struct slots slots = {NULL, 0, 0};
    close_spans(builder->layout, reading, count);
    count = without_repeats(builder, reading, count);
    enum status status = fill_slots(builder->layout, value, &slots, reading, count);
    if (status == STATUS_OK)
        status = emit(builder, value, &slots);
    if (status == STATUS_OK)
        status = hour_table_add(hours, builder->layout, value, reading, count);
    free(slots.slot);
    return status;
}

enum status day_hours_finish(struct day_builder *builder) {
    enum status status = STATUS_OK;
    struct hour_table hours;
    hour_table_start(&hours, builder->layout);
    if (builder->reading_count > 0)
        qsort(builder->reading, builder->reading_count, sizeof *builder->reading, by_rule_and_time);
    for (size_t i = 0; i < builder->reading_count && status == STATUS_OK;) {
        size_t end = i + 1;
        while (end < builder->reading_count && builder->reading[end].rule == builder->reading[i].rule)
            end++;
        status = finish_rule(builder, &hours, &builder->reading[i], end - i);
        i = end;
    }
    if (status == STATUS_OK)
        status = hour_table_finish(&hours, builder->layout, &builder->days);
    hour_table_free(&hours);
    return status;
}
