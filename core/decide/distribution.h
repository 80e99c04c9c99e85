/* The distributions that trials are judged by. */
#ifndef WATERTURN_DISTRIBUTION_H
#define WATERTURN_DISTRIBUTION_H

#include "core/base/status.h"

/* Degrees of freedom may be anything from 1 to this. */
#define DISTRIBUTION_DF_MAX 1e6

/* Regularised incomplete beta function Ix(a, b), 0..1. x 0..1, a and b 0.5..5e5. NaN outside. By the
 * continued fraction of the NIST Digital Library of Mathematical Functions, 8.17.22, with the method of W.J.
 * Lentz as I.J. Thompson and A.R. Barnett give it (J. Comput. Phys. 64, 1986), and the symmetry 8.17.4. */
double distribution_beta(double a, double b, double x);

/* Probability of an F larger than `f` (0 or more, infinity allowed) with df1 and df2 degrees of freedom,
 * 1..DISTRIBUTION_DF_MAX: Ix(df2 / 2, df1 / 2) at x = df2 / (df2 + df1 f). NaN outside. */
double distribution_f_above(double f, double df1, double df2);

/* Probability of a t further from 0 than |t|, with df degrees of freedom. NaN outside. */
double distribution_t_beyond(double t, double df);

/* The t that is passed on either side together with probability `beyond`, 1e-12..1: 2.0 or so for 0.05. NaN
 * outside.
 */
double distribution_t_of(double beyond, double df);

#endif
