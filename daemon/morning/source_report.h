/* How each source stands on a morning, and what its station's days rest on meanwhile. */
#ifndef WATERTURN_SOURCE_REPORT_H
#define WATERTURN_SOURCE_REPORT_H

#include "daemon/base/wall_clock.h"
#include "daemon/farm/neighbours.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/weather_store.h"

#define SOURCE_GAPS_MAX     8
#define SOURCE_FINDINGS_MAX 12
#define SOURCE_RECENT_D     14

struct source_gap {
    int32_t first, last;
};

struct source_report {
    struct source_state state;
    struct morning_time tried, taken, retry; /* on the farm's clock; .today CALENDAR_NONE: never */
    int fields;                              /* whose calls rest on the station */
    /* Observed: how many of the last days before the morning it lacks; forecast: its age. -1: it has nothing.
     */
    int lag_days;
    int ahead_days; /* forecast: days that it tells from the morning on */
    /* Observed: spans that it lacks between the first day needed and its newest, the newest first. */
    int gap_days, gap_count;
    struct source_gap gap[SOURCE_GAPS_MAX];
    int finding_count; /* on days that are needed */
    struct source_finding finding[SOURCE_FINDINGS_MAX];
    int neighbour_count; /* of its station; a forecast has none */
    struct neighbour_place neighbour[FARM_NEIGHBOURS_MAX];
    /* Where the station's days came from, oldest first. As many as it lags, at most SOURCE_RECENT_D; all of
     * these when it does not. */
    int recent_count;
    struct ledger_origins recent[SOURCE_RECENT_D];
};

/* All sources in order of station and preference; a malloc'd array. */
enum status source_reports_make(struct db *db, int32_t today, struct source_report **out, size_t *count,
                                struct problems *problems);

#endif
