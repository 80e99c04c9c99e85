/* What changed between two plans. The expected values follow from the words of core/decide/turns_change.h. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/decide/turns_change.h"
#include "tests/support/turns_cases.h"

#include <math.h>
#include <stdlib.h>

#define TURNS  400
#define FIELDS 5

/* A plan as a list of turns; an hour gives 2 mm and 100 m3. */
struct sketch {
    struct turns_plan plan;
    struct turn turn[TURNS];
};

static struct sketch early, late;
static struct turns_change room[2 * TURNS];
static struct turns_changes changes;

static void empty(void) {
    early = late = (struct sketch){0};
    early.plan.turn = early.turn;
    late.plan.turn = late.turn;
    changes = (struct turns_changes){.change = room, .room = 2 * TURNS};
}

static void add(struct sketch *sketch, int field, int start, int hours) {
    sketch->turn[sketch->plan.turn_count++] = (struct turn){.field = field,
                                                            .start = start,
                                                            .hours = hours,
                                                            .end = start + hours,
                                                            .pin = -1,
                                                            .net_mm = 2 * hours,
                                                            .volume_m3 = 100 * hours};
}

static enum status compare(int passed_hours, int farthest_hours) {
    return turns_compare(&early.plan, &late.plan, FIELDS, passed_hours, farthest_hours, &changes);
}

static void expect(int at, enum turns_change_kind kind, int before, int after, int later, int more) {
    assert_true(at < changes.count);
    assert_int_equal(room[at].kind, kind);
    assert_int_equal(room[at].before, before);
    assert_int_equal(room[at].after, after);
    assert_int_equal(room[at].later_hours, later);
    assert_int_equal(room[at].more_hours, more);
    assert_true(room[at].more_net_mm == 2 * more && room[at].more_m3 == 100 * more);
}

static void plans_that_are_equal_have_no_changes(void **state) {
    (void)state;
    empty();
    add(&early, 0, 3, 10);
    add(&early, 1, 13, 5);
    add(&late, 0, 3, 10);
    add(&late, 1, 13, 5);
    assert_int_equal(compare(0, 72), STATUS_OK);
    assert_int_equal(changes.count, 0);
    assert_int_equal(changes.kept, 2);
    assert_true(changes.more.total == 0);
}

static void a_new_a_gone_a_moved_and_a_longer_turn_are_told_apart(void **state) {
    (void)state;
    empty();
    add(&early, 0, 0, 10); /* gone */
    add(&early, 1, 10, 6); /* moved, and shorter */
    add(&early, 2, 20, 6); /* longer */
    add(&late, 1, 4, 5);
    add(&late, 2, 20, 9);
    add(&late, 3, 40, 7); /* new */
    assert_int_equal(compare(0, 72), STATUS_OK);
    assert_int_equal(changes.count, 4);
    expect(0, TURNS_CHANGE_GONE, 0, -1, 0, -10);
    expect(1, TURNS_CHANGE_MOVED, 1, 0, -6, -1);
    expect(2, TURNS_CHANGE_LENGTH, 2, 1, 0, 3);
    expect(3, TURNS_CHANGE_NEW, -1, 2, 0, 7);
    for (int kind = 0; kind < TURNS_CHANGE_KIND_COUNT; kind++)
        assert_int_equal(changes.of_kind[kind], 1);
    for (int i = 0; i < 4; i++)
        assert_int_equal(room[i].field, i);
}

static void a_turn_that_was_split_is_one_changed_and_one_new(void **state) {
    (void)state;
    empty();
    add(&early, 2, 10, 12);
    add(&late, 2, 10, 6);
    add(&late, 2, 34, 6);
    assert_int_equal(compare(0, 72), STATUS_OK);
    assert_int_equal(changes.count, 2);
    expect(0, TURNS_CHANGE_LENGTH, 0, 0, 0, -6);
    expect(1, TURNS_CHANGE_NEW, -1, 1, 0, 6);
}

static void the_nearest_starts_are_paired_and_changes_stand_in_the_order_of_start(void **state) {
    (void)state;
    empty();
    add(&early, 0, 20, 5);
    add(&early, 0, 60, 5);
    add(&late, 0, 2, 5);
    add(&late, 0, 24, 5);
    add(&late, 0, 58, 5);
    assert_int_equal(compare(0, 72), STATUS_OK);
    assert_int_equal(changes.count, 3);
    expect(0, TURNS_CHANGE_NEW, -1, 0, 0, 5);
    expect(1, TURNS_CHANGE_MOVED, 0, 1, 4, 0);
    expect(2, TURNS_CHANGE_MOVED, 1, 2, -2, 0);
}

static void turns_farther_apart_than_asked_are_gone_and_new(void **state) {
    (void)state;
    empty();
    add(&early, 0, 10, 5);
    add(&late, 0, 83, 5);
    assert_int_equal(compare(0, 72), STATUS_OK);
    assert_int_equal(changes.count, 2);
    expect(0, TURNS_CHANGE_GONE, 0, -1, 0, -5);
    expect(1, TURNS_CHANGE_NEW, -1, 0, 0, 5);
    assert_int_equal(compare(0, 73), STATUS_OK);
    assert_int_equal(changes.count, 1);
    expect(0, TURNS_CHANGE_MOVED, 0, 0, 73, 0);
}

static void yesterdays_plan_is_read_in_todays_hours(void **state) {
    (void)state;
    empty();
    early.plan.cost.total = 5;
    add(&early, 0, 2, 10);  /* over by now */
    add(&early, 1, 18, 12); /* under way: six hours are left */
    add(&early, 2, 30, 8);  /* still to come, at six o'clock */
    add(&early, 3, 40, 8);  /* at four in the afternoon, moved to six */
    add(&early, 4, 20, 9);  /* under way, but cut short */
    add(&late, 1, 0, 6);
    add(&late, 4, 0, 2);
    add(&late, 2, 6, 8);
    add(&late, 3, 18, 8);
    assert_int_equal(compare(24, 72), STATUS_OK);
    assert_int_equal(changes.kept, 2);
    assert_int_equal(changes.count, 2);
    expect(0, TURNS_CHANGE_MOVED, 3, 3, 2, 0);
    expect(1, TURNS_CHANGE_MOVED, 4, 1, 4, -7);
    assert_true(isnan(changes.more.total) && isnan(changes.more.loss) && isnan(changes.more.end));
    assert_true(isnan(changes.more.water) && isnan(changes.more.pumping) && isnan(changes.more.percolation));
}

static void costs_are_compared_part_by_part(void **state) {
    (void)state;
    empty();
    early.plan.cost = (struct turns_cost){1, 2, 3, 4, 5, 15};
    late.plan.cost = (struct turns_cost){11, 4, 2, 8, 5, 30};
    assert_int_equal(compare(0, 0), STATUS_OK);
    assert_true(changes.more.loss == 10 && changes.more.water == 2 && changes.more.pumping == -1);
    assert_true(changes.more.percolation == 4 && changes.more.end == 0 && changes.more.total == 15);
}

static void what_finds_no_room_is_counted_and_the_first_ones_are_kept(void **state) {
    (void)state;
    empty();
    add(&early, 1, 10, 5);
    add(&early, 0, 50, 5);
    add(&early, 0, 60, 5);
    add(&late, 0, 40, 5);
    add(&late, 0, 300, 5);
    struct turns_change guard = {.field = 77};
    room[2] = guard;
    changes.room = 2;
    assert_int_equal(compare(0, 0), STATUS_OK);
    assert_int_equal(changes.count, 5);
    /* Only the starts within 0 hours are paired: all are gone or new, in the order of start. */
    expect(0, TURNS_CHANGE_NEW, -1, 0, 0, 5);
    expect(1, TURNS_CHANGE_GONE, 1, -1, 0, -5);
    assert_int_equal(room[2].field, 77);
    changes.room = 0;
    changes.change = NULL;
    assert_int_equal(compare(0, 0), STATUS_OK);
    assert_int_equal(changes.count, 5);
    assert_int_equal(changes.of_kind[TURNS_CHANGE_GONE], 3);
}

/* Takes the changes back from the later plan: the earlier one's hours by field and start must come out. */
static void the_changes_lead_from_one_plan_to_the_other(void **state) {
    (void)state;
    static int hours[CASE_FIELDS][TURNS_HOURS_MAX];
    struct turns_case *one = malloc(sizeof *one), *two = malloc(sizeof *two);
    assert_true(one != NULL && two != NULL);
    empty();
    for (uint64_t seed = 0; seed < 200; seed++) {
        case_any(one, seed);
        case_any(two, seed);
        one->problem.effort.rounds = 0;
        two->problem.pin_count = 0;
        assert_int_equal(case_plan(one), STATUS_OK);
        assert_int_equal(case_rule(two, TURNS_FIRST_COME), STATUS_OK);
        assert_int_equal(turns_compare(&one->plan, &two->plan, one->problem.field_count, 0, 30, &changes),
                         STATUS_OK);
        int of_before = changes.kept, of_after = changes.kept;
        for (int i = 0; i < two->plan.turn_count; i++)
            hours[two->turn[i].field][two->turn[i].start] += two->turn[i].hours;
        for (int i = 0; i < changes.count; i++) {
            const struct turns_change *it = &room[i];
            of_before += it->before >= 0;
            of_after += it->after >= 0;
            if (it->after >= 0)
                hours[it->field][two->turn[it->after].start] -= two->turn[it->after].hours;
            if (it->before >= 0)
                hours[it->field][one->turn[it->before].start] += one->turn[it->before].hours;
            assert_true(abs(it->later_hours) <= 30);
        }
        assert_int_equal(of_before, one->plan.turn_count);
        assert_int_equal(of_after, two->plan.turn_count);
        for (int i = 0; i < one->plan.turn_count; i++)
            hours[one->turn[i].field][one->turn[i].start] -= one->turn[i].hours;
        for (int field = 0; field < one->problem.field_count; field++)
            for (int t = 0; t < TURNS_HOURS_MAX; t++)
                assert_int_equal(hours[field][t], 0);
    }
    free(one);
    free(two);
}

static void refuse(enum status status) {
    changes.count = -7;
    assert_int_equal(compare(0, 72), status);
    assert_int_equal(changes.count, -7);
}

static void what_is_no_plan_is_refused(void **state) {
    (void)state;
    static const struct turn bad[] = {
        {.field = -1, .start = 0, .hours = 1, .end = 1},
        {.field = FIELDS, .start = 0, .hours = 1, .end = 1},
        {.field = 0, .start = -1, .hours = 1, .end = 1},
        {.field = 0, .start = 0, .hours = 0, .end = 1},
        {.field = 0, .start = 383, .hours = 2, .end = 385},
        {.field = 0, .start = 5, .hours = 3, .end = 7},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        empty();
        early.turn[early.plan.turn_count++] = bad[i];
        refuse(STATUS_OUT_OF_RANGE);
        empty();
        late.turn[late.plan.turn_count++] = bad[i];
        refuse(STATUS_OUT_OF_RANGE);
    }
    empty();
    late.plan.turn_count = -1;
    refuse(STATUS_OUT_OF_RANGE);
    empty();
    early.plan.turn = NULL;
    assert_int_equal(compare(0, 72), STATUS_OK);
    early.plan.turn_count = 1;
    refuse(STATUS_MISSING);
    empty();
    for (int i = 0; i <= TURNS_OF_FIELD_MAX; i++)
        add(&late, 1, 0, 1);
    refuse(STATUS_NO_ROOM);
}

static void arguments_outside_their_ranges_are_refused(void **state) {
    (void)state;
    static const int bad_fields[] = {0, -1, TURNS_FIELDS_MAX + 1}, bad_hours[] = {-1, TURNS_HOURS_MAX + 1};
    empty();
    for (int i = 0; i < 3; i++)
        assert_int_equal(turns_compare(&early.plan, &late.plan, bad_fields[i], 0, 0, &changes),
                         STATUS_OUT_OF_RANGE);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(compare(bad_hours[i], 0), STATUS_OUT_OF_RANGE);
        assert_int_equal(compare(0, bad_hours[i]), STATUS_OUT_OF_RANGE);
    }
    assert_int_equal(turns_compare(NULL, &late.plan, 1, 0, 0, &changes), STATUS_MISSING);
    assert_int_equal(turns_compare(&early.plan, NULL, 1, 0, 0, &changes), STATUS_MISSING);
    assert_int_equal(turns_compare(&early.plan, &late.plan, 1, 0, 0, NULL), STATUS_MISSING);
    changes.change = NULL;
    refuse(STATUS_MISSING);
    changes = (struct turns_changes){.change = room, .room = -1};
    refuse(STATUS_OUT_OF_RANGE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plans_that_are_equal_have_no_changes),
        cmocka_unit_test(a_new_a_gone_a_moved_and_a_longer_turn_are_told_apart),
        cmocka_unit_test(a_turn_that_was_split_is_one_changed_and_one_new),
        cmocka_unit_test(the_nearest_starts_are_paired_and_changes_stand_in_the_order_of_start),
        cmocka_unit_test(turns_farther_apart_than_asked_are_gone_and_new),
        cmocka_unit_test(yesterdays_plan_is_read_in_todays_hours),
        cmocka_unit_test(costs_are_compared_part_by_part),
        cmocka_unit_test(what_finds_no_room_is_counted_and_the_first_ones_are_kept),
        cmocka_unit_test(the_changes_lead_from_one_plan_to_the_other),
        cmocka_unit_test(what_is_no_plan_is_refused),
        cmocka_unit_test(arguments_outside_their_ranges_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
