/* A sweep as CSV: a row for each season, in the order of the runs. */
#ifndef WATERTURN_VIEW_SWEEP_H
#define WATERTURN_VIEW_SWEEP_H

#include <cjson/cJSON.h>

#include "daemon/base/text.h"
#include "daemon/replay/sweep.h"

/* `year` holds the weather year of each of sweep->years. Runs that were not reached are left out; those that
 * the balance refused have their reason in the column `status`. Numbers have ten digits. The rows are written
 * on `threads` threads, always the same. *written: how many there are. */
enum status view_sweep_csv(const struct sweep *sweep, const int *year, const cJSON *made, int threads,
                           struct text *out, long *written);

#endif
