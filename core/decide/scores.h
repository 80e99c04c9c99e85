/* How well a model says what was measured. */
#ifndef WATERTURN_SCORES_H
#define WATERTURN_SCORES_H

#include <stddef.h>

#include "core/base/status.h"

/* NaN where a score cannot be given: efficiency, agreement and r2 of values that do not vary. */
struct scores {
    size_t count;
    double bias;       /* mean of modelled less measured */
    double rmse;       /* root of the mean squared difference */
    double mae;        /* mean absolute difference */
    double efficiency; /* 1 - sum (measured - modelled)^2 / sum (measured - their mean)^2; 1 is perfect, below
                          0 the mean of the measurements would be a better model. J.E. Nash and J.V.
                          Sutcliffe, J. Hydrol. 10, 1970 */
    double agreement;  /* d = 1 - sum (measured - modelled)^2 / sum (|modelled - mean| + |measured - mean|)^2;
                          0..1.  C.J. Willmott, Phys. Geogr. 2, 1981 */
    double r2;         /* square of the correlation coefficient */
};

/* Of `count` pairs, all finite. STATUS_MISSING: none. STATUS_NOT_FINITE. On failure `out` is not written. */
enum status scores_of(const double *measured, const double *modelled, size_t count, struct scores *out);

#endif
