/* What is usual at a station on a day of the year, from its own past years: the last resort where nothing
 * else tells a day's temperatures. Rain is never among it. */
#ifndef WATERTURN_CLIMATOLOGY_H
#define WATERTURN_CLIMATOLOGY_H

#include <stddef.h>
#include <stdint.h>

#include "core/weather/weather.h"

/* Days of past years count by their distance in days from the same day of the year: 1 on that day, falling
 * evenly to 0 at CLIMATOLOGY_REACH_D days before and after it. Common practice, no source; so is the least
 * number of years. */
#define CLIMATOLOGY_REACH_D   15
#define CLIMATOLOGY_YEARS_MIN 5

/* What the means are of. */
enum climatology_value {
    CLIMATOLOGY_TMAX_C,
    CLIMATOLOGY_TMIN_C,
    CLIMATOLOGY_EA_KPA,
    CLIMATOLOGY_WIND_2M_M_S,
    CLIMATOLOGY_RS_MJ_M2,
    CLIMATOLOGY_VALUE_COUNT
};

struct climatology {
    double mean[CLIMATOLOGY_VALUE_COUNT]; /* NaN: measured in too few years */
    int years[CLIMATOLOGY_VALUE_COUNT];   /* with at least CLIMATOLOGY_REACH_D measured days each */
};

/* The means for `date` from `count` days as the station reported them, sorted by date, each once; only those
 * of earlier years that lie within reach of the date count, so that later days change nothing. Only values
 * that were measured, or derived from such, count, and what weather_check() finds suspect does not.
 * STATUS_OUT_OF_RANGE for an invalid date, STATUS_NOT_FINITE and STATUS_OUT_OF_RANGE as weather_site_check()
 * says of the site; `out` is then all NaN. */
enum status climatology_of(const struct weather_day *day, size_t count, const struct weather_site *site,
                           int32_t date, struct climatology *out);

#endif
