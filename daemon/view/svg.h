/* What the pictures have in common. */
#ifndef WATERTURN_SVG_H
#define WATERTURN_SVG_H

#include "daemon/base/text.h"

/* Text as it may stand in an element or, since quotes are escaped too, in an attribute. */
void svg_add_escaped(struct text *out, const char *string);

/* A box as a part of a path, from its upper left corner on. */
void svg_add_box(struct text *out, int x, int y, int width, int height);

/* A step of 1, 2 or 5 times a power of ten that parts 0..`most` into at most `parts` steps. `most` above 0.
 */
double svg_nice_step(double most, int parts);

#endif
