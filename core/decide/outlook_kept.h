/* Which members of an outlook certainly keep all of their water above the lower end of the roots: those need
 * not be gone through to know that nothing percolates. */
#ifndef WATERTURN_OUTLOOK_KEPT_H
#define WATERTURN_OUTLOOK_KEPT_H

#include "core/decide/outlook_light.h"

/* left_mm[member]: 0 or more where nothing percolates on any of the `days`, by the last bit; below 0 where
 * something may. It is the least depletion that the last evening can have. `lights` as outlook_step() takes
 * them from field and turn; the weather has those days at least. What is asked of the arguments is what
 * outlook_step() asks. */
void outlook_kept(const struct outlook_field *field, const struct light *lights, int days,
                  const struct outlook_weather *weather, double *left_mm);

#endif
