/* What the daemon counts about itself, and its face in OpenMetrics text (openmetrics.io, version 1.0) or in
 * the older text that Prometheus reads. Any thread may count. */
#ifndef WATERTURN_METRICS_H
#define WATERTURN_METRICS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/decide/call.h"
#include "daemon/base/text.h"
#include "daemon/farm/farm.h"

struct metrics;

/* NULL: no memory. */
struct metrics *metrics_new(void);
void metrics_free(struct metrics *metrics);

/* A request was answered with an HTTP status after so many seconds. NULL metrics: nothing is counted. */
void metrics_request(struct metrics *metrics, unsigned status, double seconds);
/* So many connections are open. */
void metrics_connections(struct metrics *metrics, size_t count);
/* A morning was run. */
void metrics_morning(struct metrics *metrics, bool good, double seconds);
/* Something went wrong that is in the log. */
void metrics_error(struct metrics *metrics);

/* What is read from the database for one answer. */
struct metrics_source {
    char name[FARM_NAME_SIZE];
    int64_t age_s; /* since its last success; -1: never */
    bool failing;
};

struct metrics_facts {
    const char *version;
    int64_t morning_at; /* of the newest morning; 0: none */
    double calls[CALL_KIND_COUNT];
    const struct metrics_source *source;
    size_t source_count;
    size_t devices;
    int64_t database_bytes, resident_bytes;
};

/* `open`: OpenMetrics. */
void metrics_render(struct metrics *metrics, const struct metrics_facts *facts, bool open, struct text *out);

#endif
