/* Salt in the root zone: what it costs, and the water that leaches it. FAO-56 chapter 8, "effects of soil
 * salinity". Electrical conductivities in dS/m: ECe of the saturation extract, ECiw of the irrigation water;
 * each 0..100. Every function: STATUS_NOT_FINITE, and STATUS_OUT_OF_RANGE outside what its block says;
 * nothing is clamped. */
#ifndef WATERTURN_SALINITY_H
#define WATERTURN_SALINITY_H

#include "core/base/status.h"

/* How a crop stands salt (Table 23). */
struct salinity_tolerance {
    double threshold_ds_m; /* ECe at which the yield begins to fall, 0..100 */
    double slope_pct;      /* b: loss of yield per dS/m above it, per cent, 0.1..100 */
};

/* ECe from which on eqs 89, 91 and 92 are not to be used: threshold + 50 / b, dS/m, where half the yield is
 * lost. NaN for a tolerance outside its range. */
double salinity_limit_ds_m(const struct salinity_tolerance *crop);

/* Relative yield Ya / Ym under salt alone: 1 - b/100 (ECe - threshold), and 1 up to the threshold. Eq. 89.
 * STATUS_OUT_OF_RANGE from salinity_limit_ds_m() on. */
enum status salinity_relative_yield(const struct salinity_tolerance *crop, double ece_ds_m, double *relative);

/* Ks of salt without water stress: 1 - b / (100 Ky) (ECe - threshold), and 1 up to the threshold. Eq. 91.
 * `ky` of the season, 0.1..3 (FAO-56: 1 where none is known). STATUS_OUT_OF_RANGE from salinity_limit_ds_m()
 * on, and where a Ky below 0.5 makes the result negative. */
enum status salinity_stress(const struct salinity_tolerance *crop, double ky, double ece_ds_m, double *ks);

/* Ks of salt and of a depletion together: ks_salt, times (TAW - Dr) / (TAW - RAW) once Dr exceeds RAW. Eqs 91
 * and 92. `ks_salt` 0..1, 0 <= Dr <= TAW, 0 <= RAW < TAW <= 1e6 mm; contradictions between these are
 * STATUS_ORDER. */
enum status salinity_water_stress(double ks_salt, double depletion_mm, double taw_mm, double raw_mm,
                                  double *ks);

/* ECe of a root zone in balance with its irrigation water: (1 + LF) / LF x ECiw / 5. Eq. 93. Leaching
 * fraction LF, 0.01..1. For LF 0.15 to 0.20 that is about 1.5 ECiw. */
enum status salinity_of_root_zone(double eciw_ds_m, double leaching_fraction, double *ece_ds_m);

/* Leaching requirement, share of the water that has to pass the root zone to hold it at ECe: ECiw / (5 ECe -
 * ECiw). STATUS_OUT_OF_RANGE also when the result is 1 or more (ECiw from 2.5 ECe on): no amount of this
 * water holds that ECe. Reference: FAO-29 eq. 9 (number from memory), as FAO-56 chapter 8 quotes it. */
enum status salinity_leaching_requirement(double eciw_ds_m, double ece_ds_m, double *requirement);

#endif
