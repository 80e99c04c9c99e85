/* The name that a mistyped one was probably meant to be. */
#ifndef WATERTURN_NEAREST_H
#define WATERTURN_NEAREST_H

#include <stddef.h>

#define NEAREST_LENGTH_MAX 63 /* longer names are never near to anything */

/* Collects the nearest of the names offered one by one: nearest_begin(), then nearest_offer() for each. */
struct nearest {
    const char *wanted;
    const char *name; /* the nearest so far, or NULL */
    size_t distance;  /* its distance, or the first one that is too far */
};

void nearest_begin(struct nearest *nearest, const char *wanted);
/* Equal distance keeps the earlier name. Case does not count. */
void nearest_offer(struct nearest *nearest, const char *name);

/* Letters to put in, take out, change or swap with their neighbour to make one name the other; case does not
 * count. Past NEAREST_LENGTH_MAX bytes: NEAREST_LENGTH_MAX + 1. */
size_t nearest_distance(const char *a, const char *b);

#endif
