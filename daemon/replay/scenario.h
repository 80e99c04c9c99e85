/* A season as it might have been: the farm with some settings changed, a rule of watering, another year's
 * weather. */
#ifndef WATERTURN_SCENARIO_H
#define WATERTURN_SCENARIO_H

#include <cjson/cJSON.h>
#include <stdbool.h>

#include "core/decide/watering.h"
#include "daemon/base/problem.h"
#include "daemon/farm/farm.h"

#define SCENARIO_NAME_SIZE  200
#define SCENARIOS_MAX       64
#define SCENARIO_WATER_MAX  32
#define SCENARIO_DATES_MAX  200
#define SCENARIO_YEARS_MOST 300

/* How one field is watered, or all that have none of their own. */
struct scenario_water {
    char field[FARM_NAME_SIZE]; /* "": every other */
    struct watering_rule rule;
    /* given days in place of the records: gross depth on each of `date`, or every so many days */
    double depth_mm; /* NaN: by the records */
    int date_count;
    int32_t date[SCENARIO_DATES_MAX];
    int every_d;      /* 0: on the dates alone */
    int32_t from, to; /* first and last day of it; CALENDAR_NONE: from planting, to the end */
};

struct scenario {
    char name[SCENARIO_NAME_SIZE];
    cJSON *changes;   /* the settings as they were given */
    struct farm farm; /* with the changes put over it */
    int water_count;
    struct scenario_water water[SCENARIO_WATER_MAX];
    int weather_years; /* the weather of so many years later; negative: earlier */
    bool use_readings; /* readings of soil water correct the balance, as in the ledger */
    bool use_stages;   /* recorded stages hold */
};

/* A scenario of settings: those of the farm file (farm_change.h), and
 *   irrigation = recorded | none | automatic          irrigation.share, .trigger, .refill  a share, as 80 %
 *   irrigation.limit, .depth  gross depth, as 25 mm   irrigation.stop  a stage (development, mid, late) or a
 * date irrigation.days  a list of dates                  irrigation.every  days      irrigation.from, .to
 * dates weather.years  whole years                        readings = use | leave      stages = use | leave
 * "irrigation:FIELD" is for one field. Without `readings` they are used when nothing is changed; without
 * `stages` recorded stages are left when the planting date, the crop, its region or the weather is another.
 * `file` is from change_parse(); `changes` is taken over also on failure. STATUS_REFUSED. */
enum status scenario_make(const char *name, const cJSON *file, cJSON *changes, struct scenario *out,
                          struct problems *problems);
void scenario_free(struct scenario *scenario);

/* The rule for a field. */
const struct scenario_water *scenario_water_of(const struct scenario *scenario, const char *field);

/* What yields and water are worth, in the user's own money. NaN: not given. */
struct money {
    char currency[FARM_NAME_SIZE],
        yield_unit[FARM_NAME_SIZE]; /* the yield's unit of mass; "" when not given */
    double max_yield;               /* without water stress, in yield_unit for each hectare */
    double price;                   /* of one yield_unit */
    double water_cost;              /* of one cubic metre */
    double pass_cost;               /* of one irrigation of one hectare */
    double season_cost;             /* of one hectare, whatever is watered */
};

struct money money_unknown(void);
/* From settings: currency, yield_unit, max_yield, price, water_cost, pass_cost, season_cost; those of an area
 * or a volume may name another one, as "max_yield = 200 /ac". STATUS_REFUSED. */
enum status money_read(const char *name, const cJSON *settings, struct money *out, struct problems *problems);

#endif
