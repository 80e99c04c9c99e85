/* Replays as people and programs read them: a JSON object, CSV, text for a terminal, a picture. The same
 * terms in each.
 */
#ifndef WATERTURN_VIEW_REPLAY_H
#define WATERTURN_VIEW_REPLAY_H

#include <cjson/cJSON.h>

#include "daemon/base/text.h"
#include "daemon/replay/replay.h"
#include "daemon/view/words.h"

enum replay_by { REPLAY_BY_SEASON, REPLAY_BY_STAGE, REPLAY_BY_DAY, REPLAY_BY_HARVEST, REPLAY_BY_COUNT };

/* "season", "stage", "day", "harvest"; NULL outside the enum. */
const char *replay_by_name(enum replay_by by);

/* ---- the terms ---- */

/* TERM_FINE: a depth of which any digit counts. TERM_DAYS: a count that need not be known. TERM_AMOUNT: in
 * the user's own unit; the others are of it for each hectare, mm or m3, in US units for each acre, inch on an
 * acre or acre-inch. TERM_SHARE_MM: for each 100 mm, or inch. */
enum term_kind {
    TERM_DEPTH,
    TERM_FINE,
    TERM_COUNT,
    TERM_DAYS,
    TERM_SHARE,
    TERM_SHARE_MM,
    TERM_RATIO,
    TERM_AMOUNT,
    TERM_PER_HA,
    TERM_PER_MM,
    TERM_PER_M3
};

struct replay_term {
    const char *name;  /* with its unit: a column of the CSV, a key of the JSON */
    const char *label; /* for a terminal; the page has its own words at replay.term.NAME, and NAME.us */
    enum term_kind kind;
    size_t offset;        /* of a double, for TERM_COUNT of an int */
    const char *us_label; /* in US units; NULL: the same */
};

/* Of struct budget_part, and of struct season_value; both end with an entry without a name. */
extern const struct replay_term replay_budget_terms[], replay_value_terms[];

/* The number that a term stands for in the structure of a result at `offset`; NaN for a season without a day.
 */
double replay_term_value(const struct replay_result *result, size_t offset, const struct replay_term *term);

/* The same as people read it: in their units, of a share in per cent. */
double replay_term_shown(enum term_kind kind, double value, bool us_units);
/* An inch on an acre is an acre-inch: in US units the term before says the same. */
bool replay_term_again(const struct replay_term *term, bool us_units);

/* Where the budget of a stage stands in a result. */
size_t replay_stage_offset(int stage);

/* ---- the faces ---- */

/* {"made", "until", "scenarios", "results": [{"field", "crop", "planted", "scenario", "season", "stages",
 * "value", "harvest"}]}; with the days when asked for. `made` stays the caller's. NULL: no
 * memory. */
cJSON *view_replay_json(const struct replay *replay, const cJSON *made, bool with_days);

/* A row for each season, stage, day or date of harvest of each scenario; `made` stands above
 * it. */
void view_replay_csv(const struct replay *replay, const cJSON *made, enum replay_by by, struct text *out);

/* The scenarios of each planting side by side. Plantings that no scenario changes are only named when there
 * are several scenarios. */
void view_replay_text(const struct replay *replay, enum replay_by by, bool us_units, struct text *out);

/* Cumulative water, depletion and yield against water of one planting's scenarios, 1600 by 900. `field` NULL:
 * of the first one that any scenario changes. STATUS_NOT_FOUND: no such planting. */
enum status view_replay_svg(const struct replay *replay, const char *field, const cJSON *made, bool us_units,
                            const struct words *words, struct text *out);

/* The same of any results. */
struct results_shown {
    const char *title;
    const struct replay_result *const *result;
    const char *const *name; /* of each */
    size_t count;
    const double *of_best, *measured_of_best; /* of each, the yield as a share of the best one's, by the
                                                 balance and as measured, NaN: not known; both NULL: yields by
                                                 the balance alone, as money has them */
};

/* STATUS_NOT_FOUND: none. */
enum status view_results_svg(const struct replay *replay, const struct results_shown *shown,
                             const cJSON *made, bool us_units, const struct words *words, struct text *out);

/* Index of the first result of a planting of a field (NULL: the first that any scenario changes, else the
 * first of all); result_count: none. */
size_t replay_first_of(const struct replay *replay, const char *field);

/* Whether any scenario changes what a planting does; `first` is the index of its first result. */
bool replay_differs(const struct replay *replay, size_t first);

#endif
