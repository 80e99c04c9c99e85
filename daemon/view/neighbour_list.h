/* The neighbours of a station as people read them: how far, and how much higher. */
#ifndef WATERTURN_NEIGHBOUR_LIST_H
#define WATERTURN_NEIGHBOUR_LIST_H

#include "daemon/farm/neighbours.h"
#include "daemon/view/say.h"

/* "hill, 16 km away, 178 m higher". */
char *neighbour_say(const struct view_context *context, const struct neighbour_place *place,
                    char out[SAY_SIZE]);

/* A list of them: name, distance_km, higher_m, far, and text, which warns of those that are far. */
cJSON *neighbour_list(const struct view_context *context, const struct neighbour_place *places, int count);

#endif
