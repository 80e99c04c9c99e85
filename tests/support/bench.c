#include "tests/support/bench.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double clock_s(clockid_t clock) {
    struct timespec time;
    clock_gettime(clock, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

double bench_now_s(void) {
    return clock_s(CLOCK_MONOTONIC);
}

double bench_cpu_s(void) {
    return clock_s(CLOCK_PROCESS_CPUTIME_ID);
}

static int compare(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

double bench_median(double *values, size_t count) {
    qsort(values, count, sizeof *values, compare);
    return (values[(count - 1) / 2] + values[count / 2]) / 2;
}

int bench_row_print(const struct bench_row *row) {
    char ratio[32] = "-";
    if (!isnan(row->ratio))
        (void)snprintf(ratio, sizeof ratio, "%.2f", row->ratio);
    printf("# row | %s | %s | %s | %s | %s | %s\n", row->work, row->figure,
           row->against[0] != '\0' ? row->against : "-", ratio, row->goal, row->met ? "met" : "NOT MET");
    (void)fflush(stdout);
    return row->met ? 0 : 1;
}
