/* e to the power x, with the same bits on every machine, by every compiler and in vectors of any width.
 *
 * A libm's exp() is right to the last bit or nearly so, but which of two neighbouring numbers it gives
 * depends on the library and on whether the processor has fused multiply-add. Here stand only additions,
 * multiplications and shifts of IEEE 754 binary64, each rounded once (core/ is compiled with
 * -ffp-contract=off), without a branch or a table; a loop over it becomes vector instructions.
 *
 * Method: W.J. Cody and W. Waite, Software Manual for the Elementary Functions, 1980, chapter 6: x = n ln 2 +
 * r with |r| <= ln 2 / 2, where n ln 2 is taken off in two parts, the first of which is exact. e^r is its
 * Taylor series up to r^13 / 13!: what follows is below 0.3466^14 / 14! = 5e-18. The sum is off by its last
 * addition (half an ulp) and, below 1, by as much again as r, r^2 q and their sum are rounded: less than 1.25
 * ulp in all. tests/core/test_exponential.c measures less than 1 over the whole range, as FDLIBM's e_exp.c
 * (Sun Microsystems, 1993) promises of its own. */
#ifndef WATERTURN_EXPONENTIAL_H
#define WATERTURN_EXPONENTIAL_H

#include <stdint.h>
#include <string.h>

/* Added and taken off again it leaves the nearest whole number, in the last bits while it is there. */
#define EXPONENTIAL_ROUNDS 0x1.8p52

/* 2^n of a whole number -1022..1023. */
static inline double exponential_of_two(double n) {
    double power = n + EXPONENTIAL_ROUNDS;
    uint64_t bits;
    memcpy(&bits, &power, sizeof bits);
    bits = (bits + 1023) << 52;
    memcpy(&power, &bits, sizeof power);
    return power;
}

/* x = n ln 2 + r: e^r, and n. */
static inline double exponential_reduced(double x, double *n) {
    *n = x * 0x1.71547652b82fep+0 + EXPONENTIAL_ROUNDS - EXPONENTIAL_ROUNDS; /* 1 / ln 2 */
    double r = x - *n * 0x1.62e42feep-1 - *n * 0x1.a39ef35793c76p-33;        /* ln 2: 32 bits, and the rest */
    double r2 = r * r, r4 = r2 * r2, r8 = r4 * r4;
    double q02 = (1 / 2.0 + r * (1 / 6.0)) + r2 * (1 / 24.0 + r * (1 / 120.0));
    double q46 = (1 / 720.0 + r * (1 / 5040.0)) + r2 * (1 / 40320.0 + r * (1 / 362880.0));
    double q80 = (1 / 3628800.0 + r * (1 / 39916800.0)) + r2 * (1 / 479001600.0 + r * (1 / 6227020800.0));
    return 1 + (r + r2 * (q02 + r4 * q46 + r8 * q80));
}

/* e^x of any x: infinity from 709.79 on, 0 below -745.14, NaN of NaN. */
static inline double exponential(double x) {
    double n, held = x < -746 ? -746 : x > 710 ? 710 : x;
    double power = exponential_reduced(held, &n);
    double half =
        n * 0.5 + EXPONENTIAL_ROUNDS - EXPONENTIAL_ROUNDS; /* 2^n itself may be none of the numbers */
    return power * exponential_of_two(half) * exponential_of_two(n - half);
}

/* The same to the last bit for |x| up to 700, and quicker. Beyond: any number. */
static inline double exponential_near(double x) {
    double n, power = exponential_reduced(x, &n);
    return power * exponential_of_two(n);
}

#endif
