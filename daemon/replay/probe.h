/* Soil water out of the files of probes: what stands in which column is said by a data file,
 * config/probes/NAME.json. */
#ifndef WATERTURN_PROBE_H
#define WATERTURN_PROBE_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/base/problem.h"

#define PROBE_DEPTHS_MAX 12

/* A day's water contents, m3/m3; NaN: missing. */
struct probe_day {
    int32_t date;
    int line; /* of the file, from 1 */
    double water[PROBE_DEPTHS_MAX];
};

struct probe {
    int depths;
    double depth_m[PROBE_DEPTHS_MAX]; /* from the shallowest down */
    struct probe_day *day;            /* the oldest first, each date once */
    size_t count;
};

/* Reads a file by a shipped layout: "plain" (date,water_content), or one that names its columns and depths.
 * STATUS_REFUSED with the place of what is wrong; a file is taken whole or refused whole. `out` is freed with
 * probe_free(). */
enum status probe_read(const char *layout, const char *path, struct probe *out, struct problems *problems);
void probe_free(struct probe *probe);

/* Mean water content from the surface to a depth: each sensor stands for the soil half-way to its neighbours,
 * the lowest for all below it. NaN when a sensor that counts is missing. A layout without depths has the mean
 * itself. */
double probe_mean(const struct probe *probe, const struct probe_day *day, double depth_m);

#endif
