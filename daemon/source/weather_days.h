/* Days of weather sorted by date, each date once. What a layout reads out of a file. */
#ifndef WATERTURN_WEATHER_DAYS_H
#define WATERTURN_WEATHER_DAYS_H

#include <stddef.h>

#include "core/base/status.h"
#include "core/weather/reference_et.h"
#include "core/weather/weather.h"

/* Most days that one list holds: 300 years. */
#define WEATHER_DAYS_MAX 110000

/* An hour as a station measured it: means, and the sum of the radiation. */
struct weather_hour {
    double t_c, ea_kpa, wind_m_s, rs_mj_m2; /* wind at the anemometer; MJ m-2 hour-1 */
};

/* All the hours of a day. */
struct weather_hours {
    int32_t date;
    double start_utc_h; /* when the first begins: hours after 0:00 UTC of the date */
    struct weather_hour hour[REFERENCE_HOURS];
};

struct weather_days {
    struct weather_day *day; /* sorted by date */
    size_t count, room;
    struct weather_hours *hours; /* of the days that have them, sorted by date */
    size_t hours_count, hours_room;
};

void weather_days_init(struct weather_days *days);
void weather_days_free(struct weather_days *days);

/* The day of a date; NULL when there is none. */
struct weather_day *weather_days_find(const struct weather_days *days, int32_t date);

/* The day of a date, put in empty at its place when it was not there. NULL with *status telling why:
 * STATUS_OUT_OF_RANGE for an invalid date, STATUS_NO_ROOM past WEATHER_DAYS_MAX, STATUS_NO_MEMORY. */
struct weather_day *weather_days_at(struct weather_days *days, int32_t date, enum status *status);

/* The hours of a date; NULL when there are none. */
struct weather_hours *weather_days_hours(const struct weather_days *days, int32_t date);

/* Keeps the hours of a date, in the place of those that it had. STATUS_OUT_OF_RANGE, STATUS_NO_ROOM,
 * STATUS_NO_MEMORY as weather_days_at(). */
enum status weather_days_put_hours(struct weather_days *days, const struct weather_hours *hours);

/* Brings the wind of all days and hours from one height above the ground to another (station_wind_m_s()). */
void weather_days_move_wind(struct weather_days *days, double from_m, double to_m);
void weather_hours_move_wind(struct weather_hours *hours, double from_m, double to_m);

/* Adds a day. A day of that date that is there already is filled up with what it lacks; where both have a
 * value and the values differ the list stays as it was and STATUS_ORDER is returned, with the first such
 * element in *element (may be NULL). Otherwise as weather_days_at(). */
enum status weather_days_add(struct weather_days *days, const struct weather_day *day,
                             enum weather_element *element);

#endif
