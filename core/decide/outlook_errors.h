/* How far forecasts of a station are off: learnt from stored forecasts beside what came, from stated defaults
 * while there are too few.
 *
 * Reference ET: the ratio of what came to what was forecast (the bias), and the standard deviation of its
 * logarithm by lead time and by what was forecast of rain. Rain: the chance of a wet day by what was forecast
 * and by lead time, and the mean of what falls on a wet day. Lead 0 is the day of issue.
 *
 * Figures are shrunk towards the defaults: each default counts as OUTLOOK_PRIOR_PAIRS days that were seen.
 * The bias is kept apart: it corrects a forecast only when outlook_errors_judge() found enough to judge by.
 */
#ifndef WATERTURN_OUTLOOK_ERRORS_H
#define WATERTURN_OUTLOOK_ERRORS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/base/status.h"

#define OUTLOOK_DAYS_MAX    16
#define OUTLOOK_WET_MM      0.5 /* a day with as much rain or more is wet */
#define OUTLOOK_MUCH_MM     5.0 /* as much or more is much rain */
#define OUTLOOK_ET0_LEAST   0.5 /* days with less reference ET say nothing about ratios, mm */
#define OUTLOOK_PRIOR_PAIRS 15.0
#define OUTLOOK_HALF_LIFE_D 60.0 /* a pair issued so long before the newest counts half */
#define OUTLOOK_JUDGE_PAIRS 30   /* days at a lead time from which its bias is known well enough to correct */

enum outlook_rain { OUTLOOK_RAIN_NONE, OUTLOOK_RAIN_SOME, OUTLOOK_RAIN_MUCH, OUTLOOK_RAIN_COUNT };

/* One day of one forecast beside what came; NaN where either is not known. */
struct outlook_pair {
    int32_t issued, date;
    double et0_forecast_mm, et0_mm;
    double rain_forecast_mm, rain_mm;
};

struct outlook_lead {
    int et0_pairs, rain_pairs; /* days seen */
    double et0_ratio;          /* came / forecast, of the sums (shrunk towards 1) */
    double
        et0_class_ratio[OUTLOOK_RAIN_COUNT]; /* the same by class of the rain forecast (towards et0_ratio) */
    double et0_sd_log[OUTLOOK_RAIN_COUNT]; /* standard deviation of what came over the corrected forecast, as
                                              that of its logarithm (shrunk) */
    double et0_error_mm, et0_abs_error_mm; /* mean of forecast - came, and of its size; NaN: none seen */
    double rain_error_mm, rain_abs_error_mm; /* the same of rain */
    double wet_chance[OUTLOOK_RAIN_COUNT];   /* shrunk */
    double amount_share;                     /* share of the forecast in the mean of a wet day, 0..1 */
    double amount_ratio;  /* what wet days brought over what the share says (shrunk towards 1) */
    double amount_spread; /* of wet days, (depth - mean)^2 over mean^2, both summed: the days of much rain
                             weigh most (shrunk) */
    double rain_forecast_sum_mm, rain_sum_mm; /* over the days seen */
    double rain_ratio;                        /* came / forecast (shrunk towards 1) */
    bool judged;                              /* OUTLOOK_JUDGE_PAIRS or more of both */
};

struct outlook_errors {
    size_t pairs;         /* all that were handed in and usable */
    double et0_memory;    /* correlation of the error of one day with the next day's of the same forecast */
    double heat_with_dry; /* correlation of the error with a day's being dry, beyond what was forecast */
    double wet_memory;    /* of what decides whether a day is wet, beyond what the forecast says of it */
    double wet_share;     /* of days, by climate */
    double wet_amount_mm; /* mean of a wet day, by climate */
    struct outlook_lead lead[OUTLOOK_DAYS_MAX];
};

/* The defaults for a place where a share of days is wet (0..1) and a wet day brings a mean depth (above 0, at
 * most 200 mm). Common practice, no source: the skill in telling wet from dry falls from 0.85 on the day of
 * issue to 0.2 after ten days; the error of reference ET has a standard deviation of 12 % growing by 1.5 % a
 * day. STATUS_OUT_OF_RANGE, or STATUS_MISSING for NaN: nothing is written. */
enum status outlook_errors_default(double wet_share, double wet_amount_mm, struct outlook_errors *out);

/* Adds what pairs tell to the defaults in `errors`. Pairs come by day of issue, and then by date (the memory
 * of errors is read off neighbours); those with a lead outside 0..OUTLOOK_DAYS_MAX-1 are left out, as are
 * figures below 0, reference ET above 30 mm, rain above 2000 mm and, for the ratio, days with less reference
 * ET than OUTLOOK_ET0_LEAST. Lead times borrow from their neighbours: a pair counts a tenth for the lead
 * before and the lead after its own. A pair counts by half for every OUTLOOK_HALF_LIFE_D days that it was
 * issued before the last one, since errors differ from season to season. */
void outlook_errors_learn(const struct outlook_pair *pairs, size_t count, struct outlook_errors *errors);

/* The mean depth of a wet day at a lead for a forecast depth (NaN: by climate alone), mm; at least twice
 * OUTLOOK_WET_MM. Lead 0..OUTLOOK_DAYS_MAX-1. */
double outlook_amount_mm(const struct outlook_errors *errors, int lead, double rain_forecast_mm);

/* The class of a rain depth; OUTLOOK_RAIN_COUNT when it is NaN. */
enum outlook_rain outlook_rain_class(double rain_mm);

/* What a correction makes of a forecast: the depth times the ratio, where the lead is judged; else as it is.
 * That of reference ET goes by the rain that was forecast with it (NaN: by the ratio of all days). */
double outlook_corrected_et0_mm(const struct outlook_errors *errors, int lead, double et0_mm,
                                double rain_forecast_mm);
double outlook_corrected_rain_mm(const struct outlook_errors *errors, int lead, double rain_mm);

#endif
