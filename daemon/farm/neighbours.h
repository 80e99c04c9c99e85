/* Where the stations lie whose measurements fill what a station lacks. */
#ifndef WATERTURN_NEIGHBOURS_H
#define WATERTURN_NEIGHBOURS_H

#include "daemon/farm/farm.h"

/* From here on a neighbour is called far: what it measured, rain above all, need not hold at the station.
 * Common practice, no source. */
#define NEIGHBOUR_FAR_KM 50.0
#define NEIGHBOUR_FAR_M  500.0

struct neighbour_place {
    char name[FARM_NAME_SIZE];
    double distance_km; /* along the great circle; NaN: a longitude is not known */
    double higher_m;    /* than the station; below 0: lower */
    bool far;
};

/* Those of a station in its order; names that are no station's are passed over. Returns how many. */
int neighbour_places(const struct farm *farm, const struct farm_station *station,
                     struct neighbour_place out[FARM_NEIGHBOURS_MAX]);

#endif
