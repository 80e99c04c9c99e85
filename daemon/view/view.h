/* View models: what a page shows, as one cJSON object. /api prints it, the page renders a template over the
 * same object. Pure: from plain structs to JSON, no clock, no locale, no store. The caller frees with
 * cJSON_Delete(); NULL means out of memory (or, where said, a row that cannot be). */
#ifndef WATERTURN_VIEW_H
#define WATERTURN_VIEW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cjson/cJSON.h>

#include "daemon/base/text.h"
#include "daemon/lifecycle/schedule.h"
#include "daemon/morning/source_report.h"
#include "daemon/store/ledger_store.h"
#include "daemon/view/field_facts.h"
#include "daemon/view/words.h"
#include "daemon/view/workings.h"

/* A weather source, or a part of the run, that people must know about. */
struct source_problem {
    char source[FARM_NAME_SIZE];
    char message[PROBLEM_KEPT_SIZE]; /* as problems_keep_first() has it, or a line */
};

#define FARM_FACTS_PROBLEMS_MAX 8

/* What a page says about the farm as a whole. */
struct farm_facts {
    char farm_name[FARM_NAME_SIZE];
    int32_t today;              /* on the farm's own calendar */
    bool us_units;              /* the farm's habit; a visitor may have another */
    int32_t last_run;           /* day of the last good run; CALENDAR_NONE: none yet */
    int last_run_minute;        /* minute of that day, farm's time, 0..1439 */
    enum clock_judgement clock; /* whether `today` can be believed */
    bool has_turns;             /* fields share a supply */
    size_t problem_count;
    struct source_problem problem[FARM_FACTS_PROBLEMS_MAX];
};

/* Whom a view is made for. */
struct view_context {
    const struct farm_facts *facts;
    bool us_units;
    const struct words *words;
};

/* The Today page: one entry for each field, the most urgent first. */
cJSON *view_today(const struct view_context *context, const struct field_morning *mornings, size_t count);

/* A part of it: of all fields in that order those from `from` (0 the first) on, at most `most`, with links to
 * those before and after. `want` is called for each of them before it is read: the others need only their
 * call. */
struct today_part {
    size_t from, most;
    void (*want)(void *context, size_t index);
    void *want_context;
};
cJSON *view_today_part(const struct view_context *context, const struct field_morning *mornings, size_t count,
                       const struct today_part *part);

/* A field's page: its morning (NULL: none), the season so far, its records, its weather. `rows`: the ledger
 * of its planting, oldest row first. */
cJSON *view_field(const struct view_context *context, const struct field_facts *facts,
                  const struct field_morning *morning, const struct ledger_row *rows, size_t count);

/* A field's ledger: all rows, sums by stage and over the season, and on paper the record of its waterings.
 * `facts` may be NULL. */
cJSON *view_ledger(const struct view_context *context, const char *field, const struct field_facts *facts,
                   const struct ledger_row *rows, size_t count);

/* The workings of a day of a field. */
cJSON *view_workings(const struct view_context *context, const struct workings_facts *facts);

/* The ledger as CSV in the units of core/, with every digit. Text that a spreadsheet would take for a formula
 * gets an apostrophe before it. */
void view_ledger_csv(const char *field, const struct ledger_row *rows, size_t count, struct text *out);

/* The calls as CSV in the units of core/, in the order given. */
void view_calls_csv(const struct field_morning *mornings, size_t count, struct text *out);

/* Past calls beside what came (hindsight.h), the newest first, and how far forecasts were off. */
struct hindsight;
cJSON *view_hindsight(const struct view_context *context, const struct hindsight *hindsight);

/* The weather sources, as they stand on the day of the facts. */
cJSON *view_sources(const struct view_context *context, const struct source_report *reports, size_t count);

/* What a page says when it cannot be shown; `key` stands in the words as error.KEY and error.KEY.hint. */
cJSON *view_error(const struct view_context *context, const char *key);

#endif
