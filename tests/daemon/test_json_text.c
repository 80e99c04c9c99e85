/* JSON with comments: places, and what is refused. The grammar is RFC 8259's; UTF-8 is RFC 3629's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/json_text.h"
#include "support/hostile.h"

static enum status parse(const char *text, size_t size, struct json_text *json, char words[400]) {
    struct problems problems;
    problems_init(&problems);
    struct text out;
    text_init(&out, 0);
    enum status status = json_text_parse("f", text, size, json, &problems);
    problems_print(&problems, &out);
    (void)snprintf(words, 400, "%s", text_string(&out));
    if ((status == STATUS_REFUSED) != (problems.count > 0) || (status != STATUS_OK && json->root != NULL))
        fail_msg("\"%s\": %s with %zu problems", text, status_name(status), problems.count);
    text_free(&out);
    problems_free(&problems);
    return status;
}

static void expect_good(const char *text) {
    struct json_text json;
    char words[400];
    if (parse(text, strlen(text), &json, words) != STATUS_OK)
        fail_msg("%s: %s", text, words);
    json_text_free(&json);
}

static void expect_refused(const char *text, const char *message) {
    struct json_text json;
    char words[400], wanted[400];
    (void)snprintf(wanted, sizeof wanted, "f:%s\n", message);
    assert_int_equal(parse(text, strlen(text), &json, words), STATUS_REFUSED);
    assert_string_equal(words, wanted);
}

static void expect_place(const struct json_text *json, const cJSON *item, int line, int column,
                         int key_column) {
    const struct json_place *place = json_text_place(json, item);
    assert_non_null(place);
    assert_int_equal(place->line, line);
    assert_int_equal(place->column, column);
    assert_int_equal(place->key_column, key_column);
}

static void every_value_knows_its_line_and_column(void **state) {
    (void)state;
    const char *text = "{\n  \"a\": [1, true,\n    {\"b\": null}],\n\t\"c\" :\"x\" }\n";
    struct json_text json;
    char words[400];
    assert_int_equal(parse(text, strlen(text), &json, words), STATUS_OK);
    const cJSON *a = cJSON_GetObjectItemCaseSensitive(json.root, "a");
    expect_place(&json, json.root, 1, 1, 0);
    expect_place(&json, a, 2, 8, 3);
    expect_place(&json, cJSON_GetArrayItem(a, 0), 2, 9, 0);
    expect_place(&json, cJSON_GetArrayItem(a, 1), 2, 12, 0);
    expect_place(&json, cJSON_GetArrayItem(a, 2)->child, 3, 11, 6);
    expect_place(&json, cJSON_GetObjectItemCaseSensitive(json.root, "c"), 4, 7, 2);
    assert_int_equal(json.count, 7);
    json_text_free(&json);
}

static void columns_count_characters_also_after_comments(void **state) {
    (void)state;
    const char *text = "\xEF\xBB\xBF{ /* Grüße 水 */ \"ü\": /**/ 5 } // end";
    struct json_text json;
    char words[400];
    assert_int_equal(parse(text, strlen(text), &json, words), STATUS_OK);
    expect_place(&json, json.root->child, 1, 27, 17);
    assert_int_equal(json.root->child->valueint, 5);
    json_text_free(&json);
}

static void comments_may_stand_wherever_blanks_may(void **state) {
    (void)state;
    expect_good("//\n{}");
    expect_good("{}//");
    expect_good("/***/[/**/1/* , 2 */,/*\n*/3//]\n]");
    expect_good("{\"a\"/*:*/:/*/ still inside */1}");
    expect_good("[\"// no comment\", \"/* nor */\", \"\\\" // nor\"]");
    expect_refused("[1] /", "1:5: found /, expected nothing after the end of the first value");
    expect_refused("[1 /*/ ]", "1:4: found a comment without an end, expected a star and a slash after it");
    expect_refused("/", "1:1: found /, expected a value: a \"string\", a number, true, false, null, { or [");
}

static void what_rfc_8259_allows_is_taken(void **state) {
    (void)state;
    static const char *const good[] = {"0",
                                       "-0",
                                       "1e5",
                                       "1E+5",
                                       "-0.5e-3",
                                       "\"\"",
                                       " \r\n\t[ ] ",
                                       "{}",
                                       "true",
                                       "\"\\\"\\\\\\/\\b\\f\\n\\r\\t\\u00e9\\ud83d\\ude00\"",
                                       "[[],{},[{}]]",
                                       "{\"\": 1, \" \": 2}"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        expect_good(good[i]);
}

static void what_it_does_not_allow_is_refused(void **state) {
    (void)state;
    static const char *const bad[] = {
        "",           "[1,]",      "{\"a\":1,}",  "[1 2]",       "{\"a\" 1}",
        "{1: 2}",     "01",        "1.",          ".5",          "+1",
        "1e",         "-",         "0x10",        "NaN",         "Infinity",
        "True",       "nul",       "nulls",       "'a'",         "\"a",
        "\"\\x\"",    "\"\\u12\"", "\"\\ud83d\"", "\"\\ude00\"", "\"\\ud83d\\u0041\"",
        "\"\t\"",     "[",         "]",           "{",           "[}",
        "{]",         "[1]]",      "{\"a\":}",    "[,1]",        "\v[]",
        "\"\\u0000\""};
    struct json_text json;
    char words[400];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        if (parse(bad[i], strlen(bad[i]), &json, words) != STATUS_REFUSED)
            fail_msg("%s was taken", bad[i]);
}

static void errors_say_what_was_found_and_expected(void **state) {
    (void)state;
    expect_refused("{\"a\": 1\n \"b\": 2}", "2:2: found \", expected a comma or the } for the { at 1:1");
    expect_refused("[1, [2, 3}", "1:10: found }, expected a comma or the ] for the [ at 1:5");
    expect_refused("{a: 1}", "1:2: found a, expected a key in double quotes");
    expect_refused("{\"a\": 1, }", "1:10: found }, expected a key in double quotes");
    expect_refused("[\"a\nb\"]", "1:4: found a line break, expected the closing \" of a string");
    expect_refused("{\"a\": [1,",
                   "1:10: found the end of the file, expected a value: a \"string\", a number, true, "
                   "false, null, { or [");
    expect_refused(
        "[\xC3\xA9]",
        "1:2: found \xC3\xA9, expected a value: a \"string\", a number, true, false, null, { or [");
    expect_refused("<html>", "1:1: found <, expected JSON that begins with {; this looks like a web page");
}

static void all_duplicate_keys_are_told_at_once(void **state) {
    (void)state;
    expect_refused("{\"a\": 1, \"b\": {\"c\": 1, \"\\u0063\": 2}, \"a\": 3}",
                   "1:24: found the key \"c\" again, expected it once: it stands at 1:16 too\n"
                   "f:1:38: found the key \"a\" again, expected it once: it stands at 1:2 too");
    expect_good("[{\"a\": 1}, {\"a\": 1, \"A\": 2}]");
}

static void numbers_that_a_double_cannot_hold_are_refused(void **state) {
    (void)state;
    expect_refused("[1e999]", "1:2: found 1e999, expected a number below 1.8e308");
    expect_refused("[-1e400]", "1:2: found -1e400, expected a number below 1.8e308");
    expect_good("[1e-999, 1.7976931348623157e308]");
    expect_refused("[1234567890123456789012345678901234567890123456789012345678901]",
                   "1:63: found ], expected a number of at most 60 characters before it");
}

static void bytes_that_are_no_utf8_are_refused(void **state) {
    (void)state;
    static const struct {
        const char *text;
        size_t size;
    } bad[] = {{"\"\xFF\"", 3},
               {"\"\x80\"", 3},
               {"\"\xC0\xAF\"", 4},
               {"\"\xE0\x80\x80\"", 5},
               {"\"\xED\xA0\x80\"", 5},
               {"\"\xF4\x90\x80\x80\"", 6},
               {"\"\xF5\x80\x80\x80\"", 6},
               {"\"\xE6\xB0\"", 4},
               {"\"\xC3", 2},
               {"[1]\0", 4},
               {"\0", 1},
               {"\"a\0b\"", 5},
               {"\xFF\xFE[\0]\0", 6},
               {"\xFE\xFF\0[\0]", 6},
               {"// \xFF\n[]", 7}};
    struct json_text json;
    char words[400];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(parse(bad[i].text, bad[i].size, &json, words), STATUS_REFUSED);
    expect_good("\"\xF4\x8F\xBF\xBF \xED\x9F\xBF \xC2\x80 \xE0\xA0\x80\"");
}

static void nesting_is_limited(void **state) {
    (void)state;
    char text[2 * JSON_TEXT_DEPTH_MAX + 3];
    memset(text, '[', JSON_TEXT_DEPTH_MAX);
    memset(text + JSON_TEXT_DEPTH_MAX, ']', JSON_TEXT_DEPTH_MAX);
    text[2 * JSON_TEXT_DEPTH_MAX] = '\0';
    expect_good(text);
    memset(text, '[', JSON_TEXT_DEPTH_MAX + 1);
    memset(text + JSON_TEXT_DEPTH_MAX + 1, ']', JSON_TEXT_DEPTH_MAX + 1);
    text[2 * JSON_TEXT_DEPTH_MAX + 2] = '\0';
    expect_refused(text, "1:65: found [, expected at most 64 levels of brackets");
}

static void size_and_count_are_limited(void **state) {
    (void)state;
    struct json_text json;
    char words[400];
    assert_int_equal(parse("[]", JSON_TEXT_SIZE_MAX + 1, &json, words), STATUS_REFUSED);
    assert_string_equal(words, "f: found 67108865 bytes, expected at most 67108864\n");
    size_t count = JSON_TEXT_VALUES_MAX;
    char *text = malloc(2 * count + 2);
    for (size_t i = 0; i < count; i++)
        memcpy(text + 2 * i, i == 0 ? "[1" : ",1", 2);
    text[2 * count] = ']';
    assert_int_equal(parse(text, 2 * count + 1, &json, words), STATUS_REFUSED);
    assert_non_null(strstr(words, "expected at most 1048576 values in a file"));
    text[2 * count - 2] = ']';
    assert_int_equal(parse(text, 2 * count - 1, &json, words), STATUS_OK);
    assert_int_equal(json.count, count);
    json_text_free(&json);
    free(text);
}

static void values_are_quoted_as_written_but_short(void **state) {
    (void)state;
    const char *text = "[\"52 hx\", -3.50, [1, 2], [], {\"a\": 1}, \"ÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄ\"]";
    static const char *const quoted[] = {"\"52 hx\"",     "-3.50",     "a list of 2",
                                         "an empty list", "an object", "\"ÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄÄ..."};
    struct json_text json;
    char words[400], out[100];
    assert_int_equal(parse(text, strlen(text), &json, words), STATUS_OK);
    for (int i = 0; i < 6; i++)
        assert_string_equal(json_text_quote(&json, cJSON_GetArrayItem(json.root, i), out, sizeof out),
                            quoted[i]);
    json_text_free(&json);
}

static void messages_hold_no_control_characters(void **state) {
    (void)state;
    char out[8];
    assert_string_equal(json_text_plain("a\x1b[1m", out, sizeof out), "a?[1m");
    assert_string_equal(json_text_plain("ÄÄÄÄÄÄ", out, sizeof out), "ÄÄÄ");
    assert_string_equal(json_text_plain("", out, sizeof out), "");
    expect_refused("{\"\\u001b\": 1, \"\\u001b\": 2}",
                   "1:15: found the key \"?\" again, expected it once: it stands at 1:2 too");
}

/* What the scanner takes, cJSON reads: else a good text would be reported as "out of memory". */
static void scanner_and_parser_agree_on_any_bytes(void **state) {
    (void)state;
    static const char alphabet[] = "{}[]\":,0123456789.eE+-truefalsn \n\\/*u\xC3\xA9";
    struct hostile source = hostile_seed(11);
    struct json_text json;
    char text[40], words[400];
    int good = 0;
    for (int round = 0; round < 200000; round++) {
        size_t size = (size_t)hostile_between(&source, 1, 12);
        for (size_t i = 0; i < size; i++)
            text[i] = alphabet[(size_t)hostile_between(&source, 0, sizeof alphabet - 1.01)];
        enum status status = parse(text, size, &json, words);
        assert_true(status == STATUS_OK || status == STATUS_REFUSED);
        good += status == STATUS_OK;
        if (status == STATUS_OK)
            json_text_free(&json);
    }
    assert_true(good > 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_value_knows_its_line_and_column),
        cmocka_unit_test(columns_count_characters_also_after_comments),
        cmocka_unit_test(comments_may_stand_wherever_blanks_may),
        cmocka_unit_test(what_rfc_8259_allows_is_taken),
        cmocka_unit_test(what_it_does_not_allow_is_refused),
        cmocka_unit_test(errors_say_what_was_found_and_expected),
        cmocka_unit_test(all_duplicate_keys_are_told_at_once),
        cmocka_unit_test(numbers_that_a_double_cannot_hold_are_refused),
        cmocka_unit_test(bytes_that_are_no_utf8_are_refused),
        cmocka_unit_test(nesting_is_limited),
        cmocka_unit_test(size_and_count_are_limited),
        cmocka_unit_test(values_are_quoted_as_written_but_short),
        cmocka_unit_test(messages_hold_no_control_characters),
        cmocka_unit_test(scanner_and_parser_agree_on_any_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
