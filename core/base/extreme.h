/* The lesser and the greater of two numbers, neither of them NaN: what fmin() and fmax() give, without the
 * call that their care for NaN costs. */
#ifndef WATERTURN_EXTREME_H
#define WATERTURN_EXTREME_H

static inline double lesser_of(double a, double b) {
    return a < b ? a : b;
}

static inline double greater_of(double a, double b) {
    return a > b ? a : b;
}

#endif
