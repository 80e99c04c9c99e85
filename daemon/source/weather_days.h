/* Days of weather sorted by date, each date once. What a layout reads out of a file. */
#ifndef WATERTURN_WEATHER_DAYS_H
#define WATERTURN_WEATHER_DAYS_H

#include <stddef.h>

#include "core/base/status.h"
#include "core/weather/weather.h"

/* Most days that one list holds: 300 years. */
#define WEATHER_DAYS_MAX 110000

struct weather_days {
    struct weather_day *day; /* sorted by date */
    size_t count, room;
};

void weather_days_init(struct weather_days *days);
void weather_days_free(struct weather_days *days);

/* The day of a date; NULL when there is none. */
struct weather_day *weather_days_find(const struct weather_days *days, int32_t date);

/* The day of a date, put in empty at its place when it was not there. NULL with *status telling why:
 * STATUS_OUT_OF_RANGE for an invalid date, STATUS_NO_ROOM past WEATHER_DAYS_MAX, STATUS_NO_MEMORY. */
struct weather_day *weather_days_at(struct weather_days *days, int32_t date, enum status *status);

/* Adds a day. A day of that date that is there already is filled up with what it lacks; where both have a
 * value and the values differ the list stays as it was and STATUS_ORDER is returned, with the first such
 * element in *element (may be NULL). Otherwise as weather_days_at(). */
enum status weather_days_add(struct weather_days *days, const struct weather_day *day,
                             enum weather_element *element);

#endif
