#include "support/reading.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"

static struct reading_of *reading_new(void) {
    struct reading_of *reading = calloc(1, sizeof *reading);
    assert_non_null(reading);
    problems_init(&reading->problems);
    text_init(&reading->said, 0);
    weather_days_init(&reading->days);
    return reading;
}

static struct reading_of *reading_run(struct reading_of *reading, const struct layout *layout,
                                      const char *where, const void *bytes, size_t size) {
    reading->status = layout_read(layout, where, bytes, size, &reading->days, &reading->problems);
    problems_print(&reading->problems, &reading->said);
    return reading;
}

static struct reading_of *no_layout(struct reading_of *reading, enum status status) {
    reading->status = status;
    problems_print(&reading->problems, &reading->said);
    return reading;
}

struct reading_of *reading_with(const struct layout *layout, const void *bytes, size_t size) {
    return reading_run(reading_new(), layout, "days", bytes, size);
}

struct reading_of *reading_by_bytes(const char *layout_name, const void *bytes, size_t size) {
    struct reading_of *reading = reading_new();
    struct layout *layout = NULL;
    enum status status = layout_builtin(layout_name, &layout, &reading->problems);
    if (status != STATUS_OK)
        return no_layout(reading, status);
    (void)reading_run(reading, layout, "days.csv", bytes, size);
    layout_free(layout);
    return reading;
}

struct reading_of *reading_by(const char *layout, const char *text) {
    return reading_by_bytes(layout, text, strlen(text));
}

struct reading_of *reading_of_fixture(const char *layout, const char *fixture) {
    char path[512];
    size_t size = 0;
    (void)snprintf(path, sizeof path, "fixtures/%s", fixture);
    char *bytes = reading_file(path, &size);
    if (bytes == NULL)
        fail_msg("cannot read %s", path);
    struct reading_of *reading = reading_by_bytes(layout, bytes, size);
    free(bytes);
    return reading;
}

struct reading_of *reading_by_json(const char *json, const void *bytes, size_t size) {
    struct reading_of *reading = reading_new();
    struct layout *layout = NULL;
    enum status status = layout_parse("test.json", json, strlen(json), &layout, &reading->problems);
    if (status != STATUS_OK)
        return no_layout(reading, status);
    (void)reading_run(reading, layout, "days", bytes, size);
    layout_free(layout);
    return reading;
}

void reading_done(struct reading_of *reading) {
    weather_days_free(&reading->days);
    problems_free(&reading->problems);
    text_free(&reading->said);
    free(reading);
}

double reading_value(const struct reading_of *reading, const char *date, const char *element) {
    int32_t day = CALENDAR_NONE;
    if (calendar_parse_iso(date, &day) != STATUS_OK || weather_element_of(element) == WEATHER_ELEMENT_COUNT)
        fail_msg("%s, %s: no such date or element", date, element);
    const struct weather_day *found = weather_days_find(&reading->days, day);
    return found != NULL ? found->value[weather_element_of(element)] : (double)NAN;
}

void assert_reading_refused(const struct reading_of *reading, const char *words) {
    const char *said = text_string(&reading->said);
    if (reading->status != STATUS_REFUSED || reading->days.count != 0 || strstr(said, words) == NULL)
        fail_msg("status %s, %zu days, said: %s", status_name(reading->status), reading->days.count, said);
}

void assert_reading_days(const struct reading_of *reading, size_t days) {
    if (reading->status != STATUS_OK || reading->days.count != days || reading->problems.count != 0)
        fail_msg("status %s, %zu days, said: %s", status_name(reading->status), reading->days.count,
                 text_string(&reading->said));
}

char *reading_file(const char *path, size_t *size) {
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    char *bytes = NULL;
    if (fseek(file, 0, SEEK_END) == 0) {
        long end = ftell(file);
        *size = end > 0 ? (size_t)end : 0;
        rewind(file);
        bytes = calloc(1, *size + 1);
        if (bytes != NULL && fread(bytes, 1, *size, file) != *size) {
            free(bytes);
            bytes = NULL;
        }
    }
    (void)fclose(file);
    return bytes;
}
