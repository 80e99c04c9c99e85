/* Farms of a size that are planned in earnest: pivots on wells, fields on a canal; invented numbers of the
 * kind that such farms have. */
#ifndef TESTS_TURNS_FARMS_H
#define TESTS_TURNS_FARMS_H

#include "tests/support/turns_cases.h"

enum farm_weather {
    FARM_DRY,     /* one course without rain */
    FARM_SHOWERS, /* three courses: dry, some rain, much rain */
    FARM_UNSURE,  /* five courses, rain on days of their own in each */
    FARM_WEATHER_COUNT
};

enum farm_rules {
    FARM_FREE,      /* day and night, as much as flows */
    FARM_NIGHTS,    /* fifteen hours from six in the evening, setting up takes an hour */
    FARM_ALLOTMENT, /* two thirds of what the supply could deliver, one day in the week closed */
    FARM_RULES_COUNT
};

extern const char *const farm_weather_name[FARM_WEATHER_COUNT], *const farm_rules_name[FARM_RULES_COUNT];

struct farm {
    uint64_t seed;
    double share; /* of the peak need that the supplies can deliver in the hours of FARM_FREE */
    enum farm_weather weather;
    enum farm_rules rules;
};

/* Center pivots, one at a time on each well; ten days. */
void farm_pivots(struct turns_case *it, const struct farm *farm, int wells, int per_well);
/* Surface and sprinkler fields on one canal, up to twenty at a time; ten days. */
void farm_canal(struct turns_case *it, const struct farm *farm, int fields);

#endif
