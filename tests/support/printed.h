/* assert_printed(got, "5.72"): passes when `got` rounds to what is printed, within half a unit of the last
 * digit. assert_printed_slack() adds a stated slack, for what was rounded by hand on the way. Include
 * cmocka.h first. */
#ifndef WATERTURN_TESTS_PRINTED_H
#define WATERTURN_TESTS_PRINTED_H

#include <stdlib.h>
#include <string.h>

#include "tests/support/near.h"

#define assert_printed_slack(got, printed, slack)                                                            \
    near_check((got), strtod((printed), NULL), printed_half_unit(printed) + (slack), #got, __FILE__, __LINE__)
#define assert_printed(got, printed) assert_printed_slack(got, printed, 0.0)

/* Half a unit of the last digit, and the rounding of the comparison itself. */
static inline double printed_half_unit(const char *printed) {
    const char *point = strchr(printed, '.');
    double half_unit = 0.5;
    for (size_t digits = point == NULL ? 0 : strlen(point + 1); digits > 0; digits--)
        half_unit /= 10.0;
    return half_unit * (1.0 + 1e-9);
}

#endif
