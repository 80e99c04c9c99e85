#include "daemon/source/weather_days.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/weather/station_transfer.h"

void weather_days_init(struct weather_days *days) {
    memset(days, 0, sizeof *days);
}

void weather_days_free(struct weather_days *days) {
    free(days->day);
    free(days->hours);
    weather_days_init(days);
}

/* Index of the first day that is not before `date`. */
static size_t place_of(const struct weather_days *days, int32_t date) {
    /* Files are nearly always in order: look at the end first. */
    if (days->count == 0 || days->day[days->count - 1].date < date)
        return days->count;
    size_t low = 0;
    size_t high = days->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (days->day[middle].date < date)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

struct weather_day *weather_days_find(const struct weather_days *days, int32_t date) {
    size_t place = place_of(days, date);
    return place < days->count && days->day[place].date == date ? &days->day[place] : NULL;
}

static enum status make_room(struct weather_days *days) {
    if (days->count >= WEATHER_DAYS_MAX)
        return STATUS_NO_ROOM;
    if (days->count < days->room)
        return STATUS_OK;
    size_t room = days->room == 0 ? 64 : days->room * 2;
    struct weather_day *day = realloc(days->day, room * sizeof *day);
    if (day == NULL)
        return STATUS_NO_MEMORY;
    days->day = day;
    days->room = room;
    return STATUS_OK;
}

struct weather_day *weather_days_at(struct weather_days *days, int32_t date, enum status *status) {
    *status = STATUS_OK;
    if (!calendar_valid(date)) {
        *status = STATUS_OUT_OF_RANGE;
        return NULL;
    }
    size_t place = place_of(days, date);
    if (place < days->count && days->day[place].date == date)
        return &days->day[place];
    *status = make_room(days);
    if (*status != STATUS_OK)
        return NULL;
    struct weather_day *day = &days->day[place];
    memmove(day + 1, day, (days->count - place) * sizeof *day);
    days->count++;
    *day = weather_day_empty(date);
    return day;
}

/* Index of the first hours that are not before `date`. */
static size_t hours_place(const struct weather_days *days, int32_t date) {
    size_t place = days->hours_count;
    if (place == 0 || days->hours[place - 1].date < date)
        return place;
    size_t low = 0;
    while (low < place) {
        size_t middle = low + (place - low) / 2;
        if (days->hours[middle].date < date)
            low = middle + 1;
        else
            place = middle;
    }
    return place;
}

struct weather_hours *weather_days_hours(const struct weather_days *days, int32_t date) {
    size_t place = hours_place(days, date);
    return place < days->hours_count && days->hours[place].date == date ? &days->hours[place] : NULL;
}

enum status weather_days_put_hours(struct weather_days *days, const struct weather_hours *hours) {
    if (!calendar_valid(hours->date))
        return STATUS_OUT_OF_RANGE;
    struct weather_hours *there = weather_days_hours(days, hours->date);
    if (there != NULL) {
        *there = *hours;
        return STATUS_OK;
    }
    if (days->hours_count >= WEATHER_DAYS_MAX)
        return STATUS_NO_ROOM;
    if (days->hours_count == days->hours_room) {
        size_t room = days->hours_room == 0 ? 16 : days->hours_room * 2;
        struct weather_hours *more = realloc(days->hours, room * sizeof *more);
        if (more == NULL)
            return STATUS_NO_MEMORY;
        days->hours = more;
        days->hours_room = room;
    }
    size_t place = hours_place(days, hours->date);
    memmove(&days->hours[place + 1], &days->hours[place], (days->hours_count - place) * sizeof *days->hours);
    days->hours[place] = *hours;
    days->hours_count++;
    return STATUS_OK;
}

void weather_hours_move_wind(struct weather_hours *hours, double from_m, double to_m) {
    for (int h = 0; h < REFERENCE_HOURS; h++)
        hours->hour[h].wind_m_s = station_wind_m_s(hours->hour[h].wind_m_s, from_m, to_m);
}

void weather_days_move_wind(struct weather_days *days, double from_m, double to_m) {
    for (size_t i = 0; i < days->count; i++) {
        double *wind = &days->day[i].value[WEATHER_WIND_M_S];
        *wind = station_wind_m_s(*wind, from_m, to_m);
    }
    for (size_t i = 0; i < days->hours_count; i++)
        weather_hours_move_wind(&days->hours[i], from_m, to_m);
}

enum status weather_days_add(struct weather_days *days, const struct weather_day *day,
                             enum weather_element *element) {
    const struct weather_day *there = weather_days_find(days, day->date);
    for (int e = 0; there != NULL && e < WEATHER_ELEMENT_COUNT; e++) {
        bool both = !isnan(there->value[e]) && !isnan(day->value[e]);
        if (both && (there->value[e] < day->value[e] || there->value[e] > day->value[e])) {
            if (element != NULL)
                *element = (enum weather_element)e;
            return STATUS_ORDER;
        }
    }
    enum status status = STATUS_OK;
    struct weather_day *place = weather_days_at(days, day->date, &status);
    for (int e = 0; place != NULL && e < WEATHER_ELEMENT_COUNT; e++) {
        if (isnan(place->value[e]) && !isnan(day->value[e])) {
            place->value[e] = day->value[e];
            place->origin[e] = day->origin[e];
        }
    }
    return status;
}
