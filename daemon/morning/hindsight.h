/* Hindsight: the calls of past mornings beside what then came, the errors of forecasts by source, and the
 * same over past years where nothing was stored. What came is reckoned without the turns that were given:
 * from the morning's own state, with the weather that fell. */
#ifndef WATERTURN_HINDSIGHT_H
#define WATERTURN_HINDSIGHT_H

#include "core/decide/outlook_score.h"
#include "daemon/morning/station_outlook.h"
#include "daemon/store/hindsight_store.h"

struct hindsight_call {
    struct stored_call said;
    int known_days;          /* of the days ahead, that have been observed */
    bool dry[MORNING_AHEAD]; /* what came: dry by that evening, without a turn; of the known days */
    int32_t came_dry;        /* the first such day; CALENDAR_NONE: none of the known ones */
    double rain_mm;          /* that fell up to its dry date (else over all known days); NaN: not known yet */
    double given_mm, missing_mm; /* as it was: gross irrigation, and missing ET, up to its dry date */
};

/* Calls with a dry date, by how many days ahead it was. */
struct hindsight_lead {
    int calls, settled; /* settled: the days up to and past the date have been observed */
    int early, late,
        on_day; /* it was dry before, after (or not within the days ahead), or on the day that was said */
    double days_off; /* sum of days by which it was dry after the date; of those that were dry */
    int dried;       /* how many these are */
};

struct hindsight_source {
    char station[FARM_NAME_SIZE], source[FARM_NAME_SIZE];
    struct outlook_errors errors; /* learnt from the stored forecasts; errors.pairs 0: none */
    bool learnt_from, corrected;  /* it is the one that the station's outlook learns from; and is corrected */
};

/* Waiting for rain: mornings in a row whose call was that rain may cover it. */
struct hindsight_waits {
    int waits, covered, missed;  /* covered: the field was not dry on the day named; missed: it was */
    double saved_mm, missing_mm; /* gross depth that the covered ones spared; missing ET of the missed ones */
};

/* A past year run again with one rule. */
struct hindsight_year {
    char field[FARM_NAME_SIZE];
    int year;
    bool by_cost;
    int turns;
    double gross_mm, percolation_mm, yield; /* relative, by water alone; NaN: no Ky */
};

struct hindsight {
    int32_t first, last;
    struct hindsight_call *call; /* oldest first within a field */
    size_t call_count;
    struct outlook_score score; /* of the chances of all settled days ahead */
    struct hindsight_lead lead[MORNING_AHEAD];
    struct hindsight_waits waits;
    struct hindsight_source *source;
    size_t source_count;
    struct hindsight_year *year; /* of a hindcast */
    size_t year_count;
    struct outlook_score year_score, year_path_score;
};

/* The calls from `first` to the day before `today` of a field, or of all (NULL). Freed with hindsight_free().
 */
enum status hindsight_make(struct db *db, const char *field, int32_t first, int32_t today,
                           struct hindsight *out, struct problems *problems);

/* Runs the planting that stands on a field (or on all: NULL) in each past year of its station's weather that
 * is whole, by both rules, without forecasts, and adds that to `hindsight`. */
enum status hindsight_years(struct db *db, const char *field, int32_t today, struct hindsight *hindsight,
                            struct problems *problems);
void hindsight_free(struct hindsight *hindsight);

#endif
