/* How long the outlook takes: 500 members, 1,000 fields, 10 days. Prints figures; fails when the run takes
 * more than the second that it may on two cores (here: one). */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "core/decide/outlook.h"
#include "tests/support/outlook_case.h"

#define FIRST   20200
#define FIELDS  1000
#define MEMBERS 500
#define DAYS    10
#define LEAST_S 1.0

static double now_s(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static struct outlook_field fields[FIELDS];
static double store[3][DAYS * MEMBERS], scratch[2 * MEMBERS];

static void make_fields(struct hostile *source) {
    for (int i = 0; i < FIELDS; i++) {
        struct season_prepared prepared;
        struct season_setup setup = outlook_case_setup(source, FIRST);
        struct season_state state;
        struct season_input input[DAYS];
        outlook_case_walk(source, &setup, 50, &prepared, &state);
        for (int day = 0; day < DAYS; day++)
            input[day] = outlook_case_day(source, state.next_date + day);
        if (outlook_field_prepare(&prepared, &state, input, DAYS, &fields[i]) != STATUS_OK)
            abort();
    }
}

/* An ensemble about a forecast. */
static double make_weather(struct outlook_weather *weather) {
    double et0_mm[DAYS], rain_mm[DAYS], began_s = now_s();
    struct outlook_errors errors;
    for (int day = 0; day < DAYS; day++) {
        et0_mm[day] = 5;
        rain_mm[day] = day % 4 == 1 ? 8 : 0;
    }
    if (outlook_errors_default(0.3, 8, &errors) != STATUS_OK)
        abort();
    struct outlook_weather_input input = {.today = FIRST + 50,
                                          .days = DAYS,
                                          .members = MEMBERS,
                                          .seed = 1,
                                          .issued = FIRST + 50,
                                          .et0_mm = et0_mm,
                                          .rain_mm = rain_mm,
                                          .errors = &errors,
                                          .skip_from = CALENDAR_NONE};
    if (outlook_weather_make(&input, weather) != STATUS_OK)
        abort();
    return now_s() - began_s;
}

int main(void) {
    struct hostile source = hostile_seed(5);
    struct outlook_room room = {store[2], scratch};
    struct outlook_weather weather = {.et0_mm = store[0], .rain_mm = store[1]};
    double sum = 0;
    make_fields(&source);
    double weather_s = make_weather(&weather), began_s = now_s();
    for (int i = 0; i < FIELDS; i++) {
        struct outlook outlook;
        if (outlook_run(&fields[i], &weather, 0, &room, &outlook) != STATUS_OK)
            abort();
        sum += outlook.passes[DAYS - 1];
    }
    double run_s = now_s() - began_s;
    printf("# measured outlook: %d members x %d fields x %d days in %.3f s on one core (%.0f ns a day), the "
           "ensemble of "
           "a station in %.4f s; mean chance %.2f\n",
           MEMBERS, FIELDS, DAYS, run_s, 1e9 * run_s / ((double)MEMBERS * FIELDS * DAYS), weather_s,
           sum / FIELDS);
    return run_s + weather_s < LEAST_S ? 0 : 1;
}
