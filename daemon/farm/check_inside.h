/* What the files of the check share. Nobody else includes this. */
#ifndef WATERTURN_CHECK_INSIDE_H
#define WATERTURN_CHECK_INSIDE_H

#include "daemon/farm/check.h"

struct check {
    const struct farm *farm;
    check_where *where;
    const void *context;
    struct problems *problems;
    struct check_names stations, soils, supplies, fields;
};

/* A problem at a key of an entry: "fields[2].station". */
void check_problem(const struct check *check, enum check_list list, size_t index, const char *key,
                   const char *format, ...) __attribute__((format(printf, 5, 6)));

/* The same of what forms can bring about: problem_tell() with a code. */
void check_tell(const struct check *check, enum check_list list, size_t index, const char *key,
                const char *code, const char *sentence, ...) __attribute__((sentinel));

/* Hours and days of supplies, how fields take turns, people's word on turns. */
void check_turning(const struct check *check);

/* Plantings and records in time. STATUS_NO_MEMORY. */
enum status check_times(struct check *check);

#endif
