/* Supplies with their hours, and people's word on turns, in the database. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/farm_file.h"
#include "daemon/store/turn_mark_store.h"
#include "support/farms.h"
#include "support/store.h"

static struct test_store store;

static int open_book(void **state) {
    (void)state;
    size_t size;
    char *text = farms_text("fixtures/farms/good/every_key.json", &size);
    int code = text != NULL ? test_store_open(&store, text) : -1;
    free(text);
    return code;
}

static int close_book(void **state) {
    (void)state;
    test_store_close(&store);
    return 0;
}

static void expect_same(struct farm *written) {
    char where[100];
    struct farm read;
    assert_int_equal(farm_store_load(store.db, &read, &store.problems), STATUS_OK);
    farms_sort(written);
    farms_sort(&read);
    if (!farms_same(written, &read, where))
        fail_msg("%s differs", where);
    farm_free(&read);
}

static void the_database_gives_a_farm_of_every_key_back_as_it_was(void **state) {
    (void)state;
    size_t size;
    char *text = farms_text("fixtures/farms/good/every_key.json", &size);
    struct farm farm;
    assert_int_equal(farm_file_read("every_key", text, size, &farm, &store.problems), STATUS_OK);
    expect_same(&farm);
    farm_free(&farm);
    free(text);
}

static void the_database_gives_arbitrary_farms_back_as_they_were(void **state) {
    (void)state;
    for (unsigned seed = 0; seed < 20; seed++) {
        struct farm farm;
        farms_arbitrary(&farm, seed);
        assert_int_equal(farm_store_save(store.db, &farm, true, &store.problems), STATUS_OK);
        expect_same(&farm);
        farm_free(&farm);
    }
}

static void an_import_adds_its_marks_once_and_keeps_those_that_were_there(void **state) {
    (void)state;
    const struct turn_mark_said said = {1784000000, "Ana"};
    struct farm_turn_mark mark = store.farm.turn_mark[0], read;
    long long id = 0;
    for (int again = 0; again < 2; again++) {
        assert_int_equal(farm_store_save(store.db, &store.farm, false, &store.problems), STATUS_OK);
        expect_same(&store.farm);
    }
    mark.date += 3;
    assert_int_equal(turn_mark_store_add(store.db, &mark, &said, &id, &store.problems), STATUS_OK);
    assert_int_equal(farm_store_save(store.db, &store.farm, false, &store.problems), STATUS_OK);
    assert_int_equal(turn_mark_store_get(store.db, id, &read, &store.problems), STATUS_OK);
    assert_memory_equal(&mark, &read, sizeof mark);
    /* Asked to replace, it leaves its own alone. */
    assert_int_equal(farm_store_save(store.db, &store.farm, true, &store.problems), STATUS_OK);
    expect_same(&store.farm);
}

static void the_ids_are_those_of_the_marks_in_their_order(void **state) {
    (void)state;
    assert_int_equal(store.farm.turn_mark_count, 2);
    for (size_t i = 0; i < 2; i++) {
        struct farm_turn_mark mark;
        assert_int_equal(turn_mark_store_get(store.db, store.ids.turn_mark[i], &mark, &store.problems),
                         STATUS_OK);
        assert_memory_equal(&mark, &store.farm.turn_mark[i], sizeof mark);
    }
}

static void a_mark_is_added_and_taken_back_once(void **state) {
    (void)state;
    const struct turn_mark_said said = {1784000000, "Ana"};
    struct farm_turn_mark mark = store.farm.turn_mark[0], read;
    long long id = 0;
    mark.date += 3;
    mark.hours = 7;
    assert_int_equal(turn_mark_store_add(store.db, &mark, &said, &id, &store.problems), STATUS_OK);
    assert_int_equal(turn_mark_store_get(store.db, id, &read, &store.problems), STATUS_OK);
    assert_memory_equal(&mark, &read, sizeof mark);
    assert_int_equal(turn_mark_store_remove(store.db, id, &store.problems), STATUS_OK);
    assert_int_equal(turn_mark_store_remove(store.db, id, &store.problems), STATUS_NOT_FOUND);
    assert_int_equal(turn_mark_store_get(store.db, id, &read, &store.problems), STATUS_NOT_FOUND);
}

static void a_mark_of_a_field_that_is_not_there_is_refused(void **state) {
    (void)state;
    struct farm_turn_mark mark = store.farm.turn_mark[0];
    (void)strcpy(mark.field, "nowhere");
    assert_int_equal(turn_mark_store_add(store.db, &mark, NULL, NULL, &store.problems), STATUS_NOT_FOUND);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_database_gives_a_farm_of_every_key_back_as_it_was),
        cmocka_unit_test(the_database_gives_arbitrary_farms_back_as_they_were),
        cmocka_unit_test(an_import_adds_its_marks_once_and_keeps_those_that_were_there),
        cmocka_unit_test(the_ids_are_those_of_the_marks_in_their_order),
        cmocka_unit_test(a_mark_is_added_and_taken_back_once),
        cmocka_unit_test(a_mark_of_a_field_that_is_not_there_is_refused),
    };
    struct CMUnitTest each[sizeof tests / sizeof tests[0]];
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) {
        each[i] = tests[i];
        each[i].setup_func = open_book;
        each[i].teardown_func = close_book;
    }
    return cmocka_run_group_tests(each, NULL, NULL);
}
