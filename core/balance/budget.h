/* The water budget of a season and of each of its stages, summed from the days of the ledger. */
#ifndef WATERTURN_BUDGET_H
#define WATERTURN_BUDGET_H

#include <stdint.h>

#include "core/balance/season.h"

/* Sums over days, mm over the whole field. */
struct budget_part {
    int days;
    double rain_mm, runoff_mm;
    double effective_rain_mm; /* rain, less runoff, less what of the percolation was rain: see budget_add() */
    double irrigation_gross_mm, irrigation_net_mm;
    int irrigations; /* days with irrigation */
    double capillary_mm, percolation_mm;
    double et0_mm, etc_mm, eta_mm, evaporation_mm, transpiration_mm;
    double new_soil_mm, reading_shift_mm;
    double storage_change_mm; /* water in the root zone, last evening less first morning; soil that roots
                                 newly reached brings its own deficit (new_soil_mm) */
    double closure_mm;        /* of the sums (eq. 85): 0 but for rounding */
    int stress_days;          /* days of growth with Ks below 1 */
    double stress_mm;         /* ETc less actual ET on days of growth */
    double stress_deepest_mm; /* the largest depletion beyond RAW on an evening of growth; 0: never beyond */
    double ks_least;          /* smallest Ks on a day of growth; 1 when there was none */
};

/* budget_empty() begins it. */
struct budget {
    struct budget_part season;
    struct budget_part
        stage[STAGE_ENDED];           /* by enum crop_stage; STAGE_BARE counts the days before planting */
    int32_t stage_first[STAGE_ENDED]; /* first day of each; CALENDAR_NONE: not reached */
    int32_t first, last;              /* CALENDAR_NONE: no day yet */
    double closure_max_mm;            /* largest absolute closure of a day */
    double rain_share;                /* share of rain in the water that last entered the soil */
};

struct budget budget_empty(void);

/* Adds a day; days come in order. Percolation is taken to hold rain and irrigation in the proportion in which
 * they last entered the soil (own choice: the balance does not tell them apart). STATUS_OUT_OF_RANGE: the
 * day's stage is STAGE_ENDED or outside the enum, and nothing was added. */
enum status budget_add(struct budget *budget, const struct season_day *day);

#endif
