/* One planting of a scenario made ready to run as often as wanted: its setup, the inputs of its days, its
 * rule of watering. */
#ifndef WATERTURN_SEASON_CASE_H
#define WATERTURN_SEASON_CASE_H

#include "core/decide/watering.h"
#include "daemon/morning/station_days.h"
#include "daemon/replay/scenario.h"

struct season_case {
    const struct farm_planting *planting; /* both in the scenario's farm */
    const struct farm_field *field;
    struct season_setup setup;
    struct season_input *input;
    int count, room;
    struct watering_rule rule;
    struct watering_supply supply; /* of the field, for the automatic rule; unbounded where it has none */
    int32_t
        weather_missing; /* first day whose weather is not known; the season stops before it. CALENDAR_NONE */
    bool open;           /* the days end because the weather does, not the season */
    int readings;        /* days with readings of soil water that were left, or used */
};

/* `out` starts zeroed, or from an earlier call, whose storage is used again. `days` is of the field's
 * station; days before `until` count as past. As planting_run() has it for a scenario that changes nothing.
 * `whole_farm`: a rule of watering for all fields leaves one without an irrigation system as it was; else,
 * and a rule for that field, is STATUS_REFUSED.
 */
enum status season_case_make(const struct scenario *scenario, size_t planting,
                             const struct station_days *days, int32_t until, bool whole_farm,
                             struct season_case *out, struct problems *problems);
void season_case_free(struct season_case *season);

/* Whether the season draws on a supply: the field has one, and the automatic rule waters it. */
bool season_case_draws(const struct season_case *season);

/* watering_run(), with the day at fault in `problems`. `day` has room for season->count rows, or is NULL;
 * `denied` may be NULL. */
enum status season_case_run(const struct season_case *season, const char *name, struct season_day *day,
                            int *days, struct budget *budget, struct watering_denied *denied,
                            struct problems *problems);

/* The same day and month `years` later (earlier: negative); 29 February becomes the 28th. CALENDAR_NONE
 * outside the calendar. */
int32_t season_case_shift(int32_t date, int years);

#endif
