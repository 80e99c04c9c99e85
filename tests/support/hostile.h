/* Numbers to try a function with: seeded, the same on every machine. */
#ifndef WATERTURN_TESTS_HOSTILE_H
#define WATERTURN_TESTS_HOSTILE_H

#include <stdint.h>

#define HOSTILE_ROUNDS 20000

struct hostile {
    uint64_t state;
};

struct hostile hostile_seed(uint64_t seed);
/* Evenly in low..high. */
double hostile_between(struct hostile *source, double low, double high);
/* One time in six a NaN, infinity, zero, sign or extreme of the type; else in low..high stretched by a
 * quarter of its width on both sides, so that most are usable and many are not. */
double hostile_number(struct hostile *source, double low, double high);

#endif
