/* One argument of a value function at the ends of its range, and next to them. Include cmocka.h first. */
#ifndef WATERTURN_TESTS_EDGES_H
#define WATERTURN_TESTS_EDGES_H

#include <math.h>

struct edge {
    double (*function)(double);
    double low, high;
};

static inline void check_edges(const struct edge *edge, size_t count) {
    for (size_t i = 0; i < count; i++) {
        assert_true(isfinite(edge[i].function(edge[i].low)) && isfinite(edge[i].function(edge[i].high)));
        assert_true(isnan(edge[i].function(nextafter(edge[i].low, -INFINITY))));
        assert_true(isnan(edge[i].function(nextafter(edge[i].high, INFINITY))));
        assert_true(isnan(edge[i].function(NAN)));
    }
}

#endif
