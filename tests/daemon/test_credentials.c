/* The file of logins and keys: who may read it, what it may hold, and that no message shows a value. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/source/credentials.h"

static char path[600];

static int start(void **state) {
    (void)state;
    const char *build = getenv("BUILD");
    (void)snprintf(path, sizeof path, "%s/credentials_XXXXXX", build != NULL ? build : "build");
    int file = mkstemp(path);
    return file >= 0 ? close(file) : -1;
}

static int stop(void **state) {
    (void)state;
    return unlink(path);
}

static void write_file(const char *text, mode_t mode) {
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fputs(text, file);
    (void)fclose(file);
    assert_int_equal(chmod(path, mode), 0);
}

static enum status read_it(struct credentials **out, char *said, size_t size) {
    static struct problems problems;
    struct text words;
    problems_init(&problems);
    text_init(&words, 0);
    *out = NULL;
    enum status status = credentials_read(path, out, &problems);
    problems_print(&problems, &words);
    (void)snprintf(said, size, "%s", text_string(&words));
    text_free(&words);
    problems_free(&problems);
    return status;
}

static void logins_tokens_and_keys_are_found_by_their_source(void **state) {
    (void)state;
    struct credentials *credentials;
    char said[1000];
    write_file("{\"a\": {\"user\": \"u\", \"password\": \"p:q\"}, \"b\": {\"token\": \"t\"},"
               " \"c\": {\"key\": \"k\", \"token\": \"t2\"}}",
               0600);
    assert_int_equal(read_it(&credentials, said, sizeof said), STATUS_OK);
    assert_string_equal(credentials_find(credentials, "a").login, "u:p:q");
    assert_null(credentials_find(credentials, "a").key);
    assert_string_equal(credentials_find(credentials, "b").token, "t");
    assert_string_equal(credentials_find(credentials, "c").key, "k");
    assert_string_equal(credentials_find(credentials, "c").token, "t2");
    assert_null(credentials_find(credentials, "d").login);
    assert_null(credentials_find(NULL, "a").login);
    credentials_free(credentials);
    credentials_free(NULL);
}

static void a_file_that_others_may_read_or_write_is_refused(void **state) {
    (void)state;
    static const mode_t modes[] = {0644, 0640, 0604, 0620, 0602, 0660, 0666, 0611};
    struct credentials *credentials;
    char said[1000];
    for (size_t i = 0; i < sizeof modes / sizeof modes[0]; i++) {
        write_file("{\"a\": {\"key\": \"hush\"}}", modes[i]);
        assert_int_equal(read_it(&credentials, said, sizeof said), STATUS_REFUSED);
        assert_non_null(strstr(said, "chmod 600"));
        assert_null(credentials);
    }
    write_file("{\"a\": {\"key\": \"hush\"}}", 0400);
    assert_int_equal(read_it(&credentials, said, sizeof said), STATUS_OK);
    credentials_free(credentials);
}

static void what_is_wrong_is_told_without_any_value(void **state) {
    (void)state;
    static const char *const wrong[] = {
        "hush",
        "",
        "[\"hush\"]",
        "\"hush\"",
        "{\"a\": \"hush\"}",
        "{\"a\": {}}",
        "{\"a\": {\"user\": \"hush\"}}",
        "{\"a\": {\"password\": \"hush\"}}",
        "{\"a\": {\"user\": \"hush:hush\", \"password\": \"hush\"}}",
        "{\"a\": {\"user\": \"hush\", \"password\": \"hush\", \"token\": \"hush\"}}",
        "{\"a\": {\"key\": 12}}",
        "{\"a\": {\"token\": \"hush\\r\\nX-Other: hush\"}}",
        "{\"a\": {\"user\": \"u\\nhush\", \"password\": \"hush\"}}",
        "{\"a\": {\"key\": \"hush\", \"key\": \"hush\"}}",
        "{\"a\": {\"keys\": \"hush\"}}",
        "{\"a\": {\"key\": \"hush\"}, \"a\": {\"key\": \"hush\"}}",
        "{\"a\": {\"key\": \"hush\"}",
    };
    struct credentials *credentials;
    char said[1000];
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        write_file(wrong[i], 0600);
        assert_int_equal(read_it(&credentials, said, sizeof said), STATUS_REFUSED);
        assert_null(credentials);
        assert_true(said[0] != '\0');
        assert_null(strstr(said, "hush"));
    }
}

static void no_file_and_no_regular_file_are_told(void **state) {
    (void)state;
    static struct problems problems;
    struct credentials *credentials = NULL;
    problems_init(&problems);
    assert_int_equal(credentials_read("/nowhere/at/all", &credentials, &problems), STATUS_NOT_FOUND);
    assert_int_equal(credentials_read("/", &credentials, &problems), STATUS_REFUSED);
    assert_int_equal(problems.count, 2);
    problems_free(&problems);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(logins_tokens_and_keys_are_found_by_their_source),
        cmocka_unit_test(a_file_that_others_may_read_or_write_is_refused),
        cmocka_unit_test(what_is_wrong_is_told_without_any_value),
        cmocka_unit_test(no_file_and_no_regular_file_are_told),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
