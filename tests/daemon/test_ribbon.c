/* The ribbon as SVG: what is drawn where. Positions are those of ribbon.c's own layout. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/view/ribbon.h"
#include "support/sample_mornings.h"

#define RIBBON_BYTES_MAX 3072

static struct words *words;
static struct farm_facts facts;
static struct view_context context;

static int open_words(void **state) {
    (void)state;
    words = words_open("en");
    facts = sample_facts();
    context = (struct view_context){.facts = &facts, .words = words};
    return words == NULL;
}

static int close_words(void **state) {
    (void)state;
    words_close(words);
    return 0;
}

static char *draw(const struct field_morning *morning) {
    struct text out;
    text_init(&out, 0);
    ribbon_add(&context, morning, 7, &out);
    char *svg = text_take(&out);
    assert_non_null(svg);
    return svg;
}

/* The d of the path of a class; "" when there is none. Overwrites what it returned before. */
static const char *path_of(const char *svg, const char *attribute) {
    static char d[4096];
    const char *at = strstr(svg, attribute);
    d[0] = '\0';
    if (at != NULL) {
        at = strstr(at, " d=\"") + 4;
        strncat(d, at, strcspn(at, "\""));
    }
    return d;
}

static int boxes(const char *d) {
    int count = 0;
    for (; *d != '\0'; d++)
        count += *d == 'M';
    return count;
}

/* A day each way round today: half used and 10 mm of rain yesterday, past the allowed depletion tomorrow. */
static struct field_morning small_morning(void) {
    struct field_morning morning = {.past_count = 1, .ahead_count = 2};
    morning.call.depletion_mm = 30;
    morning.call.allowed_mm = 60;
    morning.past[0] = (struct past_day){.date = facts.today - 1,
                                        .depletion_mm = 30,
                                        .allowed_mm = 60,
                                        .rain_mm = 10,
                                        .irrigation_gross_mm = 25};
    morning.ahead[0] = (struct season_day){.date = facts.today, .depletion_mm = 59, .allowed_mm = 60};
    morning.ahead[1] = (struct season_day){.date = facts.today + 1, .depletion_mm = 61, .allowed_mm = 60};
    return morning;
}

static void each_day_stands_in_its_own_cell(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    char *svg = draw(&morning);
    assert_string_equal(path_of(svg, "class=\"t4\""), "M156 6h11v40h-11z"); /* 13th cell, half used */
    assert_string_equal(path_of(svg, "class=\"t7\""), "M174 8h7v36h-7z");   /* today, inside its outline */
    assert_string_equal(path_of(svg, "class=\"t8\""), "M186 8h7v36h-7z");
    free(svg);
}

static void only_cells_past_the_allowed_depletion_are_hatched(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    char *svg = draw(&morning);
    assert_string_equal(path_of(svg, "url(#r7h)"), "M186 8h7v36h-7z");
    free(svg);
    morning.ahead[1].depletion_mm = 60; /* at the limit is not past it */
    svg = draw(&morning);
    assert_string_equal(path_of(svg, "url(#r7h)"), "");
    free(svg);
}

static void rain_hangs_and_irrigation_stands_to_one_scale(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    char *svg = draw(&morning);
    assert_string_equal(path_of(svg, "class=\"rain\""), "M159 6h5v7.6h-5z"); /* 19 x 10 / 25 */
    assert_string_equal(path_of(svg, "class=\"water\""), "M159 46h5v-19h-5z");
    free(svg);
    morning.past[0].irrigation_gross_mm = 100; /* the largest bar sets the scale for both */
    svg = draw(&morning);
    assert_string_equal(path_of(svg, "class=\"rain\""), "M159 6h5v1.9h-5z");
    assert_string_equal(path_of(svg, "class=\"water\""), "M159 46h5v-19h-5z");
    free(svg);
}

static void days_to_come_are_outlined_and_days_past_are_not(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    char *svg = draw(&morning);
    const char *outlines = path_of(svg, "class=\"ahead\"");
    assert_int_equal(boxes(outlines), MORNING_AHEAD);
    assert_memory_equal(outlines, "M172 ", 5);
    free(svg);
}

static void a_day_that_is_not_known_shows_as_empty(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    char *svg = draw(&morning);
    assert_int_equal(boxes(path_of(svg, "class=\"unknown\"")), MORNING_PAST + MORNING_AHEAD - 3);
    free(svg);
    morning.ahead[0].depletion_mm = NAN;
    morning.ahead[1].allowed_mm = 0;
    svg = draw(&morning);
    assert_int_equal(boxes(path_of(svg, "class=\"unknown\"")), MORNING_PAST + MORNING_AHEAD - 1);
    free(svg);
}

static void rows_outside_the_ribbon_are_left_out(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    morning.past[0].date = facts.today; /* no past day */
    morning.ahead[0].date = facts.today - 1;
    morning.ahead[1].date = INT32_MAX;
    char *svg = draw(&morning);
    assert_int_equal(boxes(path_of(svg, "class=\"unknown\"")), MORNING_PAST + MORNING_AHEAD);
    free(svg);
}

static void counts_outside_their_range_are_not_followed(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    morning.past_count = 1000000;
    morning.ahead_count = -3;
    char *svg = draw(&morning);
    assert_string_equal(path_of(svg, "class=\"t4\""), "M156 6h11v40h-11z");
    free(svg);
}

static void a_depth_that_is_not_a_number_draws_no_bar(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    morning.past[0].rain_mm = NAN;
    morning.past[0].irrigation_gross_mm = -5;
    char *svg = draw(&morning);
    assert_string_equal(path_of(svg, "class=\"rain\""), "");
    assert_string_equal(path_of(svg, "class=\"water\""), "");
    assert_null(strstr(svg, "nan"));
    free(svg);
}

static void the_sentence_says_what_the_picture_shows(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    char *svg = draw(&morning);
    assert_non_null(strstr(svg, "role=\"img\" aria-labelledby=\"r7t r7d\""));
    assert_non_null(
        strstr(svg, "<title id=\"r7t\">50% of the allowed depletion is used this morning.</title>"));
    assert_non_null(strstr(svg, "rain 10\xC2\xA0mm, irrigation 25\xC2\xA0mm"));
    assert_non_null(strstr(svg, "Past the allowed depletion tomorrow."));
    free(svg);
}

static void no_name_from_outside_gets_into_the_picture(void **state) {
    (void)state;
    for (int i = 0; i < SAMPLE_FIELDS; i++) {
        struct field_morning morning = sample_morning(i);
        char *svg = draw(&morning);
        assert_null(strstr(svg, morning.field));
        free(svg);
    }
}

static void the_same_morning_gives_the_same_bytes_and_few_of_them(void **state) {
    (void)state;
    size_t largest = 0;
    for (int i = 0; i < SAMPLE_FIELDS; i++) {
        struct field_morning morning = sample_morning(i);
        char *first = draw(&morning), *second = draw(&morning);
        assert_string_equal(first, second);
        largest = strlen(first) > largest ? strlen(first) : largest;
        free(first);
        free(second);
    }
    print_message("# largest ribbon: %zu bytes\n", largest);
    assert_true(largest <= RIBBON_BYTES_MAX);
}

/* All cells hatched, with a bar above and below in each: nothing can be larger. */
static void the_fullest_ribbon_stays_within_its_limit(void **state) {
    (void)state;
    struct field_morning morning = {.past_count = MORNING_PAST, .ahead_count = MORNING_AHEAD};
    for (int i = 0; i < MORNING_PAST + MORNING_AHEAD; i++) {
        struct season_day day = {.date = facts.today - MORNING_PAST + i,
                                 .depletion_mm = 33 + 3 * (i % 9),
                                 .allowed_mm = 30,
                                 .rain_mm = 12.34,
                                 .irrigation_gross_mm = 23.45};
        if (i < MORNING_PAST)
            morning.past[i] = (struct past_day){.date = day.date,
                                                .depletion_mm = day.depletion_mm,
                                                .allowed_mm = day.allowed_mm,
                                                .rain_mm = day.rain_mm,
                                                .irrigation_gross_mm = day.irrigation_gross_mm};
        else
            morning.ahead[i - MORNING_PAST] = day;
    }
    char *svg = draw(&morning);
    print_message("# fullest ribbon: %zu bytes\n", strlen(svg));
    assert_true(strlen(svg) <= RIBBON_BYTES_MAX);
    free(svg);
}

static void days_to_come_are_split_by_the_lines_of_the_outlook(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    morning.call.date = facts.today;
    morning.outlook = (struct call_outlook){.days = 2, .depletion_mm = {{6, 30, 61}, {58, 58.5, 59}}};
    char *svg = draw(&morning);
    /* Today, of 60 mm allowed: a tenth (tone 0), half (tone 4) and past it (tone 8, hatched). Each band is a
     * third of the 36 units inside the outline. Yesterday is half used, too. */
    assert_string_equal(path_of(svg, "class=\"t0\""), "M174 8h7v12h-7z");
    assert_string_equal(path_of(svg, "class=\"t4\""), "M156 6h11v40h-11zM174 20h7v12h-7z");
    assert_string_equal(path_of(svg, "class=\"t8\""), "M174 32h7v12h-7z");
    assert_string_equal(path_of(svg, "fill=\"url(#r7h)\""), "M174 32h7v12h-7z");
    /* Tomorrow all three are of one tone: one box. */
    assert_string_equal(path_of(svg, "class=\"t7\""), "M186 8h7v36h-7z");
    free(svg);
}

static void an_outlook_of_another_morning_is_put_where_its_days_are(void **state) {
    (void)state;
    struct field_morning morning = small_morning();
    morning.call.date = facts.today - 1;
    morning.outlook = (struct call_outlook){.days = 2, .depletion_mm = {{1, 2, 3}, {6, 30, 61}}};
    char *svg = draw(&morning);
    assert_string_equal(path_of(svg, "class=\"t0\""), "M174 8h7v12h-7z");
    /* Tomorrow is beyond it: one tone, that of its path, which is past the allowed depletion. */
    assert_string_equal(path_of(svg, "class=\"t8\""), "M174 32h7v12h-7zM186 8h7v36h-7z");
    free(svg);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_to_come_are_split_by_the_lines_of_the_outlook),
        cmocka_unit_test(an_outlook_of_another_morning_is_put_where_its_days_are),
        cmocka_unit_test(each_day_stands_in_its_own_cell),
        cmocka_unit_test(only_cells_past_the_allowed_depletion_are_hatched),
        cmocka_unit_test(rain_hangs_and_irrigation_stands_to_one_scale),
        cmocka_unit_test(days_to_come_are_outlined_and_days_past_are_not),
        cmocka_unit_test(a_day_that_is_not_known_shows_as_empty),
        cmocka_unit_test(rows_outside_the_ribbon_are_left_out),
        cmocka_unit_test(counts_outside_their_range_are_not_followed),
        cmocka_unit_test(a_depth_that_is_not_a_number_draws_no_bar),
        cmocka_unit_test(the_sentence_says_what_the_picture_shows),
        cmocka_unit_test(no_name_from_outside_gets_into_the_picture),
        cmocka_unit_test(the_same_morning_gives_the_same_bytes_and_few_of_them),
        cmocka_unit_test(the_fullest_ribbon_stays_within_its_limit),
    };
    return cmocka_run_group_tests(tests, open_words, close_words);
}
