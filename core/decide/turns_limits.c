/* Limits that no plan can meet, and what would cure them. All amounts are true whatever the plan: water given
 * to a field is never more than its depletion goes down, so by the end of a day it must have had at least
 * what its depletion without turns is past the allowed one. */
#include "core/decide/turns_bound.h"

#include <math.h>

/* Less of an hour, or of a share, is rounding. */
#define SMALL 1e-6

static void report_field(struct turns_work *work, int field, enum turns_limit_kind kind, int day,
                         double over) {
    struct turns_limit limit = turns_limit_empty(kind);
    limit.supply = work->problem->field[field].supply;
    limit.field = field;
    limit.day = day;
    limit.over = over;
    if (kind == TURNS_LIMIT_FIELD_FLOW)
        limit.more_flow_m3_h = over;
    turns_report(work, &limit);
}

/* Fields that get no turn by what they are. */
static void report_unable(struct turns_work *work, int field) {
    const struct turns_field *it = &work->problem->field[field];
    const struct turns_model_field *model = &work->field[field];
    double excess = it->flow_m3_h - work->problem->supply[it->supply].flow_m3_h;
    int shortest, longest;
    if (model->longest > 0)
        return;
    turns_field_hours(it, &shortest, &longest);
    if (shortest > longest)
        report_field(work, field, TURNS_LIMIT_NO_RUN, -1, shortest - longest);
    else
        report_field(work, field, TURNS_LIMIT_FIELD_FLOW, -1, excess);
}

/* The fewest hours that a field must have run by the end of each day, cut to what it can with the supply to
 * itself; the first day on which that is not enough is reported. */
static void find_needs(struct turns_work *work, int field) {
    static const uint8_t none[TURNS_DAYS_MAX];
    const struct turns_model_field *model = &work->field[field];
    double evening[TURNS_DAYS_MAX], able = 0, *need = work->need_hours[field];
    struct turns_reach reach;
    bool reported = false;
    int days = work->problem->days;
    turns_model_parts(work, field, none, evening);
    turns_price_reach(work, field, 0, &reach);
    for (int d = 0; d < days; d++) {
        double past_mm = evening[d] - turns_model_allowed(work, field, d);
        able += model->longest > 0 ? reach.most[d] : 0;
        need[d] = fmax(past_mm / model->rate_mm_h, 0);
        if (need[d] > able + SMALL && !reported) {
            report_field(work, field, TURNS_LIMIT_FIELD_SHORT, d, (need[d] - able) * model->rate_mm_h);
            reported = true;
        }
        need[d] = fmin(need[d], able);
        if (d > 0)
            need[d] = fmax(need[d], need[d - 1]);
    }
    for (int d = days - 1; d > 0; d--)
        need[d - 1] = fmax(need[d - 1], need[d] - reach.most[d]);
}

/* What the fields of a supply but one (-1: all) need by the end of a day. */
static void add_needs(const struct turns_work *work, int without, int day, double *hours, double *m3) {
    *hours = *m3 = 0;
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        int field = work->member[i];
        if (field == without)
            continue;
        *hours += work->need_hours[field][day];
        *m3 += work->need_hours[field][day] * work->problem->field[field].flow_m3_h;
    }
}

/* What is short on the worst day. */
struct shortage {
    int day;
    double over_m3, hours_per_day;
    double share; /* of the flow that is lacking */
};

static struct shortage find_shortage(const struct turns_work *work, int without) {
    const struct turns_supply *supply = &work->problem->supply[work->supply];
    int at_once = turns_bound_at_once(work);
    struct shortage worst = {.day = -1};
    double able = 0;
    for (int d = 0; d < work->problem->days; d++) {
        double hours, m3;
        add_needs(work, without, d, &hours, &m3);
        able += turns_board_hours(&work->pins_board, d);
        double places = hours - at_once * able, over = m3 - supply->flow_m3_h * able;
        double more = fmax(over / supply->flow_m3_h, at_once > 0 ? places / at_once : 0);
        if (more <= SMALL)
            continue;
        over = fmax(over, places * m3 / hours);
        worst.hours_per_day = fmax(worst.hours_per_day, more / (d + 1));
        worst.share = fmax(worst.share, more / able);
        if (over > worst.over_m3) {
            worst.over_m3 = over;
            worst.day = d;
        }
    }
    return worst;
}

/* m3 that a period must give whatever came before it; the season for period -1. */
static double allotment_need(const struct turns_work *work, int without, int period) {
    const struct turns_supply *supply = &work->problem->supply[work->supply];
    int days = work->problem->days, first = 0, last = days - 1;
    double m3 = 0;
    if (period >= 0) {
        first = supply->period[period].first_day;
        last = supply->period[period].last_day < days ? supply->period[period].last_day : days - 1;
    }
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1] && first < days; i++) {
        int field = work->member[i];
        struct turns_reach reach;
        double before = 0;
        turns_price_reach(work, field, 0, &reach);
        for (int d = 0; d < first; d++)
            before += reach.most[d];
        if (field != without)
            m3 += fmax(work->need_hours[field][last] - before, 0) * work->problem->field[field].flow_m3_h;
    }
    return m3;
}

static bool is_pinned(const struct turns_work *work, int field) {
    for (int i = 0; i < work->pinned_count; i++)
        if (work->pinned[i].field == field)
            return true;
    return false;
}

/* True when leaving a field without turns ends the shortage that `limit` reports. */
static bool cures(const struct turns_work *work, const struct turns_limit *limit, int field) {
    const struct turns_supply *supply = &work->problem->supply[work->supply];
    if (limit->kind == TURNS_LIMIT_SUPPLY_SHORT)
        return find_shortage(work, field).day < 0;
    double left = limit->period < 0 ? supply->season_left_m3 : supply->period[limit->period].left_m3;
    return allotment_need(work, field, limit->period) <= left * (1 + SMALL);
}

/* The field whose turns cost least to give up. */
static void find_dry_field(const struct turns_work *work, struct turns_limit *limit) {
    static const uint8_t none[TURNS_DAYS_MAX];
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        int field = work->member[i];
        if (work->need_hours[field][work->problem->days - 1] <= 0 || is_pinned(work, field) ||
            !cures(work, limit, field))
            continue;
        double cost = turns_model_cost(work, field, none) - turns_model_cost(work, field, work->used[field]);
        if (limit->dry_field < 0 || cost < limit->dry_cost) {
            limit->dry_field = field;
            limit->dry_cost = cost;
        }
    }
}

static void report_shortage(struct turns_work *work) {
    struct shortage worst = find_shortage(work, -1);
    if (worst.day < 0)
        return;
    struct turns_limit limit = turns_limit_empty(TURNS_LIMIT_SUPPLY_SHORT);
    limit.supply = work->supply;
    limit.day = worst.day;
    limit.over = worst.over_m3;
    int able = 0;
    for (int d = 0; d <= worst.day; d++)
        able += turns_board_hours(&work->pins_board, d);
    /* The day's clock is full at 24 hours. */
    int clock = 24 * (worst.day + 1) - work->problem->first_hour;
    if (worst.hours_per_day * (worst.day + 1) <= clock - able + SMALL)
        limit.more_hours_per_day = worst.hours_per_day;
    limit.more_flow_m3_h = worst.share * work->problem->supply[work->supply].flow_m3_h;
    find_dry_field(work, &limit);
    turns_report(work, &limit);
}

static void report_allotment(struct turns_work *work, int period, double left_m3) {
    double need = allotment_need(work, -1, period);
    if (isnan(left_m3) || need <= left_m3 * (1 + SMALL) + SMALL)
        return;
    struct turns_limit limit = turns_limit_empty(TURNS_LIMIT_ALLOTMENT_SHORT);
    const struct turns_supply *supply = &work->problem->supply[work->supply];
    int last = work->problem->days - 1;
    limit.supply = work->supply;
    limit.period = period;
    limit.day =
        period >= 0 && supply->period[period].last_day < last ? supply->period[period].last_day : last;
    limit.over = limit.more_m3 = need - left_m3;
    find_dry_field(work, &limit);
    turns_report(work, &limit);
}

void turns_limits_report(struct turns_work *work) {
    const struct turns_supply *supply = &work->problem->supply[work->supply];
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
        report_unable(work, work->member[i]);
        find_needs(work, work->member[i]);
    }
    report_shortage(work);
    report_allotment(work, -1, supply->season_left_m3);
    for (int p = 0; p < supply->period_count; p++)
        report_allotment(work, p, supply->period[p].left_m3);
}
