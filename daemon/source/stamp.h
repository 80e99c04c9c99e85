/* When a reading was taken, in the formats that weather files use. */
#ifndef WATERTURN_STAMP_H
#define WATERTURN_STAMP_H

#include "daemon/source/layout_rules.h"
#include "daemon/source/raw.h"

/* Seconds count from 1970-01-01T00:00 in UTC, or in the place's own time where the layout says so. */
struct stamp {
    int32_t date;  /* as written */
    int64_t start; /* of the reading's interval */
    int64_t end;   /* start where nothing tells how long it holds */
};

/* The parts of a time: as many as the layout's time has columns, and a clock where it has one.
 * `day_of_month`: for TIME_YEAR_MONTH. */
struct stamp_parts {
    struct raw part[3];
    struct raw clock;
    int day_of_month;
};

/* False when the parts are no time in that format, or name an offset where hours are told by the place's own
 * clock: they would be other hours. Days as written stay the days that they name. */
bool stamp_read(const struct layout_time *time, const struct stamp_parts *parts, struct stamp *out);

/* How a time looks there, for "expected ...". */
const char *stamp_example(const struct layout_time *time);

#endif
