/* The lines of an outlook against a full sort. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "core/decide/outlook_lines.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

static double value[OUTLOOK_MEMBERS_MAX], given[OUTLOOK_MEMBERS_MAX], room[OUTLOOK_MEMBERS_MAX];

static int ascending(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static void expect_sorted_ones(int count) {
    static const double share[OUTLOOK_LINES] = {0.1, 0.5, 0.9};
    double line[OUTLOOK_LINES];
    memcpy(given, value, sizeof given);
    outlook_lines(value, count, room, line);
    assert_memory_equal(value, given, sizeof given);
    qsort(given, (size_t)count, sizeof *given, ascending);
    for (int i = 0; i < OUTLOOK_LINES; i++)
        assert_near(line[i], given[(int)(share[i] * (count - 1) + 0.5)], 0);
}

static void any_number_of_members_gives_the_sorted_ones(void **state) {
    (void)state;
    struct hostile source = hostile_seed(61);
    for (int i = 0; i < OUTLOOK_MEMBERS_MAX; i++)
        value[i] = hostile_between(&source, 0, 140);
    for (int count = 1; count <= OUTLOOK_MEMBERS_MAX; count += count < 200 ? 1 : 97)
        expect_sorted_ones(count);
    expect_sorted_ones(OUTLOOK_MEMBERS_MAX);
}

/* Fields that are all dry or all wet, and a few members that are far from the others. */
static void members_that_are_alike_or_far_apart_are_no_exception(void **state) {
    (void)state;
    struct hostile source = hostile_seed(62);
    for (int round = 0; round < 400; round++) {
        int count = 1 + (int)hostile_between(&source, 0, 600), alike = (int)hostile_between(&source, 0, 10);
        double width_mm = round % 4 == 0 ? 1e-10 : round % 4 == 1 ? 1e-3 : 5;
        for (int i = 0; i < count; i++)
            value[i] =
                hostile_between(&source, 0, 10) < alike ? 140 : 40 + hostile_between(&source, 0, width_mm);
        if (round % 3 == 0)
            value[count / 2] = 1e6;
        expect_sorted_ones(count);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_number_of_members_gives_the_sorted_ones),
        cmocka_unit_test(members_that_are_alike_or_far_apart_are_no_exception),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
