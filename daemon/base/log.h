/* The daemon's log: lines on standard error, with levels; under systemd each begins with the number that its
 * journal understands (sd-daemon(3)). Any thread. */
#ifndef WATERTURN_LOG_H
#define WATERTURN_LOG_H

#include "daemon/base/problem.h"

enum log_level {
    LOG_LEVEL_ERROR,
    LOG_LEVEL_WARNING,
    LOG_LEVEL_NOTICE,
    LOG_LEVEL_INFO,
    LOG_LEVEL_DEBUG,
    LOG_LEVEL_COUNT
};

/* What is above this level is left out; LOG_LEVEL_NOTICE until it is set. */
void log_set_level(enum log_level level);

void log_line(enum log_level level, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Every problem a line; they stay the caller's. */
void log_problems(enum log_level level, const struct problems *problems);

#endif
