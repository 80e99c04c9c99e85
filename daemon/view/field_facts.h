/* What is known of a field besides its mornings: its place in the farm, its planting, what was recorded,
 * where its weather comes from. */
#ifndef WATERTURN_FIELD_FACTS_H
#define WATERTURN_FIELD_FACTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/farm/neighbours.h"

/* A source of the field's station. */
struct field_source {
    char name[FARM_NAME_SIZE];
    enum source_kind kind;
    int32_t last_day;  /* newest day that it has; CALENDAR_NONE */
    int32_t taken_day; /* when it was last read, on the farm's calendar; CALENDAR_NONE: never */
    int taken_minute;  /* of that day, farm's time */
};

#define FIELD_SOURCES_MAX 8

struct field_facts {
    struct farm_field field;
    struct farm_soil soil;
    struct farm_station station;
    struct neighbour_place neighbour[FARM_NEIGHBOURS_MAX]; /* of the station, in its order */
    int neighbour_count;
    bool planted;
    struct farm_planting planting; /* when planted */
    struct farm_record *record;    /* since the planting's first day, newest first; malloc'd */
    size_t record_count;
    struct field_source source[FIELD_SOURCES_MAX];
    size_t source_count;
};

#endif
