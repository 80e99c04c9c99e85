#include "tests/support/hostile.h"

#include <float.h>
#include <math.h>
#include <stddef.h>

/* splitmix64, by Sebastiano Vigna, public domain. */
static uint64_t next(struct hostile *source) {
    uint64_t z = source->state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

struct hostile hostile_seed(uint64_t seed) {
    return (struct hostile){seed};
}

double hostile_between(struct hostile *source, double low, double high) {
    double share = (double)(next(source) >> 11) / 9007199254740992.0;
    return low + share * (high - low);
}

double hostile_number(struct hostile *source, double low, double high) {
    static const double odd[] = {NAN,     INFINITY, -INFINITY, 0.0,    -0.0,  -1.0,
                                 DBL_MAX, -DBL_MAX, DBL_MIN,   1e-300, 1e300, DBL_EPSILON};
    size_t count = sizeof odd / sizeof odd[0];
    uint64_t draw = next(source) % (6 * count);
    if (draw < count)
        return odd[draw];
    double stretch = (high - low) / 4;
    return hostile_between(source, low - stretch, high + stretch);
}
