/* When a morning is run, and whether the machine's clock can be believed. No I/O: the clock is an argument.
 */
#ifndef WATERTURN_SCHEDULE_H
#define WATERTURN_SCHEDULE_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/base/wall_clock.h"

enum clock_judgement {
    CLOCK_GOOD,
    CLOCK_BEHIND, /* before the newest morning that was run, or before this program was written */
    CLOCK_AHEAD   /* more than SCHEDULE_GAP_MOST days after the newest morning; without one, more than
                     SCHEDULE_AGE_MOST days after this program was written */
};

/* A farm may have been left alone for more than a winter, but hardly for longer. */
#define SCHEDULE_GAP_MOST 400
#define SCHEDULE_AGE_MOST (30 * 365)

/* `newest`: the newest morning that was run; CALENDAR_NONE. */
enum clock_judgement schedule_judge(const struct morning_time *now, int32_t newest);

/* What is wrong, and what to do, for people. */
const char *schedule_advice(enum clock_judgement judgement);

/* Whether the morning of now's date is to be run: once its time has come on the farm's clock, and it was not
 * run. A time that daylight saving leaves out has come when the clock is past it; one that comes twice is
 * used the first time. A clock that is not CLOCK_GOOD: never. */
bool schedule_due(const struct morning_time *now, int32_t newest, int morning_minute);

/* Seconds to wait after the n-th failure in a row (from 1): a quarter of an hour, half of one, then an hour.
 */
int64_t schedule_again_s(int failures);

/* Whether a minute of the day is within quiet hours, which may go past midnight; MINUTE_NONE: there are none.
 */
bool schedule_quiet(int minute, int from, int until);

/* The first instant at or after `at` that is not within quiet hours. */
int64_t schedule_after_quiet(int64_t at, int from, int until);

#endif
