/* Years of daily weather for hindcasts: real days of Seattle and New York, 2012 to 2015 (npm
 * package vega-datasets, NOAA; latitude and elevation from memory), and days of
 * the invented station that tests/tools/make_weather makes, both completed by FAO-56's rules. */
#ifndef WATERTURN_TESTS_PAST_YEARS_H
#define WATERTURN_TESTS_PAST_YEARS_H

#include "core/decide/hindcast.h"

struct past_years {
    const char *name;
    int32_t first;
    int count;
    struct season_input *day; /* without irrigation */
    double *et0_mm, *rain_mm;
    struct outlook_history history; /* of the two above */
    struct season_input *forecast;  /* [day of issue - first][HINDCAST_DAYS]; NULL: none */
    bool *issued;                   /* whether there is one of that day */
};

/* Ends the test program when the data are not there. */
void past_years_seattle(struct past_years *years);
void past_years_new_york(struct past_years *years);
/* `from`: first day, `days` of them; with forecasts of every morning that is followed by enough days. */
void past_years_invented(struct past_years *years, unsigned seed, int32_t from, int days);
/* Forecasts made up for the years: of each of the days ahead a share that falls with the lead is known, the
 * rest is that of a like day of another year. */
void past_years_make_forecasts(struct past_years *years, uint64_t seed);
void past_years_free(struct past_years *years);

/* What hindcast_forecast() asks for, from `forecast`. */
bool past_years_forecast(const struct past_years *years, int32_t issued, int days, struct season_input *out);

/* Pairs of forecast and weather that were known by `before`, of at most `issues` forecasts; malloc'd. */
struct outlook_pair *past_years_pairs(const struct past_years *years, int32_t before, int issues,
                                      size_t *count);

#endif
