/* The weather of one station, day by day without a gap: observed days, what the forecast fills in, then the
 * days ahead; each completed by FAO-56's rules, with its reference ET. */
#ifndef WATERTURN_STATION_DAYS_H
#define WATERTURN_STATION_DAYS_H

#include <stdint.h>

#include "core/weather/reference_et.h"
#include "daemon/farm/farm.h"
#include "daemon/source/weather_days.h"

struct station_day {
    struct weather_full full;               /* full.date is set also where nothing else is known */
    struct weather_day reported;            /* what went in, after the filling of gaps */
    double et0_mm[REFERENCE_ASCE_TALL + 1]; /* by enum reference_kind; NaN: temperatures are not known */
    int findings, suspect;                  /* of weather_check() */
};

struct station_days {
    int32_t first;
    int count;
    struct station_day *day;
    int32_t observed_until;  /* last day before today with observed temperatures; CALENDAR_NONE */
    int32_t forecast_issued; /* CALENDAR_NONE: no forecast went in */
};

/* Days from `first` to `last`. Of a day before `today` the observed values hold, group by group (temperature,
 * humidity, radiation, wind, rain), and the forecast fills groups that are missing as a whole; from `today`
 * on there is only the forecast. Where temperatures are missing all the same, the means of the seven newest
 * complete days stand in (ORIGIN_CLIMATOLOGY); rain is never made up: it stays missing. */
enum status station_days_build(const struct farm_station *station, const struct weather_days *observed,
                               const struct weather_days *forecast, int32_t first, int32_t today,
                               int32_t last, struct station_days *out);
void station_days_free(struct station_days *days);

/* NULL outside. */
const struct station_day *station_days_at(const struct station_days *days, int32_t date);

#endif
