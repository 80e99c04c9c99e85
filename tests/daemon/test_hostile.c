/* The files of fixtures/weather/hostile: refused with words that help, or read rightly, in bounded time and
 * memory (limits: common practice, no source). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "support/near.h"
#include "support/reading.h"

#define SECONDS_MAX 2.0

static const struct {
    const char *layout, *file;
    const char *words; /* NULL: it is read */
    size_t days;
} hostile[] = {
    {"plain", "cut_in_a_row.csv",
     "cut_in_a_row.csv:6: found 1 field, expected 4 as in the header; the row is cut short", 0},
    {"plain", "cut_in_the_last_number.csv", "found a last line without a line end", 0},
    {"plain", "bom_and_crlf.csv", NULL, 5},
    {"plain", "utf16.csv", "found text in UTF-16, expected plain text in UTF-8", 0},
    {"plain", "utf16_without_mark.csv", "found text in UTF-16, expected plain text in UTF-8", 0},
    {"plain", "latin1.csv", "latin1.csv:1:15: found the byte 0xFC, expected UTF-8 text; it may be Latin-1",
     0},
    {"plain", "nul_bytes.csv", ":4:18: found the byte 0x00, expected UTF-8 text; the file is damaged", 0},
    {"plain", "same_day_twice.csv",
     ":7:4: rain_mm: found rain_mm = 2 for 2024-02-28, which stands before as 18.3", 0},
    {"plain", "unsorted_and_repeated.csv", NULL, 5},
    {"plain", "no_such_day.csv", ":4:1: date: found \"2023-02-29\", expected a date as 2021-06-30", 0},
    {"plain", "swapped_columns.csv", "are the two columns swapped?", 0},
    {"plain", "fahrenheit.csv", "they look like degrees Fahrenheit", 0},
    {"plain", "code_minus_9999.csv", "tmax_c: found -9999 on 2024-03-03", 0},
    {"plain", "code_9999_9.csv", "rain_mm: found 9999.9 on 2024-03-03", 0},
    {"plain", "error_page.csv", "found a web page", 0},
    {"plain", "gzip.csv", "found a gzip file", 0},
    {"plain", "quotes.csv", "quote", 0},
    {"plain", "many_columns.csv", "found more than 1024 fields in a row", 0},
    {"plain", "numbers.csv", ":2:2: tmax_c: found \"1e400\", expected a number", 0},
    {"plain", "numbers.csv", ":4:3: tmin_c: found \"--7\", expected a number", 0},
    {"plain", "typo_in_header.csv", ":1:4: found the column \"rian_mm\", expected perhaps \"rain_mm\"", 0},
    {"open-meteo", "deep.json", "found no JSON that can be read from here on", 0},
    {"open-meteo", "cut.json", "found no JSON that can be read from here on", 0},
    {"open-meteo", "uneven.json", "temperature_2m_max: found a list that is not as long as the list of dates",
     0},
    {"open-meteo", "other_unit.json", "found the unit \"km/h\", expected one of temperature", 0},
    {"open-meteo", "error.json", "/daily: found nothing there; is this file of another layout?", 0},
    {"met-norway", "error_page.csv", "found a web page", 0},
    {"noaa-uscrn-daily", "bom_and_crlf.csv", "found 1 field, expected 28", 0},
    {"noaa-ghcn-daily-dly", "bom_and_crlf.csv", "characters, expected 266", 0},
};

static int limit_memory(void **state) {
    (void)state;
    const struct rlimit memory = {(rlim_t)512 << 20, (rlim_t)512 << 20};
    return setrlimit(RLIMIT_DATA, &memory);
}

static double seconds_now(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static struct reading_of *read_hostile(const char *layout_name, const char *file) {
    char path[256];
    struct layout *layout = NULL;
    struct problems problems;
    size_t size = 0;
    (void)snprintf(path, sizeof path, "fixtures/weather/hostile/%s", file);
    char *bytes = reading_file(path, &size);
    if (bytes == NULL)
        fail_msg("cannot read %s", path);
    problems_init(&problems);
    assert_int_equal(layout_builtin(layout_name, &layout, &problems), STATUS_OK);
    struct reading_of *reading = calloc(1, sizeof *reading);
    assert_non_null(reading);
    problems_init(&reading->problems);
    text_init(&reading->said, 0);
    weather_days_init(&reading->days);
    reading->status =
        layout_read(layout, file, (const unsigned char *)bytes, size, &reading->days, &reading->problems);
    problems_print(&reading->problems, &reading->said);
    layout_free(layout);
    problems_free(&problems);
    free(bytes);
    return reading;
}

static void each_file_is_refused_with_its_reason_or_read_rightly(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof hostile / sizeof hostile[0]; i++) {
        double start = seconds_now();
        struct reading_of *reading = read_hostile(hostile[i].layout, hostile[i].file);
        if (hostile[i].words != NULL)
            assert_reading_refused(reading, hostile[i].words);
        else
            assert_reading_days(reading, hostile[i].days);
        if (seconds_now() - start > SECONDS_MAX)
            fail_msg("%s took more than %g s", hostile[i].file, SECONDS_MAX);
        reading_done(reading);
    }
}

static void what_is_harmless_is_read_to_the_same_days(void **state) {
    (void)state;
    struct reading_of *a = read_hostile("plain", "bom_and_crlf.csv");
    struct reading_of *b = read_hostile("plain", "unsorted_and_repeated.csv");
    assert_int_equal(a->days.count, b->days.count);
    for (size_t i = 0; i < a->days.count; i++) {
        assert_int_equal(a->days.day[i].date, b->days.day[i].date);
        for (int e = 0; e < WEATHER_ELEMENT_COUNT; e++) {
            double x = a->days.day[i].value[e], y = b->days.day[i].value[e];
            assert_true((isnan(x) && isnan(y)) || fabs(x - y) < 1e-12);
        }
    }
    assert_near(reading_value(a, "2024-02-29", "rain_mm"), 27.9, 1e-12);
    reading_done(a);
    reading_done(b);
}

static void every_refusal_names_the_file_and_what_was_found(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof hostile / sizeof hostile[0]; i++) {
        struct reading_of *reading = read_hostile(hostile[i].layout, hostile[i].file);
        for (size_t p = 0; p < reading->problems.kept; p++) {
            assert_string_equal(reading->problems.problem[p].file, hostile[i].file);
            if (strncmp(reading->problems.problem[p].message, "found ", 6) != 0)
                fail_msg("%s: %s", hostile[i].file, reading->problems.problem[p].message);
        }
        reading_done(reading);
    }
}

/* A file of `count` copies of a line behind a head. */
static struct reading_of *repeated(const char *layout, const char *head, const char *line, size_t count) {
    struct text text;
    text_init(&text, 0);
    text_puts(&text, head);
    for (size_t i = 0; i < count; i++)
        text_puts(&text, line);
    struct reading_of *reading = reading_by_bytes(layout, text_string(&text), text.size);
    text_free(&text);
    return reading;
}

static void large_files_end_at_a_limit(void **state) {
    (void)state;
    double start = seconds_now();
    struct reading_of *same = repeated("plain", "date,tmax_c\n", "2024-02-27,21.5\n", 500000);
    assert_reading_days(same, 1);
    reading_done(same);
    struct reading_of *bad = repeated("plain", "date,tmax_c\n", "2024-02-27,warm\n", 500000);
    assert_int_equal(bad->problems.count, 500000);
    assert_int_equal(bad->problems.kept, PROBLEMS_OF_A_KIND);
    assert_int_equal(bad->problems.problem[PROBLEMS_OF_A_KIND - 1].more, 500000 - PROBLEMS_OF_A_KIND);
    assert_int_equal(bad->problems.problem[PROBLEMS_OF_A_KIND - 1].more_last, 500001);
    reading_done(bad);
    struct reading_of *line = repeated("plain", "date,tmax_c\n2024-02-27,", "9", 8 << 20);
    assert_int_equal(line->status, STATUS_REFUSED);
    reading_done(line);
    struct reading_of *list = repeated("open-meteo", "[", "1,", (8 << 19) + 1);
    assert_int_equal(list->status, STATUS_NO_ROOM);
    reading_done(list);
    if (seconds_now() - start > 4 * SECONDS_MAX)
        fail_msg("took %g s", seconds_now() - start);
}

static void more_days_than_a_list_holds_are_refused(void **state) {
    (void)state;
    struct text text;
    text_init(&text, 0);
    text_puts(&text, "date,tmax_c\n");
    char iso[CALENDAR_ISO_SIZE];
    for (int32_t i = 0; i <= WEATHER_DAYS_MAX; i++)
        text_printf(&text, "%s,21.5\n", calendar_format_iso(CALENDAR_FIRST + i, iso));
    struct reading_of *reading = reading_by_bytes("plain", text_string(&text), text.size);
    assert_int_equal(reading->status, STATUS_NO_ROOM);
    assert_int_equal(reading->days.count, 0);
    assert_int_equal(reading->problems.count, 1);
    reading_done(reading);
    text_free(&text);
}

static void every_cut_of_every_layouts_fixture_is_survived(void **state) {
    (void)state;
    static const struct {
        const char *layout, *file;
    } fixtures[] = {
        {"noaa-ghcn-daily-long", "fixtures/layouts/noaa-ghcn-daily-long.csv"},
        {"noaa-ghcn-daily-dly", "fixtures/layouts/noaa-ghcn-daily-dly.dly"},
        {"noaa-uscrn-daily", "fixtures/layouts/noaa-uscrn-daily.txt"},
        {"noaa-gsod", "fixtures/layouts/noaa-gsod.csv"},
        {"nasa-power-csv", "fixtures/layouts/nasa-power-csv.csv"},
        {"open-meteo", "fixtures/layouts/open-meteo.json"},
        {"nasa-power-json", "fixtures/layouts/nasa-power-json.json"},
        {"us-nws-grid", "fixtures/layouts/us-nws-grid.json"},
    };
    for (size_t i = 0; i < sizeof fixtures / sizeof fixtures[0]; i++) {
        size_t size = 0, taken = 0, tried = 0;
        char *bytes = reading_file(fixtures[i].file, &size);
        assert_non_null(bytes);
        for (size_t cut = 0; cut < size - 2; cut += 13, tried++) {
            /* A cut right behind a line end leaves a shorter file that is whole. */
            bool between = cut > 0 && (bytes[cut - 1] == '\n' || bytes[cut - 1] == '\r');
            struct reading_of *reading = reading_by_bytes(fixtures[i].layout, bytes, cut);
            assert_true(reading->status == STATUS_OK || reading->status == STATUS_REFUSED);
            if (reading->status == STATUS_OK && !between)
                taken++;
            reading_done(reading);
        }
        if (taken > 0)
            fail_msg("%s: %zu of %zu cuts were taken", fixtures[i].file, taken, tried);
        free(bytes);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_file_is_refused_with_its_reason_or_read_rightly),
        cmocka_unit_test(what_is_harmless_is_read_to_the_same_days),
        cmocka_unit_test(every_refusal_names_the_file_and_what_was_found),
        cmocka_unit_test(large_files_end_at_a_limit),
        cmocka_unit_test(more_days_than_a_list_holds_are_refused),
        cmocka_unit_test(every_cut_of_every_layouts_fixture_is_survived),
    };
    return cmocka_run_group_tests(tests, limit_memory, NULL);
}
