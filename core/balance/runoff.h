/* Runoff of a day's rain by curve numbers.
 * NEH 630: USDA Natural Resources Conservation Service, National Engineering Handbook, part 630, chapter 10
 * (equation numbers from memory).
 * Chow: V.T. Chow, D.R. Maidment, L.W. Mays, Applied Hydrology, 1988.
 * The curve number of a cover and soil group (CN II) is data; here is only what is computed from it. */
#ifndef WATERTURN_RUNOFF_H
#define WATERTURN_RUNOFF_H

#include <stdbool.h>

#include "core/base/extreme.h"
#include "core/base/inlined.h"
#include "core/base/status.h"

#define RUNOFF_ABSTRACTION_RATIO 0.2 /* Ia / S of NEH 630 */

/* Potential retention S, mm: 25400 / CN - 254 (NEH 630 eq. 10-13 in mm). `cn` above 0 to 100; NaN outside. */
double runoff_retention_mm(double cn);

/* The same of what is known to lie inside. */
INLINED double runoff_retention_inside_mm(double cn) {
    return 25400 / cn - 254;
}

/* Runoff Q, mm: 0 when P <= Ia, else (P - Ia)^2 / (P - Ia + S), with Ia = 0.2 S (NEH 630 eq. 10-11). Never
 * more than the rain. `rain_mm` 0 or more; `cn`, of the day's antecedent condition, above 0 to 100.
 * STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. */
enum status runoff_curve_number_mm(double rain_mm, double cn, double *runoff_mm);

/* The same with another ratio Ia / S, 0..1 (NEH 630 eq. 10-9; 0.05 is used with curve numbers fitted for it).
 */
enum status runoff_with_ratio_mm(double rain_mm, double cn, double abstraction_ratio, double *runoff_mm);

/* Curve number of the dry (I) and the wet (III) antecedent condition from the average one (II), 0..100; NaN
 * outside. Chow's fits to the table of NEH 630: 4.2 CN / (10 - 0.058 CN) and 23 CN / (10 + 0.13 CN).
 * Within 2.3 of the table's whole numbers. */
double runoff_cn_dry(double cn2);
double runoff_cn_wet(double cn2);

/* Curve number for a wetness of the surface: CN I at 0, CN III at 1, linear between, so that it does not jump
 * from class to class. Half way it lies within 4 of CN II. `cn2` 0..100, `wetness` 0..1; NaN outside. */
double runoff_cn_for_wetness(double cn2, double wetness);

/* Wetness of the surface for runoff_cn_for_wetness() from its depletion De, mm: 1 when De is at most 0.5 REW,
 * 0 from 0.7 REW + 0.3 TEW on, linear between. 0 <= De <= TEW, 0 <= REW < TEW; NaN outside. Reference: M.E.
 * Jensen and R.G. Allen (eds), ASCE Manual 70, 2nd ed., 2016, chapter on runoff (from memory). */
double runoff_wetness(double surface_depletion_mm, double rew_mm, double tew_mm);

/* What the two above have of a surface on all its days. CN II of NaN: there is no runoff, and
 * the other two are NaN. */
struct runoff_surface {
    double cn_dry, cn_wet, wet_mm, dry_mm;
};
struct runoff_surface runoff_surface_of(double cn2, double rew_mm, double tew_mm);

/* runoff_wetness(), runoff_cn_for_wetness() and runoff_with_ratio_mm() of what is known to lie inside. */
INLINED double runoff_wetness_inside(const struct runoff_surface *surface, double depletion_mm) {
    if (depletion_mm <= surface->wet_mm)
        return 1;
    return depletion_mm < surface->dry_mm
               ? (surface->dry_mm - depletion_mm) / (surface->dry_mm - surface->wet_mm)
               : 0;
}
INLINED double runoff_cn_inside(const struct runoff_surface *surface, double wetness) {
    return lesser_of(surface->cn_dry + wetness * (surface->cn_wet - surface->cn_dry), surface->cn_wet);
}
INLINED double runoff_inside_mm(double rain_mm, double retention_mm, double abstraction_ratio) {
    double excess_mm = rain_mm - abstraction_ratio * retention_mm;
    /* The quotient comes first: no overflow for any rain. */
    return excess_mm > 0 ? excess_mm * (excess_mm / (excess_mm + retention_mm)) : 0;
}

/* Antecedent condition by the rain of the five days before. */
enum runoff_antecedent { ANTECEDENT_DRY, ANTECEDENT_AVERAGE, ANTECEDENT_WET, ANTECEDENT_COUNT };

/* Dry below 35.56 mm and wet above 53.34 mm while a crop grows; dry below 12.7 mm and wet above 27.94 mm
 * while it is dormant (1.4, 2.1, 0.5 and 1.1 in: NEH-4 of 1972, Table 4.2). `rain_5d_mm` 0 or more.
 * STATUS_NOT_FINITE, STATUS_OUT_OF_RANGE. */
enum status runoff_antecedent_class(double rain_5d_mm, bool growing, enum runoff_antecedent *out);

/* CN I, II or III of an antecedent condition. `cn2` 0..100; NaN outside, and for a condition outside the
 * enum. */
double runoff_cn_for_class(double cn2, enum runoff_antecedent antecedent);

#endif
