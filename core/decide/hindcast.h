/* Past seasons once more, morning by morning, with only what could be known then: what the outlook said
 * beside what came, and what a season of calls gave. The calls are obeyed: what is called for today is given
 * today, as far as the system gets in a day. */
#ifndef WATERTURN_HINDCAST_H
#define WATERTURN_HINDCAST_H

#include "core/decide/call.h"
#include "core/decide/outlook_cost.h"

#define HINDCAST_DAYS 10

/* What a forecast of a morning says: fills the weather of `days` days from `issued` on (et0, rain, wind,
 * humidity, temperatures; season_input_empty() before). False: there is none. */
typedef bool (*hindcast_forecast)(void *context, int32_t issued, int days, struct season_input *out);

/* Learns from what was known of forecasts on a morning, as the daemon does. */
typedef void (*hindcast_learn)(void *context, int32_t today, struct outlook_errors *errors);

/* A morning of a hindcast. */
struct hindcast_morning {
    int32_t date;
    const struct call *call;
    const struct outlook *outlook;
    bool passed[HINDCAST_DAYS]; /* what came: at or past the allowed depletion by that evening, without a turn
                                 */
    bool passed_path[HINDCAST_DAYS]; /* what the single path with the expected rain says */
    double share_morning;            /* depletion over the allowed one this morning */
};
typedef void (*hindcast_seen)(void *context, const struct hindcast_morning *morning);

struct hindcast_room {
    struct outlook_weather weather; /* HINDCAST_DAYS x members */
    struct outlook_room outlook;
    struct outlook_cost_room cost;
};

struct hindcast_input {
    const struct season_setup *setup;
    const struct season_input *weather; /* of each day from setup->first_date on, without irrigation */
    int days;
    const struct system *system;
    bool by_cost;                          /* calls by expected cost; else by the allowed depletion */
    const struct outlook_prices *prices;   /* yield_per_mm is filled in */
    const struct outlook_history *history; /* the season itself is left out of it */
    hindcast_forecast forecast;            /* NULL: no forecasts */
    hindcast_learn learn;                  /* with a forecast */
    void *forecast_context;
    int members;
    uint64_t seed;
    hindcast_seen seen; /* may be NULL */
    void *seen_context;
    bool outcomes; /* reckon what came of each morning without a turn, for `seen` */
};

struct hindcast_season {
    struct season_total total;
    int mornings, turns;
    double yield;    /* relative, by water alone: by season (FAO-56 eq. 90); NaN: no Ky */
    double by_stage; /* the same by stages, as a product; NaN: no Ky of a stage */
};

/* Runs one season. Statuses of what it calls; STATUS_OUT_OF_RANGE: days or members. */
enum status hindcast_run(const struct hindcast_input *input, struct hindcast_room *room,
                         struct hindcast_season *out);

#endif
