/* Writing a farm file: what is read back is what was written, to the last bit. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/farm_file.h"
#include "support/farms.h"

static void read_text(const char *name, const char *text, size_t size, struct farm *farm) {
    struct problems problems;
    problems_init(&problems);
    enum status status = farm_file_read(name, text, size, farm, &problems);
    if (status != STATUS_OK) {
        struct text out;
        text_init(&out, 0);
        problems_print(&problems, &out);
        fail_msg("%s: %s\n%s", name, status_name(status), text_string(&out));
    }
    problems_free(&problems);
}

static void expect_round_trip(const char *name, const struct farm *farm) {
    char where[100] = "";
    struct farm again;
    char *first = farm_file_write(farm);
    assert_non_null(first);
    read_text(name, first, strlen(first), &again);
    if (!farms_same(farm, &again, where))
        fail_msg("%s: %s differs", name, where);
    char *second = farm_file_write(&again);
    assert_non_null(second);
    assert_string_equal(first, second);
    free(first);
    free(second);
    farm_free(&again);
}

static void expect_file_round_trip(const char *path) {
    size_t size;
    char *text = farms_text(path, &size);
    struct farm farm;
    assert_non_null(text);
    read_text(path, text, size, &farm);
    farms_sort(&farm);
    expect_round_trip(path, &farm);
    farm_free(&farm);
    free(text);
}

static void every_good_sample_reads_back_as_it_was(void **state) {
    (void)state;
    char **paths = farms_paths("fixtures/farms/good", ".json");
    size_t count = 0;
    for (; paths[count] != NULL; count++)
        expect_file_round_trip(paths[count]);
    assert_true(count >= 4);
    farms_paths_free(paths);
}

static void the_sample_that_ships_and_the_demo_read_back_as_they_were(void **state) {
    (void)state;
    expect_file_round_trip("config/waterturn.json");
    expect_file_round_trip("fixtures/demo/farm.json");
}

static void arbitrary_bits_read_back_as_they_were(void **state) {
    (void)state;
    for (unsigned seed = 0; seed < 60; seed++) {
        struct farm farm;
        char name[32];
        (void)snprintf(name, sizeof name, "seed %u", seed);
        farms_arbitrary(&farm, seed);
        expect_round_trip(name, &farm);
        farm_free(&farm);
    }
}

static void what_is_written_is_sorted_whatever_the_order_was(void **state) {
    (void)state;
    struct farm farm;
    farms_arbitrary(&farm, 3);
    char *sorted = farm_file_write(&farm);
    struct farm_field field = farm.field[0];
    farm.field[0] = farm.field[2];
    farm.field[2] = field;
    struct farm_planting planting = farm.planting[1];
    farm.planting[1] = farm.planting[0];
    farm.planting[0] = planting;
    struct farm_record record = farm.record[0];
    farm.record[0] = farm.record[farm.record_count - 1];
    farm.record[farm.record_count - 1] = record;
    char *shuffled = farm_file_write(&farm);
    assert_string_equal(sorted, shuffled);
    free(sorted);
    free(shuffled);
    farm_free(&farm);
}

static void one_changed_record_is_one_changed_line(void **state) {
    (void)state;
    struct farm farm;
    farms_arbitrary(&farm, 4);
    char *before = farm_file_write(&farm);
    farm.record[5].amount += 0.125;
    char *after = farm_file_write(&farm);
    int changed = 0;
    const char *a = before, *b = after;
    while (*a != '\0' && *b != '\0') {
        size_t size_a = strcspn(a, "\n"), size_b = strcspn(b, "\n");
        changed += size_a != size_b || memcmp(a, b, size_a) != 0;
        a += size_a + (a[size_a] != '\0');
        b += size_b + (b[size_b] != '\0');
    }
    assert_true(*a == '\0' && *b == '\0');
    assert_int_equal(changed, 1);
    free(before);
    free(after);
    farm_free(&farm);
}

static void an_empty_farm_is_written_and_read(void **state) {
    (void)state;
    struct farm farm;
    farm_init(&farm);
    (void)snprintf(farm.name, sizeof farm.name, "Empty");
    expect_round_trip("empty", &farm);
    farm_free(&farm);
}

/* A crop's values are written out, so that another version of the crop tables changes nothing. */
static void a_crop_keeps_its_values_when_the_tables_have_others(void **state) {
    (void)state;
    size_t size;
    char *text = farms_text("fixtures/farms/good/small.json", &size);
    struct farm farm;
    read_text("small", text, size, &farm);
    farm.planting[0].crop.kcb_mid = 0.777;
    farm.planting[0].crop.ky_season = 0.5;
    farm.planting[0].crop.salt_threshold_ds_m = farm.planting[0].crop.salt_slope_pct = NAN;
    farm.soil[0].soil.layer[0].field_capacity_m3_m3 += 0.001;
    expect_round_trip("changed", &farm);
    farm_free(&farm);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_good_sample_reads_back_as_it_was),
        cmocka_unit_test(the_sample_that_ships_and_the_demo_read_back_as_they_were),
        cmocka_unit_test(arbitrary_bits_read_back_as_they_were),
        cmocka_unit_test(what_is_written_is_sorted_whatever_the_order_was),
        cmocka_unit_test(one_changed_record_is_one_changed_line),
        cmocka_unit_test(an_empty_farm_is_written_and_read),
        cmocka_unit_test(a_crop_keeps_its_values_when_the_tables_have_others),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
