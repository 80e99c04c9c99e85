/* What it is expected to cost to water this morning, or to wait: over the members of an outlook, from what
 * stress costs the crop and what water costs.
 *
 * For every member two kinds of plan are run through the days: a turn this morning; or no turn before a given
 * later day. Either way turns follow from then on by a plain rule that knows nothing of the member's weather:
 * a turn starts on the morning from which, without rain and at a multiple of the use of the prepared path
 * (BASE_GUARD), it could not be finished before the depletion passes the allowed one. (One step looked ahead
 * over a base rule: D.P. Bertsekas, Dynamic Programming and Optimal Control, "rollout".) In both kinds the
 * first CAUTION_DAYS days have CAUTION times a member's reference ET: yield is lost on days that are hotter
 * than those that the ensemble was drawn from (but not days of turns that are due just before the harvest).
 * The cost of a member is what its missing evapotranspiration, its gross depths, its deep percolation and its
 * starts cost, and at the end what it takes to refill what is depleted, as far as the rest of the season
 * needs it and rain will not.
 *
 * Water that is left in the soil at the end of the season is worth nothing here: winter's rain, or a watering
 * before the next crop, is taken to fill the soil again. So no turn is deeper than what the crop still needs
 * beyond what is stored (outlook_harvest_need_mm()), and none is given when the soil carries it to its end.
 *
 * The weighing departs from the call by the allowed depletion only where that is clearly right: a turn that
 * is due by it is put off, or made shallower, only when this would be right even if water was CLEARLY times
 * as cheap, so that next to no yield may be lost by it; one that is not due is given only if it would be
 * right even if water was CLEARLY times as dear. In between that call stands. Otherwise the two rules part
 * for nothing on many mornings, which takes more water in some weather and loses more yield in other.
 */
#ifndef WATERTURN_OUTLOOK_COST_H
#define WATERTURN_OUTLOOK_COST_H

#include "core/decide/application.h"
#include "core/decide/outlook.h"

/* In any one unit of money for the area of the field; only their proportions count. */
struct outlook_prices {
    double yield; /* of the full yield */
    double
        yield_per_mm[CROP_GROWING_STAGES]; /* share of the yield that 1 mm of missing ET in a stage costs */
    double gross_per_mm;                   /* water and pumping, for 1 mm as delivered */
    double leached_per_mm;                 /* what goes below the roots, on top of its water */
    double start;                          /* of one turn: work and wear */
};

/* Where nobody gave a price: relative to a yield of 1, so that the yield comes first. Stated defaults, no
 * source: water and pumping for 1 mm over the whole field cost OUTLOOK_PRICE_MM of the yield (far less than
 * they do on most farms; at the true price more stress pays); 1 mm leached half as much again; starting a
 * turn as much as OUTLOOK_PRICE_START_MM. */
#define OUTLOOK_PRICE_MM       0.000007
#define OUTLOOK_PRICE_START_MM 2.0
struct outlook_prices outlook_prices_default(void);

/* The share of the yield that 1 mm of missing ET costs: Ky over the span's ETc (FAO-56 eq. 90). `ky_stage`
 * with the ETc of the stage; where it is NaN `ky_season`, or 1 when that is NaN too, with the ETc of the
 * season. NaN when the span's ETc is not above 0. */
double outlook_yield_per_mm(double ky_stage, double stage_etc_mm, double ky_season, double season_etc_mm);

/* What the crop asks for after the days of the outlook, up to its end. */
struct outlook_later {
    double etc_mm;
    double rain_mm; /* that can be counted on */
    bool goes_on;   /* it grows on after that (a forage), or nobody knows how long (its end follows from
                       degree-days, or is overdue): no turn is cut for the end's sake */
};

/* Sets yield_per_mm of every stage from the ETc so far and what the rest of the season will ask for, and what
 * comes after the days of the outlook: reference ET of these as prepared, later that of the usual year from
 * field->today on (NULL, NaN: the mean of these days, no rain), lengths of stages in days. Rain that can be
 * counted on is FAO's dependable rain of the usual month. */
void outlook_prices_for(const struct season_setup *setup, const struct season_total *total,
                        const struct outlook_field *field, const struct outlook_usual *usual,
                        struct outlook_prices *prices, struct outlook_later *later);

/* What the call by the allowed depletion (call_make()) does this morning. */
enum outlook_plain { OUTLOOK_PLAIN_UNKNOWN, OUTLOOK_PLAIN_WATERS, OUTLOOK_PLAIN_WAITS };

struct outlook_cost_input {
    const struct outlook_field *field;
    const struct outlook_weather *weather;
    const struct system *system;
    const struct outlook_prices *prices;
    struct outlook_later later;
    enum outlook_plain plain;
};

/* What the crop needs beyond what is stored, mm, from the morning of a day with a depletion to its end, if no
 * rain falls within the days of the outlook and it uses twice what is expected; 0 or less: the soil carries
 * it to its end. HUGE_VAL: it goes on. NaN: a day outside 0..days - 1, or a NaN figure. */
double outlook_harvest_need_mm(const struct outlook_cost_input *input, int day, double depletion_mm);

struct outlook_cost {
    bool water_now;   /* a turn this morning is cheaper than waiting for any later day; where `plain` says
                         otherwise of this morning, it is clearly so */
    double now, wait; /* expected cost, in the prices' unit; `wait`: of the best day to wait for */
    int wait_day;     /* that day, 1..days; `days`: no turn within the days at all */
    double net_now_mm;
    bool to_harvest;                      /* net_now_mm is no more than the crop needs to its end */
    double days_now;                      /* on which that turn runs; 1 where the flow is not known */
    double gross_now_mm, gross_wait_mm;   /* expected gross depths within the days */
    double stress_now_mm, stress_wait_mm; /* expected missing ET */
    double spared_chance; /* share of members in which, when waiting, no turn is needed within the days */
};

/* Room: as outlook_run(), and states of all days: (days + 1) x members. */
struct outlook_cost_room {
    struct outlook_state *state;
    double *stress_mm; /* days x members: missing ET of a day without irrigation */
    double *leached_mm;
};

/* STATUS_MISSING: a NaN price or later figure, no system, SYSTEM_NONE. STATUS_OUT_OF_RANGE: a negative price,
 * depth or later figure, no days, `plain` outside the enum. What system_check() says. On failure nothing is
 * written. */
enum status outlook_cost_run(const struct outlook_cost_input *input, struct outlook_cost_room *room,
                             struct outlook_cost *out);

#endif
