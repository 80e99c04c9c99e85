#include "daemon/view/turns_say.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define HOLES(list) list, sizeof list / sizeof *list

char *turns_say(const struct view_context *context, const char *key, const struct words_hole *holes,
                size_t count, char out[TURNS_SAY_SIZE]) {
    struct text text;
    text_init(&text, 0);
    words_fill(context->words, key, holes, count, &text);
    (void)snprintf(out, TURNS_SAY_SIZE, "%s", text_string(&text));
    text_free(&text);
    return out;
}

static char *clock_time(int hour, char out[SAY_SIZE]) {
    (void)snprintf(out, SAY_SIZE, "%d:00", hour);
    return out;
}

char *turns_say_when(const struct view_context *context, int32_t date, int hour, char out[SAY_SIZE]) {
    char day[SAY_SIZE], time[SAY_SIZE];
    const struct words_hole holes[] = {{"day", say_day(context, "day", date, day)},
                                       {"time", clock_time(hour, time)}};
    return say_words(context, "turns.when", HOLES(holes), out);
}

char *turns_say_hours(const struct view_context *context, int hours, char out[SAY_SIZE]) {
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", say_count(hours, number)};
    return say_words(context, "turns.hours", &hole, 1, out);
}

char *turns_say_turn(const struct view_context *context, const struct stored_turn *turn, char out[SAY_SIZE]) {
    char when[SAY_SIZE], end[SAY_SIZE], hours[SAY_SIZE], net[SAY_SIZE];
    int last = turn->hour + turn->span;
    /* Within a night the time alone says when it ends. */
    if (last < 24 || turn->span <= 12)
        (void)clock_time(last % 24, end);
    else
        (void)turns_say_when(context, turn->date + last / 24, last % 24, end);
    const struct words_hole holes[] = {{"when", turns_say_when(context, turn->date, turn->hour, when)},
                                       {"end", end},
                                       {"hours", turns_say_hours(context, turn->hours, hours)},
                                       {"net", say_depth(context, turn->net_mm, net)}};
    return say_words(context, turn->hours < turn->span ? "turns.turn.pauses" : "turns.turn", HOLES(holes),
                     out);
}

/* Which words: on, to come, or to come after the last day on which the call says to start. */
static const char *next_key(const struct field_morning *morning) {
    enum call_kind kind = morning->call.kind;
    if (morning->turn.under_way)
        return "turns.next.now";
    bool called = kind == CALL_WATER_TODAY || kind == CALL_WATER_BY;
    return called && morning->turn.date > morning->call.start_by ? "turns.next.after" : "turns.next";
}

char *turns_say_next(const struct view_context *context, const struct field_morning *morning,
                     char out[TURNS_SAY_SIZE]) {
    const struct field_turn *turn = &morning->turn;
    char when[SAY_SIZE], hours[SAY_SIZE], net[SAY_SIZE];
    out[0] = '\0';
    const struct words_hole supply = {"supply", morning->supply};
    if (turn->hours == 0)
        return turn->left_out ? turns_say(context, "turns.next.none", &supply, 1, out) : out;
    const struct words_hole holes[] = {{"when", turns_say_when(context, turn->date, turn->hour, when)},
                                       {"hours", turns_say_hours(context, turn->hours, hours)},
                                       {"net", say_depth(context, turn->net_mm, net)},
                                       {"supply", morning->supply}};
    return turns_say(context, next_key(morning), HOLES(holes), out);
}

char *turns_say_over(const struct view_context *context, const struct field_morning *morning,
                     char out[TURNS_SAY_SIZE]) {
    const struct field_turn *over = &morning->over;
    const struct stored_turn turn = {.date = over->date,
                                     .hour = over->hour,
                                     .hours = over->hours,
                                     .span = over->span,
                                     .net_mm = over->net_mm};
    char text[SAY_SIZE];
    const struct words_hole hole = {"turn", turns_say_turn(context, &turn, text)};
    out[0] = '\0';
    return over->hours > 0 ? turns_say(context, "turns.over", &hole, 1, out) : out;
}

char *turns_say_money(const struct view_context *context, double amount, char out[SAY_SIZE]) {
    return say_number(context, amount, fabs(amount) < 100 ? 2 : 0, out);
}

/* ---- limits */

const char *turns_limit_key(enum turns_limit_kind kind) {
    static const char *const keys[TURNS_LIMIT_KIND_COUNT] = {
        [TURNS_LIMIT_SUPPLY_SHORT] = "supply_short",   [TURNS_LIMIT_ALLOTMENT_SHORT] = "allotment_short",
        [TURNS_LIMIT_FIELD_SHORT] = "field_short",     [TURNS_LIMIT_NO_RUN] = "no_run",
        [TURNS_LIMIT_FIELD_FLOW] = "field_flow",       [TURNS_LIMIT_PIN_RANGE] = "pin_range",
        [TURNS_LIMIT_PIN_HORIZON] = "pin_horizon",     [TURNS_LIMIT_PIN_CLOSED] = "pin_closed",
        [TURNS_LIMIT_PIN_FORBIDDEN] = "pin_forbidden", [TURNS_LIMIT_PIN_OVERLAP] = "pin_overlap",
        [TURNS_LIMIT_PIN_PLACES] = "pin_places",       [TURNS_LIMIT_PIN_FLOW] = "pin_flow",
        [TURNS_LIMIT_PIN_HOURS] = "pin_hours",         [TURNS_LIMIT_PIN_ALLOTMENT] = "pin_allotment",
    };
    return (unsigned)kind < TURNS_LIMIT_KIND_COUNT ? keys[kind] : "";
}

/* By how much, in the kind's unit. */
static char *say_over(const struct view_context *context, const struct stored_limit *limit,
                      char out[SAY_SIZE]) {
    switch (limit->kind) {
    case TURNS_LIMIT_SUPPLY_SHORT:
    case TURNS_LIMIT_ALLOTMENT_SHORT:
    case TURNS_LIMIT_PIN_ALLOTMENT:
        return say_volume(context, limit->over, out);
    case TURNS_LIMIT_FIELD_SHORT:
        return say_depth(context, limit->over, out);
    case TURNS_LIMIT_FIELD_FLOW:
    case TURNS_LIMIT_PIN_FLOW:
        return say_flow(context, limit->over, out);
    default:
        return say_hours(context, limit->over, out);
    }
}

char *turns_say_limit(const struct view_context *context, const struct stored_limit *limit,
                      char out[TURNS_SAY_SIZE]) {
    char over[SAY_SIZE], day[SAY_SIZE], when[SAY_SIZE] = "", hours[SAY_SIZE], key[64];
    if (limit->pin_date != CALENDAR_NONE)
        (void)turns_say_when(context, limit->pin_date, limit->pin_hour, when);
    const struct words_hole holes[] = {{"supply", limit->supply},
                                       {"field", limit->field},
                                       {"over", say_over(context, limit, over)},
                                       {"on", say_day(context, "on", limit->day, day)},
                                       {"when", when},
                                       {"hours", turns_say_hours(context, limit->pin_hours, hours)}};
    (void)snprintf(key, sizeof key, "turns.limit.%s", turns_limit_key(limit->kind));
    return turns_say(context, key, HOLES(holes), out);
}

enum cure { CURE_HOURS, CURE_FLOW, CURE_M3, CURE_DRY, CURE_START, CURES };

static bool can_cure(const struct stored_limit *limit, enum cure cure) {
    switch (cure) {
    case CURE_HOURS:
        return isfinite(limit->more_hours_per_day);
    case CURE_FLOW:
        return isfinite(limit->more_flow_m3_h);
    case CURE_M3:
        return isfinite(limit->more_m3);
    case CURE_DRY:
        return limit->dry_field[0] != '\0';
    default:
        return limit->cure_date != CALENDAR_NONE;
    }
}

char *turns_say_cure(const struct view_context *context, const struct stored_limit *limit, bool money,
                     int index, char out[TURNS_SAY_SIZE]) {
    static const char *const keys[CURES] = {"turns.cure.hours", "turns.cure.flow", "turns.cure.m3",
                                            "turns.cure.dry", "turns.cure.start"};
    char hours[SAY_SIZE], flow[SAY_SIZE], volume[SAY_SIZE], cost[SAY_SIZE], when[SAY_SIZE] = "";
    out[0] = '\0';
    int cure = 0;
    while (cure < CURES && !(can_cure(limit, (enum cure)cure) && index-- == 0))
        cure++;
    if (cure == CURES)
        return out;
    if (limit->cure_date != CALENDAR_NONE)
        (void)turns_say_when(context, limit->cure_date, limit->cure_hour, when);
    const struct words_hole holes[] = {{"hours", say_hours(context, limit->more_hours_per_day, hours)},
                                       {"flow", say_flow(context, limit->more_flow_m3_h, flow)},
                                       {"volume", say_volume(context, limit->more_m3, volume)},
                                       {"field", limit->dry_field},
                                       {"cost", turns_say_money(context, limit->dry_cost, cost)},
                                       {"when", when},
                                       {"supply", limit->supply}};
    const char *key = cure == CURE_DRY && money ? "turns.cure.dry.money" : keys[cure];
    return turns_say(context, key, HOLES(holes), out);
}

/* ---- changes */

const char *turns_change_key(enum turn_change kind) {
    static const char *const keys[TURN_CHANGE_COUNT] = {"new", "gone", "moved", "longer", "shorter"};
    return (unsigned)kind < TURN_CHANGE_COUNT ? keys[kind] : "";
}

char *turns_say_change(const struct view_context *context, const struct stored_change *change,
                       char out[TURNS_SAY_SIZE]) {
    char when[SAY_SIZE] = "", was[SAY_SIZE] = "", hours[SAY_SIZE], was_hours[SAY_SIZE], key[64];
    if (change->date != CALENDAR_NONE)
        (void)turns_say_when(context, change->date, change->hour, when);
    if (change->was_date != CALENDAR_NONE)
        (void)turns_say_when(context, change->was_date, change->was_hour, was);
    const struct words_hole holes[] = {{"field", change->field},
                                       {"when", when},
                                       {"was", was},
                                       {"hours", turns_say_hours(context, change->hours, hours)},
                                       {"was_hours", turns_say_hours(context, change->was_hours, was_hours)}};
    (void)snprintf(key, sizeof key, "turns.change.%s", turns_change_key(change->kind));
    return turns_say(context, key, HOLES(holes), out);
}
