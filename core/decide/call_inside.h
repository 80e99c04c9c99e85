/* What the two halves of call.h share. Nobody else includes this. */
#ifndef WATERTURN_CALL_INSIDE_H
#define WATERTURN_CALL_INSIDE_H

#include "core/decide/call.h"

/* The depletion from which a day of a path sets out, as it is known now. */
double call_start_mm(const struct call_input *input, const struct season_day *path, int day);

/* First day of a path that passes the allowed depletion; -1: none does. */
int call_dry_day(const struct call_input *input, const struct season_day *path);

/* Makes of `call` the one that waits for rain, with dates and depth of the path without it, which is dry on
 * the day `dry`. */
enum status call_await_rain(const struct call_input *input, int dry, struct call *call);

#endif
