/* The hours of turns where the clock is put forward and back. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/wall_clock.h"
#include "support/well_farm.h"

/* A clock made for it: put forward at 2 on 2026-07-19 and back at 3 on 2026-07-21. Without pauses, the hours
 * between a turn's begin and end are those in which water runs. */
static void the_hours_of_a_turn_are_real_ones_when_the_clock_changes(void **state) {
    struct test_store *store = *state;
    uint32_t skipped, twice;
    int over_forward = 0, over_back = 0;
    wall_clock_zone("TST0TDT,J200/2,J202/3");
    wall_clock_changes(WELL_FARM_TODAY + 3, &skipped, &twice);
    assert_int_equal(skipped, 1u << 2);
    assert_int_equal(twice, 0);
    wall_clock_changes(WELL_FARM_TODAY + 5, &skipped, &twice);
    assert_int_equal(skipped, 0);
    assert_int_equal(twice, 1u << 2);
    well_farm_morning(store, WELL_FARM_TODAY);
    struct stored_turns turns = well_farm_turns(store);
    for (size_t i = 0; i < turns.turn_count; i++) {
        const struct stored_turn *turn = &turns.turn[i];
        int64_t from = wall_clock_instant(turn->date, turn->hour);
        int64_t to = wall_clock_instant(turn->date, turn->hour + turn->span);
        assert_int_equal(to - from, 3600 * (int64_t)turn->hours);
        over_forward += turn->span > turn->hours;
        over_back += turn->span < turn->hours;
    }
    stored_turns_free(&turns);
    wall_clock_zone("UTC");
    well_farm_no_two_overlap(store);
    assert_int_equal(over_forward, 1);
    assert_int_equal(over_back, 1);
}

/* The rules of central Europe: 2026-03-29 has no 2 o'clock, 2026-10-25 has it twice. By hand. */
static void an_hour_that_comes_twice_is_the_first_whatever_was_asked_before(void **state) {
    const int64_t forward = 20541, back = 20751, hour = 3600;
    (void)state;
    wall_clock_zone("CET-1CEST,M3.5.0,M10.5.0/3");
    for (int asked = 0; asked < 24; asked++) {
        (void)wall_clock_instant((int32_t)back, asked);
        assert_int_equal(wall_clock_instant((int32_t)back, 2), 24 * hour * back);
        assert_int_equal(wall_clock_instant((int32_t)back - 1, 26), 24 * hour * back);
        assert_int_equal(wall_clock_instant((int32_t)back, 3), (24 * back + 2) * hour);
        (void)wall_clock_instant((int32_t)forward, asked);
        assert_int_equal(wall_clock_instant((int32_t)forward, 1), 24 * hour * forward);
        assert_int_equal(wall_clock_instant((int32_t)forward, 2), (24 * forward + 1) * hour);
        assert_int_equal(wall_clock_instant((int32_t)forward, 3), (24 * forward + 1) * hour);
    }
    wall_clock_zone("UTC");
}

static void set_up_for(struct test_store *store, int hours) {
    struct farm farm;
    must(farm_store_load(store->db, &farm, &store->problems), &store->problems);
    for (size_t i = 0; i < farm.field_count; i++)
        farm.field[i].turning.setup_hours = hours;
    must(farm_store_save(store->db, &farm, false, &store->problems), &store->problems);
    farm_free(&farm);
}

static struct stored_turn pinned_of(struct test_store *store, const char *field) {
    struct stored_turns turns = well_farm_turns(store);
    struct stored_turn found = {.id = 0};
    for (size_t i = 0; i < turns.turn_count; i++)
        if (turns.turn[i].pinned && strcmp(turns.turn[i].field, field) == 0)
            found = turns.turn[i];
    stored_turns_free(&turns);
    return found;
}

/* Pins A from noon of the day before the clock changes (`day`) for so many hours, and B from 4:00 on; whether
 * B's turn stands, and the seconds between the two. */
static bool both_stand(struct test_store *store, int32_t day, int hours, int number, int64_t *between) {
    struct book_form form = well_farm_form(5, number);
    struct turns_word a = well_farm_pin("A", day - 1, 12, hours), b = well_farm_pin("B", day, 4, 20);
    must(turns_book_mark(store->db, &form, &a, &store->problems), &store->problems);
    form = well_farm_form(5, number + 1);
    must(turns_book_mark(store->db, &form, &b, &store->problems), &store->problems);
    struct stored_turn before = pinned_of(store, "A"), after = pinned_of(store, "B");
    assert_true(before.id != 0);
    *between = wall_clock_instant(after.date, after.hour) -
               wall_clock_instant(before.date, before.hour + before.span);
    return after.id != 0;
}

/* The clock of the test above. The instants say how long a crew really has between two turns of the well. */
/* A set-up between the two, as both_stand() pins them. */
static void has_its_real_hours(struct test_store *store, int setup_hours, int32_t day, int hours,
                               int number) {
    int64_t between;
    wall_clock_zone("TST0TDT,J200/2,J202/3");
    set_up_for(store, setup_hours);
    well_farm_morning(store, WELL_FARM_TODAY);
    assert_true(both_stand(store, day, hours, number, &between));
    assert_int_equal(between, 3600 * setup_hours);
    wall_clock_zone("UTC");
}

static void a_set_up_has_its_real_hours_when_the_clock_is_put_forward(void **state) {
    has_its_real_hours(*state, 2, WELL_FARM_TODAY + 3, 13, 50); /* to 1:00 */
}

static void a_set_up_that_an_hour_is_lacking_for_is_refused_when_the_clock_is_put_forward(void **state) {
    struct test_store *store = *state;
    int64_t between;
    wall_clock_zone("TST0TDT,J200/2,J202/3");
    set_up_for(store, 2);
    well_farm_morning(store, WELL_FARM_TODAY);
    assert_false(both_stand(store, WELL_FARM_TODAY + 3, 14, 60, &between)); /* to 2:00, which is 3:00 */
    struct stored_turns turns = well_farm_turns(store);
    int told = 0;
    for (size_t i = 0; i < turns.limit_count; i++)
        told += turns.limit[i].kind == TURNS_LIMIT_PIN_PLACES && strcmp(turns.limit[i].field, "B") == 0 &&
                turns.limit[i].cure_hour == 5;
    assert_int_equal(told, 1);
    stored_turns_free(&turns);
    wall_clock_zone("UTC");
}

static void a_set_up_has_no_hour_too_many_when_the_clock_is_put_back(void **state) {
    has_its_real_hours(*state, 3, WELL_FARM_TODAY + 5, 14, 70); /* to 2:00 */
}

static void a_turn_can_be_done_its_real_hours_before_its_start(void **state) {
    (void)state;
    struct farm_field field = {.turning = {.setup_hours = 3}};
    wall_clock_zone("TST0TDT,J200/2,J202/3");
    const struct stored_turn forward = {.date = WELL_FARM_TODAY + 3, .hour = 4},
                             back = {.date = WELL_FARM_TODAY + 5, .hour = 4};
    assert_int_equal(turns_done_from(&forward, &field), (int64_t)forward.date * 24 + 0);
    assert_int_equal(turns_done_from(&back, &field), (int64_t)back.date * 24 + 2);
    wall_clock_zone("UTC");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, well_farm_open, well_farm_close)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(the_hours_of_a_turn_are_real_ones_when_the_clock_changes),
        TEST(an_hour_that_comes_twice_is_the_first_whatever_was_asked_before),
        TEST(a_set_up_has_its_real_hours_when_the_clock_is_put_forward),
        TEST(a_set_up_has_no_hour_too_many_when_the_clock_is_put_back),
        TEST(a_turn_can_be_done_its_real_hours_before_its_start),
        TEST(a_set_up_that_an_hour_is_lacking_for_is_refused_when_the_clock_is_put_forward),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
