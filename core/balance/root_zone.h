/* The root zone: one day of its water balance, FAO-56 chapter 8, eqs 82 to 88.
 *
 * The order of a day: roots reach new soil with its own water; rain less runoff, irrigation and capillary
 * rise come in (eq. 85); Ks follows from the depletion that this leaves; the day evaporates and transpires;
 * only then what is left above field capacity drains (eq. 88 and the text under eq. 86). Depths are mm over
 * the field; depletion is counted from field capacity and always 0..TAW (eq. 86). What season_step() calls
 * each day stands here, for the compiler to put it where it is called. */
#ifndef WATERTURN_ROOT_ZONE_H
#define WATERTURN_ROOT_ZONE_H

#include "core/base/extreme.h"
#include "core/base/inlined.h"
#include "core/base/status.h"

/* Carried from day to day. */
struct root_zone {
    double depletion_mm;       /* Dr, 0..TAW */
    double below_depletion_mm; /* of the soil between the roots and their greatest depth */
    double excess_mm;          /* above field capacity, still draining; only where depletion is 0 */
};

/* What comes in during a day. */
struct root_zone_inflow {
    double new_soil_mm;        /* depletion of soil newly reached, out of below_depletion_mm */
    double infiltration_mm;    /* rain less runoff */
    double irrigation_mm;      /* net */
    double capillary_limit_mm; /* the most that may rise; it stops at field capacity */
};

/* What a day did. */
struct root_zone_flow {
    double new_soil_mm; /* of the inflow's, no more than the roots' own TAW can hold */
    double capillary_mm;
    double eta_mm;         /* evaporation and transpiration as they could be met */
    double percolation_mm; /* DP */
};

/* Ks of water, eq. 84: 1 up to RAW, then (TAW - Dr) / (TAW - RAW). 0 <= Dr <= TAW, 0 <= RAW < TAW. NaN
 * outside; the second form is for what is known to lie inside. */
double root_zone_ks(double taw_mm, double raw_mm, double depletion_mm);
INLINED double root_zone_ks_inside(double taw_mm, double raw_mm, double depletion_mm) {
    return depletion_mm > raw_mm ? (taw_mm - depletion_mm) / (taw_mm - raw_mm) : 1;
}

/* The most that rises from a water table to the roots in a day, mm: all of `capillary_max_mm` when the table
 * stands within the root zone, nothing from 1 m below the roots on (FAO-56 chapter 8: "assumed zero when the
 * water table is more than about 1 m below the bottom of the root zone", from memory), and linear between
 * (our own choice, no source). Depths in m, 0 or more; water table NaN: none, 0. NaN when another argument is
 * negative or not finite. */
double root_zone_capillary_limit_mm(double water_table_m, double root_m, double capillary_max_mm);

/* Takes the inflow in. The returned depletion is what Ks counts with, 0..TAW. `zone` holds depletion and
 * excess as one balance until root_zone_close(). `taw_mm`: of the root zone with the new soil, not below the
 * depletion. All terms finite, 0 or more; new_soil_mm at most below_depletion_mm. STATUS_MISSING for NaN,
 * STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. On failure nothing is changed. */
enum status root_zone_open(struct root_zone *zone, const struct root_zone_inflow *inflow, double taw_mm,
                           struct root_zone_flow *flow, double *depletion_mm);

/* Closes the day. `demand_mm` is what evaporates and transpires; where the root zone holds less above wilting
 * point (depletion would pass TAW, eq. 86) flow->eta_mm is that. Then drainage: the excess above field
 * capacity at once when `drainage_days` is 1 or less, else a share 1 / drainage_days of it each day. What
 * drains fills the soil below the roots first. Arguments finite; demand 0 or more, TAW above 0, drainage_days
 * 0..30. Statuses as above. */
enum status root_zone_close(struct root_zone *zone, double demand_mm, double taw_mm, double drainage_days,
                            struct root_zone_flow *flow);

/* The same two of what is known to lie inside; the first returns the depletion. */
INLINED double root_zone_open_inside(struct root_zone *zone, const struct root_zone_inflow *inflow,
                                     double taw_mm, struct root_zone_flow *flow) {
    flow->new_soil_mm = lesser_of(inflow->new_soil_mm, taw_mm - zone->depletion_mm);
    /* Below field capacity positive, above it negative. */
    double balance_mm = zone->depletion_mm - zone->excess_mm + flow->new_soil_mm - inflow->infiltration_mm -
                        inflow->irrigation_mm;
    if (MOSTLY(balance_mm > 0)) {
        flow->capillary_mm = lesser_of(inflow->capillary_limit_mm, balance_mm);
        zone->depletion_mm = lesser_of(balance_mm - flow->capillary_mm, taw_mm);
        zone->excess_mm = 0;
    } else {
        flow->capillary_mm = zone->depletion_mm = 0;
        zone->excess_mm = 0 - balance_mm;
    }
    zone->below_depletion_mm -= flow->new_soil_mm;
    return zone->depletion_mm;
}

INLINED void root_zone_close_inside(struct root_zone *zone, double demand_mm, double taw_mm,
                                    double drainage_days, struct root_zone_flow *flow) {
    double balance_mm = zone->depletion_mm - zone->excess_mm;
    double held_mm = taw_mm - balance_mm;
    flow->eta_mm = lesser_of(demand_mm, held_mm);
    balance_mm = demand_mm < held_mm ? balance_mm + demand_mm : taw_mm;
    flow->percolation_mm = 0;
    if (MOSTLY(balance_mm > 0)) {
        zone->depletion_mm = balance_mm;
        zone->excess_mm = 0;
        return;
    }
    double excess_mm = 0 - balance_mm;
    flow->percolation_mm = drainage_days > 1 ? excess_mm / drainage_days : excess_mm;
    zone->depletion_mm = 0;
    zone->excess_mm = excess_mm - flow->percolation_mm;
    zone->below_depletion_mm -= lesser_of(flow->percolation_mm, zone->below_depletion_mm);
}

/* A reading of the depletion, weighed against the balance's own. */
struct root_zone_reading {
    double depletion_mm; /* read, any number: above field capacity negative, below wilting point above TAW */
    double sd_mm;        /* its standard deviation, 0: taken as it stands */
};

/* Weight of a reading, 0..1: v / (v + sd^2), where v is the variance of the balance, mm2 (the gain of a
 * Kalman filter with one state). 1 when sd is 0. Both 0 or more; NaN outside. */
double root_zone_gain(double variance_mm2, double sd_mm);

/* Moves the depletion towards a reading by its weight, inside 0..TAW: the balance knows no water above field
 * capacity in the evening but what drains, and none below wilting point. Excess goes when the reading lies
 * below field capacity. `*variance_mm2` shrinks by the weight; `*shift_mm` is what the balance (depletion
 * less excess) moved. STATUS_MISSING for NaN, STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE (sd, variance or TAW).
 */
enum status root_zone_correct(struct root_zone *zone, const struct root_zone_reading *reading, double taw_mm,
                              double *variance_mm2, double *shift_mm);

#endif
