/* Which layout fits a file. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/reading.h"

static struct layout_fit guess_file(const char *path) {
    struct layout_fit fit;
    size_t size = 0;
    char *bytes = reading_file(path, &size);
    if (bytes == NULL)
        fail_msg("cannot read %s", path);
    (void)layout_guess(path, (const unsigned char *)bytes, size, &fit);
    free(bytes);
    return fit;
}

static void each_fixture_is_known_for_what_it_is(void **state) {
    (void)state;
    static const char *const fixtures[] = {"met-norway.json",
                                           "nasa-power-csv.csv",
                                           "nasa-power-json.json",
                                           "noaa-ghcn-daily-dly.dly",
                                           "noaa-ghcn-daily-long.csv",
                                           "noaa-ghcn-daily-order-us.csv",
                                           "noaa-ghcn-daily-station.csv",
                                           "noaa-gsod.csv",
                                           "noaa-uscrn-daily.txt",
                                           "noaa-uscrn-hourly.txt",
                                           "open-meteo.json",
                                           "plain-hourly.csv",
                                           "plain.csv",
                                           "us-nws-grid.json"};
    char room[LAYOUT_NAME_SIZE];
    size_t count = 0;
    for (; count < sizeof fixtures / sizeof fixtures[0]; count++) {
        char path[128];
        (void)snprintf(path, sizeof path, "fixtures/layouts/%s", fixtures[count]);
        struct layout_fit fit = guess_file(path);
        if (fit.status != STATUS_OK || fit.days == 0 ||
            strncmp(fit.name, fixtures[count], strlen(fit.name)) != 0 ||
            fixtures[count][strlen(fit.name)] != '.')
            fail_msg("%s: %s (%s, %zu days)", fixtures[count], fit.name, status_name(fit.status), fit.days);
    }
    assert_null(layout_builtin_name(count, room)); /* no layout ships without a fixture here */
}

static void a_damaged_file_is_known_for_what_it_nearly_is(void **state) {
    (void)state;
    struct layout_fit fit = guess_file("fixtures/weather/hostile/same_day_twice.csv");
    assert_string_equal(fit.name, "plain");
    assert_int_equal(fit.status, STATUS_REFUSED);
    assert_int_equal(fit.days, 5);
}

static void what_no_layout_knows_is_not_found(void **state) {
    (void)state;
    struct layout_fit fit;
    static const unsigned char nothing[] = "one two three\n", page[] = "<html></html>\n";
    assert_int_equal(layout_guess("x", nothing, sizeof nothing - 1, &fit), STATUS_NOT_FOUND);
    assert_string_equal(fit.name, "");
    assert_int_equal(layout_guess("x", page, sizeof page - 1, &fit), STATUS_NOT_FOUND);
    assert_int_equal(layout_guess("x", nothing, 0, &fit), STATUS_NOT_FOUND);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fixture_is_known_for_what_it_is),
        cmocka_unit_test(a_damaged_file_is_known_for_what_it_nearly_is),
        cmocka_unit_test(what_no_layout_knows_is_not_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
