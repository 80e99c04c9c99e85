#include "tests/support/turns_checker.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HOURS TURNS_HOURS_MAX

/* What happens on one supply in each hour. */
struct hours {
    int places[HOURS], running[HOURS];
    double drawn[HOURS];
};

static bool is_open(const struct turns_problem *problem, int supply, int t) {
    return t >= problem->first_hour && t < 24 * problem->days &&
           (problem->supply[supply].open[t / 24] & (1u << t % 24)) != 0 &&
           (problem->supply[supply].skipped[t / 24] & (1u << t % 24)) == 0;
}

static bool must_be_dry(const struct turns_problem *problem, int field, int t) {
    if (problem->field[field].dry_days & (1u << t / 24))
        return true;
    for (int i = 0; i < problem->forbid_count; i++)
        if (problem->forbid[i].field == field && t >= problem->forbid[i].first && t < problem->forbid[i].last)
            return true;
    return false;
}

/* ---- money, straight from FAO-56 eqs 84 to 88 */
static double rate_of(const struct turns_field *field) {
    return field->flow_m3_h / field->area_m2 * 1000 * field->efficiency;
}

/* Missed ETc as money, percolation and the last depletion in mm, of one course. */
static double follow(const struct turns_problem *problem, const struct turns_field *field, int course,
                     const double *water_mm, double *percolation_mm, double *last_mm) {
    double depletion = field->depletion_mm, loss = 0;
    *percolation_mm = 0;
    for (int d = 0; d < problem->days; d++) {
        const struct turns_day *day = &field->day[course * problem->days + d];
        if (d == 0 && depletion > day->taw_mm)
            depletion = day->taw_mm;
        depletion -= day->inflow_mm + water_mm[d];
        if (depletion > day->taw_mm)
            depletion = day->taw_mm;
        double ks = 1;
        if (depletion > day->raw_mm)
            ks = (day->taw_mm - depletion) / (day->taw_mm - day->raw_mm); /* eq. 84 */
        double eta = ks * day->etc_mm;
        if (depletion + eta > day->taw_mm)
            eta = day->taw_mm - depletion;
        loss += field->value_m2 * field->area_m2 * day->ky * (day->etc_mm - eta) / day->etc_stage_mm;
        depletion += eta;
        if (depletion < 0) {
            *percolation_mm -= depletion;
            depletion = 0;
        }
    }
    *last_mm = depletion;
    return loss;
}

static double field_money(const struct turns_problem *problem, int index, const double *hours) {
    const struct turns_field *field = &problem->field[index];
    const struct turns_supply *supply = &problem->supply[field->supply];
    double water_mm[TURNS_DAYS_MAX], dry[TURNS_DAYS_MAX] = {0}, money = 0;
    double worth = (supply->water_cost_m3 + supply->hour_cost / supply->flow_m3_h) / field->efficiency;
    if (!isnan(field->end_worth_m3))
        worth = field->end_worth_m3;
    for (int d = 0; d < problem->days; d++) {
        water_mm[d] = hours[d] * rate_of(field);
        money += hours[d] * field->flow_m3_h * supply->water_cost_m3;
    }
    for (int c = 0; c < problem->courses; c++) {
        double percolation, free_percolation, last, unused;
        double loss = follow(problem, field, c, water_mm, &percolation, &last);
        follow(problem, field, c, dry, &free_percolation, &unused);
        double m3 = field->area_m2 / 1000;
        money += problem->weight[c] * (loss + m3 * worth * last +
                                       m3 * problem->percolation_cost_m3 * (percolation - free_percolation));
    }
    return money;
}

/* Lays a turn on its supply's hours and adds up the hours of each day. */
static void lay(const struct turns_problem *problem, const struct turn *turn, int setup, struct hours *hours,
                double *by_day) {
    const struct turns_field *field = &problem->field[turn->field];
    int today = 0;
    for (int t = turn->start - setup; t < turn->end; t++) {
        hours->places[t]++;
        if (t % 24 == 0 || t == turn->start)
            today = 0;
        if (t < turn->start || !is_open(problem, field->supply, t) ||
            today == problem->supply[field->supply].hours_per_day)
            continue;
        today++;
        hours->running[t]++;
        hours->drawn[t] += field->flow_m3_h;
        by_day[t / 24]++;
    }
}

/* Clock hours of set-up: as many as the field takes; those that the clock leaves out count none, those that
 * come twice two. */
static int setup_of(const struct turns_problem *problem, const struct turn *turn) {
    const struct turns_field *field = &problem->field[turn->field];
    int clock = 0;
    if (turn->pin >= 0 && problem->pin[turn->pin].under_way)
        return 0;
    for (int real = 0; real < field->setup_hours; clock++) {
        int t = turn->start - clock - 1;
        const struct turns_supply *supply = &problem->supply[field->supply];
        real += t < 0 || (supply->skipped[t / 24] & (1u << t % 24)) == 0;
        real += t >= 0 && (supply->twice[t / 24] & (1u << t % 24)) != 0;
    }
    return clock;
}

/* All turns of one supply; `by_day` has a row for each field. */
static void lay_all(const struct turns_problem *problem, const struct turn *turn, int count, int supply,
                    struct hours *hours, double (*by_day)[TURNS_DAYS_MAX]) {
    memset(hours, 0, sizeof *hours);
    for (int i = 0; i < count; i++)
        if (problem->field[turn[i].field].supply == supply)
            lay(problem, &turn[i], setup_of(problem, &turn[i]), hours, by_day[turn[i].field]);
}

static double cost_of(const struct turns_problem *problem, const struct turn *turn, int count, int supply) {
    double(*by_day)[TURNS_DAYS_MAX] = calloc((size_t)problem->field_count, sizeof *by_day), money = 0;
    struct hours hours;
    lay_all(problem, turn, count, supply, &hours, by_day);
    for (int t = 0; t < 24 * problem->days; t++)
        money += hours.running[t] > 0 ? problem->supply[supply].hour_cost : 0;
    for (int i = 0; i < problem->field_count; i++)
        if (problem->field[i].supply == supply)
            money += field_money(problem, i, by_day[i]);
    free(by_day);
    return money;
}

double checker_cost(const struct turns_problem *problem, const struct turn *turn, int count) {
    double money = 0;
    for (int s = 0; s < problem->supply_count; s++)
        money += cost_of(problem, turn, count, s);
    return money;
}

/* ---- limits */
#define FAULT(...) (snprintf(what, CHECKER_TEXT, __VA_ARGS__), false)

static bool near(double a, double b) {
    return fabs(a - b) <= 1e-6 * (1 + fabs(a) + fabs(b));
}

/* A turn by itself: its hours, depth, set-up and dry hours. */
static bool turn_is_right(const struct turns_problem *problem, const struct turn *turn, char *what) {
    const struct turns_field *field = &problem->field[turn->field];
    const struct turns_supply *supply = &problem->supply[field->supply];
    bool under_way = turn->pin >= 0 && problem->pin[turn->pin].under_way;
    int ran = 0, today = 0;
    double net = turn->hours * rate_of(field);
    if (turn->start - setup_of(problem, turn) < problem->first_hour || turn->end > 24 * problem->days)
        return FAULT("field %d at %d: outside the days", turn->field, turn->start);
    for (int t = turn->start; t < turn->end; t++) {
        today = t % 24 == 0 ? 0 : today;
        if (must_be_dry(problem, turn->field, t))
            return FAULT("field %d at %d: on in hour %d, which must be dry", turn->field, turn->start, t);
        bool runs = is_open(problem, field->supply, t) && today < supply->hours_per_day;
        bool left_out = (supply->skipped[t / 24] & (1u << t % 24)) != 0;
        if (!runs && ((!field->may_pause && !left_out) || t == turn->start || t == turn->end - 1))
            return FAULT("field %d at %d: does not run in hour %d", turn->field, turn->start, t);
        today += runs;
        ran += runs;
    }
    if (ran != turn->hours || ran < 1)
        return FAULT("field %d at %d: ran %d hours, not %d", turn->field, turn->start, ran, turn->hours);
    if (ran > field->run_max_hours || (!under_way && ran < field->run_min_hours))
        return FAULT("field %d at %d: run of %d hours", turn->field, turn->start, ran);
    if (net > field->net_max_mm + 1e-5 * rate_of(field) ||
        (!under_way && net < field->net_min_mm - 1e-5 * rate_of(field)))
        return FAULT("field %d at %d: depth %g", turn->field, turn->start, net);
    if (!near(net, turn->net_mm) || !near(net, turn->gross_mm * field->efficiency) ||
        !near(turn->volume_m3, turn->hours * field->flow_m3_h))
        return FAULT("field %d at %d: depths or volume reported", turn->field, turn->start);
    return true;
}

/* Two turns of one field. */
static bool pair_is_right(const struct turns_problem *problem, const struct turn *a, const struct turn *b,
                          char *what) {
    if (a->field != b->field)
        return true;
    if (a->start - setup_of(problem, a) < b->end && b->start - setup_of(problem, b) < a->end)
        return FAULT("field %d: turns at %d and %d overlap", a->field, a->start, b->start);
    if (a->pin < 0 && b->pin < 0 && a->start / 24 == b->start / 24)
        return FAULT("field %d: two starts on a day, %d and %d", a->field, a->start, b->start);
    return true;
}

static bool allotments_hold(const struct turns_problem *problem, int s, const struct hours *hours,
                            const struct turns_supply_use *use, char *what) {
    const struct turns_supply *supply = &problem->supply[s];
    double all = 0;
    for (int t = 0; t < 24 * problem->days; t++)
        all += hours->drawn[t];
    if (all > supply->season_left_m3 * (1 + 1e-6))
        return FAULT("supply %d: season's allotment, %g m3", s, all);
    if (!isnan(supply->season_left_m3) && !near(use->season_left_m3, supply->season_left_m3 - all))
        return FAULT("supply %d: left of the season", s);
    for (int p = 0; p < supply->period_count; p++) {
        double part = 0;
        for (int t = 0; t < 24 * problem->days; t++)
            if (t / 24 >= supply->period[p].first_day && t / 24 <= supply->period[p].last_day)
                part += hours->drawn[t];
        if (part > supply->period[p].left_m3 * (1 + 1e-6))
            return FAULT("supply %d: allotment %d, %g m3", s, p, part);
        if (!near(use->period_left_m3[p], supply->period[p].left_m3 - part))
            return FAULT("supply %d: left of allotment %d", s, p);
    }
    return near(all, use->volume_m3) || FAULT("supply %d: volume reported", s);
}

static bool supply_is_right(const struct turns_problem *problem, int s, const struct turns_plan *plan,
                            char *what) {
    const struct turns_supply *supply = &problem->supply[s];
    double(*by_day)[TURNS_DAYS_MAX] = calloc((size_t)problem->field_count, sizeof *by_day);
    struct hours hours;
    int run = 0;
    lay_all(problem, plan->turn, plan->turn_count, s, &hours, by_day);
    free(by_day);
    for (int d = 0; d < problem->days; d++) {
        int today = 0;
        for (int t = 24 * d; t < 24 * d + 24; t++) {
            if (hours.places[t] > supply->users)
                return FAULT("supply %d, hour %d: %d places", s, t, hours.places[t]);
            if (hours.drawn[t] > supply->flow_m3_h * (1 + 1e-6))
                return FAULT("supply %d, hour %d: draws %g m3/h", s, t, hours.drawn[t]);
            if (hours.running[t] > 0 && !is_open(problem, s, t))
                return FAULT("supply %d, hour %d: closed", s, t);
            today += hours.running[t] > 0;
        }
        if (today > supply->hours_per_day)
            return FAULT("supply %d, day %d: runs %d hours", s, d, today);
        run += today;
    }
    if (run != plan->supply_use[s].hours_run)
        return FAULT("supply %d: hours run reported", s);
    return allotments_hold(problem, s, &hours, &plan->supply_use[s], what);
}

/* Every pin is in the plan as it stands, or reported. */
static bool pins_are_kept(const struct turns_problem *problem, const struct turns_plan *plan, char *what) {
    for (int p = 0; p < problem->pin_count; p++) {
        int kept = 0;
        for (int i = 0; i < plan->turn_count; i++) {
            const struct turn *turn = &plan->turn[i];
            const struct turns_pin *pin = &problem->pin[p];
            kept += turn->pin == p && turn->field == pin->field && turn->start == pin->start &&
                    turn->hours == pin->hours;
        }
        for (int i = 0; i < plan->limit_count && i < plan->limit_room; i++)
            kept += plan->limit[i].pin == p && plan->limit[i].kind >= TURNS_LIMIT_PIN_RANGE;
        if (kept != 1)
            return FAULT("pin %d is kept or reported %d times", p, kept);
    }
    return true;
}

bool checker_accepts(const struct turns_problem *problem, const struct turns_plan *plan,
                     char what[CHECKER_TEXT]) {
    for (int i = 0; i < plan->turn_count; i++) {
        if (!turn_is_right(problem, &plan->turn[i], what))
            return false;
        for (int j = 0; j < i; j++)
            if (!pair_is_right(problem, &plan->turn[j], &plan->turn[i], what))
                return false;
        if (i > 0 && plan->turn[i - 1].start > plan->turn[i].start)
            return FAULT("turn %d is out of order", i);
    }
    for (int s = 0; s < problem->supply_count; s++)
        if (!supply_is_right(problem, s, plan, what))
            return false;
    double cost = checker_cost(problem, plan->turn, plan->turn_count);
    if (!near(cost, plan->cost.total))
        return FAULT("costs %g, not %g", cost, plan->cost.total);
    const struct turns_cost *parts = &plan->cost;
    if (!near(cost, parts->loss + parts->water + parts->pumping + parts->percolation + parts->end))
        return FAULT("the parts of the cost do not add up");
    return pins_are_kept(problem, plan, what);
}
