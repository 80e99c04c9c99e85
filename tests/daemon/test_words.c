/* Words and the quantities said with them. Roundings: common practice, no source. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/library.h"
#include "daemon/view/say.h"
#include "support/sample_mornings.h"

#define NBSP "\xC2\xA0"

static struct words *english, *spanish;
static struct farm_facts facts;

static int open_all(void **state) {
    (void)state;
    english = words_open("en");
    spanish = words_open("es");
    facts = sample_facts();
    return english == NULL || spanish == NULL;
}

static int close_all(void **state) {
    (void)state;
    words_close(english);
    words_close(spanish);
    return 0;
}

static struct view_context context_of(const struct words *words, bool us_units) {
    return (struct view_context){.facts = &facts, .us_units = us_units, .words = words};
}

struct comparison {
    const struct words *other;
    int keys;
};

static void compare_key(void *context, const char *key, const char *text) {
    struct comparison *comparison = context;
    /* The library's own names are English, and so are the sentences and phrases that stand for themselves:
     * every_crop_of_the_library_has_a_spanish_name, test_refusals.c, refusals.test.mjs. */
    if (strncmp(key, "crop.", 5) == 0 || strncmp(key, "problem.said.", 13) == 0 ||
        (strncmp(key, "problem.", 8) == 0 && strchr(key, ' ') != NULL))
        return;
    comparison->keys++;
    const char *translated = words_find(comparison->other, key);
    if (translated == NULL)
        fail_msg("the other language has no \"%s\"", key);
    assert_string_not_equal(text, "");
    for (const char *at = strchr(text, '{'); at != NULL; at = strchr(at + 1, '{')) {
        char hole[32] = "";
        strncat(hole, at, strcspn(at, "}") + 1 < sizeof hole ? strcspn(at, "}") + 1 : 0);
        if (strstr(translated, hole) == NULL)
            fail_msg("\"%s\" has no %s in the other language", key, hole);
    }
}

static void both_languages_have_the_same_keys_and_holes(void **state) {
    (void)state;
    struct comparison there = {spanish, 0}, back = {english, 0};
    words_each(english, "", compare_key, &there);
    words_each(spanish, "", compare_key, &back);
    assert_int_equal(there.keys, back.keys);
    assert_true(there.keys > 200);
}

static void every_crop_of_the_library_has_a_spanish_name(void **state) {
    (void)state;
    struct problems problems;
    struct library *library = NULL;
    problems_init(&problems);
    assert_int_equal(library_open(&library, &problems), STATUS_OK);
    size_t count = library_crop_count(library);
    assert_true(count > 100);
    for (size_t i = 0; i < count; i++) {
        char key[80];
        const char *name = library_crop_name(library, i);
        (void)snprintf(key, sizeof key, "crop.%s", name);
        if (words_find(spanish, key) == NULL)
            fail_msg("\"%s\" has no Spanish name", name);
        /* and no two have the same */
        assert_string_equal(words_crop_named(spanish, words_crop(spanish, name)), name);
        assert_string_equal(words_crop(english, name), name);
    }
    assert_string_equal(words_crop(spanish, "sweet potato"), "batata");
    assert_string_equal(words_crop_named(spanish, "BATATA"), "sweet potato");
    assert_string_equal(words_crop_named(spanish, "nothing that grows"), "nothing that grows");
    library_free(library);
    problems_free(&problems);
}

static void an_unknown_language_is_no_language(void **state) {
    (void)state;
    assert_null(words_open("xx"));
    assert_null(words_open(""));
    assert_null(words_open("../en"));
}

static void a_missing_key_shows_itself(void **state) {
    (void)state;
    assert_null(words_find(english, "no.such.key"));
    assert_string_equal(words_get(english, "no.such.key"), "no.such.key");
}

static void the_language_is_what_the_browser_likes_best(void **state) {
    (void)state;
    assert_string_equal(words_choose(NULL), "en");
    assert_string_equal(words_choose(""), "en");
    assert_string_equal(words_choose("es"), "es");
    assert_string_equal(words_choose("es-MX,es;q=0.9,en;q=0.8"), "es");
    assert_string_equal(words_choose("de, en;q=0.3, es;q=0.7"), "es");
    assert_string_equal(words_choose("en-US, es;q=0.9"), "en");
    assert_string_equal(words_choose("est, fr"), "en");
    assert_string_equal(words_choose("es_MX.UTF-8"), "es"); /* names of locales: POSIX, chapter 8.2 */
    assert_string_equal(words_choose("es@euro"), "es");
    assert_string_equal(words_choose("C.UTF-8"), "en");
    assert_string_equal(words_choose("es;q=0, en;q=0.1"), "en");
    assert_string_equal(words_choose(",,;;q=,*;q=nan"), "en");
}

static void a_hole_without_a_value_stays_as_written(void **state) {
    (void)state;
    struct text out;
    text_init(&out, 0);
    const struct words_hole hole = {"crop", "{stage}"};
    words_fill(english, "field.crop", &hole, 1, &out);
    assert_string_equal(text_string(&out), "{stage}, {stage}");
    text_free(&out);
}

static void depths_are_rounded_for_people(void **state) {
    (void)state;
    char out[SAY_SIZE];
    struct view_context metric = context_of(english, false), us = context_of(english, true);
    struct view_context us_spanish = context_of(spanish, true);
    assert_string_equal(say_depth(&metric, 37.6, out), "38" NBSP "mm");
    assert_string_equal(say_depth(&metric, 0, out), "0" NBSP "mm");
    assert_string_equal(say_depth(&metric, 0.4, out), "under 1" NBSP "mm");
    assert_string_equal(say_depth(&us, 38.1, out), "1.50" NBSP "in");
    assert_string_equal(say_depth(&us, 39, out), "1.55" NBSP "in");
    assert_string_equal(say_depth(&us, 0.4, out), "under 0.05" NBSP "in");
    assert_string_equal(say_depth(&us_spanish, 38.1, out), "1,50" NBSP "in");
    assert_string_equal(say_depth(&metric, NAN, out), "not known");
    assert_string_equal(say_depth(&metric, -INFINITY, out), "not known");
}

static void hours_are_rounded_for_people(void **state) {
    (void)state;
    char out[SAY_SIZE];
    struct view_context context = context_of(english, false);
    assert_string_equal(say_hours(&context, 9.6, out), "9½" NBSP "hours");
    assert_string_equal(say_hours(&context, 9.8, out), "10" NBSP "hours");
    assert_string_equal(say_hours(&context, 3, out), "3" NBSP "hours");
    assert_string_equal(say_hours(&context, 2.99, out), "3" NBSP "hours");
    assert_string_equal(say_hours(&context, 2.18, out), "2" NBSP "h" NBSP "10" NBSP "min");
    assert_string_equal(say_hours(&context, 2, out), "2" NBSP "hours");
    assert_string_equal(say_hours(&context, 1, out), "1" NBSP "hour");
    assert_string_equal(say_hours(&context, 0.6, out), "35" NBSP "min");
    assert_string_equal(say_hours(&context, 0.01, out), "under 5" NBSP "min");
    assert_string_equal(say_hours(&context, NAN, out), "not known");
}

static void days_are_said_as_seen_from_today(void **state) {
    (void)state;
    char out[SAY_SIZE];
    struct view_context context = context_of(english, false), es = context_of(spanish, false);
    int32_t today = facts.today; /* Friday */
    assert_string_equal(say_day(&context, "on", today, out), "today");
    assert_string_equal(say_day(&context, "by", today + 1, out), "by tomorrow");
    assert_string_equal(say_day(&context, "until", today - 1, out), "until yesterday");
    assert_string_equal(say_day(&context, "on", today + 6, out), "on Thursday");
    assert_string_equal(say_day(&context, "on", today + 7, out), "on Friday 12 June");
    assert_string_equal(say_day(&context, "until", today - 6, out), "until Saturday");
    assert_string_equal(say_day(&context, "until", today - 400, out), "until 1 May 2025");
    assert_string_equal(say_day(&context, "on", INT32_MIN, out), "not known");
    assert_string_equal(say_day(&es, "by", today + 3, out), "el lunes a más tardar");
    assert_string_equal(say_date(&es, today, out), "viernes 5 de junio");
}

static void huge_numbers_and_minus_zero_are_said_without_harm(void **state) {
    (void)state;
    char out[SAY_SIZE];
    struct view_context context = context_of(english, false);
    assert_true(strlen(say_depth(&context, 1.7e308, out)) < SAY_SIZE);
    assert_true(strlen(say_hours(&context, 1.7e307, out)) < SAY_SIZE);
    assert_true(strlen(say_share(&context, -1.7e305, out)) < SAY_SIZE);
    assert_string_equal(say_number(&context, -0.04, 1, out), "0.0");
    assert_string_equal(say_number(&context, -0.06, 1, out), "-0.1");
    assert_string_equal(say_number(&context, NAN, 1, out), "–");
}

static void a_share_needs_an_allowed_depletion(void **state) {
    (void)state;
    assert_true(isnan(say_share_of(10, 0)));
    assert_true(isnan(say_share_of(10, -1)));
    assert_true(isnan(say_share_of(NAN, 10)));
    assert_true(isnan(say_share_of(10, INFINITY)));
    assert_true(fabs(say_share_of(30, 60) - 0.5) < 1e-15);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_languages_have_the_same_keys_and_holes),
        cmocka_unit_test(every_crop_of_the_library_has_a_spanish_name),
        cmocka_unit_test(an_unknown_language_is_no_language),
        cmocka_unit_test(a_missing_key_shows_itself),
        cmocka_unit_test(the_language_is_what_the_browser_likes_best),
        cmocka_unit_test(a_hole_without_a_value_stays_as_written),
        cmocka_unit_test(depths_are_rounded_for_people),
        cmocka_unit_test(hours_are_rounded_for_people),
        cmocka_unit_test(days_are_said_as_seen_from_today),
        cmocka_unit_test(huge_numbers_and_minus_zero_are_said_without_harm),
        cmocka_unit_test(a_share_needs_an_allowed_depletion),
    };
    return cmocka_run_group_tests(tests, open_all, close_all);
}
