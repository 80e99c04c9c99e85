/* The hours of the days of a file, where it has them whole: what hourly reference ET is made of. */
#ifndef WATERTURN_HOUR_TABLE_H
#define WATERTURN_HOUR_TABLE_H

#include <stdbool.h>

#include "daemon/source/day_builder.h"

/* What an hour is told by: the elements of layouts whose readings are shared out over hours. */
enum hour_value {
    HOUR_TMEAN,
    HOUR_TMAX,
    HOUR_TMIN,
    HOUR_EA,
    HOUR_TDEW,
    HOUR_RH_MEAN,
    HOUR_RH_MAX,
    HOUR_RH_MIN,
    HOUR_WIND,
    HOUR_RS,
    HOUR_VALUE_COUNT
};

struct hour_row {
    int32_t date;
    double value[HOUR_VALUE_COUNT][REFERENCE_HOURS]; /* NaN: not the whole hour is there */
};

struct hour_table {
    bool wanted; /* the layout has temperature, humidity, wind and radiation in spans, and is no forecast */
    struct hour_row *row; /* sorted by date */
    size_t count, room;
};

void hour_table_start(struct hour_table *table, const struct layout *layout);
void hour_table_free(struct hour_table *table);

/* The readings of one value, in order: means of the hours that they fill, of radiation the sum. Readings that
 * hold longer than an hour tell none. Of several rules for one element the first that has the hour counts. */
enum status hour_table_add(struct hour_table *table, const struct layout *layout,
                           const struct layout_value *value, const struct reading *reading, size_t count);

/* Gives the days their hours, where all 24 are there: temperature the mean, else midway between highest and
 * lowest; vapour pressure as reported, else by dew point (eq. 14), mean relative humidity (eq. 54), or midway
 * between highest and lowest of it; wind and radiation. A day of 23 or 25 hours has none, nor has one with a
 * value that no hour can have; relative humidity of 100 to 105 % is drift and counts as 100, radiation down
 * to -0.05 MJ m-2 (a thermopile's loss of heat at night) as 0 (common practice, no source). */
enum status hour_table_finish(const struct hour_table *table, const struct layout *layout,
                              struct weather_days *days);

#endif
