/* The season of one planting: the daily soil-water balance from a first day (bare soil, or planting) to the
 * last, day by day, with nothing but the caller's storage. FAO-56 chapters 7 and 8.
 *
 *   season_prepare(&setup, &prepared);
 *   season_begin(&prepared, &state);
 *   for each day in order:  season_step(&prepared, &state, &input, &day);  season_total_add(&total, &day);
 *
 * Depths are mm over the whole field. Depletion is counted from field capacity. Before planting and after the
 * end the soil is bare and only evaporates. Choices that FAO-56 leaves open:
 * - Rain and irrigation come early in the day (FAO-56 chapter 7): Ks and Kr count with the depletion after
 * them, as in Examples 35 and 38; evapotranspiration comes before drainage (eq. 88).
 * - p is adjusted for the day's own ETc. ET0 below zero (dew) asks for no water.
 * - The single coefficient's water is parted into evaporation and transpiration as the dual one's would be,
 * so that the surface layer goes on and bare soil after the crop begins right; the sum is the single
 * method's.
 * - Roots take from the surface layer (eq. 77, Tew) only when root_max_m is below 0.5 m.
 * - Runoff: curve number for the wetness of the surface layer, runoff_cn_for_wetness().
 * - Kc ini from wetting (Annex 7) is of each day's own ET0; soils with TEW up to 15 mm count as coarse. */
#ifndef WATERTURN_SEASON_H
#define WATERTURN_SEASON_H

#include <stdbool.h>
#include <stdint.h>

#include "core/balance/crop.h"
#include "core/balance/root_zone.h"
#include "core/balance/runoff.h"
#include "core/balance/soil.h"
#include "core/balance/surface.h"
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
    int32_t stage_date[CROP_GROWING_STAGES]; /* observed first day of development, mid, late, and the end of
                                                the season (harvest); CALENDAR_NONE: not observed. In order,
                                                after planting. A date that is entered later changes days
                                                before it: replay from planting. */
    double
        start_depletion;  /* share of available water gone on first_date, in the root zone and below: 0..1 */
    double start_surface; /* share of TEW gone from the surface layer on first_date: 0..1 */
    double system_wetted_fraction; /* fw of the irrigation system, Table 20: 0.05..1 */
    bool drip_under_canopy;        /* fw of drip under the canopy is reduced with cover, chapter 7 */
    double climate_wind_m_s, climate_rh_min_pct; /* for eqs 62, 65, 70; NaN: each day's own (causal) */
    double drainage_days; /* time above field capacity; 0..30; up to 1: excess drains the same day (eq. 88);
                             longer: a share 1 / drainage_days of it each day */
    double water_table_m; /* depth for capillary rise; NaN: none */
    double capillary_max_mm; /* largest capillary rise, mm/day; 0 */
    double ece_ds_m; /* salinity of the root zone; NaN: not considered. Dual method only (FAO-56 chapter 8) */
    double wetting_interval_d, wetting_depth_mm; /* for Kc ini of the single method, with the system's fw:
                                                    0.1..365 days, 0..500 mm; NaN: Table 12's value */
};

/* A setup that was judged once, with what is the same on all days of its season. Opaque in use:
 * season_prepare() fills it. */
struct season_prepared {
    bool sound;         /* all of the setup lies inside its ranges */
    enum status status; /* why it is not; STATUS_OK without `sound`: nothing was prepared */
    struct season_setup setup;
    struct crop_fixed crop;
    struct runoff_surface runoff;
    double ks_salt;          /* eq. 91; 1 without salinity */
    bool climate_of_the_day; /* neither wind nor humidity is the climate's */
    bool water_rises;        /* there is a water table */
    bool shallow;            /* roots take from the surface layer */
};

/* What one day brings. season_input_empty() fills "nothing". */
struct season_input {
    int32_t date;
    double et0_mm; /* of the reference that the crop's coefficients belong to; -5..30 */
    double wind_2m_m_s, rh_min_pct, tmax_c, tmin_c;
    double rain_mm;
    double irrigation_gross_mm; /* as delivered */
    double irrigation_net_mm;   /* as it enters the soil; <= gross */
    double observed_cover;      /* fc seen in the field, 0..1; NaN */
    double reading_m3_m3;       /* mean water content of the root zone in the evening; NaN */
    double reading_sd_m3_m3;    /* its standard deviation; 0, or NaN for "not stated": taken as it stands */
    bool cutting;               /* a forage crop is cut on this day */
};

/* One row of the ledger. All of the balance's terms; the sums that hold are in season_closure_mm(). */
struct season_day {
    int32_t date;
    enum crop_stage stage;
    double days_in_season;
    double et0_mm;
    double kc;              /* etc / et0: Kcb + Ke, or the single coefficient */
    double kcb, ke, ks, kr; /* ke: of evaporation without stress, in both methods; ks: of water and salt */
    double etc_mm;          /* without stress */
    double eta_mm;          /* actual (ETc adj) = evaporation + transpiration */
    double evaporation_mm, transpiration_mm;
    double rain_mm, runoff_mm;
    double irrigation_gross_mm, irrigation_net_mm;
    double capillary_mm;
    double percolation_mm;   /* leaves the root zone downwards (DP) */
    double new_soil_mm;      /* depletion of soil newly reached by roots: adds to the depletion */
    double reading_shift_mm; /* change of the depletion (less excess) by a reading */
    double unmet_mm; /* what Ks let through and the root zone did not hold above wilting point (eq. 86) */
    double excess_start_mm,
        excess_mm; /* above field capacity, still draining; 0 unless drainage_days exceeds 1 */
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
    struct crop_progress progress;
    struct crop_height_power height_power;
    struct crop_density density;
    struct surface surface;
    struct root_zone root_zone;
    double root_m, taw_mm;
    double variance_mm2; /* of the depletion, for weighing readings */
};

/* What a day went through on its way to its row, for those who want to see it. */
struct season_trace {
    struct crop_position position;
    struct crop_climate climate;
    double kc_ini;                /* of the single method */
    struct crop_day expected;     /* the crop before what was seen of its cover */
    struct crop_day crop;         /* as it counts */
    double wetness, curve_number; /* of the surface layer, for runoff; NaN: none was reckoned */
    struct surface surface;       /* after the day's water */
    double surface_drained_mm;    /* DPe of eq. 79, over the wetted part */
    struct root_zone_inflow inflow;
    double wet_depletion_mm; /* Dr after the day's water: what Ks counts with */
    struct surface_evaporation soil;
    double ks_water, ks_salt;
    double evaporation_mm, asked_mm; /* evaporation, and it with transpiration, as Ks lets them through */
    double surface_transpiration_mm; /* Tew of eq. 77 */
    struct root_zone_flow flow;
    double read_depletion_mm,
        read_variance_mm2;            /* depletion less excess, and its variance, before a reading */
    struct root_zone_reading reading; /* zero without one */
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

/* STATUS_OK when crop, soil and dates are right and every member is inside its range. Salinity wants a crop
 * with a tolerance (STATUS_MISSING), the dual method (STATUS_ORDER) and an ECe inside the range of eq. 91;
 * the single method wants kc_ini or a wetting interval and depth (STATUS_MISSING). Dates out of order:
 * STATUS_ORDER. Which member is wrong is written to `*member` (a static name such as "planting_date") when
 * not NULL. */
enum status season_setup_check(const struct season_setup *setup, const char **member);

/* Judges a setup once for all days of its season. STATUS_* of season_setup_check(); what was refused keeps
 * its status, and gives it to whoever begins or steps with it. The setup may go or be changed afterwards. */
enum status season_prepare(const struct season_setup *setup, struct season_prepared *prepared);

/* The first morning. STATUS_* of season_prepare(), STATUS_MISSING for what it never saw; on failure state is
 * unchanged. */
enum status season_begin(const struct season_prepared *prepared, struct season_state *state);

/* One day. `state` was begun with the same `prepared`: STATUS_OUT_OF_RANGE where it shows that it was not,
 * and statuses of season_begin(). No argument overlaps another. Days must come in order without a gap:
 * STATUS_ORDER, as for irrigation_net_mm above gross, a cutting of what cannot be cut, tmin above tmax. NaN
 * in et0, wind, rh_min, rain or irrigation, or in the temperatures of a crop that counts degree-days:
 * STATUS_MISSING; a negative or absurd value: STATUS_OUT_OF_RANGE. On failure state and out are unchanged.
 *
 * A reading is weighed by root_zone_gain() with the variance of the balance. Our own choice (common practice,
 * no source): the depletion on the first day has a standard deviation of 10 % of TAW, each day adds one of 10
 * % of the water that came in and went out, and it never passes 25 % of TAW. */
enum status season_step(const struct season_prepared *prepared, struct season_state *state,
                        const struct season_input *input, struct season_day *out);

/* season_step() on each of `count` days, in order, and the same bits; quicker, since what the weather and the
 * calendar alone decide is reckoned for several days side by side. `out`: a row each. `*done`: days that were
 * gone through; where one is refused its status is returned, and the state is that of its morning. */
enum status season_run(const struct season_prepared *prepared, struct season_state *state,
                       const struct season_input *input, int count, struct season_day *out, int *done);

/* The same day, and how it came about. On failure `trace` has no meaning. */
enum status season_step_traced(const struct season_prepared *prepared, struct season_state *state,
                               const struct season_input *input, struct season_day *out,
                               struct season_trace *trace);

/* (depletion - excess) - (depletion_start - excess_start - (rain - runoff) - irrigation_net - capillary + eta
 * + percolation + new_soil + reading_shift), mm: 0 but for rounding (eq. 85). */
double season_closure_mm(const struct season_day *day);

void season_total_add(struct season_total *total, const struct season_day *day);

#endif
