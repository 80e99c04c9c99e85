#include "core/decide/distribution.h"

#include <math.h>
#include <stdbool.h>

#define PRECISION 1e-15

static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

/* ln of the gamma function of x > 0: Stirling's series (DLMF 5.11.1) from 16 on, where its five terms are
 * exact to 1e-16, and below by the recurrence gamma(x + 1) = x gamma(x). The library's lgamma() writes a
 * global. */
static double log_gamma(double x) {
    double product = 1;
    for (; x < 16; x++)
        product *= x;
    double z = 1 / (x * x);
    double series = (1.0 / 12 - z * (1.0 / 360 - z * (1.0 / 1260 - z * (1.0 / 1680 - z / 1188)))) / x;
    return (x - 0.5) * log(x) - x + 0.91893853320467274178 + series - log(product); /* ln(2 pi) / 2 */
}

/* One step of Lentz's method with the next numerator of the fraction; returns by how much it changed. */
static double advance(double numerator, double *c, double *d, double *value) {
    *d = 1 / (1 + numerator * *d);
    *c = 1 + numerator / *c;
    *value *= *c * *d;
    return fabs(*c * *d - 1);
}

/* The fraction of 8.17.22. It converges fast for x below (a + 1) / (a + b + 2); no denominator vanishes
 * there. */
static double fraction(double a, double b, double x) {
    double value = 1, c = 1, d = 0, m = 0, change;
    do {
        double odd = m > 0 ? m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)) : 0;
        double even = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
        change = m > 0 ? advance(odd, &c, &d, &value) : 0;
        change = fmax(change, advance(even, &c, &d, &value));
        m++;
    } while (change > PRECISION);
    return 1 / value;
}

/* x^a (1 - x)^b / (a B(a, b)) times the fraction. */
static double lower(double a, double b, double x) {
    double log_front = log_gamma(a + b) - log_gamma(a) - log_gamma(b) + a * log(x) + b * log1p(-x);
    return exp(log_front) / a * fraction(a, b, x);
}

double distribution_beta(double a, double b, double x) {
    if (!within(a, 0.5, DISTRIBUTION_DF_MAX / 2) || !within(b, 0.5, DISTRIBUTION_DF_MAX / 2) ||
        !within(x, 0, 1))
        return NAN;
    if (x <= 0 || x >= 1)
        return x;
    return x < (a + 1) / (a + b + 2) ? lower(a, b, x) : 1 - lower(b, a, 1 - x);
}

double distribution_f_above(double f, double df1, double df2) {
    if (!(f >= 0) || !within(df1, 1, DISTRIBUTION_DF_MAX) || !within(df2, 1, DISTRIBUTION_DF_MAX))
        return NAN;
    return distribution_beta(df2 / 2, df1 / 2, df2 / (df2 + df1 * f));
}

double distribution_t_beyond(double t, double df) {
    return distribution_f_above(t * t, 1, df);
}

double distribution_t_of(double beyond, double df) {
    if (!within(beyond, 1e-12, 1) || !within(df, 1, DISTRIBUTION_DF_MAX))
        return NAN;
    double low = 0, high = 1;
    while (distribution_t_beyond(high, df) > beyond)
        high *= 2;
    /* Halved until nothing lies between. */
    for (double middle = high / 2; middle > low && middle < high; middle = low + (high - low) / 2) {
        if (distribution_t_beyond(middle, df) > beyond)
            low = middle;
        else
            high = middle;
    }
    return low;
}
