/* A hash over the bits of numbers (FNV-1a, 64 bits), for outputs that must be the same to the last digit. */
#ifndef WATERTURN_TESTS_BITS_H
#define WATERTURN_TESTS_BITS_H

#include <stdint.h>
#include <string.h>

#define BITS_SEED UINT64_C(14695981039346656037)

static inline uint64_t bits_add(uint64_t hash, double value) {
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    for (int i = 0; i < 64; i += 8) {
        hash ^= bits >> i & 0xff;
        hash *= UINT64_C(1099511628211);
    }
    return hash;
}

#endif
