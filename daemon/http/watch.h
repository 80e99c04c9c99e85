/* For programs that watch the daemon: /healthz and /metrics. */
#ifndef WATERTURN_WATCH_H
#define WATERTURN_WATCH_H

#include "daemon/http/request.h"

enum status watch_health(const struct request *request, struct reply *reply);
enum status watch_metrics(const struct request *request, struct reply *reply);

#endif
