/* Reference ET from the evaporation of a pan (FAO-56 chapter 4). */
#ifndef WATERTURN_PAN_H
#define WATERTURN_PAN_H

#include "core/base/status.h"

enum pan_kind { PAN_CLASS_A, PAN_COLORADO_SUNKEN };

/* What lies upwind of the pan: the fetch is the length of green crop (case A), or of dry bare surface (case
 * B) beyond which the other one lies. */
enum pan_fetch { PAN_FETCH_GREEN, PAN_FETCH_DRY };

/* Pan coefficient Kp by the regressions of Table 7. wind_2m_m_s 1..8, rh_mean_pct 30..84, fetch_m 1..1000:
 * the ranges that Table 7 states for its equations; outside them (or the enums) STATUS_OUT_OF_RANGE. */
enum status pan_coefficient(enum pan_kind kind, enum pan_fetch fetch, double wind_2m_m_s, double rh_mean_pct,
                            double fetch_m, double *kp);

/* Eq. 55: ET0 = Kp Epan, mm/day. kp 0.1..1.5, pan_mm 0..50. */
enum status pan_reference_et(double kp, double pan_mm, double *et0_mm);

#endif
