/* The turns: who gets the water next, where fields share supplies.
 *
 * Time is counted in whole hours from midnight of the first day: hour 24 d + h is the hour from h to h + 1
 * o'clock of day d. A turn is a start, a whole number of hours that water runs, and the depth that this
 * leaves.
 *
 * What a turn does
 * - It runs in the hours from its start in which its supply is open, up to the supply's hours_per_day on one
 *   day; over the others it pauses, if the field may pause (over skipped ones always), and keeps its place.
 * `end` is the hour after the last that it runs. Every hour that it runs leaves the same net depth: flow x
 * efficiency x 1000 / area, mm.
 * - Its depth lies in the field's range, its hours between the shortest and the longest run.
 * - Set-up comes in the clock hours right before the start, never before first_hour; skipped ones are none of
 *   its hours, those that come twice are two. In them the place is taken and no water runs.
 * - From set-up to end no more turns of the supply are on than it has places; the running fields draw no more
 *   than its flow; the hours in which it runs (for any field) are at most hours_per_day; the volumes keep to
 *   the allotments.
 * - From start to end no hour is forbidden to the field, and two turns of a field do not overlap, set-up
 *   included. The planner starts at most one turn of a field on a day; pinned ones come on top.
 *
 * What a plan costs
 * For every field, course of the weather and day (FAO-56 eqs 84 to 88, as in root_zone.h): water and inflow
 * come early, Ks follows from the depletion that they leave, ETa = Ks ETc; what is then above field capacity
 * percolates. Money:
 *   loss from stress    value x area x Ky x (ETc - ETa) / ETc of the stage (eq. 90, summed over days)
 *   water               volume x the supply's price
 *   pumping             hours in which the supply runs x the price of an hour
 *   percolation         what percolates more than it would without turns x its price
 *   the end             depletion after the last day x what a cubic metre there is worth; without it a plan
 *                       would leave every field dry on its last day
 * Courses of the weather are weighed by their probability; the plan is the same in all of them.
 *
 * The bound. For prices on each supply's flow, places and allotments by day, every field's cheapest course of
 * turns is found by itself; the sum, less the worth of what the supplies have at these prices, is never above
 * the cost of any plan (Lagrangian duality: A.M. Geoffrion, Lagrangean relaxation for integer programming,
 * Mathematical Programming Study 2, 1974; from memory). Prices come from a linear program by column
 * generation. Where the search for the best plan ends before its limit, the bound is the cost.
 *
 * The same input gives the same plan: effort is counted in steps, never in seconds.
 *
 * Linear programs are GLPK's. It allocates by itself, keeps its state by thread, and ends the program when
 * memory runs out. turns_plan() ends with glp_free_env(): no GLPK object of the same thread outlives it. */
#ifndef WATERTURN_TURNS_H
#define WATERTURN_TURNS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/base/status.h"

#define TURNS_DAYS_MAX     16
#define TURNS_HOURS_MAX    (24 * TURNS_DAYS_MAX)
#define TURNS_COURSES_MAX  5
#define TURNS_PERIODS_MAX  8
#define TURNS_FIELDS_MAX   1000
#define TURNS_SUPPLIES_MAX 200
#define TURNS_PINS_MAX     4000
#define TURNS_FORBIDS_MAX  4000

/* An allotment for the days first_day..last_day, both in it; also beyond the days planned. */
struct turns_period {
    int first_day, last_day; /* 0.. */
    double left_m3;          /* not yet used, 0..1e12 */
};

struct turns_supply {
    double flow_m3_h;              /* 0.001..1e6 */
    int users;                     /* places: turns that may be on at once, 1..TURNS_FIELDS_MAX */
    int hours_per_day;             /* hours that it may run on a day, 0..24 */
    uint32_t open[TURNS_DAYS_MAX]; /* by day; bit h: it may run from h to h + 1 o'clock. 0: closed that day */
    /* Hours that the clock leaves out when it is put forward: nothing runs in them, and they break no turn.
     */
    uint32_t skipped[TURNS_DAYS_MAX];
    /* Hours that it goes through twice when it is put back: to a set-up they are two. A turn has one of them.
     */
    uint32_t twice[TURNS_DAYS_MAX];
    double season_left_m3; /* of the season's allotment, 0..1e12; NaN: none */
    struct turns_period period[TURNS_PERIODS_MAX];
    int period_count;
    double water_cost_m3; /* money per m3, 0..1e6 */
    double hour_cost;     /* money per hour that it runs, 0..1e6 */
};

/* One day of one field in one course of the weather. */
struct turns_day {
    double etc_mm;       /* without stress, 0..30 */
    double inflow_mm;    /* rain less runoff, and capillary rise, less the depletion of soil newly reached by
                            roots; -500..2000 */
    double taw_mm;       /* above 0, to 5000 */
    double raw_mm;       /* stress begins above this depletion; 0 or more and below taw_mm */
    double allowed_mm;   /* 0..taw_mm */
    double ky;           /* of the day's stage, 0..3 */
    double etc_stage_mm; /* ETc of the stage that ky counts over, or of the season; above 0 to 1e5 */
};

struct turns_field {
    int supply;                       /* index */
    double area_m2;                   /* 1..1e10 */
    double efficiency;                /* net / gross, 0.2..1 */
    double flow_m3_h;                 /* delivered to it in a turn, 0.001..1e6 */
    double net_min_mm, net_max_mm;    /* depth of a turn, 0..1000 and above 0..1000; NaN: no such limit */
    int run_min_hours, run_max_hours; /* 1..TURNS_HOURS_MAX, in order */
    int setup_hours;                  /* 0..24 */
    bool may_pause;                   /* a turn may stop while the supply is closed and go on when it opens */
    uint32_t dry_days;                /* bit d: the field stays dry on day d */
    bool pins_only;                   /* it gets no turns beside those that are pinned */
    double depletion_mm;              /* this morning, 0..5000; cut to the first day's taw_mm */
    double value_m2;                  /* what the yield without stress is worth, money per m2, 0..1e6 */
    double end_worth_m3; /* money per m3 that the root zone holds after the last day, 0..1e6; NaN: what it
                            costs to bring it there, turns_end_worth_m3() */
    const struct turns_day *day; /* courses x days: day[course * days + d] */
};

/* A turn that must be as it stands. */
struct turns_pin {
    int field, start, hours;
    bool under_way; /* the rest of a pass that has begun: no set-up, no shortest run, no smallest depth */
};

/* Hours, first <= hour < last, in which a field gets no turn. */
struct turns_forbid {
    int field, first, last;
};

/* Limits of the work, in steps. turns_effort_default() fits a problem of any size. */
struct turns_effort {
    long tries; /* changes tried by the search, for each supply; 0.. */
    int rounds; /* rounds of prices, for each supply; 0.. */
    long nodes; /* branches of the search that proves the best plan, for each supply; 0.. */
    bool quick; /* no prices are sought, which takes most of the time of many fields: the plan rests on the
                   rules, on what stands and on `tries`; its bound is NaN and nothing is proven */
};

struct turns_problem {
    int days;                         /* 1..TURNS_DAYS_MAX */
    int first_hour;                   /* hours before it have passed: 0..23 */
    int courses;                      /* of the weather, 1..TURNS_COURSES_MAX */
    double weight[TURNS_COURSES_MAX]; /* probabilities, 0..1, adding up to 1 within 1e-6 */
    double percolation_cost_m3;       /* money, beyond the water's own price, 0..1e6 */
    const struct turns_supply *supply;
    int supply_count;
    const struct turns_field *field;
    int field_count;
    const struct turns_pin *pin;
    int pin_count;
    const struct turns_forbid *forbid;
    int forbid_count;
    /* Turns of a plan that stood: the search sets out from these too, each laid where it stands or as soon
     * after as it fits. At most field_count x days; `under_way` says nothing here. */
    const struct turns_pin *stand;
    int stand_count;
    struct turns_effort effort;
};

struct turn {
    int field;
    int start, hours, end;
    int pin; /* index of the pin that it is, or -1 */
    double net_mm, gross_mm, volume_m3;
};

/* Money; `total` is the sum of the others. */
struct turns_cost {
    double loss, water, pumping, percolation, end, total;
};

/* A limit that cannot be met. */
enum turns_limit_kind {
    /* the supply's flow and hours cannot keep its fields within the allowed depletion: `over` m3 by the end
     * of `day`, whatever the plan */
    TURNS_LIMIT_SUPPLY_SHORT,
    /* the allotment of `period` (-1: the season's) cannot; `over` m3 by the end of `day` */
    TURNS_LIMIT_ALLOTMENT_SHORT,
    /* nor can the field be kept there with the supply to itself (already past it, slow, kept dry): `over` mm
     * on `day` in the mean course */
    TURNS_LIMIT_FIELD_SHORT,
    TURNS_LIMIT_NO_RUN,     /* no whole number of hours fits the field's ranges: `over` hours apart */
    TURNS_LIMIT_FIELD_FLOW, /* the field draws `over` m3/h more than the supply gives: it gets no turn */
    /* a pinned turn is left out, because */
    TURNS_LIMIT_PIN_RANGE,     /* its depth or run is out of the field's ranges, by `over` hours */
    TURNS_LIMIT_PIN_HORIZON,   /* it starts, or is set up, before first_hour or ends after the last day */
    TURNS_LIMIT_PIN_CLOSED,    /* the supply is closed */
    TURNS_LIMIT_PIN_FORBIDDEN, /* the field must stay dry */
    TURNS_LIMIT_PIN_OVERLAP,   /* another turn of the field is on */
    TURNS_LIMIT_PIN_PLACES,    /* all places are taken */
    TURNS_LIMIT_PIN_FLOW,      /* the flow is taken: `over` m3/h */
    TURNS_LIMIT_PIN_HOURS,     /* the supply's hours of a day are taken: `over` hours */
    TURNS_LIMIT_PIN_ALLOTMENT, /* the allotment of `period` is used: `over` m3 */
    TURNS_LIMIT_KIND_COUNT
};

struct turns_limit {
    enum turns_limit_kind kind;
    int supply, field, pin, period; /* indices; -1: does not apply */
    int hour;                       /* where a pin fails first, else -1 */
    int day;                        /* or -1 */
    double over;                    /* by how much, in the kind's unit; NaN: no amount */
    /* What would cure it, each by itself; NaN or -1: that cannot. */
    double more_hours_per_day; /* at least, on each day up to `day` */
    double more_flow_m3_h;     /* of the supply, its fields' flows growing by the same share; at least */
    double more_m3;            /* of allotment, at least */
    int dry_field;             /* the field that costs least to leave without turns */
    double dry_cost;           /* money that this field then loses against the plan */
    int start;                 /* of a pin: the nearest start at which it fits among the other pins */
};

/* How a supply is used. */
struct turns_supply_use {
    int hours_open; /* it could run, in all: the smaller of open hours and hours_per_day, added up */
    int hours_run;  /* it runs */
    double volume_m3;
    double season_left_m3; /* after the plan; NaN: no allotment */
    double period_left_m3[TURNS_PERIODS_MAX];
    struct turns_cost cost; /* of its fields and its pumping */
    double bound;           /* no plan of this supply costs less; 0..cost.total; NaN: effort.quick */
    double priced_bound;    /* the same as prices gave it, before it was cut to that range: never above the
                               cost of any plan but for rounding */
    bool proven;            /* the search went through all plans: cost is the least there is */
};

/* How a field fares under the plan. */
struct turns_field_use {
    int turns, hours;
    double net_mm;
    struct turns_cost cost;              /* without pumping, which is the supply's */
    double depletion_mm[TURNS_DAYS_MAX]; /* each evening, mean over the courses */
    int past_allowed_days;               /* evenings on which that is past the mean allowed depletion */
};

/* The plan. The arrays are the caller's: `turn` has `turn_room` members, supply_use and field_use as many as
 * the problem has supplies and fields, `limit` `limit_room`. */
struct turns_plan {
    struct turn *turn;
    int turn_room, turn_count; /* in the order of start, then field */
    struct turns_supply_use *supply_use;
    struct turns_field_use *field_use;
    struct turns_limit *limit;
    int limit_room, limit_count; /* limit_count may pass limit_room: the rest was left out */
    struct turns_cost cost;
    double bound; /* no plan costs less; at most cost.total; NaN: effort.quick */
    double gap;   /* (cost - bound) / cost; 0 when both are equal, NaN when the cost is 0 or less and they
                     are not, or when there is no bound */
};

/* A supply's open hours from a clock time: bits for `hours` (0..24) hours from `first` (0..23) o'clock, round
 * midnight. 0 outside these ranges. */
uint32_t turns_open_hours(int first, int hours);

struct turns_effort turns_effort_default(void);

/* What it costs to bring 1 m3 into the root zone, money: (price of water + price of an hour / flow) /
 * efficiency. NaN when a member that it takes is outside its range. */
double turns_end_worth_m3(const struct turns_supply *supply, const struct turns_field *field);

/* Net depth of an hour, mm, and the hours that a turn of this field may take: *shortest > *longest when no
 * whole number fits. NaN when a member that it takes is outside its range; the hours are then not written. */
double turns_field_hours(const struct turns_field *field, int *shortest, int *longest);

/* What is wrong with a problem, if anything. */
struct turns_fault {
    const char *list;   /* "problem", "supply", "field", "pin", "forbid", "stand": static strings */
    int index;          /* in that list */
    const char *member; /* static string */
    int course, day;    /* of a field's day, or -1 */
};

/* STATUS_OK when every member is inside its range. STATUS_MISSING: NaN, or a NULL list, where there must be a
 * value; STATUS_NOT_FINITE; STATUS_OUT_OF_RANGE; STATUS_ORDER: two members contradict each other. `fault` may
 * be NULL; it is written on failure only. */
enum status turns_check(const struct turns_problem *problem, struct turns_fault *fault);

/* Bytes that turns_plan() needs for a problem that turns_check() accepts; 0 for another. */
size_t turns_workspace_size(const struct turns_problem *problem);

/* The most turns that a plan of a problem can have; 0 for one that turns_check() does not accept. */
int turns_room(const struct turns_problem *problem);

/* The plan of least cost that the effort finds, but for turns that gain next to nothing (under 0.5 % of what
 * a field costs): they are joined with others or left out. Never worse than turns_by_rule() by either rule.
 * Pins come first, in their order; one that breaks a limit is left out and reported. `workspace` is aligned
 * for any object and `size` bytes large. STATUS_NO_ROOM: `size` or turn_room is too small. Else what
 * turns_check() returns. On failure only turn_count and limit_count, 0, are written. */
enum status turns_plan(const struct turns_problem *problem, void *workspace, size_t size,
                       struct turns_plan *plan);

enum turns_rule {
    TURNS_FIRST_COME,   /* fields queue on the morning of the day whose evening would find them past the
                           allowed depletion; in the order in which they came, then of the list */
    TURNS_EARLIEST_DRY, /* of those who queue, the field with the largest share of its TAW gone goes first */
    TURNS_RULE_COUNT
};

/* The plan that a simple rule gives, for comparison. Each morning the fields that are called (mean course)
 * and wait for no turn join the queue. Each in its order starts at the earliest hour of that day, and not
 * before the one ahead of it, at which a turn fits; it runs as long as fits there up to the hours that refill
 * the root zone from its depletion of that morning (whole hours rounded down, cut to the field's range). A
 * field for which nothing fits on that day stays in the queue for the next morning. The same arguments and
 * statuses as turns_plan(); the bound is NaN and no limits but the pins' are reported. STATUS_OUT_OF_RANGE
 * for a rule outside the enum. */
enum status turns_by_rule(const struct turns_problem *problem, enum turns_rule rule, void *workspace,
                          size_t size, struct turns_plan *plan);

/* What is pinned, and beside it what one of the rules adds where that costs less: what a plan that stands
 * costs, without a search. Arguments, statuses, bound and limits as of turns_by_rule(). */
enum status turns_of_pins(const struct turns_problem *problem, void *workspace, size_t size,
                          struct turns_plan *plan);

#endif
