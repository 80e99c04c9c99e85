/* Each allocation of a reading fails once, in turn: the reading ends with a status, leaves no half-read days,
 * and the same bytes are read afterwards as if nothing had been. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/source/layout.h"
#include "support/reading.h"

/* glibc's own names behind the functions that this program puts in their place. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);

static long until_failure = -1; /* allocations that still succeed; -1: all do */

static bool fails_now(void) {
    if (until_failure < 0)
        return false;
    return until_failure-- == 0;
}

void *malloc(size_t size) {
    return fails_now() ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size) {
    return fails_now() ? NULL : __libc_calloc(count, size);
}

void *realloc(void *old, size_t size) {
    return fails_now() ? NULL : __libc_realloc(old, size);
}

struct outcome {
    enum status status;
    size_t days, problems;
};

/* Parses the layout and reads the bytes, with one allocation failing. */
static struct outcome read_once(const char *name, const char *bytes, size_t size, long failing) {
    struct layout *layout = NULL;
    struct weather_days days;
    struct problems problems;
    problems_init(&problems);
    weather_days_init(&days);
    until_failure = failing;
    enum status status = layout_builtin(name, &layout, &problems);
    if (status == STATUS_OK)
        status = layout_read(layout, "days", (const unsigned char *)bytes, size, &days, &problems);
    bool failed = until_failure < 0;
    until_failure = -1;
    struct outcome outcome = {status, days.count, problems.count};
    layout_free(layout);
    weather_days_free(&days);
    problems_free(&problems);
    if (failing >= 0 && !failed)
        outcome.status = STATUS_NOT_FOUND; /* there were fewer allocations than that */
    return outcome;
}

static void fail_each_allocation(const char *name, const char *path) {
    size_t size = 0;
    char *bytes = reading_file(path, &size);
    assert_non_null(bytes);
    struct outcome whole = read_once(name, bytes, size, -1);
    assert_int_equal(whole.status, STATUS_OK);
    long failed = 0;
    for (;; failed++) {
        struct outcome outcome = read_once(name, bytes, size, failed);
        if (outcome.status == STATUS_NOT_FOUND)
            break;
        if (outcome.status == STATUS_OK)
            assert_int_equal(outcome.days, whole.days);
        else
            assert_int_equal(outcome.days, 0);
        assert_true(outcome.status == STATUS_OK || outcome.status == STATUS_NO_MEMORY ||
                    outcome.problems > 0);
    }
    assert_true(failed > 10);
    struct outcome again = read_once(name, bytes, size, -1);
    assert_int_equal(again.status, STATUS_OK);
    assert_int_equal(again.days, whole.days);
    free(bytes);
}

static void delimited_files_without_memory_leave_nothing_half_read(void **state) {
    (void)state;
    fail_each_allocation("plain", "fixtures/layouts/plain.csv");
    fail_each_allocation("plain-hourly", "fixtures/layouts/plain-hourly.csv");
    fail_each_allocation("noaa-gsod", "fixtures/layouts/noaa-gsod.csv");
}

static void columns_without_memory_leave_nothing_half_read(void **state) {
    (void)state;
    fail_each_allocation("noaa-uscrn-daily", "fixtures/layouts/noaa-uscrn-daily.txt");
    fail_each_allocation("noaa-uscrn-hourly", "fixtures/layouts/noaa-uscrn-hourly.txt");
}

static void json_without_memory_leaves_nothing_half_read(void **state) {
    (void)state;
    fail_each_allocation("open-meteo", "fixtures/layouts/open-meteo.json");
    fail_each_allocation("us-nws-grid", "fixtures/layouts/us-nws-grid.json");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(delimited_files_without_memory_leave_nothing_half_read),
        cmocka_unit_test(columns_without_memory_leave_nothing_half_read),
        cmocka_unit_test(json_without_memory_leaves_nothing_half_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
