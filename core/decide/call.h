/* The morning's decision for one field.
 *
 * Watering is due today when this morning finds the depletion at or past the allowed one, else on the first
 * day of the path with the expected rain whose evening does; watering comes early in its day. An application
 * that takes several days starts so early that its last part is on that day; if that is today or has passed,
 * the call is to water today.
 *
 * The depth to run on a day is its morning's depletion less the rain expected to go into the soil on that day
 * and the next: it fills the root zone to field capacity and never past it if that rain falls. (If it fails
 * to fall, the next morning's call knows.) Where that rain leaves nothing to run, or less than the smallest
 * depth of the system and brings the depletion back under the allowed one, watering waits for it: rain may
 * cover it. When only the path without rain passes the allowed depletion within the days ahead, rain may
 * cover it too; then dates and depth are those of the path without rain: what to do by when if it stays away.
 * A depth that the system's own smallest application raises, or its largest cuts, is application_plan()'s.
 *
 * That is the call by the allowed depletion. The call by expected cost begins with it and asks the outlook
 * whether to water this morning or to wait (outlook_cost.h): see call_by_cost(). */
#ifndef WATERTURN_CALL_H
#define WATERTURN_CALL_H

#include <stdbool.h>
#include <stdint.h>

#include "core/balance/season.h"
#include "core/decide/application.h"
#include "core/decide/outlook_cost.h"

enum call_kind {
    CALL_WATER_TODAY,
    CALL_WATER_BY,
    CALL_RAIN_MAY_COVER,
    CALL_HOLD,
    CALL_CANNOT_SAY,
    CALL_KIND_COUNT
};

enum call_reason {
    CALL_REASON_PAST_ALLOWED,    /* the depletion is past the allowed one this morning */
    CALL_REASON_PASSES_TODAY,    /* it will be by this evening */
    CALL_REASON_PASSES_LATER,    /* on dry_date */
    CALL_REASON_RAIN_EXPECTED,   /* it would be without the rain expected until rain_until */
    CALL_REASON_ENOUGH,          /* not within the days ahead */
    CALL_REASON_RAINFED,         /* the field has no way to be watered */
    CALL_REASON_NOT_GROWING,     /* before planting or after the end of the season */
    CALL_REASON_RAIN_MISSING,    /* rain of past days is not known */
    CALL_REASON_WEATHER_MISSING, /* no weather for the days up to this morning */
    CALL_REASON_CARRIED,         /* the soil holds what the crop needs to its end (by cost) */
    CALL_REASON_TO_HARVEST,      /* dry without a turn, which is no deeper than the crop needs to its end (by
                                    cost) */
    CALL_REASON_COUNT
};

#define CALL_DAYS_MAX 16

/* What the call is made from. Paths hold the days ahead, today first, with no irrigation on any of them but
 * what is recorded for today. */
struct call_input {
    int32_t today;
    bool rainfed;
    int days;                              /* days ahead, 1..CALL_DAYS_MAX */
    const struct season_day *with_rain;    /* the path with the expected rain */
    const struct season_day *without_rain; /* the same days if no rain falls */
    const struct system *system;
    double settled_mm; /* what the records of today take off this morning's depletion; below 0: add to it. The
                          first day of the paths has it in its evening. 0 when nothing is recorded. */
    bool rain_settled; /* today's rain is recorded, and part of it */
    enum call_reason
        missing; /* CALL_REASON_RAIN_MISSING, ..._WEATHER_MISSING, or CALL_REASON_COUNT: nothing is */
};

struct call {
    enum call_kind kind;
    enum call_reason reason;
    int32_t date;     /* the morning */
    int32_t start_by; /* last day on which to start watering, today at the earliest; CALENDAR_NONE for hold
                         and cannot say */
    int32_t dry_date; /* first day whose evening depletion is at or past the allowed one, or today when this
                         morning's is; CALENDAR_NONE: not within the days ahead */
    double depletion_mm; /* this morning, less settled_mm; 0 at least */
    double allowed_mm;   /* today */
    double taw_mm;
    double rain_expected_mm; /* up to dry_date, or to the day after the start where rain fills the root zone
                                by then, or over all days ahead when there is no dry_date; 0 where nothing
                                grows or something is missing; NaN: rainfed, and no path */
    struct application application; /* what to run (zero for hold, rainfed, cannot say) */
    bool by_cost;                   /* by call_by_cost(); else by the allowed depletion alone */
    /* Chances, NaN without an outlook: that it is dry by the evening of dry_date (without one: within the
     * days ahead) when nothing is given; that rain keeps it from being dry on the day on which it is without
     * rain (NaN also when it is not dry even then, or when the rain that is waited for comes after it is
     * dry); */
    double dry_chance, cover_chance;
    /* that rain drives some of this morning's turn below the roots, and how much it then is (NaN: no turn).
     */
    double lost_chance, lost_mm;
    double spared_mm; /* gross depth that waiting is expected to spare; below 0: to cost; NaN: not weighed */
};

/* Names and keys are NULL outside the enums. "water today", "water by", "rain may cover it", "hold", "cannot
 * say". */
const char *call_kind_name(enum call_kind kind);
/* Stable key: "water_today", ... */
const char *call_kind_key(enum call_kind kind);
const char *call_reason_key(enum call_reason reason);

/* The call of a morning. Rainfed comes before all else; then what is missing; then whether anything grows.
 * Paths may be NULL when something is missing or the field is rainfed, and `days` 0: depletion_mm, allowed_mm
 * and taw_mm are then NaN. A system of SYSTEM_NONE is rainfed. The system may be NULL only when rainfed.
 * STATUS_OUT_OF_RANGE: `days` or `missing`. STATUS_MISSING: a path or the system is NULL. STATUS_ORDER: a day
 * of a path is not the day that it should be. STATUS_NOT_FINITE: depletion, allowed depletion or rain of a
 * path, or settled_mm. What application_plan() returns. On failure nothing is written. */
enum status call_make(const struct call_input *input, struct call *out);

/* Adds the chances of an outlook, whose first day is the morning, to a call of call_make() with paths. */
void call_add_chances(const struct call_input *input, const struct outlook *outlook, struct call *call);

/* The call by expected cost. It is call_make()'s, and then, of a field that can be watered and of which
 * something can be said, in this order:
 *
 * 1. not dry within the days ahead even without rain: hold; the reason tells whether the soil carries the
 * crop to its end (outlook_harvest_need_mm()), so that no turn is to come;
 * 2. a turn this morning is expected to cost less than waiting for any later day (clearly less, or not
 * clearly more, as call_make() waits or waters), and one that started tomorrow might end after the field is
 * dry: water today;
 * 3. rain is as likely as not to keep the field from being dry on the day on which it is without rain: rain
 * may cover it, with dates and depth of the path without rain, as above;
 * 4. the best day to wait for lies within the days ahead: water by that day, or by the day by
 *    which it is as likely dry as not if that is earlier; else hold.
 *
 * Statuses of call_make(), outlook_cost_run() and application_plan(). `cost` (may be NULL) gets what was
 * weighed, when it was. On failure nothing is written. */
enum status call_by_cost(const struct call_input *input, const struct outlook *outlook,
                         const struct outlook_cost_input *weigh, struct outlook_cost_room *room,
                         struct call *out, struct outlook_cost *cost);

#endif
