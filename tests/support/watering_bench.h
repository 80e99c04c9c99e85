/* A plain season under a rule of watering. Include cmocka.h first. */
#ifndef WATERTURN_TESTS_WATERING_BENCH_H
#define WATERTURN_TESTS_WATERING_BENCH_H

#include "core/decide/watering.h"
#include "tests/support/plain_season.h"

#define DAYS 90 /* the season ends within them */

struct bench {
    struct season_setup setup;
    struct season_input input[DAYS];
    struct season_day day[DAYS];
    struct system system;
    struct watering_rule rule;
    struct watering_supply supply;
    struct watering_denied denied;
    struct watering_season season;
    struct budget budget;
    int days;
};

static inline void lay(struct bench *bench) {
    bench->setup = plain_setup();
    for (int i = 0; i < DAYS; i++)
        bench->input[i] = plain_day(FIRST + i);
    bench->system = system_default(SYSTEM_SOLID_SET);
    bench->system.efficiency = 0.8;
    bench->system.area_m2 = 10000;
    bench->system.flow_m3_h = 100; /* 10 mm/h gross */
    bench->system.hours_per_day = 24;
    bench->rule = watering_rule_default();
    bench->supply = watering_supply_unbounded();
    bench->season = (struct watering_season){&bench->setup, bench->input,   DAYS,          &bench->system,
                                             &bench->rule,  &bench->supply, &bench->denied};
}

static inline enum status run(struct bench *bench) {
    return watering_run(&bench->season, bench->day, &bench->days, &bench->budget, NULL);
}

#endif
