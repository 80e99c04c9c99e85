/* The only place that asks the machine for the time. Everything else is told. */
#ifndef WATERTURN_WALL_CLOCK_H
#define WATERTURN_WALL_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

/* A morning: its date on the farm's calendar, and an instant in seconds since 1970-01-01 UTC. */
struct morning_time {
    int32_t today;
    int64_t at;
    int minute; /* of the day, on the farm's clock: 0..1439 */
};

/* Makes local time that of an IANA time zone ("" leaves it as it is). By the main thread only; others may ask
 * for the time meanwhile. */
void wall_clock_zone(const char *time_zone);

/* Whether this machine knows the zone of that name; true where it has no list of them. */
bool wall_clock_knows(const char *time_zone);

/* Now. */
struct morning_time wall_clock_now(void);

/* Milliseconds of a clock that never goes back, for spans of time. */
int64_t wall_clock_running_ms(void);

/* A date given for now ("--today"): its instant is 05:00 UTC, so that the same date gives the same database.
 */
struct morning_time wall_clock_given(int32_t today);

/* Seconds from UTC to the farm's clock at an instant (a layout_zone). */
int32_t wall_clock_zone_s(void *context, int64_t utc);

/* The instant of an hour of a day on the farm's clock. One that the clocks leave out when they are put
 * forward is an hour later, one that they go through twice is the first; -1: not known. */
int64_t wall_clock_instant(int32_t date, int hour);

/* Hours of a day that the farm's clock leaves out, and that it goes through twice: bit h, from h to h + 1
 * o'clock. */
void wall_clock_changes(int32_t date, uint32_t *skipped, uint32_t *twice);

/* Minute of the day of an instant, on the farm's clock, and its date. */
struct morning_time wall_clock_of(int64_t at);

#endif
