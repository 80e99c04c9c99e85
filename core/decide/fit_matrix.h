/* The small symmetric matrices of a fit. */
#ifndef WATERTURN_FIT_MATRIX_H
#define WATERTURN_FIT_MATRIX_H

#include <stdbool.h>

#include "core/decide/fit.h"

#define FIT_N FIT_PARAMETERS_MAX

/* Solves a x = b for a positive definite `a` of size n by Cholesky's method; false: it is not. */
bool fit_solve(double a[FIT_N][FIT_N], const double b[FIT_N], int n, double x[FIT_N]);

/* The inverse; false when the matrix is not positive definite. */
bool fit_invert(double a[FIT_N][FIT_N], int n, double out[FIT_N][FIT_N]);

/* Eigenvalues of a symmetric matrix, in no order, by Jacobi's rotations (twelve sweeps, which is plenty for
 * this size). */
void fit_eigenvalues(double a[FIT_N][FIT_N], int n, double out[FIT_N]);

#endif
