/* The hours in the workings of a day. */
#ifndef WATERTURN_WORKINGS_HOURS_H
#define WATERTURN_WORKINGS_HOURS_H

#include "daemon/view/view.h"

/* Adds "hours" to the view of a day whose ET0 is the sum of its hours: formulas, and a row for each hour. */
void workings_hours(const struct view_context *context, const struct planting_day *day, cJSON *view);

#endif
