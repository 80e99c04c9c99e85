/* When the days of a place begin and end, in the seconds that a layout's readings count. */
#ifndef WATERTURN_PLACE_DAYS_H
#define WATERTURN_PLACE_DAYS_H

#include <stdint.h>

#include "daemon/source/layout_rules.h"

#define PLACE_DAY_S INT64_C(86400)

/* What is added to a time to have the place's: times that count from UTC are moved, times as written are the
 * place's already. */
int64_t place_offset(const struct layout *layout, int64_t time);

/* The day of a place, as it begins, in which a time lies. */
int32_t place_date(const struct layout *layout, int64_t time);

/* When a day begins: local midnight (or where the day begins), counted as the readings are. */
int64_t place_day_start(const struct layout *layout, int32_t date);

/* How many seconds of a day readings can tell of. Where times are written by a clock that is set forward in
 * summer, the day on which it is set lacks the hour that it leaves out. */
int64_t place_day_length(const struct layout *layout, int32_t date);

/* When a day begins, in UTC. Times as written are those of standard time (the smaller of the offsets of
 * January and July) or, where the layout says so, of the clock that is set forward in summer. */
int64_t place_day_start_utc(const struct layout *layout, int32_t date);

#endif
