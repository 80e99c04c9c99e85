/* What a sweep varies, out of the command line. */
#ifndef WATERTURN_SWEEP_OPTIONS_H
#define WATERTURN_SWEEP_OPTIONS_H

#include "daemon/commands/command.h"
#include "daemon/replay/sweep.h"

struct sweep_wish {
    struct sweep_axis axis[SWEEP_AXES_MAX];
    int axes;
    long draws;
    uint64_t seed;
    bool all_years;
    int first_year, last_year; /* 0: the season's own alone */
    int threads;
};

/* --vary, --draw, --draws, --seed, --years, --threads. STATUS_USAGE. */
enum status sweep_options(const struct options *options, struct sweep_wish *wish, struct problems *problems);

#endif
