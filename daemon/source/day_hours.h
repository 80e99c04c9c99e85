/* Readings of hours, minutes or other spans made into days. */
#ifndef WATERTURN_DAY_HOURS_H
#define WATERTURN_DAY_HOURS_H

#include "daemon/source/day_builder.h"

/* Sorts the builder's readings and puts a value into each day of which enough is there. Readings that
 * contradict each other are a problem. STATUS_OK, or why the days could not be kept. */
enum status day_hours_finish(struct day_builder *builder);

#endif
