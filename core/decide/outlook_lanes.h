/* The light step of the outlook (outlook.h) for several members of a day side by side: members differ by
 * their reference ET and their rain, all else of a day is the same for them (struct light). */
#ifndef WATERTURN_OUTLOOK_LANES_H
#define WATERTURN_OUTLOOK_LANES_H

#include "core/decide/outlook_light.h"

/* A whole number of any processor's vectors, and small enough for its first cache. */
#define OUTLOOK_LANES 32

struct outlook_lanes_state {
    /* struct outlook_state of each lane; by_system: 1 or 0. */
    double depletion_mm[OUTLOOK_LANES], excess_mm[OUTLOOK_LANES], below_mm[OUTLOOK_LANES];
    double surface_mm[OUTLOOK_LANES], wetted_fraction[OUTLOOK_LANES], by_system[OUTLOOK_LANES];
    /* Of all days so far. dry: 1 from the first evening (or morning) at or past the allowed depletion on. */
    double percolated_mm[OUTLOOK_LANES], dry[OUTLOOK_LANES];
};

/* A day's weather of OUTLOOK_LANES members. */
struct outlook_lanes_weather {
    const double *et0_mm, *rain_mm;
};
struct outlook_lanes_room {
    double et0_mm[OUTLOOK_LANES], rain_mm[OUTLOOK_LANES];
};

/* That of the members from `first` on, where it stands; in `room` where there are fewer than OUTLOOK_LANES:
 * lanes without a member go with the last one. */
struct outlook_lanes_weather outlook_lanes_weather_of(const struct outlook_weather *weather, int day,
                                                      int first, struct outlook_lanes_room *room);

/* A lane for each member. */
struct outlook_lanes {
    double runoff_mm[OUTLOOK_LANES];
    struct outlook_lanes_state *morning, *evening; /* of the day that was gone through: they take turns */
    struct outlook_lanes_state state[2];
    bool ran_off; /* runoff_mm is not 0 everywhere */
};

/* All lanes on the morning of the first day. */
void outlook_lanes_begin(const struct outlook_field *field, struct outlook_lanes *lanes);

/* All lanes through a day, to its evening: what outlook_step() does, with the same bits and in the same
 * range. How many are dry then. */
int outlook_lanes_step(const struct light *light, struct outlook_lanes_weather weather,
                       struct outlook_lanes *lanes);

#endif
