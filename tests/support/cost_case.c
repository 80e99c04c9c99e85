#include "tests/support/cost_case.h"

#include <math.h>
#include <stdlib.h>

static double et0_store[COST_CASE_DAYS * COST_CASE_MEMBERS], rain_store[COST_CASE_DAYS * COST_CASE_MEMBERS],
    room_store[3][COST_CASE_DAYS * COST_CASE_MEMBERS], scratch[2 * COST_CASE_MEMBERS];
static struct outlook_state states[(COST_CASE_DAYS + 1) * COST_CASE_MEMBERS];
struct outlook_room cost_case_room = {room_store[0], scratch};
struct outlook_cost_room cost_case_cost_room = {states, room_store[1], room_store[2]};

static void make_field(struct outlook_field *field, double depletion_mm) {
    *field = (struct outlook_field){
        .today = COST_CASE_TODAY,
        .days = COST_CASE_DAYS,
        .start = {.depletion_mm = depletion_mm, .surface_mm = 20, .wetted_fraction = 1},
        .p = 0.5,
        .p_fixed = true,
        .rew_mm = 8,
        .tew_mm = 20,
        .evaporation_m = 0.1,
        .cn_dry = NAN,
        .cn_wet = NAN,
        .system_wetted_fraction = 1};
    for (int i = 0; i < COST_CASE_DAYS; i++)
        field->day[i] = (struct outlook_day){.stage = STAGE_MID,
                                             .growing = true,
                                             .kcb = 1,
                                             .kc_max = 1.05,
                                             .cover = 0.99,
                                             .root_m = 1,
                                             .taw_mm = 100,
                                             .allowed_share = NAN,
                                             .ks_salt = 1,
                                             .et0_mm = 5,
                                             .etc_mm = 5};
}

/* `share` of the members has `rain_mm` on the day `rain_day`. */
static void make_weather(struct outlook_weather *weather, int rain_day, double rain_mm, double share) {
    *weather = (struct outlook_weather){
        .days = COST_CASE_DAYS, .members = COST_CASE_MEMBERS, .et0_mm = et0_store, .rain_mm = rain_store};
    for (int day = 0; day < COST_CASE_DAYS; day++)
        for (int m = 0; m < COST_CASE_MEMBERS; m++) {
            et0_store[day * COST_CASE_MEMBERS + m] = 5;
            rain_store[day * COST_CASE_MEMBERS + m] =
                day == rain_day && m < share * COST_CASE_MEMBERS ? rain_mm : 0;
        }
    outlook_weather_means(weather);
}

static void make_path(struct season_day *path, double depletion_mm, int rain_day, double rain_mm) {
    for (int i = 0; i < COST_CASE_DAYS; i++) {
        double rain = i == rain_day ? rain_mm : 0, evening_mm = fmin(fmax(depletion_mm - rain, 0) + 5, 100);
        path[i] = (struct season_day){.date = COST_CASE_TODAY + i,
                                      .stage = STAGE_MID,
                                      .taw_mm = 100,
                                      .allowed_mm = 50,
                                      .rain_mm = rain,
                                      .depletion_start_mm = depletion_mm,
                                      .depletion_mm = evening_mm};
        depletion_mm = evening_mm;
    }
}

void cost_case_make(struct cost_case *one, double depletion_mm, int rain_day, double rain_mm, double share) {
    make_field(&one->field, depletion_mm);
    make_weather(&one->weather, rain_day, rain_mm, share);
    make_path(one->with_rain, depletion_mm, share >= 0.5 ? rain_day : -1, rain_mm);
    make_path(one->without_rain, depletion_mm, -1, 0);
    one->system = system_default(SYSTEM_SOLID_SET);
    one->system.area_m2 = 10000;
    one->system.flow_m3_h = 100;
    one->system.hours_per_day = 20;
    one->prices = outlook_prices_default();
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        one->prices.yield_per_mm[k] = 1.0 / 500;
    if (outlook_run(&one->field, &one->weather, 0, &cost_case_room, &one->outlook) != STATUS_OK)
        abort();
    one->input = (struct call_input){.today = COST_CASE_TODAY,
                                     .days = COST_CASE_DAYS,
                                     .with_rain = one->with_rain,
                                     .without_rain = one->without_rain,
                                     .system = &one->system,
                                     .missing = CALL_REASON_COUNT};
    one->weigh = (struct outlook_cost_input){.field = &one->field,
                                             .weather = &one->weather,
                                             .system = &one->system,
                                             .prices = &one->prices,
                                             .later = {.etc_mm = 200}};
}
