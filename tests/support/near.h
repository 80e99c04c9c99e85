/* assert_near(got, want, tolerance): fails with both numbers; a NaN is near nothing. Include cmocka.h first.
 */
#ifndef WATERTURN_TESTS_NEAR_H
#define WATERTURN_TESTS_NEAR_H

#include <math.h>

#define assert_near(got, want, tolerance) near_check((got), (want), (tolerance), #got, __FILE__, __LINE__)

static inline void near_check(double got, double want, double tolerance, const char *what, const char *file,
                              int line) {
    if (fabs(got - want) <= tolerance)
        return;
    print_error("%s is %.12g, not %.12g within %g\n", what, got, want, tolerance);
    _fail(file, line);
}

#endif
