#include <stdio.h>

#include "daemon/farm/check_inside.h"

/* When supplies run, how fields take their turns, and what people said of turns. */

#define WHOLE_SIZE 16

static const char *whole(int value, char out[WHOLE_SIZE]) {
    (void)snprintf(out, WHOLE_SIZE, "%d", value);
    return out;
}

static void check_window(const struct check *check, size_t supply, int at) {
    const struct farm_window *window = &check->farm->supply[supply].window[at];
    char key[40];
    bool days = window->weekdays != 0, every = window->every_days != 0;
    (void)snprintf(key, sizeof key, "open[%d].%s", at, every ? "every" : "days");
    if (days == every) {
        check_tell(check, LIST_SUPPLIES, supply, key, days ? "open_both" : "open_none",
                   days ? "found both of \"days\" and \"every\", expected one of them"
                        : "found none of \"days\" and \"every\", expected one of them",
                   PROBLEM_END);
        return;
    }
    bool first = window->first != CALENDAR_NONE;
    (void)snprintf(key, sizeof key, "open[%d].first", at);
    if (first != every)
        check_tell(check, LIST_SUPPLIES, supply, key, first ? "open_first" : "open_no_first",
                   first ? "found a day, expected none: it opens by days of the week"
                         : "found none, expected a day on which it opens, to count \"every\" from",
                   PROBLEM_END);
}

/* A span of days of a supply; `key` is where it stands. One with an end that is not given goes on. */
static void check_span(const struct check *check, size_t supply, const char *key,
                       const struct farm_span *span) {
    char place[60], found[CALENDAR_ISO_SIZE], wanted[CALENDAR_ISO_SIZE];
    if (span->from == CALENDAR_NONE || span->to == CALENDAR_NONE || span->from <= span->to)
        return;
    (void)snprintf(place, sizeof place, "%s.to", key);
    check_tell(check, LIST_SUPPLIES, supply, place, "span",
               "found {found}, expected {expected} (from) or later", "found",
               calendar_format_iso(span->to, found), "expected", calendar_format_iso(span->from, wanted),
               PROBLEM_END);
}

static void check_supply(const struct check *check, size_t index) {
    const struct farm_supply *supply = &check->farm->supply[index];
    char key[40];
    for (int i = 0; i < supply->window_count; i++)
        check_window(check, index, i);
    check_span(check, index, "season", &supply->season);
    for (int i = 0; i < supply->closed_count; i++) {
        (void)snprintf(key, sizeof key, "closed[%d]", i);
        check_span(check, index, key, &supply->closed[i]);
    }
    for (int i = 0; i < supply->allotment_count; i++) {
        (void)snprintf(key, sizeof key, "allotments[%d]", i);
        check_span(check, index, key, &supply->allotment[i].days);
    }
}

static void check_field(const struct check *check, size_t index) {
    const struct farm_turning *turning = &check->farm->field[index].turning;
    char found[WHOLE_SIZE], expected[WHOLE_SIZE];
    if (turning->longest_hours != 0 && turning->longest_hours < turning->shortest_hours)
        check_tell(check, LIST_FIELDS, index, "turns.longest", "turn_longest",
                   "found {found} h, expected {expected} h (shortest) or more", "found",
                   whole(turning->longest_hours, found), "expected", whole(turning->shortest_hours, expected),
                   PROBLEM_END);
}

static void check_mark(const struct check *check, size_t index) {
    const struct farm_turn_mark *mark = &check->farm->turn_mark[index];
    const struct farm_field *field = (const void *)check_names_find(&check->fields, mark->field);
    char found[WHOLE_SIZE], expected[WHOLE_SIZE];
    if (mark->kind == TURN_PINNED && mark->hours > FARM_TURN_HOURS_MAX)
        check_tell(check, LIST_TURNS, index, "hours", "turn_hours",
                   "found {found} h, expected at most {expected} h of a turn", "found",
                   whole(mark->hours, found), "expected", whole(FARM_TURN_HOURS_MAX, expected), PROBLEM_END);
    if (mark->kind == TURN_PINNED && field != NULL && field->system.kind == SYSTEM_NONE)
        check_tell(check, LIST_TURNS, index, "field", "turn_no_system",
                   "found \"{found}\", which has no system, expected a field that is irrigated", "found",
                   mark->field, PROBLEM_END);
}

void check_turning(const struct check *check) {
    for (size_t i = 0; i < check->farm->supply_count; i++)
        check_supply(check, i);
    for (size_t i = 0; i < check->farm->field_count; i++)
        check_field(check, i);
    for (size_t i = 0; i < check->farm->turn_mark_count; i++)
        check_mark(check, i);
}
