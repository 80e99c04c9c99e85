/* One planting from its first day to this morning, then the days ahead, then the call. No store and no files:
 * the morning's run, `replay` and the tests call the same. */
#ifndef WATERTURN_PLANTING_RUN_H
#define WATERTURN_PLANTING_RUN_H

#include <stddef.h>
#include <stdint.h>

#include "core/decide/call.h"
#include "daemon/base/problem.h"
#include "daemon/farm/farm.h"
#include "daemon/morning/station_days.h"
#include "daemon/morning/station_outlook.h"
#include "daemon/store/ledger_store.h"

/* Rain that is not known is counted as none and flagged; a call is only made when it is known for this many
 * days before the morning. */
#define RAIN_KNOWN_DAYS 14

struct planting_run {
    const struct station_outlook *station_outlook; /* the caller's, of the field's station; NULL: calls are
                                                      by the allowed depletion and say no chances */
    struct outlook_rooms *rooms;                   /* the caller's, with the outlook */
    struct ledger_row *row; /* the ledger up to yesterday, or to the end of the season */
    size_t row_count, row_room;
    struct season_total total;
    int ahead_count;                            /* 0 when there is nothing to look ahead from */
    struct season_day ahead[MORNING_AHEAD];     /* with the rain that is expected */
    struct season_day ahead_dry[MORNING_AHEAD]; /* if none falls */
    int32_t rain_missing; /* first of the last RAIN_KNOWN_DAYS days whose rain is not known; CALENDAR_NONE */
    int32_t weather_missing; /* first day whose weather is not known at all; the ledger ends before it;
                                CALENDAR_NONE */
    struct call call;
    struct call_outlook outlook; /* what the call was made from; 0 days: none */
    /* The days ahead as the outlook and the turns of a supply take them, with what stress in them costs; 0
     * days: nothing grows, nothing can be said, or the field has neither. */
    struct outlook_field field;
    struct outlook_prices prices;
    struct outlook_later later; /* of the crop after these days, up to its end */
};

/* `run` starts zeroed, or from an earlier call, whose storage is used again. `until`: first day that belongs
 * to the field's next planting, or CALENDAR_NONE. Problems are added where inputs contradict each other. */
enum status planting_run(const struct farm *farm, const struct farm_planting *planting,
                         const struct station_days *days, int32_t today, int32_t until,
                         struct planting_run *run, struct problems *problems);
/* One day of a planting with all that went into its row. */
struct planting_day {
    struct season_setup setup;
    enum reference_kind reference;
    bool ahead;                        /* a day to come, with the rain that is expected */
    struct season_state before, after; /* morning and evening */
    struct season_input input;
    unsigned records; /* kinds of the day's records: 1u << kind */
    struct station_day weather;
    struct station_hours hours; /* where weather.hours says that ET0 was summed from them */
    struct season_trace trace;
    struct ledger_row row;
};

/* Runs as planting_run() does, and keeps the day `date`, past or to come. STATUS_NOT_FOUND: the planting's
 * ledger and the days ahead do not have it. */
enum status planting_run_day(const struct farm *farm, const struct farm_planting *planting,
                             const struct station_days *days, int32_t today, int32_t until, int32_t date,
                             struct planting_day *out, struct problems *problems);

void planting_run_free(struct planting_run *run);

/* The planting of a field that holds on a morning: the newest that started by then, or else the next to come;
 * an index in farm->planting, or -1. */
int planting_current(const struct farm *farm, const char *field, int32_t today);

/* First day of the field's planting that comes after this one; CALENDAR_NONE: none does. */
int32_t planting_until(const struct farm *farm, size_t planting);

#endif
