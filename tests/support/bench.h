/* What bench programs have in common: a clock, medians, and a row of the table that `make bench` prints. */
#ifndef WATERTURN_TESTS_BENCH_H
#define WATERTURN_TESTS_BENCH_H

#include <stdbool.h>
#include <stddef.h>

/* Seconds of the monotonic clock. */
double bench_now_s(void);

/* Seconds of a processor that this process took: what other programs take meanwhile does not count. */
double bench_cpu_s(void);

/* The middle of `count` values (of an even count: the mean of the two); sorts them. */
double bench_median(double *values, size_t count);

#define BENCH_TEXT_SIZE 160

/* A row: what was done, what it took, what it was held against in the same run, and the goal. */
struct bench_row {
    const char *work;
    char figure[BENCH_TEXT_SIZE];
    char against[BENCH_TEXT_SIZE]; /* empty: nothing */
    double ratio;                  /* NaN: none */
    const char *goal;
    bool met;
};

/* Prints the row for tests/bench/run.sh and returns what a program exits with: 0 when the goal is met. */
int bench_row_print(const struct bench_row *row);

#endif
