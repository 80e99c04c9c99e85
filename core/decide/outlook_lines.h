/* The lines of an outlook: so much that 10, 50 and 90 % of its members have less. */
#ifndef WATERTURN_OUTLOOK_LINES_H
#define WATERTURN_OUTLOOK_LINES_H

#include "core/decide/outlook.h"

/* The values that stand at 10, 50 and 90 % of the way through the sorted ones, each rounded to the nearest
 * place. `count`: 1..OUTLOOK_MEMBERS_MAX, all finite; they stay where they are. `room`: for as many. */
void outlook_lines(const double *value, int count, double *room, double out[OUTLOOK_LINES]);

#endif
