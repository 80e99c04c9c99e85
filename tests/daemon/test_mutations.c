/* Fixtures with bytes changed, taken out, put in and moved, from a fixed seed: whatever the readers are
 * given, they end with days that hold together or with a reason. tests/fuzz/run.sh looks further, with
 * libFuzzer. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/reader_check.h"
#include "support/reading.h"

#define ROUNDS 400

/* xorshift64 (Marsaglia 2003): the same sequence everywhere. */
static uint64_t random_state;

static size_t random_below(size_t most) {
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    random_state ^= random_state << 17;
    return (size_t)(random_state % most);
}

/* Bytes on which readers turn. */
static const char telling[] = "\n\r,;\"'0-9.eE+ \t\0{}[]:/\xff\xef\xbb\xbf#<TZ";

static size_t mutate(unsigned char *bytes, size_t size, size_t room) {
    size_t changes = 1 + random_below(6);
    for (size_t i = 0; i < changes && size > 8; i++) {
        size_t at = random_below(size), length = 1 + random_below(size - at < 24 ? size - at : 24);
        size_t to = random_below(size);
        switch (random_below(5)) {
        case 0:
            bytes[at] = (unsigned char)telling[random_below(sizeof telling - 1)];
            break;
        case 1:
            bytes[at] ^= (unsigned char)(1U << random_below(8));
            break;
        case 2:
            memmove(bytes + at, bytes + at + length, size - at - length);
            size -= length;
            break;
        case 3:
            if (size + length > room)
                break;
            memmove(bytes + at + length, bytes + at, size - at);
            size += length;
            break;
        default:
            if (to + length <= size)
                memmove(bytes + to, bytes + at, length);
        }
    }
    return size;
}

static void mutate_fixture(enum layout_kind kind, const char *path) {
    size_t size = 0, count = 0;
    struct layout *const *layouts = reader_check_layouts(kind, &count);
    char *original = reading_file(path, &size);
    assert_non_null(original);
    assert_true(count > 0);
    size_t room = size + 256;
    unsigned char *bytes = malloc(room);
    assert_non_null(bytes);
    for (int round = 0; round < ROUNDS; round++) {
        memcpy(bytes, original, size);
        size_t left = mutate(bytes, size, room);
        reader_check(layouts[random_below(count)], bytes, left);
        for (size_t i = 0; round % 16 == 0 && i < count; i++)
            reader_check(layouts[i], bytes, left);
    }
    free(bytes);
    free(original);
}

static void delimited_files_with_any_bytes_changed_are_survived(void **state) {
    (void)state;
    static const char *const files[] = {
        "plain.csv",          "noaa-gsod.csv",   "noaa-ghcn-daily-station.csv", "noaa-ghcn-daily-long.csv",
        "nasa-power-csv.csv", "plain-hourly.csv"};
    random_state = 20240229;
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char path[128];
        (void)snprintf(path, sizeof path, "fixtures/layouts/%s", files[i]);
        mutate_fixture(LAYOUT_DELIMITED, path);
    }
}

static void columns_with_any_bytes_changed_are_survived(void **state) {
    (void)state;
    random_state = 20240301;
    mutate_fixture(LAYOUT_COLUMNS, "fixtures/layouts/noaa-uscrn-daily.txt");
    mutate_fixture(LAYOUT_COLUMNS, "fixtures/layouts/noaa-uscrn-hourly.txt");
    mutate_fixture(LAYOUT_COLUMNS, "fixtures/layouts/noaa-ghcn-daily-dly.dly");
}

static void json_with_any_bytes_changed_is_survived(void **state) {
    (void)state;
    random_state = 20240302;
    mutate_fixture(LAYOUT_JSON, "fixtures/layouts/open-meteo.json");
    mutate_fixture(LAYOUT_JSON, "fixtures/layouts/nasa-power-json.json");
    mutate_fixture(LAYOUT_JSON, "fixtures/layouts/us-nws-grid.json");
    mutate_fixture(LAYOUT_JSON, "fixtures/layouts/met-norway.json");
}

static int free_layouts(void **state) {
    (void)state;
    for (int kind = LAYOUT_DELIMITED; kind <= LAYOUT_JSON; kind++) {
        size_t count = 0;
        struct layout *const *layouts = reader_check_layouts((enum layout_kind)kind, &count);
        for (size_t i = 0; i < count; i++)
            layout_free(layouts[i]);
    }
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(delimited_files_with_any_bytes_changed_are_survived),
        cmocka_unit_test(columns_with_any_bytes_changed_are_survived),
        cmocka_unit_test(json_with_any_bytes_changed_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, free_layouts);
}
