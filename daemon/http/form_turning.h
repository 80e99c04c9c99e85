/* How a field takes its turns, in the form of its settings; and lists of days and hours that forms of turns
 * share. */
#ifndef WATERTURN_FORM_TURNING_H
#define WATERTURN_FORM_TURNING_H

#include "daemon/http/form_edit.h"

/* "mon" .. "sun" of 0 .. 6. */
const char *turning_day(int day);
/* The 7 days of the week, each value with a blank after it; they last as long as the edit. NULL: no
 * memory. */
const struct form_option *turning_week(struct edit *edit);

/* The 24 full hours, "0" and "0:00" first. */
const struct form_option *turning_hours(void);

void turning_show(struct edit *edit);
void turning_inputs(struct edit *edit);
void turning_read(struct edit *edit);

#endif
