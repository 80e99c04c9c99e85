/* What the mornings left: the ledger of each planting, the days ahead, the calls. All SQL is behind this. */
#ifndef WATERTURN_LEDGER_STORE_H
#define WATERTURN_LEDGER_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "core/balance/season.h"
#include "core/decide/call.h"
#include "core/weather/weather.h"
#include "daemon/farm/farm.h"

/* One row of the ledger with how its weather came to be. */
struct ledger_row {
    struct season_day day;
    uint8_t origin_temperature, origin_humidity, origin_radiation, origin_wind, origin_rain; /* weather_origin */
    uint8_t rule_humidity, rule_radiation, rule_wind;                                        /* weather_rule */
};

#define MORNING_PAST 14
#define MORNING_AHEAD 10

/* What a morning left for one field: all that the Today page and `call` show. */
struct field_morning {
    char field[FARM_NAME_SIZE], supply[FARM_NAME_SIZE], crop_name[FARM_NAME_SIZE];
    char trial[FARM_NAME_SIZE], treatment[FARM_NAME_SIZE]; /* "" when in none */
    struct system system;
    int32_t planting_date;      /* CALENDAR_NONE: nothing planted */
    struct call call;
    int32_t weather_until;      /* last day with observed weather that went in; CALENDAR_NONE: none */
    int32_t forecast_issued;    /* day on which the forecast used was issued; CALENDAR_NONE: none used */
    int past_count;             /* 0..MORNING_PAST rows, oldest first, the last one is yesterday (or weather_until) */
    struct ledger_row past[MORNING_PAST];
    int ahead_count;            /* 0..MORNING_AHEAD days, today first, no irrigation on any of them */
    struct season_day ahead[MORNING_AHEAD];
};

#endif
