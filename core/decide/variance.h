/* Analysis of variance of a trial: the sums of squares of its terms, one after the other, on any numbers of
 * plots, by orthogonal projection. Its tables are those of R's aov() with the same terms. */
#ifndef WATERTURN_VARIANCE_H
#define WATERTURN_VARIANCE_H

#include <stddef.h>

#include "core/base/status.h"

#define VARIANCE_PLOTS_MAX   256
#define VARIANCE_FACTORS_MAX 4
#define VARIANCE_LEVELS_MAX  128
#define VARIANCE_TERMS_MAX   16

/* What the plots differ in: block, treatment, ... */
struct variance_factor {
    int levels;       /* 1..VARIANCE_LEVELS_MAX */
    const int *level; /* of each plot, 0..levels - 1 */
};

/* A factor, or the interaction of up to three. */
struct variance_term {
    int factors;   /* 1..3 */
    int factor[3]; /* indexes; different ones */
    int error; /* the term whose mean square it is tested against; -1: what is left over; its own index: it is
                  not tested. A split plot's whole-plot factor is tested against its interaction with the
                  blocks */
};

struct variance_row {
    int df;            /* 0: nothing was left for this term by those before it */
    double sum_square; /* after the terms before it (R's type I) */
    double mean_square, f,
        p; /* NaN where df, or that of its error, is 0; f and p also for what is left over */
};

/* Room for variance_table(): doubles for a number of plots. */
#define VARIANCE_WORK(plots) ((size_t)((plots) + 2) * (size_t)(plots))

/* The table of `plots` (2..VARIANCE_PLOTS_MAX) values: a row for each term, then one for what is left over.
 * The mean is taken out first. STATUS_OUT_OF_RANGE: numbers or levels outside their ranges, an `error` that
 * is no term. STATUS_NOT_FINITE: a value. Reference: R.A. Fisher, Statistical methods for research
 * workers, 1925; sums of squares by projection as in G.H. Golub and C.F. Van Loan, Matrix computations,
 * modified Gram-Schmidt, done twice. */
enum status variance_table(const double *value, int plots, const struct variance_factor *factor, int factors,
                           const struct variance_term *term, int terms, struct variance_row *row,
                           double *work);

/* Values of one group of plots. */
struct variance_mean {
    int count;
    double mean, sd; /* NaN with no plot; sd also with one */
    double low,
        high; /* confidence interval of the mean, from the mean square of the error; NaN where it has no df */
};

/* The mean of the plots at `level` of a factor, with an interval that holds it with probability `confidence`,
 * 0.5 to 0.9999, by the mean square and df of the error. Statuses as above. */
enum status variance_mean_of(const double *value, int plots, const struct variance_factor *factor, int level,
                             const struct variance_row *error, double confidence, struct variance_mean *out);

/* The difference of two such means (a less b). p is for this one pair (Fisher's LSD): of many pairs some
 * differ by chance, so times their number (Bonferroni) it is on the safe side. */
struct variance_difference {
    double difference, low, high, p;
};
enum status variance_difference_of(const struct variance_mean *a, const struct variance_mean *b,
                                   const struct variance_row *error, double confidence,
                                   struct variance_difference *out);

#endif
