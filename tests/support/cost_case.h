/* A field and its weather of which the better plan is plain: to water now, or to wait. */
#ifndef WATERTURN_TESTS_COST_CASE_H
#define WATERTURN_TESTS_COST_CASE_H

#include "core/decide/call.h"

#define COST_CASE_TODAY   20300
#define COST_CASE_DAYS    10
#define COST_CASE_MEMBERS 100

/* 100 mm of TAW, 50 mm allowed and RAW, a crop at full cover that uses 5 mm a day; 1 ha under a solid set. */
struct cost_case {
    struct outlook_field field;
    struct outlook_weather weather;
    struct season_day with_rain[COST_CASE_DAYS], without_rain[COST_CASE_DAYS];
    struct system system;
    struct outlook_prices prices;
    struct outlook outlook;
    struct call_input input;
    struct outlook_cost_input weigh;
};

/* Rooms for one case at a time. */
extern struct outlook_room cost_case_room;
extern struct outlook_cost_room cost_case_cost_room;

/* A morning with a depletion; `share` of the members has `rain_mm` on the day `rain_day`, as has the path
 * with the expected rain when it is half of them or more. */
void cost_case_make(struct cost_case *one, double depletion_mm, int rain_day, double rain_mm, double share);

#endif
