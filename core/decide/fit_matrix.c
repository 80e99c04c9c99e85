#include "core/decide/fit_matrix.h"

#include <math.h>
#include <string.h>

#define PIVOT_LEAST 1e-14 /* of the diagonal: below it a pivot is rounding */

/* Lower triangle l with a = l l'. */
static bool decompose(double a[FIT_N][FIT_N], int n, double l[FIT_N][FIT_N]) {
    for (int i = 0; i < n; i++) {
        for (int k = 0; k <= i; k++) {
            double sum = a[i][k];
            for (int m = 0; m < k; m++)
                sum -= l[i][m] * l[k][m];
            if (k < i)
                l[i][k] = sum / l[k][k];
            else if (sum > PIVOT_LEAST * a[i][i])
                l[i][i] = sqrt(sum);
            else
                return false;
        }
    }
    return true;
}

static void substitute(double l[FIT_N][FIT_N], const double b[FIT_N], int n, double x[FIT_N]) {
    for (int i = 0; i < n; i++) {
        x[i] = b[i];
        for (int k = 0; k < i; k++)
            x[i] -= l[i][k] * x[k];
        x[i] /= l[i][i];
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int k = i + 1; k < n; k++)
            x[i] -= l[k][i] * x[k];
        x[i] /= l[i][i];
    }
}

bool fit_solve(double a[FIT_N][FIT_N], const double b[FIT_N], int n, double x[FIT_N]) {
    double l[FIT_N][FIT_N];
    if (!decompose(a, n, l))
        return false;
    substitute(l, b, n, x);
    return true;
}

bool fit_invert(double a[FIT_N][FIT_N], int n, double out[FIT_N][FIT_N]) {
    double l[FIT_N][FIT_N];
    if (!decompose(a, n, l))
        return false;
    for (int i = 0; i < n; i++) {
        double unit[FIT_N] = {0};
        unit[i] = 1;
        substitute(l, unit, n, out[i]);
    }
    return true;
}

/* Turns rows and columns p and q so that a[p][q] vanishes. */
static void rotate(double a[FIT_N][FIT_N], int n, int p, int q) {
    double angle = 0.5 * atan2(2 * a[p][q], a[q][q] - a[p][p]), c = cos(angle), s = sin(angle);
    for (int i = 0; i < n; i++) {
        double x = a[i][p], y = a[i][q];
        a[i][p] = c * x - s * y;
        a[i][q] = s * x + c * y;
    }
    for (int i = 0; i < n; i++) {
        double x = a[p][i], y = a[q][i];
        a[p][i] = c * x - s * y;
        a[q][i] = s * x + c * y;
    }
}

void fit_eigenvalues(double a[FIT_N][FIT_N], int n, double out[FIT_N]) {
    double turned[FIT_N][FIT_N];
    memcpy(turned, a, sizeof turned);
    for (int sweep = 0; sweep < 12; sweep++) {
        for (int p = 0; p < n; p++) {
            for (int q = p + 1; q < n; q++)
                rotate(turned, n, p, q);
        }
    }
    for (int i = 0; i < n; i++)
        out[i] = turned[i][i];
}
