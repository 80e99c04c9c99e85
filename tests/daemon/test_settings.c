/* The settings of the daemon: read whole, or refused with every reason and its place. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/lifecycle/settings.h"
#include "support/farms.h"

static struct settings settings;
static struct problems problems;

static enum status parse(const char *text) {
    problems_free(&problems);
    problems_init(&problems);
    settings_default(&settings);
    return settings_parse("daemon.json", text, strlen(text), &settings, &problems);
}

static int forget(void **state) {
    (void)state;
    problems_free(&problems);
    return 0;
}

static void nothing_set_is_what_is_usual(void **state) {
    (void)state;
    assert_int_equal(parse("{}"), STATUS_OK);
    assert_int_equal(settings.morning_minute, 270);
    assert_string_equal(settings.listen, "");
    assert_int_equal(settings.backup_days, 14);
    assert_null(settings.hosts[0]);
}

static void all_that_is_set_arrives(void **state) {
    (void)state;
    assert_int_equal(
        parse("{\"listen\": \"0.0.0.0:8443\", \"address\": \"https://farm.example\", \"hosts\": "
              "[\"farm.example\", "
              "\"pump\"],\n"
              "\"tls\": {\"certificate\": \"/c\", \"key\": \"/k\"}, \"morning\": \"05:05\", \"log\": "
              "\"debug\",\n"
              "\"backup\": {\"directory\": \"/b\", \"days\": 3, \"months\": 2},\n"
              "\"mail\": {\"server\": \"smtps://m:465\", \"from\": \"w@farm.example\"},\n"
              "\"people\": [{\"name\": \"Ana\", \"mail\": \"ana@farm.example\", \"language\": \"es\", "
              "\"units\": \"us\",\n"
              " \"quiet\": [\"21:00\", \"05:30\"], \"messages\": [\"urgent\"], \"at\": \"06:00\"},\n"
              " {\"name\": \"Pump\", \"webhook\": \"http://127.0.0.1:1/x\"}]}"),
        STATUS_OK);
    assert_string_equal(settings.hosts[1], "pump");
    assert_null(settings.hosts[2]);
    assert_int_equal(settings.morning_minute, 305);
    assert_int_equal(settings.log, LOG_LEVEL_DEBUG);
    assert_int_equal(settings.backup_days, 3);
    assert_int_equal(settings.people, 2);
    assert_int_equal(settings.person[0].quiet_until, 330);
    assert_int_equal(settings.person[0].digest_minute, 360);
    assert_int_equal(settings.person[0].units, 2);
    assert_false(settings.person[0].digest);
    assert_true(settings.person[1].digest && settings.person[1].urgent);
    assert_int_equal(settings.person[1].quiet_from, MINUTE_NONE);
}

static void what_is_wrong_is_told_with_its_place(void **state) {
    (void)state;
    static const struct {
        const char *text, *said;
        int line;
    } cases[] = {
        {"{\n\"lisen\": \"x\"}", "found the key \"lisen\", expected one such as \"listen\"", 2},
        {"{\"morning\": \"4:30\"}", "expected a time of the day", 1},
        {"{\"morning\": \"24:00\"}", "expected a time of the day", 1},
        {"{\"log\": \"loud\"}", "expected one of \"error\"", 1},
        {"{\"backup\": {\"days\": 0}}", "expected a whole number from 1 to 366", 1},
        {"{\"backup\": {\"days\": 2.5}}", "expected a whole number", 1},
        {"{\"backup\": []}", "expected an object", 1},
        {"{\"tls\": {\"key\": \"/k\"}}", "both in \"tls\"", 1},
        {"{\"address\": \"farm.example\"}", "expected an \"address\"", 1},
        {"{\"address\": \"https://farm.example/\"}", "without a slash", 1},
        {"{\"people\": [{\"name\": \"A\"}]}", "either \"mail\" or \"webhook\"", 1},
        {"{\"people\": [{\"name\": \"A\", \"mail\": \"a@b\"}]}", "\"server\" and \"from\"", 1},
        {"{\"people\": [{\"name\": \"A\", \"webhook\": \"file:///etc/passwd\"}]}", "a webhook that begins",
         1},
        {"{\"people\": [{\"name\": \"A\", \"webhook\": \"http://a\"},\n{\"name\": \"A\", \"webhook\": "
         "\"http://b\"}]}",
         "a name that nobody before it has", 2},
        {"{\"mail\": {\"server\": \"mail.example\", \"from\": \"a@b\"}}", "expected a mail server", 1},
        {"{\"listen\": \"a\\nb\"}", "on one line", 1},
        {"{\"listen\": \"\"}", "not empty", 1},
        {"{\"hosts\": \"farm\"}", "a list of at most 8 names", 1},
        {"{\"people\": [{\"name\": \"A\", \"webhook\": \"http://a\", \"quiet\": [\"21:00\"]}]}", "two times",
         1},
        {"{\"people\": [{\"name\": \"A\", \"webhook\": \"http://a\", \"messages\": [\"all\"]}]}",
         "\"digest\" or", 1},
        {"[]", "expected an object", 1},
        {"{\"listen\": 1", "", 1},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(parse(cases[i].text), STATUS_REFUSED);
        assert_in_range(problems.count, 1, 3);
        if (strstr(problems.problem[0].message, cases[i].said) == NULL)
            fail_msg("%s: said \"%s\"", cases[i].text, problems.problem[0].message);
        assert_int_equal(problems.problem[0].line, cases[i].line);
        assert_int_equal(settings.morning_minute, 270); /* left alone */
    }
}

static void all_mistakes_are_told_at_once(void **state) {
    (void)state;
    assert_int_equal(parse("{\"morning\": 4, \"log\": 1, \"hosts\": 2, \"nothing\": 3}"), STATUS_REFUSED);
    assert_int_equal(problems.count, 4);
}

static void the_sample_that_ships_can_be_read(void **state) {
    (void)state;
    size_t size;
    char *sample = farms_text("config/daemon.json", &size);
    assert_non_null(sample);
    assert_int_equal(parse(sample), STATUS_OK);
    free(sample);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(nothing_set_is_what_is_usual, forget),
        cmocka_unit_test_teardown(all_that_is_set_arrives, forget),
        cmocka_unit_test_teardown(what_is_wrong_is_told_with_its_place, forget),
        cmocka_unit_test_teardown(all_mistakes_are_told_at_once, forget),
        cmocka_unit_test_teardown(the_sample_that_ships_can_be_read, forget),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
