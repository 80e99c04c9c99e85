/* What a field can do on each day, and what the bound makes of a course of turns. */
#include "core/decide/turns_bound.h"

#include <math.h>
#include <string.h>

static int run_at(const struct turns_work *work, const struct turns_model_field *model, int t) {
    const struct turns_board *board = &work->pins_board;
    return board->open[t] && !(model->barred[t / 24] >> t % 24 & 1);
}

/* Whether hour t, in which the field does not run, ends a turn. */
static bool breaks(const struct turns_work *work, const struct turns_model_field *model, int t) {
    bool skipped = work->pins_board.supply->skipped[t / 24] >> t % 24 & 1;
    return (model->barred[t / 24] >> t % 24 & 1) || (!model->field->may_pause && !skipped);
}

/* Hours of day d that can be run up to the first that breaks a turn, from the day's begin (step 1) or back
 * from its end (step -1). */
static int reach_from(const struct turns_work *work, const struct turns_model_field *model, int d, int step) {
    int count = 0;
    for (int i = 0; i < 24; i++) {
        int t = 24 * d + (step > 0 ? i : 23 - i);
        bool runs = run_at(work, model, t);
        if (!runs && breaks(work, model, t))
            break;
        count += runs;
    }
    return count;
}

static int longest_inside(const struct turns_work *work, const struct turns_model_field *model, int d) {
    int best = 0, count = 0;
    for (int t = 24 * d; t < 24 * d + 24; t++) {
        bool runs = run_at(work, model, t);
        if (!runs && breaks(work, model, t))
            count = 0;
        count += runs;
        best = count > best ? count : best;
    }
    return best;
}

int turns_closed_before(const struct turns_work *work, int t, int setup) {
    int back = t - 1, first = work->problem->first_hour;
    while (back >= first && t - back <= setup && !work->pins_board.open[back])
        back--;
    return t - 1 - back;
}

/* Closed hours that a turn holds: those between hours that it runs. */
static void hold(const struct turns_work *work, int d, int open, int setup, struct turns_reach *reach) {
    memset(reach->held_inside[d], 0, sizeof reach->held_inside[d]);
    memset(reach->held_first[d], 0, sizeof reach->held_first[d]);
    memset(reach->held_last[d], 0, sizeof reach->held_last[d]);
    reach->held_full[d] = 0;
    for (int t = 24 * d, past = 0; t < 24 * d + 24; t++) {
        if (!work->pins_board.open[t])
            continue;
        int closed = turns_closed_before(work, t, setup);
        for (int k = 1; k <= 24; k++) {
            bool begins_before = k > open - past, goes_on = k > past;
            reach->held_inside[d][k] =
                (uint8_t)(reach->held_inside[d][k] + (begins_before && goes_on) * closed);
            reach->held_first[d][k] = (uint8_t)(reach->held_first[d][k] + begins_before * closed);
            reach->held_last[d][k] = (uint8_t)(reach->held_last[d][k] + goes_on * closed);
        }
        reach->held_full[d] = (uint8_t)(reach->held_full[d] + closed);
        past++;
    }
}

/* On which days the set-ups of turns that start on day d can lie. */
static void set_up(const struct turns_work *work, int field, int d, int open, struct turns_reach *reach) {
    const struct turns_board *board = &work->pins_board;
    int setup = work->problem->field[field].setup_hours;
    reach->before[d] = false;
    for (int t = turns_most(24 * d - setup, 0); t < 24 * d; t++)
        reach->before[d] |= board->open[t];
    reach->later[d] = board->supply->hours_per_day < open ? 0 : open;
    for (int t = 24 * d; t < 24 * d + setup && reach->later[d] > 0; t++)
        reach->later[d] -= board->open[t];
}

void turns_price_reach(const struct turns_work *work, int field, int setup, struct turns_reach *reach) {
    const struct turns_model_field *model = &work->field[field];
    const struct turns_board *board = &work->pins_board;
    int cap = board->supply->hours_per_day;
    for (int d = 0; d < work->problem->days; d++) {
        int usable = 0, open = 0;
        for (int t = 24 * d; t < 24 * d + 24; t++) {
            usable += run_at(work, model, t);
            open += board->open[t];
        }
        reach->most[d] = turns_least(usable, cap);
        reach->inside[d] = turns_least(longest_inside(work, model, d), cap);
        reach->first[d] = d + 1 < work->problem->days ? turns_least(reach_from(work, model, d, -1), cap) : 0;
        reach->last[d] = d > 0 ? turns_least(reach_from(work, model, d, 1), cap) : 0;
        bool whole = model->barred[d] == 0 && (model->field->may_pause || cap >= 24);
        for (int t = 24 * d; t < 24 * d + 24 && whole; t++)
            whole = run_at(work, model, t) || !breaks(work, model, t);
        reach->full[d] = whole ? turns_least(open, cap) : -1;
        hold(work, d, open, setup, reach);
        set_up(work, field, d, open, reach);
    }
}

void turns_column_hours(const struct turns_reach *reach, const struct turns_column *column,
                        uint8_t hours[TURNS_DAYS_MAX], uint8_t held[TURNS_DAYS_MAX]) {
    memset(hours, 0, TURNS_DAYS_MAX);
    memset(held, 0, TURNS_DAYS_MAX);
    for (int i = 0; i < column->count; i++) {
        const struct turns_span *span = &column->span[i];
        int left = span->hours - span->first;
        const uint8_t *first = left > 0 ? reach->held_first[span->day] : reach->held_inside[span->day];
        hours[span->day] = (uint8_t)(hours[span->day] + span->first);
        held[span->day] = (uint8_t)(held[span->day] + first[span->first]);
        for (int d = span->day + 1; left > 0; d++) {
            bool ends = left <= reach->last[d];
            int run = ends ? left : reach->full[d];
            held[d] = (uint8_t)(held[d] + (ends ? reach->held_last[d][left] : reach->held_full[d]));
            hours[d] = (uint8_t)(hours[d] + run);
            left -= run;
        }
    }
}

int turns_price_setup_day(const struct turns_reach *reach, const struct turns_prices *prices, int day) {
    return reach->before[day] && prices->place[day - 1] < prices->place[day] ? day - 1 : day;
}

double turns_price_hour(const struct turns_work *work, int field, const struct turns_prices *prices,
                        int day) {
    const struct turns_supply *supply = work->pins_board.supply;
    double m3 = prices->volume[day] + prices->season;
    for (int p = 0; p < supply->period_count; p++)
        if (day >= supply->period[p].first_day && day <= supply->period[p].last_day)
            m3 += prices->period[p];
    return m3 * work->problem->field[field].flow_m3_h + prices->run[day] + prices->place[day];
}
