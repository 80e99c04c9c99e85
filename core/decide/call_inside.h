/* What the two halves of call.h share. Nobody else includes this. */
#ifndef WATERTURN_CALL_INSIDE_H
#define WATERTURN_CALL_INSIDE_H

#include "core/decide/call.h"

/* Makes of `call` the one that waits for rain, with dates and depth of the path without it, which is dry on
 * the day `dry`. */
enum status call_await_rain(const struct call_input *input, int dry, struct call *call);

#endif
