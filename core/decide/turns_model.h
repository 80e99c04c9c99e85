/* Inside the turns: what their files share. Nothing here is for other modules; arguments are trusted. */
#ifndef WATERTURN_TURNS_MODEL_H
#define WATERTURN_TURNS_MODEL_H

#include "core/decide/turns.h"

/* A flow or volume may pass its limit by this share of it: rounding. */
#define TURNS_SLACK 1e-9

/* One day of a field in one course, ready for the daily step; money is of the whole field and weighed with
 * the course's probability. Percolation is not followed by day: over the horizon it is end - start + water +
 * inflow + cut - ETa, and each day is charged with its part of that sum. So every day's cost, and the end's,
 * grow with the depletion, which the bound rests on. */
struct turns_model_day {
    double inflow_mm, etc_mm, taw_mm, raw_mm;
    double ks_slope; /* ETc / (TAW - RAW) */
    double loss_mm;  /* money for a mm of ETc that is missed */
    double perc_mm;  /* money for a mm that percolates */
};

struct turns_model_field {
    const struct turns_field *field;
    int shortest, longest;            /* hours of a turn; longest 0: it gets none */
    double rate_mm_h;                 /* net */
    double hour_money;                /* water, and its part of percolation, of an hour that it runs */
    double constant;                  /* percolation that comes without turns, and the start's part */
    double end_mm[TURNS_COURSES_MAX]; /* money for a mm of depletion after the last day */
    double end_worth_m3;
    double start_mm[TURNS_COURSES_MAX];
    struct turns_model_day *day;     /* [course * days + d] */
    uint32_t barred[TURNS_DAYS_MAX]; /* hours forbidden, by day */
    uint8_t pinned[TURNS_DAYS_MAX];  /* pinned hours by day */
};

/* A turn in the making. */
struct turns_job {
    int field; /* index in the problem */
    int16_t start, hours, end;
    int16_t release; /* earliest start */
    int pin;         /* or -1 */
};

/* What is taken of a supply, hour by hour. */
struct turns_board {
    const struct turns_supply *supply;
    uint8_t open[TURNS_HOURS_MAX];    /* it may run */
    int16_t held[TURNS_HOURS_MAX];    /* places taken */
    int16_t running[TURNS_HOURS_MAX]; /* turns that run */
    double drawn[TURNS_HOURS_MAX];    /* m3/h */
    int16_t day_hours[TURNS_DAYS_MAX];
    int hours_run;
    double season_m3, period_m3[TURNS_PERIODS_MAX];
};

/* Jobs of one supply and what they cost. */
struct turns_list {
    struct turns_job *job;
    int count;
    double cost; /* fields and pumping */
};

/* All that is worked on; lives in the caller's workspace. */
struct turns_work {
    const struct turns_problem *problem;
    int hours; /* of the horizon */
    struct turns_model_field *field;
    int *member, *first; /* fields by supply: member[first[s]] .. member[first[s + 1] - 1] */
    struct turns_job *pinned;
    int pinned_count;
    struct turns_plan *plan; /* where limits are reported */
    /* one supply at a time */
    int supply;
    struct turns_board pins_board, board;
    struct turns_list best, current, trial, order;
    double *cost, *trial_cost;       /* by field */
    uint8_t (*used)[TURNS_DAYS_MAX]; /* hours by field and day, pinned ones among them */
    uint8_t (*trial_used)[TURNS_DAYS_MAX];
    struct turns_bound_space *bound;
    double (*need_hours)[TURNS_DAYS_MAX]; /* turns_limits.c's, by field */
    uint64_t random;
};

/* ---- turns_model.c: a field's hours and money */
void turns_model_prepare(struct turns_work *work);
/* A day: from the depletion after the day's water, which may be below 0 (above field capacity), to that of
 * the evening. Returns the money of the day but for water's part. */
double turns_model_step(const struct turns_model_day *day, double *depletion_mm);
/* Money of a field, pumping left out, with hours[d] of water on day d. */
double turns_model_cost(const struct turns_work *work, int field, const uint8_t *hours);
/* The mornings of a field and the money up to each: for turns_model_tail(). */
struct turns_prefix {
    double depletion_mm[TURNS_COURSES_MAX][TURNS_DAYS_MAX];
    double money[TURNS_DAYS_MAX];
};
void turns_model_prefix(const struct turns_work *work, int field, const uint8_t *hours,
                        struct turns_prefix *prefix);
/* turns_model_cost() when hours before day `from` are those of the prefix. */
double turns_model_tail(const struct turns_work *work, int field, const uint8_t *hours, int from,
                        const struct turns_prefix *prefix);
/* turns_model_cost() part by part, and the evenings' depletions, mean over the courses. */
struct turns_cost turns_model_parts(const struct turns_work *work, int field, const uint8_t *hours,
                                    double evening_mm[TURNS_DAYS_MAX]);
/* Mean over the courses of what is allowed on a day. */
double turns_model_allowed(const struct turns_work *work, int field, int day);

/* ---- turns_board.c: hours, places, flow, allotments */

/* A turn that grows hour by hour on a board. */
struct turns_walk {
    const struct turns_work *work;
    const struct turns_board *board;
    const struct turns_model_field *field;
    int start, hour, hours; /* hour: the next one; hours: running so far */
    int own, fresh_today;   /* of this turn today; of them those in which nothing else runs */
    int fresh;              /* hours in which nothing else runs */
    uint8_t by_day[TURNS_DAYS_MAX];
    double period_m3[TURNS_PERIODS_MAX];
    /* when it fails */
    enum turns_limit_kind why;
    double over;
    int period;
};

void turns_board_clear(const struct turns_work *work, struct turns_board *board, int supply);
/* The hour in which a set-up of so many hours before `start` begins: hours that the clock leaves out are none
 * of them, those that it goes through twice are two. Below 0: it would have to begin before the first day. */
int turns_setup_begin(const struct turns_supply *supply, int start, int setup);
/* False, with `why`, when no turn can start there. */
bool turns_walk_begin(struct turns_walk *walk, const struct turns_work *work, const struct turns_board *board,
                      int field, int start, int setup);
/* One more hour that runs; false when there is none. */
bool turns_walk_on(struct turns_walk *walk);
/* A whole turn; job->end is written when it fits. */
bool turns_walk_job(struct turns_walk *walk, const struct turns_work *work, const struct turns_board *board,
                    struct turns_job *job);
/* The first start after the walk's that may do better, for scanning. */
int turns_walk_next(const struct turns_walk *walk);
/* Puts a job on the board and into hours by day (may be NULL) (sign 1), or takes it away (-1). */
void turns_board_put(const struct turns_work *work, struct turns_board *board, const struct turns_job *job,
                     int sign, uint8_t *by_day);
/* Hours that the supply can run on a day. */
int turns_board_hours(const struct turns_board *board, int day);
int turns_job_setup(const struct turns_work *work, const struct turns_job *job);
/* True when no job of `own` (all of one field) is in the way of one of start, end. */
bool turns_jobs_apart(const struct turns_work *work, const struct turns_job *own, int count, int start,
                      int end);

/* ---- turns_pins.c */
struct turns_limit turns_limit_empty(enum turns_limit_kind kind); /* "does not apply" everywhere */
void turns_report(struct turns_work *work, const struct turns_limit *limit);
/* Judges all pins; accepted ones into work->pinned and the fields' pinned hours. */
void turns_pins_place(struct turns_work *work);
/* The board of a supply with the accepted pins into work->pins_board. */
void turns_pins_board(struct turns_work *work, int supply);

/* ---- turns_search.c: one supply, work->supply, whose pins_board is ready */
/* A number from 0 and below `count`, 1 or more. */
int turns_random_below(struct turns_work *work, int count);
/* Board, hours by day and money of the pins alone into `current`. */
void turns_search_reset(struct turns_work *work);
/* Adds a job that fits to `current`. */
void turns_search_add(struct turns_work *work, const struct turns_job *job);
/* Money of `current`; kept as the best if it is. */
void turns_search_keep(struct turns_work *work);
/* Makes `best` the current list again. */
void turns_search_back(struct turns_work *work);
/* The planner's own jobs of a field in `current`, and accepted pins; returns how many. */
#define TURNS_OWN_MAX TURNS_HOURS_MAX /* turns of a field do not overlap */
int turns_search_own(const struct turns_work *work, int field, struct turns_job own[TURNS_OWN_MAX]);
/* Takes each field's turns away and lays them anew as suits it best among the others', until nothing changes
 * or `tries` runs out. */
void turns_search_refit(struct turns_work *work, long *tries);
/* Lays fields whose turns are near each other anew together, and keeps what costs no more. */
void turns_search_renew(struct turns_work *work, long *tries);
/* Places `list` in its order, each job as early as its release lets it, into `current`. */
void turns_search_decode(struct turns_work *work, const struct turns_list *list);
/* Changes the order, hours and releases of the best list and keeps what is better. */
void turns_search_shuffle(struct turns_work *work, long *tries);

/* Joins turns of the best list, the shortest first, where one fewer costs no more than `worth` and the plan
 * no more than `most`; that is then the best list. */
void turns_search_join(struct turns_work *work, double worth, double most, long tries);

void turns_list_copy(struct turns_list *to, const struct turns_list *from);

/* ---- turns_rules.c: into `current` */
void turns_rules_run(struct turns_work *work, enum turns_rule rule);

/* ---- turns_bound.c */
size_t turns_bound_size(const struct turns_problem *problem);
struct turns_bound_space *turns_bound_lay_out(void *block, const struct turns_problem *problem);
/* A bound on the cost of any plan of the supply. */
double turns_bound_run(struct turns_work *work);
/* Plans from the shares that the last linear program gave the courses of turns, kept if they are the best;
 * first the largest share of each field, then by chance. */
void turns_bound_guide(struct turns_work *work, int plans);

/* ---- turns_exact.c: goes through all plans of a small supply, in up to effort.nodes branches. True when it
 * came to the end: the best plan then costs the least there is. turns_bound_run() comes before it. */
bool turns_exact_run(struct turns_work *work);

/* ---- turns_limits.c: of the work's supply, whose plan is in `current` */
void turns_limits_report(struct turns_work *work);

#endif
