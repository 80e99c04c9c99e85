/* What each day of each field goes through stands in functions that are put where they are called: so what
 * passes between them stays in registers, and what a caller has no use for is never made. */
#ifndef WATERTURN_INLINED_H
#define WATERTURN_INLINED_H

/* Without optimisation they are functions like others, for the debugger and the coverage. */
#if defined __OPTIMIZE__
#define INLINED static inline __attribute__((always_inline))
#else
#define INLINED static inline
#endif

/* What mostly and what seldom holds: what is likely stands in one line, and the processor goes on with it
 * before the numbers that decide are there. */
#define MOSTLY(condition) __builtin_expect(!!(condition), 1)
#define SELDOM(condition) __builtin_expect(!!(condition), 0)

#endif
