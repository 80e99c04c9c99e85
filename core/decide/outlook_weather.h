/* The weather of the days to come, as an ensemble: each member is one way in which it may turn out.
 *
 * Days that a forecast covers: rain by chance and amount, reference ET about the forecast, both as
 * outlook_errors.h has them. One standard normal a day, correlated from day to day, decides whether it is wet
 * and how much falls; the error of reference ET is correlated with it, so that a day that turns out wet turns
 * out cool too. Days without a forecast: blocks of days from the station's past, taken whole, so that rain,
 * heat and cloud stay together; a block begins near the same day of the year, after a day that was wet or dry
 * as the member's last day is.
 *
 * Everything is a function of the arguments: the same seed gives the same bits. */
#ifndef WATERTURN_OUTLOOK_WEATHER_H
#define WATERTURN_OUTLOOK_WEATHER_H

#include <stdbool.h>
#include <stdint.h>

#include "core/decide/outlook_errors.h"

#define OUTLOOK_MEMBERS_MAX  2000
#define OUTLOOK_BLOCK_DAYS   5
#define OUTLOOK_HISTORY_DAYS 20 /* fewest days of history that serve */

/* Days of the past without a gap; NaN where a figure is not known. */
struct outlook_history {
    int32_t first;
    int count;
    const double *et0_mm, *rain_mm;
};

struct outlook_weather_input {
    int32_t today;
    int days;    /* 1..OUTLOOK_DAYS_MAX, today first */
    int members; /* 1..OUTLOOK_MEMBERS_MAX */
    uint64_t seed;
    int32_t issued;        /* day of issue of the forecast: leads count from it; at most `today` */
    const double *et0_mm;  /* forecast of each day; NaN: none for that day. NULL: no forecast at all */
    const double *rain_mm; /* NaN with a forecast of ET0: rain as by climate */
    bool correct;          /* corrections of forecasts are put on where they are judged */
    const struct outlook_errors *errors; /* with a forecast */
    const struct outlook_history
        *history;               /* days of `today` and after, and of `skip_from..skip_to`, are not used */
    int32_t skip_from, skip_to; /* CALENDAR_NONE: none */
    bool use_future; /* days after `today` serve too (a hindcast that leaves out the season itself) */
};

struct outlook_weather {
    int days, members;
    double *et0_mm, *rain_mm; /* [day * members + member]; the caller's, days x members each */
    double rain_mean_mm[OUTLOOK_DAYS_MAX];
};

/* Fills the ensemble; out->days becomes the number of days for which there is weather, at most those asked
 * for: it ends before the first day that neither forecast nor history covers. STATUS_OUT_OF_RANGE: days or
 * members. STATUS_ORDER: issued after today. STATUS_MISSING: a forecast without errors, or not even today is
 * covered. STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE: a figure of the forecast. */
enum status outlook_weather_make(const struct outlook_weather_input *input, struct outlook_weather *out);

/* What the history says of a day of the year: share of wet days and their mean depth within `half_width` days
 * of it, in all years before `today`. NaN: fewer than OUTLOOK_HISTORY_DAYS days, or (amount) none was wet. */
void outlook_climate(const struct outlook_weather_input *input, int half_width, double *wet_share,
                     double *wet_amount_mm);

/* The usual year from a day on: means of the past years within OUTLOOK_USUAL_REACH_D days of the same day.
 * NaN where no past day is known. */
#define OUTLOOK_USUAL_DAYS    366
#define OUTLOOK_USUAL_REACH_D 10
struct outlook_usual {
    double et0_mm[OUTLOOK_USUAL_DAYS], rain_mm[OUTLOOK_USUAL_DAYS]; /* of `today` and the days after it */
};
void outlook_usual_fill(const struct outlook_weather_input *input, struct outlook_usual *out);

/* Fills in the mean rain of each of its days, 0..OUTLOOK_DAYS_MAX of them: of an ensemble that was not made
 * here. */
void outlook_weather_means(struct outlook_weather *weather);

#endif
