/* Problems with their places: what is kept of them, and what is said of the others. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/problem.h"

static struct problems problems, others;

static int fresh(void **state) {
    (void)state;
    problems_init(&problems);
    problems_init(&others);
    return 0;
}

static int done(void **state) {
    (void)state;
    problems_free(&problems);
    problems_free(&others);
    return 0;
}

static void assert_printed(const char *expected) {
    struct text text;
    text_init(&text, 0);
    problems_print(&problems, &text);
    assert_string_equal(text_string(&text), expected);
    text_free(&text);
}

static void assert_first(const char *expected) {
    struct text text;
    text_init(&text, 0);
    problems_print_first(&problems, &text);
    assert_string_equal(text_string(&text), expected);
    text_free(&text);
}

static void add_date(const char *file, int line, const char *path) {
    problem_add(&problems, file, line, 1, path, "found day %d", line);
}

static void many_of_a_kind_are_few_and_a_count_with_their_lines(void **state) {
    (void)state;
    for (int line = 2; line <= 8; line++)
        add_date("days.csv", line, "date");
    assert_printed("days.csv:2:1: date: found day 2\n"
                   "days.csv:3:1: date: found day 3\n"
                   "days.csv:4:1: date: found day 4\n"
                   "days.csv:5:1: date: found day 5\n"
                   "days.csv:6:1: date: found day 6\n"
                   "days.csv: and 2 more of this kind in lines 7 to 8\n");
    assert_first("days.csv:2:1: date: found day 2 (and 6 more in lines 3 to 8)");
    assert_int_equal(problems.count, 7);
}

static void another_file_place_or_sentence_is_another_kind(void **state) {
    (void)state;
    for (int i = 1; i <= PROBLEMS_OF_A_KIND; i++) {
        add_date("a.csv", i, "date");
        add_date("b.csv", i, "date");
        add_date("a.csv", i, "day");
        problem_add(&problems, "a.csv", i, 1, "date", "found row %d", i);
        problem_tell(&problems, "code", "found {found}", "found", "it", PROBLEM_END);
        add_date("2025.csv", i, "date");
        add_date("2026.csv", i, "date");
    }
    assert_int_equal(problems.kept, 7 * PROBLEMS_OF_A_KIND);
    add_date("b.csv", 99, "date");
    assert_int_equal(problems.kept, 7 * PROBLEMS_OF_A_KIND);
    struct text text;
    text_init(&text, 0);
    problems_print(&problems, &text);
    assert_non_null(strstr(text_string(&text),
                           "b.csv:5:1: date: found day 5\nb.csv: and 1 more of this kind in line 99\n"));
    text_free(&text);
}

static void places_of_a_list_are_alike(void **state) {
    (void)state;
    char path[40];
    for (int i = 8; i <= 14; i++) {
        (void)snprintf(path, sizeof path, "records[%d].date", i);
        problem_add(&problems, NULL, 0, 0, path, "%s", "the same");
    }
    problem_add(&problems, NULL, 0, 0, "records[3].dates", "%s", "the same");
    problem_add(&problems, NULL, 0, 0, "records[3].date", "%s", "not the same");
    assert_printed("records[8].date: the same\n"
                   "records[9].date: the same\n"
                   "records[10].date: the same\n"
                   "records[11].date: the same\n"
                   "records[12].date: the same\n"
                   "and 2 more of this kind\n"
                   "records[3].dates: the same\n"
                   "records[3].date: not the same\n");
    assert_first("records[8].date: the same (and 8 more)");
}

static void kinds_past_the_most_that_are_kept_are_counted(void **state) {
    (void)state;
    char sentence[40];
    for (int i = 0; i < PROBLEMS_MAX + 7; i++) {
        (void)snprintf(sentence, sizeof sentence, "kind %c%c", 'a' + i / 26, 'a' + i % 26);
        problem_add(&problems, "f", i + 1, 0, NULL, "%s", sentence);
    }
    for (int i = 0; i < 9; i++)
        problem_add(&problems, "f", 500 + i, 0, NULL, "%s", "kind ad");
    struct text text;
    text_init(&text, 0);
    problems_print(&problems, &text);
    /* None of the nine finds room, where four would. */
    assert_non_null(strstr(text_string(&text), "\nand 16 more\n"));
    assert_null(strstr(text_string(&text), "of this kind"));
    text_free(&text);
}

static void what_is_moved_copied_or_sorted_keeps_its_count(void **state) {
    (void)state;
    for (int line = 10; line > 2; line--)
        add_date("days.csv", line, "date");
    problem_tell(&problems, "code", "found {found} of {what}", "found", "1", "what/key.", "", PROBLEM_END);
    problems_sort(&problems, 0);
    const char *printed = "found 1 of \n"
                          "days.csv:6:1: date: found day 6\n"
                          "days.csv: and 3 more of this kind in lines 3 to 5\n"
                          "days.csv:7:1: date: found day 7\n"
                          "days.csv:8:1: date: found day 8\n"
                          "days.csv:9:1: date: found day 9\n"
                          "days.csv:10:1: date: found day 10\n";
    assert_printed(printed);
    for (size_t i = 0; i < problems.kept; i++)
        assert_non_null(problem_copy(&others, &problems.problem[i]));
    assert_int_equal(others.count, problems.count);
    assert_memory_equal(others.problem[0].said,
                        "code\0found\0"
                        "1\0what/key.\0\0\0",
                        25);
    problems_free(&problems);
    problems_move(&others, &problems);
    assert_printed(printed);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(many_of_a_kind_are_few_and_a_count_with_their_lines, fresh, done),
        cmocka_unit_test_setup_teardown(another_file_place_or_sentence_is_another_kind, fresh, done),
        cmocka_unit_test_setup_teardown(places_of_a_list_are_alike, fresh, done),
        cmocka_unit_test_setup_teardown(kinds_past_the_most_that_are_kept_are_counted, fresh, done),
        cmocka_unit_test_setup_teardown(what_is_moved_copied_or_sorted_keeps_its_count, fresh, done),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
