/* The hours of a station's day, made ready for hourly reference ET (FAO-56 eq. 53).
 *
 * ET0 of a past day is their sum where all 24 are there, the station wants it, its longitude is known, and
 * nothing of the day's temperature, humidity, wind and radiation is suspect or comes from elsewhere; else
 * that of the day (eq. 6). Rs/Rso before the first hour with a high sun is that of the evening before, where
 * its hours are there, else that of the whole day. Pressure is that of the elevation (eq. 7). */
#ifndef WATERTURN_STATION_HOURS_H
#define WATERTURN_STATION_HOURS_H

#include <stdbool.h>
#include <stdint.h>

#include "core/weather/reference_et.h"
#include "daemon/farm/farm.h"
#include "daemon/source/weather_days.h"

struct station_hours {
    struct reference_hours hours; /* clock: UTC */
    struct reference_place place;
    double clearness_before;
};

/* Whether the day has temperature, wind and radiation, and no finding sets aside what its hours tell as well.
 */
bool station_hours_believed(const struct weather_day *seen, const struct weather_findings *findings);

/* False when the day (complete, with its Rso) has no hours, or its station does not want or cannot have the
 * sum. */
bool station_hours_make(const struct farm_station *station, const struct weather_days *observed,
                        const struct weather_full *full, struct station_hours *out);

/* By enum reference_kind, mm/day; false when an hour has no ET. */
bool station_hours_sum(const struct station_hours *hours, int32_t date,
                       double et0_mm[REFERENCE_ASCE_TALL + 1]);

#endif
