/* How well chances were said: by tenths, what was said beside how often it came, and the Brier score. */
#ifndef WATERTURN_OUTLOOK_SCORE_H
#define WATERTURN_OUTLOOK_SCORE_H

#include <stdbool.h>

#include "core/decide/outlook_errors.h"

#define OUTLOOK_TENTHS 10

struct outlook_score {
    long all;
    long count[OUTLOOK_TENTHS], came[OUTLOOK_TENTHS];        /* said with 0 to 10 %, 10 to 20 %, ... */
    double said[OUTLOOK_TENTHS];                             /* sum of the chances said */
    double squares;                                          /* sum of (chance - came)^2 */
    long seen[OUTLOOK_DAYS_MAX], happened[OUTLOOK_DAYS_MAX]; /* by days ahead */
};

/* Adds what was said for a day ahead, 0..OUTLOOK_DAYS_MAX-1, and whether it came. A chance outside 0..1 or
 * NaN, or a day outside, is left out. `score` starts zeroed. */
void outlook_score_add(struct outlook_score *score, int ahead, double chance, bool came);

/* Mean of (chance - came)^2 (G.W. Brier, Mon. Weather Rev. 78, 1950, for two classes of which one is
 * counted); 0 is perfect. NaN when nothing was added. */
double outlook_score_brier(const struct outlook_score *score);

/* The same of one who says for each day ahead the share on which it came over all that was added: the
 * climatology. */
double outlook_score_climatology(const struct outlook_score *score);

#endif
