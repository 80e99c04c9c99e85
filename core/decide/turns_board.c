#include "core/decide/turns_model.h"

#include <math.h>
#include <string.h>

void turns_board_clear(const struct turns_work *work, struct turns_board *board, int supply) {
    memset(board, 0, sizeof *board);
    board->supply = &work->problem->supply[supply];
    for (int t = work->problem->first_hour; t < work->hours; t++)
        board->open[t] = (board->supply->open[t / 24] & ~board->supply->skipped[t / 24]) >> t % 24 & 1;
}

static bool fail(struct turns_walk *walk, enum turns_limit_kind why, double over) {
    walk->why = why;
    walk->over = over;
    return false;
}

static bool barred(const struct turns_walk *walk, int t) {
    return walk->field->barred[t / 24] >> t % 24 & 1;
}

int turns_setup_begin(const struct turns_supply *supply, int start, int setup) {
    int begin = start;
    while (setup > 0 && begin > 0) {
        begin--;
        setup -= 1 - (int)(supply->skipped[begin / 24] >> begin % 24 & 1) +
                 (int)(supply->twice[begin / 24] >> begin % 24 & 1);
    }
    return setup > 0 ? begin - setup : begin;
}

/* The last start, from `start` on, that hour t rules out for sure when its places are taken. */
static int ruled_out(const struct turns_walk *walk, int t, int setup) {
    int last = t + setup < walk->work->hours ? t + setup : walk->work->hours;
    return last > walk->start && turns_setup_begin(walk->board->supply, last, setup) <= t ? last
                                                                                          : walk->start;
}

bool turns_walk_begin(struct turns_walk *walk, const struct turns_work *work, const struct turns_board *board,
                      int field, int start, int setup) {
    *walk = (struct turns_walk){.work = work,
                                .board = board,
                                .field = &work->field[field],
                                .start = start,
                                .hour = start,
                                .period = -1};
    int begin = turns_setup_begin(board->supply, start, setup);
    if (begin < work->problem->first_hour)
        return fail(walk, TURNS_LIMIT_PIN_HORIZON, NAN);
    for (int t = start - 1; t >= begin; t--) {
        if (board->held[t] < board->supply->users)
            continue;
        walk->hour = t;
        walk->start = ruled_out(walk, t, setup);
        return fail(walk, TURNS_LIMIT_PIN_PLACES, 1);
    }
    if (!board->open[start])
        return fail(walk, TURNS_LIMIT_PIN_CLOSED, NAN);
    if (board->supply->hours_per_day < 1)
        return fail(walk, TURNS_LIMIT_PIN_HOURS, 1);
    return true;
}

/* The allotments with one more hour on day d. */
static bool allotted(struct turns_walk *walk, int d) {
    const struct turns_supply *supply = walk->board->supply;
    double flow = walk->field->field->flow_m3_h;
    double season = walk->board->season_m3 + flow * (walk->hours + 1);
    if (season > supply->season_left_m3 * (1 + TURNS_SLACK))
        return fail(walk, TURNS_LIMIT_PIN_ALLOTMENT, season - supply->season_left_m3);
    for (int p = 0; p < supply->period_count; p++) {
        const struct turns_period *period = &supply->period[p];
        if (d < period->first_day || d > period->last_day)
            continue;
        walk->period_m3[p] += flow;
        double volume = walk->board->period_m3[p] + walk->period_m3[p];
        if (volume > period->left_m3 * (1 + TURNS_SLACK)) {
            walk->period = p;
            return fail(walk, TURNS_LIMIT_PIN_ALLOTMENT, volume - period->left_m3);
        }
    }
    return true;
}

/* Runs in hour t, which is open. */
static bool run_hour(struct turns_walk *walk, int t) {
    const struct turns_board *board = walk->board;
    const struct turns_supply *supply = board->supply;
    int d = t / 24;
    double drawn = board->drawn[t] + walk->field->field->flow_m3_h;
    if (drawn > supply->flow_m3_h * (1 + TURNS_SLACK))
        return fail(walk, TURNS_LIMIT_PIN_FLOW, drawn - supply->flow_m3_h);
    if (board->running[t] == 0) {
        int today = board->day_hours[d] + walk->fresh_today + 1;
        if (today > supply->hours_per_day)
            return fail(walk, TURNS_LIMIT_PIN_HOURS, today - supply->hours_per_day);
    }
    if (!allotted(walk, d))
        return false;
    if (board->running[t] == 0) {
        walk->fresh_today++;
        walk->fresh++;
    }
    walk->own++;
    walk->hours++;
    walk->by_day[d]++;
    walk->hour = t + 1;
    return true;
}

bool turns_walk_on(struct turns_walk *walk) {
    const struct turns_board *board = walk->board;
    for (int t = walk->hour; t < walk->work->hours; t++) {
        if (t % 24 == 0)
            walk->own = walk->fresh_today = 0;
        walk->hour = t;
        if (barred(walk, t))
            return fail(walk, TURNS_LIMIT_PIN_FORBIDDEN, NAN);
        if (board->held[t] >= board->supply->users)
            return fail(walk, TURNS_LIMIT_PIN_PLACES, 1);
        if (board->open[t] && walk->own < board->supply->hours_per_day)
            return run_hour(walk, t);
        if (!walk->field->field->may_pause && !(board->supply->skipped[t / 24] >> t % 24 & 1))
            return fail(walk, TURNS_LIMIT_PIN_CLOSED, NAN);
    }
    return fail(walk, TURNS_LIMIT_PIN_HORIZON, NAN);
}

bool turns_walk_job(struct turns_walk *walk, const struct turns_work *work, const struct turns_board *board,
                    struct turns_job *job) {
    if (!turns_walk_begin(walk, work, board, job->field, job->start, turns_job_setup(work, job)))
        return false;
    while (walk->hours < job->hours)
        if (!turns_walk_on(walk))
            return false;
    job->end = (int16_t)walk->hour;
    return true;
}

int turns_walk_next(const struct turns_walk *walk) {
    switch (walk->why) {
    case TURNS_LIMIT_PIN_FORBIDDEN:
    case TURNS_LIMIT_PIN_PLACES:
    case TURNS_LIMIT_PIN_FLOW:
        /* A later start up to that hour would still be on in it. */
        return (walk->hour > walk->start ? walk->hour : walk->start) + 1;
    default:
        return walk->start + 1;
    }
}

int turns_board_hours(const struct turns_board *board, int day) {
    int open = 0;
    for (int t = 24 * day; t < 24 * day + 24; t++)
        open += board->open[t];
    return open < board->supply->hours_per_day ? open : board->supply->hours_per_day;
}

int turns_job_setup(const struct turns_work *work, const struct turns_job *job) {
    bool under_way = job->pin >= 0 && work->problem->pin[job->pin].under_way;
    return under_way ? 0 : work->problem->field[job->field].setup_hours;
}

void turns_board_put(const struct turns_work *work, struct turns_board *board, const struct turns_job *job,
                     int sign, uint8_t *by_day) {
    const struct turns_supply *supply = board->supply;
    double flow = sign * work->problem->field[job->field].flow_m3_h;
    int own = 0;
    for (int t = turns_setup_begin(supply, job->start, turns_job_setup(work, job)); t < job->end; t++) {
        int d = t / 24;
        own = t % 24 == 0 ? 0 : own;
        board->held[t] = (int16_t)(board->held[t] + sign);
        if (t < job->start || !board->open[t] || own >= supply->hours_per_day)
            continue;
        own++;
        int before = board->running[t];
        board->running[t] = (int16_t)(before + sign);
        int change = (board->running[t] > 0) - (before > 0);
        board->day_hours[d] = (int16_t)(board->day_hours[d] + change);
        board->hours_run += change;
        board->drawn[t] = board->running[t] > 0 ? board->drawn[t] + flow : 0;
        board->season_m3 += flow;
        for (int p = 0; p < supply->period_count; p++)
            if (d >= supply->period[p].first_day && d <= supply->period[p].last_day)
                board->period_m3[p] += flow;
        if (by_day != NULL)
            by_day[d] = (uint8_t)(by_day[d] + sign);
    }
}

bool turns_jobs_apart(const struct turns_work *work, const struct turns_job *own, int count, int start,
                      int end) {
    for (int i = 0; i < count; i++) {
        const struct turns_field *field = &work->problem->field[own[i].field];
        const struct turns_supply *supply = &work->problem->supply[field->supply];
        if (turns_setup_begin(supply, start, field->setup_hours) < own[i].end &&
            turns_setup_begin(supply, own[i].start, turns_job_setup(work, &own[i])) < end)
            return false;
        if (own[i].pin < 0 && own[i].start / 24 == start / 24)
            return false;
    }
    return true;
}
