#include "daemon/farm/expected.h"

#include <stdio.h>

#include "daemon/base/text.h"

#define FOUND  "found/number.decimal"
#define LOW    "low/number.decimal"
#define HIGH   "high/number.decimal"
#define NUMBER 32

void expected_tell(struct problems *problems, const struct problem_place *place, const char *found,
                   const char *expected) {
    problem_tell_at(problems, place, "expected", "found {found}, expected {expected}", "found/problem.said.",
                    found, "expected/problem.said.", expected, PROBLEM_END);
}

void expected_tell_limits(struct problems *problems, const struct problem_place *place, const char *found,
                          const struct quantity *quantity, enum quantity_kind kind,
                          const struct quantity_limits *limits) {
    static const struct {
        const char *code, *sentence;
    } said[] = {
        [QUANTITY_LEAST] = {"least", "found {found}, expected {low} or more"},
        [QUANTITY_MORE] = {"more", "found {found}, expected more than {low}"},
        [QUANTITY_ABOVE] = {"above", "found {found}, expected more than {low} and at most {high}{hint}"},
        [QUANTITY_RANGE] = {"range", "found {found}, expected {low} to {high}{hint}"}};
    struct quantity_bounds bounds;
    enum quantity_bound bound = quantity_say_bounds(quantity, kind, limits, &bounds);
    problem_tell_at(problems, place, said[bound].code, said[bound].sentence, FOUND, found, LOW, bounds.low,
                    HIGH, bounds.high, "hint/problem.said.", bounds.hint, PROBLEM_END);
}

void expected_tell_whole(struct problems *problems, const struct problem_place *place, const char *found,
                         bool hours, double low, double high) {
    char least[NUMBER], most[NUMBER];
    (void)snprintf(least, sizeof least, "%g", low);
    (void)snprintf(most, sizeof most, "%g", high);
    problem_tell_at(problems, place, hours ? "whole_hours" : "whole",
                    hours ? "found {found}, expected a whole number of hours, {low} to {high}"
                          : "found {found}, expected a whole number, {low} to {high}",
                    FOUND, found, "low", least, "high", most, PROBLEM_END);
}

void expected_tell_choice(struct problems *problems, const struct problem_place *place, const char *found,
                          const char *(*choice)(int index)) {
    struct text most;
    int i = 0;
    text_init(&most, 0);
    for (; choice(i + 1) != NULL; i++)
        text_printf(&most, "%s\"%s\"", i > 0 ? ", " : "", choice(i));
    problem_tell_at(problems, place, "choice", "found {found}, expected {most} or \"{last}\"",
                    "found/problem.said.", found, "most", text_string(&most), "last", choice(i), PROBLEM_END);
    text_free(&most);
}
