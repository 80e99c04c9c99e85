/* The light step of the outlook (outlook.h) for several members of a day side by side: members differ by
 * their reference ET and their rain, all else of a day is the same for them. */
#ifndef WATERTURN_OUTLOOK_LANES_H
#define WATERTURN_OUTLOOK_LANES_H

#include "core/decide/outlook.h"

/* A whole number of any processor's vectors, and small enough for its first cache. */
#define OUTLOOK_LANES 32

/* A lane for each member. */
struct outlook_lanes {
    /* The day's weather, set by the caller; left as the step took it. */
    double et0_mm[OUTLOOK_LANES], rain_mm[OUTLOOK_LANES];
    /* struct outlook_state; by_system: 1 or 0. */
    double depletion_mm[OUTLOOK_LANES], excess_mm[OUTLOOK_LANES], below_mm[OUTLOOK_LANES];
    double surface_mm[OUTLOOK_LANES], wetted_fraction[OUTLOOK_LANES], by_system[OUTLOOK_LANES];
    /* What the day did. */
    double runoff_mm[OUTLOOK_LANES], allowed_mm[OUTLOOK_LANES], percolation_mm[OUTLOOK_LANES];
};

/* All lanes on the morning of the first day. */
void outlook_lanes_begin(const struct outlook_field *field, struct outlook_lanes *lanes);

/* All lanes through a day: what outlook_step() does, with the same bits and in the same range. */
void outlook_lanes_step(const struct outlook_field *field, int day, double net_mm,
                        struct outlook_lanes *lanes);

#endif
