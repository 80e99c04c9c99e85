/* The part of an outlook (outlook.h) that is about a turn: how much of it rain drives below the roots. */
#include <math.h>

#include "core/decide/outlook_kept.h"
#include "core/decide/outlook_lanes.h"

#define LOST_LEAST_MM 1.0
#define TURN_MAX_MM   2000.0

enum status outlook_turn_check(double net_mm) {
    if (isnan(net_mm))
        return STATUS_MISSING;
    return net_mm >= 0 && net_mm <= TURN_MAX_MM ? STATUS_OK : STATUS_OUT_OF_RANGE;
}

/* Members that are gone through side by side. */
struct some {
    int count, member[OUTLOOK_LANES];
};

/* What each of them loses below its roots in all. Lanes without a member go with the last one. */
static void run_some(const struct outlook_field *field, const struct light *lights, int days,
                     const struct outlook_weather *weather, const struct some *some, double *percolated_mm) {
    struct outlook_lanes lanes;
    struct outlook_lanes_room taken;
    outlook_lanes_begin(field, &lanes);
    for (int day = 0; day < days; day++) {
        for (int i = 0; i < OUTLOOK_LANES; i++) {
            int at = day * weather->members + some->member[i < some->count ? i : some->count - 1];
            taken.et0_mm[i] = weather->et0_mm[at];
            taken.rain_mm[i] = weather->rain_mm[at];
        }
        (void)outlook_lanes_step(&lights[day], (struct outlook_lanes_weather){taken.et0_mm, taken.rain_mm},
                                 &lanes);
    }
    for (int i = 0; i < some->count; i++)
        percolated_mm[some->member[i]] = lanes.evening->percolated_mm[i];
}

/* What each member loses below its roots in all with the turn. */
static void run_turn(const struct outlook_field *field, const struct outlook_weather *weather, int days,
                     double net_mm, double *percolated_mm) {
    struct light lights[OUTLOOK_DAYS_MAX];
    struct some some = {0};
    light_days(field, days, net_mm, lights);
    outlook_kept(field, lights, days, weather, percolated_mm);
    for (int m = 0; m < weather->members; m++) {
        if (percolated_mm[m] >= 0)
            percolated_mm[m] = 0;
        else
            some.member[some.count++] = m;
        if (some.count == OUTLOOK_LANES || (some.count > 0 && m == weather->members - 1)) {
            run_some(field, lights, days, weather, &some, percolated_mm);
            some.count = 0;
        }
    }
}

enum status outlook_add_turn(const struct outlook_field *field, const struct outlook_weather *weather,
                             double turn_net_mm, const struct outlook_room *room, struct outlook *out) {
    int count = 0;
    double all_mm = 0, lost_mm = 0, *with_mm = room->scratch + out->members;
    enum status status = outlook_turn_check(turn_net_mm);
    if (status != STATUS_OK)
        return status;
    out->turn_net_mm = turn_net_mm;
    if (!(turn_net_mm > 0))
        return STATUS_OK;
    run_turn(field, weather, out->days, turn_net_mm, with_mm);
    for (int m = 0; m < out->members; m++) {
        double more_mm = with_mm[m] - room->scratch[m];
        all_mm += more_mm;
        if (more_mm >= LOST_LEAST_MM) {
            lost_mm += more_mm;
            count++;
        }
    }
    out->lost_chance = (double)count / out->members;
    out->lost_mm = count > 0 ? lost_mm / count : 0;
    out->lost_mean_mm = all_mm / out->members;
    return STATUS_OK;
}
