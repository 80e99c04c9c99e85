/* The weather of one station, day by day without a gap: what was observed, what neighbouring stations, the
 * forecast and the station's own past fill in, then the days ahead; each completed by FAO-56's rules, with
 * its reference ET. */
#ifndef WATERTURN_STATION_DAYS_H
#define WATERTURN_STATION_DAYS_H

#include <stdbool.h>
#include <stdint.h>

#include "core/weather/reference_et.h"
#include "daemon/farm/farm.h"
#include "daemon/morning/station_hours.h"
#include "daemon/source/weather_days.h"

struct station_day {
    struct weather_full full;    /* full.date is set also where nothing else is known */
    struct weather_day reported; /* what went in, after the filling of gaps */
    uint8_t
        neighbour[WEATHER_ELEMENT_COUNT];   /* 1 + index in the station's list of who measured it; 0: none */
    double et0_mm[REFERENCE_ASCE_TALL + 1]; /* by enum reference_kind; NaN: temperatures are not known */
    int hours;    /* 1 + index in station_days.hours: ET0 is summed from them; 0: it is not */
    bool own_air; /* temperature, humidity, wind and radiation were measured here, and nothing of them is
                     suspect */
    int findings, suspect; /* of weather_check(), on what the station itself reported */
};

struct station_days {
    int32_t first;
    int count;
    struct station_day *day;
    int hours_count, hours_room;
    struct station_hours *hours; /* of the days whose ET0 is summed from them */
    int32_t observed_until;      /* last day before today with observed temperatures; CALENDAR_NONE */
    int32_t forecast_issued;     /* CALENDAR_NONE: no forecast went in */
};

struct station_neighbour {
    const struct farm_station *station;
    const struct weather_days *observed;
};

struct station_input {
    const struct farm_station *station;
    const struct weather_days *observed; /* also of past years: they tell what is usual */
    const struct weather_days *forecast;
    struct station_neighbour neighbour[FARM_NEIGHBOURS_MAX]; /* in the order of the station's own list */
    int neighbour_count;
};

/* Days from `first` to `last`. Of a day before `today` the station's own values hold, group by group
 * (temperature, humidity, pressure, wind, radiation, rain), but for what weather_check() finds suspect. What
 * is then missing of a group comes as a whole from the first neighbour that measured it (station_transfer(),
 * ORIGIN_NEIGHBOUR), else from the forecast; then FAO-56's rules stand in. From `today` on there is only the
 * forecast. Where temperatures are missing all the same they come from the station's past years
 * (climatology_of()), or as long as these are too few from the seven newest days before that have any
 * (ORIGIN_CLIMATOLOGY both), and with them the other groups that are missing; rain is never made up: it stays
 * missing. A day depends on nothing later than itself.
 * ET0 of a past day is the sum of its hours where station_hours.h says so. */
enum status station_days_build(const struct station_input *input, int32_t first, int32_t today, int32_t last,
                               struct station_days *out);
void station_days_free(struct station_days *days);

/* NULL outside. */
const struct station_day *station_days_at(const struct station_days *days, int32_t date);

#endif
