/* What a layout makes of a weather file, before a farm relies on it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/file.h"
#include "daemon/base/wall_clock.h"
#include "daemon/commands/command.h"
#include "daemon/source/download.h"
#include "daemon/source/layout_find.h"
#include "daemon/source/raw.h"

#define DAYS_SHOWN 7

static size_t present(const struct weather_days *days, int element) {
    size_t count = 0;
    for (size_t i = 0; i < days->count; i++)
        count += isnan(days->day[i].value[element]) ? 0 : 1;
    return count;
}

/* How many days have each value, and between what it lies. */
static void print_values(const struct weather_days *days) {
    printf("\n%-13s %8s %12s %12s\n", "value", "days", "least", "most");
    for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
        double least = INFINITY, most = -INFINITY;
        for (size_t i = 0; i < days->count; i++) {
            least = fmin(least, days->day[i].value[e]);
            most = fmax(most, days->day[i].value[e]);
        }
        if (present(days, e) > 0)
            printf("%-13s %8zu %12.6g %12.6g\n", weather_element_name((enum weather_element)e),
                   present(days, e), least, most);
    }
}

static void print_days(const struct weather_days *days, size_t shown) {
    char iso[CALENDAR_ISO_SIZE];
    printf("\n%-10s", "date");
    for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
        if (present(days, e) > 0)
            printf("  %12s", weather_element_name((enum weather_element)e));
    }
    putchar('\n');
    for (size_t i = 0; i < shown; i++) {
        printf("%-10s", calendar_format_iso(days->day[i].date, iso));
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
            double value = days->day[i].value[e];
            if (present(days, e) == 0)
                continue;
            if (isnan(value))
                printf("  %12s", "-");
            else
                printf("  %12.6g", value);
        }
        putchar('\n');
    }
    if (shown < days->count)
        printf("... and %zu days more\n", days->count - shown);
}

static void print_understood(const struct layout *layout, const struct weather_days *days, size_t shown) {
    char first[CALENDAR_ISO_SIZE], last[CALENDAR_ISO_SIZE];
    printf("layout %s: %s\n", layout_name(layout), layout_title(layout));
    printf("%s, %zu day%s", layout_is_forecast(layout) ? "a forecast" : "observed days", days->count,
           days->count == 1 ? "" : "s");
    if (days->count > 0)
        printf(" from %s to %s", calendar_format_iso(days->day[0].date, first),
               calendar_format_iso(days->day[days->count - 1].date, last));
    putchar('\n');
    if (isnan(layout_wind_height_m(layout)))
        puts("wind: at the height of the station's own anemometer");
    else
        printf("wind: at %g m above the ground, brought to the station's height when it is used\n",
               layout_wind_height_m(layout));
    print_values(days);
    if (days->hours_count > 0)
        printf("%-13s %8zu\nof these days all 24 hours are there: their reference ET is summed from hourly "
               "values "
               "(FAO-56 eq. 53)\n",
               "hours", days->hours_count);
    print_days(days, shown < days->count ? shown : days->count);
}

/* The name that was given, or the layout that fits best. */
static enum status choose(const struct options *options, const unsigned char *bytes, size_t size,
                          char name[LAYOUT_NAME_SIZE], struct problems *problems) {
    const char *file = options->argument[1], *given = option_value(options, "--layout");
    struct layout_fit fit;
    if (given != NULL) {
        (void)snprintf(name, LAYOUT_NAME_SIZE, "%s", given);
        return STATUS_OK;
    }
    enum status status = layout_guess(file, bytes, size, &fit);
    /* What no layout could read says so itself: a packed file, a web page. */
    if (status != STATUS_OK && raw_check(file, &bytes, &size, true, problems) != STATUS_OK)
        return STATUS_REFUSED;
    if (status != STATUS_OK) {
        char room[LAYOUT_NAME_SIZE];
        struct text names;
        text_init(&names, 0);
        for (size_t i = 0; layout_builtin_name(i, room) != NULL; i++)
            text_printf(&names, "%s%s", i > 0 ? ", " : "", room);
        problem_add(
            problems, file, 0, 0, NULL,
            "found no day in it by any of the layouts that ship (%s); --layout NAME tries one and tells "
            "what it does not understand",
            text_string(&names));
        text_free(&names);
        return STATUS_NOT_FOUND;
    }
    printf("the layout that fits best is %s: %zu day%s, %zu value%s%s\n\n", fit.name, fit.days,
           fit.days == 1 ? "" : "s", fit.values, fit.values == 1 ? "" : "s",
           fit.status == STATUS_OK ? "" : ", but not the whole file");
    memcpy(name, fit.name, LAYOUT_NAME_SIZE);
    return STATUS_OK;
}

static enum status try_file(const struct options *options, const unsigned char *bytes, size_t size,
                            struct problems *problems) {
    char name[LAYOUT_NAME_SIZE];
    struct layout *layout = NULL;
    struct weather_days days;
    double shown = DAYS_SHOWN;
    weather_days_init(&days);
    enum status status = option_number(options, "--days", 0, WEATHER_DAYS_MAX, DAYS_SHOWN, &shown, problems);
    if (status == STATUS_OK)
        status = choose(options, bytes, size, name, problems);
    if (status == STATUS_OK)
        status = layout_find(name, &layout, problems);
    if (status == STATUS_OK) {
        layout_set_zone(layout, wall_clock_zone_s, NULL);
        status = layout_read(layout, options->argument[1], bytes, size, &days, problems);
    }
    if (status == STATUS_OK)
        print_understood(layout, &days, (size_t)shown);
    weather_days_free(&days);
    layout_free(layout);
    return status;
}

static enum status run_layout(const struct options *options, struct problems *problems) {
    char *bytes = NULL;
    size_t size = 0;
    if (strcmp(options->argument[0], "try") != 0) {
        problem_add(problems, NULL, 0, 0, NULL, "found %s, expected try", options->argument[0]);
        return STATUS_USAGE;
    }
    enum status status = file_read(options->argument[1], DOWNLOAD_BYTES_DEFAULT, &bytes, &size, problems);
    if (status == STATUS_OK)
        status = try_file(options, (const unsigned char *)bytes, size, problems);
    free(bytes);
    return status;
}

static const struct option_spec layout_options[] = {
    {"--layout", "NAME", "by this layout; else by the one that fits best"},
    {"--days", "N", "how many days are shown; else 7"},
    OPTION_END};

const struct command command_layout = {"layout",
                                       "try FILE",
                                       2,
                                       2,
                                       "show what a layout understands of a weather file",
                                       "The first days as they are understood, in the units of the program: "
                                       "degrees Celsius, per cent, kPa, m/s, MJ/m2, "
                                       "h, mm.\nNothing is stored. What cannot be understood is told with "
                                       "its place, and the file is refused as a morning "
                                       "would.",
                                       layout_options,
                                       run_layout};
