/* The outlook of one field: its root zone through the days to come, once for each member of the weather's
 * ensemble (outlook_weather.h), with the chances that follow. FAO-56 chapters 7 and 8, as in season.h.
 *
 * Stages, coefficients, cover and roots of the days to come are those of the path with the forecast itself:
 * outlook_field_prepare() walks it once with season_step() and keeps what a day needs. A member then differs
 * by its reference ET and its rain. This light step is the season's own arithmetic without its checks: on the
 * weather it was prepared with it gives what season_step() gives. Where they part: the climate's pull on the
 * coefficients (eqs 62, 65, 70, 72) is the forecast's in every member, and so are degree-days and the Kc ini
 * of the single method by Annex 7. A reading of today shifts every member alike. */
#ifndef WATERTURN_OUTLOOK_H
#define WATERTURN_OUTLOOK_H

#include <stdbool.h>
#include <stdint.h>

#include "core/balance/season.h"
#include "core/decide/outlook_weather.h"

/* A day of the field as every member meets it. */
struct outlook_day {
    enum crop_stage stage;
    bool growing, single;
    double kcb, kc, kc_max, cover;
    double root_m, taw_mm;
    double reached_share;      /* of the depletion below the roots, that lies where they grow to today */
    double capillary_limit_mm; /* eq. as in root_zone_capillary_limit_mm() */
    double allowed_share;      /* of TAW; NaN: p */
    double ks_salt;
    double et0_mm, rain_mm;   /* of the path it was prepared with */
    double irrigation_net_mm; /* given on this day already (today's records) */
    double etc_mm;            /* of that path */
    bool rain_known;          /* rain_mm is what fell (a gauge read today): no member has another */
    double reading_shift_mm;  /* of today's reading, in the evening */
};

/* The morning's state, and what a day carries to the next. */
struct outlook_state {
    double depletion_mm, excess_mm, below_mm;
    double surface_mm, wetted_fraction;
    bool by_system;
};

struct outlook_field {
    int32_t today;
    int days;
    double days_in_season; /* before today */
    double settled_mm; /* what today's records take off the morning's depletion, as in struct call_input */
    struct outlook_day day[OUTLOOK_DAYS_MAX];
    struct outlook_state start;
    double p;
    bool p_fixed, drip_under_canopy, shallow;
    double rew_mm, tew_mm, evaporation_m;
    double cn_dry, cn_wet; /* NaN: no runoff */
    double system_wetted_fraction, drainage_days;
};

/* What a day of a member did. */
struct outlook_step {
    double raw_mm, allowed_mm, ks, etc_mm, eta_mm, percolation_mm, runoff_mm;
};

/* Walks the path from a morning: `inputs` has `days` days, 1..OUTLOOK_DAYS_MAX, from state->next_date on.
 * STATUS_OUT_OF_RANGE: days. What season_step() returns. On failure `out` is not written. */
enum status outlook_field_prepare(const struct season_prepared *prepared, const struct season_state *state,
                                  const struct season_input *inputs, int days, struct outlook_field *out);

/* The same where the path was walked before: path[i] is what season_step() made of inputs[i], from a copy of
 * the state on. */
enum status outlook_field_of_path(const struct season_prepared *prepared, const struct season_state *state,
                                  const struct season_input *inputs, const struct season_day *path, int days,
                                  struct outlook_field *out);

/* One light day: `state` moves on. Reference ET and rain as season_input has them, `net_mm` the net
 * irrigation on top of the day's own; all finite and 0 or more (ET0 may be below). */
void outlook_step(const struct outlook_field *field, int day, double et0_mm, double rain_mm, double net_mm,
                  struct outlook_state *state, struct outlook_step *out);

/* Room for the depletions of a run: days x members of the weather, the caller's. */
struct outlook_room {
    double *depletion_mm; /* [day * members + member]: evenings without irrigation */
    double *scratch;      /* 2 * members; what each lost below its roots, for outlook_add_turn(), and more */
};

enum outlook_line { OUTLOOK_P10, OUTLOOK_P50, OUTLOOK_P90, OUTLOOK_LINES };

struct outlook {
    int days, members;
    double passes[OUTLOOK_DAYS_MAX]; /* chance that by the evening of the day the depletion was at or past the
                                        allowed one; 1 when this morning's is */
    double depletion_mm[OUTLOOK_DAYS_MAX][OUTLOOK_LINES]; /* 10, 50 and 90 % of the members have less */
    int32_t dry_date[OUTLOOK_LINES]; /* first day by whose evening it is dry with a chance of 10, 50, 90 %;
                                        CALENDAR_NONE: not within the days */
    double rain_mean_mm[OUTLOOK_DAYS_MAX];
    double turn_net_mm;  /* of the turn that the next three are about */
    double lost_chance;  /* that rain drives some of it (LOST_LEAST of 1 mm) below the roots; NaN: no turn */
    double lost_mm;      /* mean over the members in which it does; 0 when none does */
    double lost_mean_mm; /* over all members */
};

/* Runs every member without irrigation and, when `turn_net_mm` is above 0, once more with a turn of that net
 * depth this morning. Days: the smaller of the weather's and the field's. No allocation.
 * STATUS_OUT_OF_RANGE: no days, members not 1..OUTLOOK_MEMBERS_MAX, or a turn below 0 or above 2000 mm.
 * STATUS_MISSING: NaN. */
enum status outlook_run(const struct outlook_field *field, const struct outlook_weather *weather,
                        double turn_net_mm, struct outlook_room *room, struct outlook *out);

/* What both say of the net depth of a turn. */
enum status outlook_turn_check(double net_mm);

/* The part of outlook_run() that is about a turn, for an outlook that it made without one: `field`, `weather`
 * and `room` are those of that run, and nothing else has used the room since. Statuses of the turn as above;
 * on failure nothing is written. */
enum status outlook_add_turn(const struct outlook_field *field, const struct outlook_weather *weather,
                             double turn_net_mm, const struct outlook_room *room, struct outlook *out);

/* The chance in tenths as people say it: 0..10, by rounding; -1 for NaN. 0 and 10 only when the chance is
 * below 1 % or above 99 %. */
int outlook_tenths(double chance);

#endif
