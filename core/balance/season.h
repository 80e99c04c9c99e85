/* The season of one planting: the daily soil-water balance from a first day (bare soil, or planting) to the
 * last, day by day, with nothing but the caller's storage. FAO-56 chapters 7 and 8.
 *
 *   season_begin(&setup, &state);
 *   for each day in order:  season_step(&setup, &state, &input, &day);  season_total_add(&setup, &total,
 * &day);
 *
 * Depths are mm over the whole field. Depletion is counted from field capacity. */
#ifndef WATERTURN_SEASON_H
#define WATERTURN_SEASON_H

#include <stdbool.h>
#include <stdint.h>

#include "core/balance/crop.h"
#include "core/balance/soil.h"
#include "core/base/calendar.h"
#include "core/base/status.h"

enum coefficient_method { COEFFICIENT_DUAL, COEFFICIENT_SINGLE };

/* Everything that is fixed for the season. season_setup_default() fills all but crop, soil and dates. */
struct season_setup {
    struct crop crop;
    struct soil soil;
    enum coefficient_method method;
    int32_t first_date; /* first day of the balance, on or before planting_date */
    int32_t planting_date;
    int32_t
        stage_date[CROP_GROWING_STAGES]; /* observed first day of development, mid, late, and the end of the
                                            season (harvest); CALENDAR_NONE: not observed. In order. */
    double
        start_depletion;  /* share of available water gone on first_date, in the root zone and below: 0..1 */
    double start_surface; /* share of TEW gone from the surface layer on first_date: 0..1 */
    double system_wetted_fraction; /* fw of the irrigation system, Table 20: 0.05..1 */
    bool drip_under_canopy;        /* fw of drip under the canopy is reduced with cover, chapter 7 */
    double climate_wind_m_s, climate_rh_min_pct; /* for eqs 62, 65, 70; NaN: each day's own (causal) */
    double drainage_days;    /* time above field capacity; 0: excess drains the same day (eq. 88) */
    double water_table_m;    /* depth for capillary rise; NaN: none */
    double capillary_max_mm; /* largest capillary rise, mm/day; 0 */
    double ece_ds_m;         /* salinity of the root zone; NaN: not considered */
    double wetting_interval_d, wetting_depth_mm; /* for Kc ini of the single method; NaN: Table 12's value */
};

/* What one day brings. season_input_empty() fills "nothing". */
struct season_input {
    int32_t date;
    double et0_mm; /* of the reference that the crop's coefficients belong to */
    double wind_2m_m_s, rh_min_pct, tmax_c, tmin_c;
    double rain_mm;
    double irrigation_gross_mm; /* as delivered */
    double irrigation_net_mm;   /* as it enters the soil; <= gross */
    double observed_cover;      /* fc seen in the field, 0..1; NaN */
    double reading_m3_m3;       /* mean water content of the root zone in the evening; NaN */
    double reading_sd_m3_m3;    /* its standard deviation; 0: taken as it stands */
    bool cutting;               /* a forage crop is cut on this day */
};

/* One row of the ledger. All of the balance's terms; the sums that hold are in season_closure_mm(). */
struct season_day {
    int32_t date;
    enum crop_stage stage;
    double days_in_season;
    double et0_mm, kc, kcb, ke, ks, kr;
    double etc_mm; /* without stress */
    double eta_mm; /* actual (ETc adj) = evaporation + transpiration */
    double evaporation_mm, transpiration_mm;
    double rain_mm, runoff_mm;
    double irrigation_gross_mm, irrigation_net_mm;
    double capillary_mm;
    double percolation_mm;            /* leaves the root zone downwards (DP) */
    double new_soil_mm;               /* depletion of soil newly reached by roots: adds to the depletion */
    double reading_shift_mm;          /* change of the depletion by a reading */
    double root_m, taw_mm, p, raw_mm; /* raw: depletion at which stress begins */
    double allowed_mm;                /* depletion that the user allows: raw, or allowed_depletion x TAW */
    double depletion_start_mm, depletion_mm;         /* Dr in the morning and in the evening */
    double surface_depletion_mm;                     /* De in the evening */
    double wetted_fraction, exposed_wetted_fraction; /* fw, few */
    double below_depletion_mm; /* depletion between the roots and their greatest depth, evening */
    double height_m, cover;
};

/* What is carried from day to day. Opaque in use, plain in storage. */
struct season_state {
    int32_t next_date;
    double depletion_mm, below_depletion_mm, surface_depletion_mm;
    double excess_mm; /* water above field capacity that still drains */
    double root_m, degree_days;
    double wetted_fraction; /* of the last wetting */
    double transpiration_depletion_mm;
    double rain_5d_mm[5]; /* for antecedent moisture */
    double last_cover;
    double kc_previous, etc_previous_mm;
    int32_t cycle_date; /* first day of the present cycle: planting or the last cutting */
    int cycles;
};

struct season_total {
    int days, stress_days;
    double et0_mm, etc_mm, eta_mm, evaporation_mm, transpiration_mm;
    double rain_mm, runoff_mm, irrigation_gross_mm, irrigation_net_mm, capillary_mm, percolation_mm;
    double new_soil_mm, reading_shift_mm;
    double depletion_first_mm, depletion_last_mm;
    double etc_stage_mm[CROP_GROWING_STAGES], eta_stage_mm[CROP_GROWING_STAGES]; /* for yield by stage */
    double closure_max_mm; /* the largest absolute daily closure */
};

struct season_setup season_setup_default(void);
struct season_input season_input_empty(int32_t date);
struct season_total season_total_empty(void);

/* Which member is wrong is written to `*member` (a static name such as "planting_date") when not NULL. */
enum status season_setup_check(const struct season_setup *setup, const char **member);

enum status season_begin(const struct season_setup *setup, struct season_state *state);

/* One day. Days must come in order without a gap: STATUS_ORDER. NaN in et0, wind, rh_min or rain:
 * STATUS_MISSING; a negative depth: STATUS_OUT_OF_RANGE. On failure state and out are unchanged. */
enum status season_step(const struct season_setup *setup, struct season_state *state,
                        const struct season_input *input, struct season_day *out);

/* depletion - (depletion_start - (rain - runoff) - irrigation_net - capillary + eta + percolation + new_soil
 * + reading_shift), mm: 0 but for rounding (eq. 85). */
double season_closure_mm(const struct season_day *day);

void season_total_add(struct season_total *total, const struct season_day *day);

#endif
