/* A season under a rule of watering: as it was recorded, without irrigation, or watered by itself whenever
 * the allowed depletion is passed. For replays that ask "what if". */
#ifndef WATERTURN_WATERING_H
#define WATERTURN_WATERING_H

#include "core/balance/budget.h"
#include "core/balance/season.h"
#include "core/decide/application.h"

enum watering_kind {
    WATERING_RECORDED,  /* the irrigation of the inputs */
    WATERING_NONE,      /* rainfed */
    WATERING_AUTOMATIC, /* on each morning on which the depletion has reached the trigger */
    WATERING_KIND_COUNT
};

/* watering_rule_default() gives the records as they stand. */
struct watering_rule {
    enum watering_kind kind;
    double share;          /* of each depth that is given, 0..5 */
    double trigger;        /* automatic: of the allowed depletion, 0.01..5 */
    double refill;         /* automatic: share of the depletion that is refilled, 0.01..1 */
    double limit_gross_mm; /* all that may be given in the season; 0 or more; NaN: no limit. The last depth is
                              cut to what is left */
    enum crop_stage stop_stage; /* no water from the first day of this stage on (initial to late season), also
                                   after a cutting has set the stage back; STAGE_COUNT: never */
    int32_t stop_date;          /* no water from this day on; CALENDAR_NONE: never */
};

struct watering_rule watering_rule_default(void);

/* "recorded", "none", "automatic"; NULL outside the enum. */
const char *watering_kind_name(enum watering_kind kind);

/* STATUS_OK when every member is inside its range; its name is written to `*member` when not and not NULL. */
enum status watering_rule_check(const struct watering_rule *rule, const char **member);

/* What the automatic rule draws on, one planting by itself. NaN: not bounded by it. */
struct watering_supply {
    double flow_m3_h;     /* above 0; water flows at the lesser of this and the system's own */
    double hours_per_day; /* 0..24; a day's turn takes at most the lesser of this and the system's own */
    double allotment_m3;  /* 0 or more, for the season; once it is used no more is given */
};

struct watering_supply watering_supply_unbounded(void);

/* As watering_rule_check(). */
enum status watering_supply_check(const struct watering_supply *supply, const char **member);

/* What the rule asked for and the supply did not give. */
struct watering_denied {
    double gross_mm;    /* water that came late or not at all; what is asked for again on the next days counts
                           once, until rain has filled it */
    int days;           /* on which less came than was asked for */
    int32_t spent_date; /* on which no more was left of the allotment than was asked for; CALENDAR_NONE */
};

struct watering_season {
    const struct season_setup *setup;
    const struct season_input *input; /* `count` days in order, the first one is setup->first_date */
    int count;
    const struct system *system; /* automatic: efficiency and limits of an application. What would run longer
                                    than its hours_per_day is cut to what a day can do */
    const struct watering_rule *rule;
    const struct watering_supply *supply; /* NULL: unbounded */
    struct watering_denied *denied;       /* filled by watering_run(); NULL: not wanted */
};

/* Runs the days until the season ends or they do. Each day's row is written to `day` (room for `count`; NULL:
 * not wanted) and summed in `*budget`; `*days` is how many rows there are. The automatic rule looks at the
 * evening before, as a grower who reads the ledger in the morning does; it knows nothing of the rain to come.
 * On failure `*failed_date` (may be NULL) is the day at fault, or CALENDAR_NONE for the setup or the rule.
 * Statuses of season_begin(), season_step(), watering_rule_check(), watering_supply_check(); automatic: those
 * of application_plan(). A day's depth is at most 1000 x flow x hours / area, mm (common practice, no source:
 * volume over area). */
enum status watering_run(const struct watering_season *season, struct season_day *day, int *days,
                         struct budget *budget, int32_t *failed_date);

#endif
