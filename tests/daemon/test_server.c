/* The server where a browser does not reach: what it listens on, whom it answers, how it fails. */
#include <arpa/inet.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/http/address.h"
#include "daemon/http/request.h"
#include "daemon/http/server.h"

static enum status no_mornings(void *context, struct field_morning **mornings, size_t *count,
                               struct farm_facts *facts) {
    (void)context;
    (void)mornings;
    (void)count;
    (void)facts;
    return STATUS_STORE;
}

static enum status no_ledger(void *context, const char *field, struct ledger_row **rows, size_t *count) {
    (void)context;
    (void)field;
    (void)rows;
    (void)count;
    return STATUS_STORE;
}

static void nothing_to_release(void *context, struct field_morning *mornings, struct ledger_row *rows) {
    (void)context;
    (void)mornings;
    (void)rows;
    fail_msg("released what was never handed out");
}

static const struct server_data broken_data = {
    .mornings = no_mornings, .ledger = no_ledger, .release = nothing_to_release};

static enum status start_on(const char *listen, struct server **server, char message[256]) {
    const struct server_options options = {.listen = listen, .data = broken_data};
    struct problems problems;
    problems_init(&problems);
    *server = NULL;
    enum status status = server_start(&options, server, &problems);
    snprintf(message, 256, "%s", problems.kept > 0 ? problems.problem[0].message : "");
    problems_free(&problems);
    return status;
}

static void an_address_that_cannot_be_read_is_refused_in_words(void **state) {
    (void)state;
    static const char *const wrong[] = {
        "",          "8080",          "127.0.0.1",     "127.0.0.1:",      "127.0.0.1:65536",
        "[::1]",     "::1:8080",      "127.0.0.1:80x", "farm.example:80", ":8080",
        "[::1:8080", "127.0.0.256:1", "127.0.0.1:-1",  "[127.0.0.1"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct server *server;
        char message[256];
        assert_int_equal(start_on(wrong[i], &server, message), STATUS_REFUSED);
        assert_non_null(strstr(message, "expected ADDRESS:PORT"));
        assert_null(server);
    }
}

static void port_zero_takes_a_free_one_and_a_taken_one_is_an_error(void **state) {
    (void)state;
    struct server *first, *second;
    char message[256], address[32];
    assert_int_equal(start_on("localhost:0", &first, message), STATUS_OK);
    assert_in_range(server_port(first), 1, 65535);
    snprintf(address, sizeof address, "127.0.0.1:%d", server_port(first));
    assert_int_equal(start_on(address, &second, message), STATUS_IO);
    assert_non_null(strstr(message, "cannot listen on 127.0.0.1:"));
    assert_null(second);
    server_stop(first);
    assert_int_equal(start_on(address, &second, message), STATUS_OK); /* the port is free again */
    server_stop(second);
}

static bool allows(const char *listen, const char *host, const char *const *hosts) {
    struct problems problems;
    problems_init(&problems);
    struct address address;
    assert_int_equal(address_parse(listen, &address, &problems), STATUS_OK);
    return address_allows_host(&address, host, hosts);
}

static void a_host_that_a_stranger_can_name_is_not_answered(void **state) {
    (void)state;
    assert_true(allows("127.0.0.1:80", "127.0.0.1:80", NULL));
    assert_true(allows("127.0.0.1:80", "127.9.9.9", NULL));
    assert_true(allows("127.0.0.1:80", "LocalHost:1", NULL));
    assert_true(allows("[::1]:80", "[::1]", NULL));
    assert_true(allows("192.0.2.7:80", "192.0.2.7:80", NULL));
    assert_true(allows("0.0.0.0:80", "192.0.2.9", NULL));
    assert_false(allows("127.0.0.1:80", "192.0.2.9", NULL));
    assert_false(allows("192.0.2.7:80", "192.0.2.9", NULL));
    assert_false(allows("0.0.0.0:80", "rebound.example", NULL));
    assert_false(allows("127.0.0.1:80", "127.0.0.1.rebound.example", NULL));
    assert_false(allows("127.0.0.1:80", "localhost.rebound.example", NULL));
    assert_false(allows("127.0.0.1:80", NULL, NULL));
    assert_false(allows("127.0.0.1:80", "", NULL));
    assert_false(allows("127.0.0.1:80", "[::1", NULL));
}

static void a_host_that_the_farm_names_is_answered(void **state) {
    (void)state;
    static const char *const hosts[] = {"farm.example", NULL};
    assert_true(allows("127.0.0.1:80", "Farm.Example:8080", hosts));
    assert_false(allows("127.0.0.1:80", "other.farm.example", hosts));
}

static void only_well_formed_utf8_without_controls_is_a_name(void **state) {
    (void)state;
    static const struct {
        const char *from, *expected;
    } cases[] = {{"North%20bottom", "North bottom"},
                 {"a%2Fb", "a/b"},
                 {"R%C3%ADo", "R\xC3\xADo"},
                 {"%F0%9D%84%9E", "\xF0\x9D\x84\x9E"},
                 {"plus+", "plus+"},
                 {"", NULL},
                 {"%", NULL},
                 {"%2", NULL},
                 {"%g0", NULL},
                 {"%00", NULL},
                 {"%0A", NULL},
                 {"%80", NULL},
                 {"%C3", NULL},
                 {"%C2%9B31m", NULL}, /* an order to a terminal */
                 {"%C2%A0", "\xC2\xA0"},
                 {"%C0%80", NULL},            /* overlong */
                 {"%E0%80%80", NULL},         /* overlong */
                 {"%ED%A0%80", NULL},         /* surrogate */
                 {"%F4%90%80%80", NULL},      /* above U+10FFFF */
                 {"0123456789abcdef", NULL}}; /* does not fit */
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char out[16];
        bool fine = request_decode(cases[i].from, strlen(cases[i].from), out, sizeof out);
        assert_int_equal(fine, cases[i].expected != NULL);
        if (fine)
            assert_string_equal(out, cases[i].expected);
    }
}

/* Stands until the test lets it go on. */
static atomic_bool go_on;

static enum status slow_mornings(void *context, struct field_morning **mornings, size_t *count,
                                 struct farm_facts *facts) {
    while (!atomic_load(&go_on))
        (void)nanosleep(&(struct timespec){0, 1000000L}, NULL);
    return no_mornings(context, mornings, count, facts);
}

static int ask_for_page(int port) {
    static const char asked[] = "GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int line = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_int_equal(connect(line, (const struct sockaddr *)&to, sizeof to), 0);
    assert_int_equal(send(line, asked, sizeof asked - 1, 0), (ssize_t)sizeof asked - 1);
    return line;
}

static void a_thread_that_stands_at_a_request_is_seen_to_stand(void **state) {
    (void)state;
    struct server *server = NULL;
    struct problems problems;
    char answer[16] = "";
    const struct server_options options = {
        .listen = "127.0.0.1:0",
        .data = {.mornings = slow_mornings, .ledger = no_ledger, .release = nothing_to_release}};
    problems_init(&problems);
    atomic_store(&go_on, false);
    assert_int_equal(server_start(&options, &server, &problems), STATUS_OK);
    /* With nothing to do it goes round each second. */
    for (int i = 0; i < 15; i++) {
        assert_true(server_standing_ms(server) < 1900);
        (void)nanosleep(&(struct timespec){0, 100000000L}, NULL);
    }
    int line = ask_for_page(server_port(server));
    for (int i = 0; i < 500 && server_standing_ms(server) < 2500; i++)
        (void)nanosleep(&(struct timespec){0, 10000000L}, NULL);
    assert_true(server_standing_ms(server) >= 2500);
    atomic_store(&go_on, true);
    assert_true(recv(line, answer, sizeof answer - 1, 0) > 12);
    assert_memory_equal(answer, "HTTP/1.1 500", 12);
    for (int i = 0; i < 500 && server_standing_ms(server) > 1900; i++)
        (void)nanosleep(&(struct timespec){0, 10000000L}, NULL);
    assert_true(server_standing_ms(server) <= 1900);
    (void)close(line);
    server_stop(server);
}

static void a_store_that_fails_gives_a_page_without_internals(void **state) {
    (void)state;
    struct words *words = words_open("en");
    static const char *const paths[] = {"/", "/api/today", "/field/a", "/field/a/ledger.csv"};
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
        struct request request = {.data = &broken_data, .path = paths[i], .words = words, .version = "1"};
        struct reply reply;
        reply_init(&reply);
        routes_answer(&request, &reply);
        assert_int_equal(reply.status, 500);
        assert_non_null(strstr(text_string(&reply.body), "The page could not be made"));
        assert_null(strstr(text_string(&reply.body), "database"));
        assert_string_equal(reply.problems.problem[0].message, "database error"); /* for the log */
        reply_free(&reply);
    }
    words_close(words);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_address_that_cannot_be_read_is_refused_in_words),
        cmocka_unit_test(port_zero_takes_a_free_one_and_a_taken_one_is_an_error),
        cmocka_unit_test(a_host_that_a_stranger_can_name_is_not_answered),
        cmocka_unit_test(a_host_that_the_farm_names_is_answered),
        cmocka_unit_test(only_well_formed_utf8_without_controls_is_a_name),
        cmocka_unit_test(a_thread_that_stands_at_a_request_is_seen_to_stand),
        cmocka_unit_test(a_store_that_fails_gives_a_page_without_internals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
