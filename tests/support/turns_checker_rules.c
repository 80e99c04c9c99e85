/* The simple rules and the trial of all plans, for the checker: written anew, with no look at the planner. */
#include "tests/support/turns_checker.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_TURNS 400

/* One supply, hour by hour, as turns are laid on it. */
struct ground {
    const struct turns_problem *problem;
    int supply;
    int places[TURNS_HOURS_MAX], running[TURNS_HOURS_MAX], day_hours[TURNS_DAYS_MAX];
    double drawn[TURNS_HOURS_MAX];
    double season_m3, period_m3[TURNS_PERIODS_MAX];
    struct turn turn[MOST_TURNS];
    int count;
};

static bool open_at(const struct ground *ground, int t) {
    const struct turns_problem *problem = ground->problem;
    return t >= problem->first_hour && problem->supply[ground->supply].open[t / 24] >> t % 24 & 1 &&
           !(problem->supply[ground->supply].skipped[t / 24] >> t % 24 & 1);
}

static bool dry_at(const struct turns_problem *problem, int field, int t) {
    bool dry = problem->field[field].dry_days >> t / 24 & 1;
    for (int i = 0; i < problem->forbid_count; i++)
        dry |=
            problem->forbid[i].field == field && problem->forbid[i].first <= t && t < problem->forbid[i].last;
    return dry;
}

static bool allotted(const struct ground *ground, int day, double flow, double season, const double *period) {
    const struct turns_supply *supply = &ground->problem->supply[ground->supply];
    if (season > supply->season_left_m3 * (1 + 1e-9))
        return false;
    for (int p = 0; p < supply->period_count; p++)
        if (supply->period[p].first_day <= day && day <= supply->period[p].last_day &&
            period[p] + flow > supply->period[p].left_m3 * (1 + 1e-9))
            return false;
    return true;
}

/* Where a field's set-up before a start begins, over hours that the clock leaves out or goes through twice.
 */
static int set_up_from(const struct ground *ground, int field, int start) {
    const struct turns_supply *supply = &ground->problem->supply[ground->supply];
    int hours = ground->problem->field[field].setup_hours, from = start;
    for (; hours > 0; from--) {
        int t = from - 1;
        bool none = t >= 0 && (supply->skipped[t / 24] & (UINT32_C(1) << t % 24)) != 0;
        bool two = t >= 0 && (supply->twice[t / 24] & (UINT32_C(1) << t % 24)) != 0;
        hours -= none ? 0 : two ? 2 : 1;
    }
    return from;
}

static bool clear_of_own(const struct ground *ground, int field, int from, int start, int end) {
    for (int i = 0; i < ground->count; i++) {
        const struct turn *other = &ground->turn[i];
        if (other->field != field)
            continue;
        int begin = set_up_from(ground, field, other->start);
        if ((from < other->end && begin < end) || other->start / 24 == start / 24)
            return false;
    }
    return true;
}

/* How many hours, up to `wanted`, a field can run from `start`; 0: none. `end` of them. */
static int hours_from(const struct ground *ground, int field, int start, int wanted, int *end) {
    const struct turns_problem *problem = ground->problem;
    const struct turns_field *it = &problem->field[field];
    const struct turns_supply *supply = &problem->supply[ground->supply];
    int from = set_up_from(ground, field, start), ran = 0, own = 0, alone = 0;
    double season = ground->season_m3, period[TURNS_PERIODS_MAX];
    memcpy(period, ground->period_m3, sizeof period);
    if (from < problem->first_hour || !open_at(ground, start))
        return 0;
    for (int t = from; t < start; t++)
        if (ground->places[t] == supply->users)
            return 0;
    for (int t = start; t < 24 * problem->days && ran < wanted; t++) {
        if (t % 24 == 0)
            own = alone = 0;
        if (dry_at(problem, field, t) || ground->places[t] == supply->users)
            break;
        if (!open_at(ground, t) || own == supply->hours_per_day) {
            if ((it->may_pause || supply->skipped[t / 24] >> t % 24 & 1) && ran > 0)
                continue;
            break;
        }
        if (ground->drawn[t] + it->flow_m3_h > supply->flow_m3_h * (1 + 1e-9))
            break;
        if (ground->running[t] == 0 && ground->day_hours[t / 24] + alone + 1 > supply->hours_per_day)
            break;
        season += it->flow_m3_h;
        if (!allotted(ground, t / 24, it->flow_m3_h, season, period) ||
            !clear_of_own(ground, field, from, start, t + 1))
            break;
        for (int p = 0; p < supply->period_count; p++)
            if (supply->period[p].first_day <= t / 24 && t / 24 <= supply->period[p].last_day)
                period[p] += it->flow_m3_h;
        alone += ground->running[t] == 0;
        own++;
        ran++;
        *end = t + 1;
    }
    return ran;
}

static void lay(struct ground *ground, int field, int start, int hours, int end, int sign) {
    const struct turns_field *it = &ground->problem->field[field];
    const struct turns_supply *supply = &ground->problem->supply[ground->supply];
    int own = 0;
    for (int t = set_up_from(ground, field, start); t < end; t++) {
        ground->places[t] += sign;
        own = t % 24 == 0 || t < start ? 0 : own;
        if (t < start || !open_at(ground, t) || own == supply->hours_per_day)
            continue;
        own++;
        bool ran = ground->running[t] > 0;
        ground->running[t] += sign;
        ground->drawn[t] = ground->running[t] == 0 ? 0 : ground->drawn[t] + sign * it->flow_m3_h;
        ground->day_hours[t / 24] += (ground->running[t] > 0) - ran;
        ground->season_m3 += sign * it->flow_m3_h;
        for (int p = 0; p < supply->period_count; p++)
            if (supply->period[p].first_day <= t / 24 && t / 24 <= supply->period[p].last_day)
                ground->period_m3[p] += sign * it->flow_m3_h;
    }
    if (sign > 0)
        ground->turn[ground->count++] =
            (struct turn){.field = field, .start = start, .hours = hours, .end = end, .pin = -1};
    else
        ground->count--;
}

/* Hours that the field runs on a day so far. */
static int ran_on(const struct ground *ground, int field, int day) {
    int ran = 0;
    for (int i = 0; i < ground->count; i++) {
        const struct turn *turn = &ground->turn[i];
        int own = 0;
        for (int t = turn->start; turn->field == field && t < turn->end; t++) {
            own = t % 24 == 0 ? 0 : own;
            if (!open_at(ground, t) || own == ground->problem->supply[ground->supply].hours_per_day)
                continue;
            own++;
            ran += t / 24 == day;
        }
    }
    return ran;
}

/* Mean depletion of a morning and an evening. */
static void look(const struct ground *ground, int field, int day, double *morning, double *evening) {
    const struct turns_problem *problem = ground->problem;
    const struct turns_field *it = &problem->field[field];
    int ran[TURNS_DAYS_MAX];
    for (int d = 0; d <= day; d++)
        ran[d] = ran_on(ground, field, d);
    *morning = *evening = 0;
    for (int c = 0; c < problem->courses; c++) {
        const struct turns_day *days = &it->day[c * problem->days];
        double dr = fmin(it->depletion_mm, days[0].taw_mm), before = dr;
        for (int d = 0; d <= day; d++) {
            before = dr;
            dr -= days[d].inflow_mm + ran[d] * it->flow_m3_h * it->efficiency * 1000 / it->area_m2;
            dr = fmin(dr, days[d].taw_mm);
            double ks = fmin(1, (days[d].taw_mm - dr) / (days[d].taw_mm - days[d].raw_mm));
            dr = fmax(0, fmin(dr + ks * days[d].etc_mm, days[d].taw_mm));
        }
        *morning += problem->weight[c] * before;
        *evening += problem->weight[c] * dr;
    }
}

static double mean_of(const struct turns_problem *problem, int field, int day, bool taw) {
    double sum = 0;
    for (int c = 0; c < problem->courses; c++) {
        const struct turns_day *it = &problem->field[field].day[c * problem->days + day];
        sum += problem->weight[c] * (taw ? it->taw_mm : it->allowed_mm);
    }
    return sum;
}

static bool on_that_day(const struct ground *ground, int field, int day) {
    for (int i = 0; i < ground->count; i++)
        if (ground->turn[i].field == field && ground->turn[i].start < 24 * day + 24 &&
            ground->turn[i].end > 24 * day)
            return true;
    return false;
}

/* Hours of a turn of the field, from its ranges. */
static void range(const struct turns_field *field, int *least, int *most) {
    double rate = field->flow_m3_h * field->efficiency * 1000 / field->area_m2;
    *least = field->run_min_hours;
    *most = field->run_max_hours;
    while (*least * rate < field->net_min_mm - 1e-6 * rate)
        ++*least;
    while (*most * rate > field->net_max_mm + 1e-6 * rate)
        --*most;
}

/* Serves a field on this day, not before `from`; the start, or -1. */
static int serve(struct ground *ground, int field, int from, double need_mm) {
    const struct turns_field *it = &ground->problem->field[field];
    int least, most, end = 0;
    range(it, &least, &most);
    int wanted = (int)(need_mm / (it->flow_m3_h * it->efficiency * 1000 / it->area_m2));
    wanted = wanted > most ? most : wanted < least ? least : wanted;
    for (int start = from; start / 24 == from / 24; start++) {
        int hours = hours_from(ground, field, start, wanted, &end);
        if (hours < least)
            continue;
        lay(ground, field, start, hours, end, 1);
        return start;
    }
    return -1;
}

static void run_rule(struct ground *ground, enum turns_rule rule) {
    const struct turns_problem *problem = ground->problem;
    int queue[TURNS_FIELDS_MAX], count = 0;
    static double need[TURNS_FIELDS_MAX], share[TURNS_FIELDS_MAX];
    for (int day = 0; day < problem->days; day++) {
        int from = day == 0 ? problem->first_hour : 24 * day, left = 0, waiting = count;
        for (int f = 0; f < problem->field_count; f++) {
            int least, most;
            double evening;
            bool queued = false;
            if (problem->field[f].supply != ground->supply)
                continue;
            range(&problem->field[f], &least, &most);
            look(ground, f, day, &need[f], &evening);
            share[f] = need[f] / mean_of(problem, f, day, true);
            for (int i = 0; i < waiting; i++)
                queued |= queue[i] == f;
            if (!queued && least <= most && evening > mean_of(problem, f, day, false) &&
                problem->field[f].flow_m3_h <= problem->supply[ground->supply].flow_m3_h * (1 + 1e-9) &&
                !on_that_day(ground, f, day))
                queue[count++] = f;
        }
        for (int i = 1; i < count && rule == TURNS_EARLIEST_DRY; i++)
            for (int j = i; j > 0 && share[queue[j]] > share[queue[j - 1]]; j--) {
                int field = queue[j];
                queue[j] = queue[j - 1];
                queue[j - 1] = field;
            }
        for (int i = 0; i < count; i++) {
            int start = serve(ground, queue[i], from, need[queue[i]]);
            from = start < 0 ? from : start;
            if (start < 0)
                queue[left++] = queue[i];
        }
        count = left;
    }
}

double checker_rule(const struct turns_problem *problem, enum turns_rule rule) {
    struct turn *all = calloc(MOST_TURNS * (size_t)problem->supply_count, sizeof *all);
    struct ground *ground = malloc(sizeof *ground);
    int count = 0;
    for (int s = 0; s < problem->supply_count; s++) {
        memset(ground, 0, sizeof *ground);
        ground->problem = problem;
        ground->supply = s;
        run_rule(ground, rule);
        memcpy(&all[count], ground->turn, (size_t)ground->count * sizeof *all);
        count += ground->count;
    }
    double cost = checker_cost(problem, all, count);
    free(ground);
    free(all);
    return cost;
}

/* ---- all plans */
struct trial {
    struct ground ground;
    double best;
    long plans;
};

static void try_fields(struct trial *trial, int field);

/* All further turns of a field from hour `from` on, then the next field. */
static void try_turns(struct trial *trial, int field, int from) {
    const struct turns_problem *problem = trial->ground.problem;
    int least, most;
    range(&problem->field[field], &least, &most);
    try_fields(trial, field + 1);
    for (int start = from; start < 24 * problem->days; start++)
        for (int hours = least; hours <= most; hours++) {
            int end;
            if (hours_from(&trial->ground, field, start, hours, &end) < hours)
                break;
            lay(&trial->ground, field, start, hours, end, 1);
            try_turns(trial, field, end);
            lay(&trial->ground, field, start, hours, end, -1);
        }
}

static void try_fields(struct trial *trial, int field) {
    const struct ground *ground = &trial->ground;
    if (field < ground->problem->field_count) {
        try_turns(trial, field, ground->problem->first_hour);
        return;
    }
    trial->plans++;
    double cost = checker_cost(ground->problem, ground->turn, ground->count);
    if (cost < trial->best)
        trial->best = cost;
}

double checker_best(const struct turns_problem *problem, long *plans) {
    struct trial *trial = calloc(1, sizeof *trial);
    trial->ground.problem = problem;
    trial->best = INFINITY;
    try_fields(trial, 0);
    double best = trial->best;
    *plans = trial->plans;
    free(trial);
    return best;
}
