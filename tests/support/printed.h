/* Checks of numbers: against a value as it stands in print, and against a value with a tolerance. */
#ifndef WATERTURN_TESTS_PRINTED_H
#define WATERTURN_TESTS_PRINTED_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Passes when `actual` rounds to what is printed: half a unit of the last digit, and `slack` for hand
 * rounding. */
#define assert_printed_slack(actual, printed, slack)                                                         \
    printed_check((actual), (printed), (slack), __FILE__, __LINE__)
#define assert_printed(actual, printed) assert_printed_slack(actual, printed, 0.0)
#define assert_near(actual, expected, tolerance)                                                             \
    near_check((actual), (expected), (tolerance), __FILE__, __LINE__)

static inline void near_check(double actual, double expected, double tolerance, const char *file, int line) {
    if (fabs(actual - expected) <= tolerance) /* false for NaN */
        return;
    print_error("%.10g, expected %.10g within %.3g\n", actual, expected, tolerance);
    _fail(file, line);
}

static inline void printed_check(double actual, const char *printed, double slack, const char *file,
                                 int line) {
    const char *point = strchr(printed, '.');
    double half_unit = 0.5;
    for (size_t digits = point == NULL ? 0 : strlen(point + 1); digits > 0; digits--)
        half_unit /= 10.0;
    near_check(actual, strtod(printed, NULL), half_unit * (1.0 + 1e-9) + slack, file, line);
}

#endif
