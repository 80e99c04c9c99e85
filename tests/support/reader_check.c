#include "support/reader_check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/base/calendar.h"

static void must(bool holds, const char *what) {
    if (holds)
        return;
    (void)fprintf(stderr, "does not hold: %s\n", what);
    abort();
}

static void check_day(const struct weather_day *day) {
    must(calendar_valid(day->date), "dates are valid");
    for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
        must(isnan(day->value[e]) || isfinite(day->value[e]), "values are finite or missing");
        must(isnan(day->value[e]) == (day->origin[e] == ORIGIN_MISSING), "a value has an origin");
    }
}

void reader_check(const struct layout *layout, const unsigned char *bytes, size_t size) {
    struct weather_days days;
    struct problems problems;
    problems_init(&problems);
    weather_days_init(&days);
    enum status status = layout_read(layout, "fuzz", bytes, size, &days, &problems);
    if (status == STATUS_OK) {
        must(problems.count == 0, "what is taken has no problems");
        must(days.count > 0, "what is taken has a day");
    } else {
        must(status == STATUS_REFUSED || status == STATUS_NO_ROOM, "what is not taken is refused");
        must(problems.count > 0, "what is refused has a problem");
        must(days.count == 0, "what is refused leaves no day");
    }
    for (size_t i = 0; i < days.count; i++) {
        check_day(&days.day[i]);
        must(i == 0 || days.day[i - 1].date < days.day[i].date, "days are sorted, each once");
    }
    weather_days_free(&days);
    problems_free(&problems);
}

struct layout *const *reader_check_layouts(enum layout_kind kind, size_t *count) {
    static struct layout *layouts[3][READER_CHECK_LAYOUTS_MAX];
    static size_t counts[3];
    char name[LAYOUT_NAME_SIZE];
    struct problems problems;
    problems_init(&problems);
    size_t found = counts[kind];
    for (size_t i = 0; counts[kind] == 0 && layout_builtin_name(i, name) != NULL; i++) {
        struct layout *layout = NULL;
        must(layout_builtin(name, &layout, &problems) == STATUS_OK, "layouts that ship can be read");
        if (layout->kind == kind && found < READER_CHECK_LAYOUTS_MAX)
            layouts[kind][found++] = layout;
        else
            layout_free(layout);
    }
    counts[kind] = found;
    problems_free(&problems);
    *count = found;
    return layouts[kind];
}
