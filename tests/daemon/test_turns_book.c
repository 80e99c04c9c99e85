/* The turns through a day: the morning's plan, what people say of it, what became of the turns, the next
 * morning. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/base/wall_clock.h"
#include "daemon/morning/run.h"
#include "daemon/morning/turns_book.h"
#include "daemon/store/turn_mark_store.h"
#include "support/well_farm.h"

/* The first turn of a field in a state. */
static struct stored_turn first_of(struct test_store *store, const char *field, enum turn_state state) {
    struct stored_turns turns = well_farm_turns(store);
    struct stored_turn found = {.id = 0};
    for (size_t i = 0; i < turns.turn_count && found.id == 0; i++)
        if (strcmp(turns.turn[i].field, field) == 0 && turns.turn[i].state == state)
            found = turns.turn[i];
    stored_turns_free(&turns);
    assert_true(found.id != 0);
    return found;
}

/* The first of all: it begins at once. */
static struct stored_turn first_turn(struct test_store *store) {
    struct stored_turns turns = well_farm_turns(store);
    struct stored_turn first = turns.turn[0];
    stored_turns_free(&turns);
    assert_int_equal(turns_hour_of(WELL_FARM_TODAY, first.date, first.hour), 5);
    assert_int_equal(first.state, TURN_PLANNED);
    return first;
}

static struct stored_supply plan_of(struct test_store *store) {
    struct stored_turns turns = well_farm_turns(store);
    assert_int_equal(turns.supply_count, 1);
    struct stored_supply plan = turns.supply[0];
    stored_turns_free(&turns);
    return plan;
}

static void a_morning_plans_turns_and_running_it_again_changes_nothing(void **state) {
    struct test_store *store = *state;
    struct stored_turns before = well_farm_turns(store);
    assert_true(before.turn_count >= 4);
    assert_int_equal(before.supply[0].first_hour, 5);
    assert_int_equal(before.supply[0].day, WELL_FARM_TODAY);
    for (size_t i = 0; i < before.turn_count; i++) {
        const struct stored_turn *turn = &before.turn[i];
        assert_true(well_farm_begins(turn) >= 5 && well_farm_begins(turn) + turn->span <= 240);
        assert_true(turn->hours >= 6 && turn->hours <= 40);
        assert_true(fabs(turn->gross_mm - turn->hours) < 1e-9);
        assert_true(fabs(turn->net_mm - 0.8 * turn->hours) < 1e-9);
        assert_true(fabs(turn->volume_m3 - 100.0 * turn->hours) < 1e-9);
        assert_string_not_equal(turn->field, "C");
    }
    well_farm_no_two_overlap(store);
    well_farm_morning(store, WELL_FARM_TODAY);
    struct stored_turns after = well_farm_turns(store);
    assert_int_equal(after.turn_count, before.turn_count);
    for (size_t i = 0; i < after.turn_count; i++)
        assert_memory_equal(&after.turn[i], &before.turn[i], sizeof after.turn[i]);
    stored_turns_free(&before);
    stored_turns_free(&after);
}

static void a_turn_that_is_moved_keeps_its_uid_and_the_others_make_room(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_of(store, "A", TURN_PLANNED);
    struct book_form form = well_farm_form(5, 1);
    int start = well_farm_begins(&turn) + 7;
    struct turns_word word = well_farm_pin("A", WELL_FARM_TODAY + start / 24, start % 24, turn.hours);
    word.moved = turn.id;
    must(turns_book_mark(store->db, &form, &word, &store->problems), &store->problems);
    struct stored_turn moved;
    must(turns_store_turn(store->db, turn.id, &moved, &store->problems), &store->problems);
    assert_string_equal(moved.uid, turn.uid);
    assert_int_equal(well_farm_begins(&moved), start);
    assert_true(moved.pinned);
    assert_int_equal(moved.sequence, turn.sequence + 1);
    well_farm_no_two_overlap(store);
    /* What was said has its price, and what changed is told. */
    struct stored_turns turns = well_farm_turns(store);
    assert_true(isfinite(turns.supply[0].change_cost));
    bool told = false;
    for (size_t i = 0; i < turns.change_count; i++)
        told = told || (turns.change[i].kind == TURN_MOVED && turns.change[i].was_hour == turn.hour);
    assert_true(told);
    stored_turns_free(&turns);
}

static void the_same_form_twice_sets_one_mark(void **state) {
    struct test_store *store = *state;
    struct book_form form = well_farm_form(5, 2);
    struct turns_word word = well_farm_pin("B", WELL_FARM_TODAY + 4, 10, 8);
    struct farm farm;
    for (int i = 0; i < 2; i++)
        must(turns_book_mark(store->db, &form, &word, &store->problems), &store->problems);
    must(farm_store_load_field(store->db, "", &farm, &store->problems), &store->problems);
    assert_int_equal(farm.turn_mark_count, 1);
    farm_free(&farm);
}

static void hours_kept_dry_hold_no_turn_until_the_mark_is_taken_back(void **state) {
    struct test_store *store = *state;
    struct book_form form = well_farm_form(5, 3);
    struct turns_word dry = well_farm_pin("A", WELL_FARM_TODAY, 0, 96);
    dry.mark[0].kind = TURN_KEPT_DRY;
    must(turns_book_mark(store->db, &form, &dry, &store->problems), &store->problems);
    struct stored_turns turns = well_farm_turns(store);
    for (size_t i = 0; i < turns.turn_count; i++)
        assert_true(strcmp(turns.turn[i].field, "A") != 0 || well_farm_begins(&turns.turn[i]) >= 96);
    stored_turns_free(&turns);
    struct farm farm;
    struct farm_ids ids;
    must(farm_store_load(store->db, &farm, &store->problems), &store->problems);
    must(farm_store_ids(store->db, &farm, &ids, &store->problems), &store->problems);
    struct turns_word back = {.remove = ids.turn_mark[0]};
    struct book_form again = well_farm_form(5, 4);
    must(turns_book_mark(store->db, &again, &back, &store->problems), &store->problems);
    struct stored_turn first = first_of(store, "A", TURN_PLANNED);
    assert_true(well_farm_begins(&first) < 96);
    farm_ids_free(&ids);
    farm_free(&farm);
}

static void a_turn_that_is_done_leaves_the_plan_with_its_water_in_the_balance(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    double used_m3 = plan_of(store).season_used_m3;
    struct book_form form = well_farm_form(14, 5);
    struct farm_record record = {.date = WELL_FARM_TODAY, .kind = RECORD_IRRIGATION, .amount = 20, .sd = NAN};
    (void)snprintf(record.field, sizeof record.field, "%s", turn.field);
    must(turns_book_done(store->db, &form, turn.id, &record, &store->problems), &store->problems);
    struct stored_turn done;
    must(turns_store_turn(store->db, turn.id, &done, &store->problems), &store->problems);
    assert_int_equal(done.state, TURN_DONE);
    assert_true(done.record_id != 0);
    /* 20 mm on 10 ha are 2000 m3; nothing else changed. By hand. */
    assert_true(fabs(plan_of(store).season_used_m3 - (used_m3 + 2000)) < 1e-6);
    /* Taken back, the turn is open again. */
    struct book_form undo = well_farm_form(14, 6);
    must(book_undo(store->db, &undo, done.record_id, &store->problems), &store->problems);
    must(turns_store_turn(store->db, turn.id, &done, &store->problems), &store->problems);
    assert_int_equal(done.state, TURN_PLANNED);
    assert_int_equal(done.record_id, 0);
    /* And settled turns are not settled twice. */
    struct book_form skip = well_farm_form(14, 7);
    must(turns_book_skipped(store->db, &skip, turn.id, &store->problems), &store->problems);
    struct book_form late = well_farm_form(14, 8);
    assert_int_equal(turns_book_late(store->db, &late, turn.id, WELL_FARM_TODAY, 20, &store->problems),
                     STATUS_NOT_FOUND);
}

static enum status say_done(struct test_store *store, const struct stored_turn *turn, int32_t date,
                            int minute, const char *says) {
    static int number = 200;
    struct problems problems;
    struct book_form form = well_farm_form(0, number++);
    struct farm_record record = {.date = date, .kind = RECORD_IRRIGATION, .amount = 20, .sd = NAN};
    form.today = date;
    form.minute = minute;
    form.at += (date - WELL_FARM_TODAY) * 86400 + minute * 60;
    (void)snprintf(record.field, sizeof record.field, "%s", turn->field);
    problems_init(&problems);
    enum status status = turns_book_done(store->db, &form, turn->id, &record, &problems);
    if (says != NULL && (problems.count != 1 || strstr(problems.problem[0].message, says) == NULL))
        fail_msg("said \"%s\", expected \"%s\"", problems.count > 0 ? problems.problem[0].message : "", says);
    problems_free(&problems);
    return status;
}

/* An hour before its start at the earliest: common practice, no source. */
static void a_turn_that_is_to_come_cannot_be_done_until_the_hour_before_it(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store), late;
    struct book_form form = well_farm_form(5, 40);
    must(turns_book_late(store->db, &form, turn.id, WELL_FARM_TODAY + 1, 22, &store->problems),
         &store->problems);
    const char *says = "the turn starts 2026-07-17 22:00; it can be marked as done from 2026-07-17 21:00 on";
    assert_int_equal(say_done(store, &turn, WELL_FARM_TODAY, 6 * 60, says), STATUS_REFUSED);
    assert_int_equal(say_done(store, &turn, WELL_FARM_TODAY + 1, 21 * 60 - 1, says), STATUS_REFUSED);
    must(turns_store_turn(store->db, turn.id, &late, &store->problems), &store->problems);
    assert_int_equal(late.state, TURN_LATE);
    assert_int_equal(plan_of(store).season_used_m3, 0);
    assert_int_equal(say_done(store, &turn, WELL_FARM_TODAY + 1, 21 * 60, NULL), STATUS_OK);
    must(turns_store_turn(store->db, turn.id, &late, &store->problems), &store->problems);
    assert_int_equal(late.state, TURN_DONE);
}

static void a_turn_can_be_done_from_its_set_up_on(void **state) {
    (void)state;
    const struct stored_turn turn = {.date = WELL_FARM_TODAY, .hour = 2};
    struct farm_field field = {.turning = {.setup_hours = 5}};
    const int64_t start = (int64_t)WELL_FARM_TODAY * 24 + 2;
    assert_int_equal(turns_done_from(&turn, &field), start - 5);
    field.turning.setup_hours = 0;
    assert_int_equal(turns_done_from(&turn, &field), start - 1);
    assert_int_equal(turns_done_from(&turn, NULL), start - 1);
}

static void an_irrigation_that_was_recorded_settles_the_turn_of_its_day(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    struct book_form form = well_farm_form(20, 9);
    struct farm_record record = {
        .date = turn.date, .kind = RECORD_IRRIGATION, .amount = turn.gross_mm, .sd = NAN};
    (void)snprintf(record.field, sizeof record.field, "%s", turn.field);
    must(book_record(store->db, &form, &record, 0, &store->problems), &store->problems);
    struct stored_turn done;
    must(turns_store_turn(store->db, turn.id, &done, &store->problems), &store->problems);
    assert_int_equal(done.state, TURN_DONE);
}

static void a_turn_that_is_late_stands_at_its_new_hour(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    struct book_form form = well_farm_form(6, 10);
    must(turns_book_late(store->db, &form, turn.id, WELL_FARM_TODAY, 15, &store->problems), &store->problems);
    struct stored_turn late;
    must(turns_store_turn(store->db, turn.id, &late, &store->problems), &store->problems);
    assert_int_equal(late.state, TURN_LATE);
    assert_int_equal(well_farm_begins(&late), 15);
    assert_int_equal(turns_hour_of(WELL_FARM_TODAY, late.was_date, late.was_hour), well_farm_begins(&turn));
    assert_string_equal(late.uid, turn.uid);
    well_farm_no_two_overlap(store);
}

static void a_turn_that_is_skipped_leaves_its_hours_free_of_its_field(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    struct book_form form = well_farm_form(5, 11);
    must(turns_book_skipped(store->db, &form, turn.id, &store->problems), &store->problems);
    struct stored_turns turns = well_farm_turns(store);
    for (size_t i = 0; i < turns.turn_count; i++) {
        const struct stored_turn *other = &turns.turn[i];
        if (other->id == turn.id)
            assert_int_equal(other->state, TURN_SKIPPED);
        else if (strcmp(other->field, turn.field) == 0)
            assert_true(well_farm_begins(other) >= well_farm_begins(&turn) + turn.span);
    }
    stored_turns_free(&turns);
}

static void a_turn_under_way_goes_on_when_the_plan_is_made_again(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    /* Two hours into the first turn somebody pins another one far away. */
    struct book_form form = well_farm_form(7, 12);
    struct turns_word word = well_farm_pin("B", WELL_FARM_TODAY + 8, 3, 10);
    must(turns_book_mark(store->db, &form, &word, &store->problems), &store->problems);
    assert_int_equal(plan_of(store).first_hour, 7);
    struct stored_turn same;
    must(turns_store_turn(store->db, turn.id, &same, &store->problems), &store->problems);
    assert_memory_equal(&same, &turn, sizeof same);
    well_farm_no_two_overlap(store);
    /* Its first two hours are counted as drawn (2 x 100 m3), the rest as planned. By hand. */
    double used_m3 = plan_of(store).season_used_m3;
    assert_true(fabs(used_m3 - 200) < 1e-6);
}

static void a_pin_where_a_turn_stands_moves_nothing_and_costs_nothing(void **state) {
    struct test_store *store = *state;
    struct stored_turns before = well_farm_turns(store);
    const struct stored_turn *last = &before.turn[before.turn_count - 1];
    struct book_form form = well_farm_form(5, 14);
    struct turns_word word = well_farm_pin(last->field, last->date, last->hour, last->hours);
    must(turns_book_mark(store->db, &form, &word, &store->problems), &store->problems);
    struct stored_turns after = well_farm_turns(store);
    assert_int_equal(after.turn_count, before.turn_count);
    for (size_t i = 0; i < after.turn_count; i++) {
        assert_int_equal(after.turn[i].pinned, i == after.turn_count - 1);
        assert_string_equal(after.turn[i].uid, before.turn[i].uid);
        assert_int_equal(well_farm_begins(&after.turn[i]), well_farm_begins(&before.turn[i]));
        assert_int_equal(after.turn[i].hours, before.turn[i].hours);
    }
    assert_true(fabs(after.supply[0].change_cost) < 1e-9 * after.supply[0].cost.total);
    stored_turns_free(&before);
    stored_turns_free(&after);
}

static void a_form_late_in_the_hour_plans_from_the_next_one(void **state) {
    struct test_store *store = *state;
    struct book_form form = well_farm_form(8, 13);
    form.minute = 8 * 60 + 1;
    struct turns_word word = well_farm_pin("B", WELL_FARM_TODAY + 5, 3, 10);
    must(turns_book_mark(store->db, &form, &word, &store->problems), &store->problems);
    assert_int_equal(plan_of(store).first_hour, 9);
}

static void refuse(struct test_store *store, const struct turns_word *word, const char *says) {
    static int number = 100;
    struct book_form form = well_farm_form(9, number++);
    struct problems problems;
    problems_init(&problems);
    assert_int_equal(turns_book_mark(store->db, &form, word, &problems), STATUS_REFUSED);
    assert_int_equal(problems.count, 1);
    if (strstr(problems.problem[0].message, says) == NULL)
        fail_msg("said \"%s\", expected \"%s\"", problems.problem[0].message, says);
    problems_free(&problems);
}

static void what_does_not_fit_is_refused_with_what_would(void **state) {
    struct test_store *store = *state;
    struct turns_word word = well_farm_pin("A", WELL_FARM_TODAY, 8, 10);
    refuse(store, &word, "found 2026-07-16 08:00, expected 2026-07-16 09:00 to 2026-07-25 23:00");
    word = well_farm_pin("A", WELL_FARM_TODAY + 10, 0, 10);
    refuse(store, &word, "to 2026-07-25 23:00");
    word = well_farm_pin("A", WELL_FARM_TODAY + 1, 24, 10);
    refuse(store, &word, "found 24 o'clock, expected 0 to 23");
    word = well_farm_pin("A", WELL_FARM_TODAY + 1, 3, 0);
    refuse(store, &word, "found 0 hours, expected 1 to 384");
    word = well_farm_pin("A", CALENDAR_NONE, 3, 10);
    refuse(store, &word, "found no day");
    word = well_farm_pin("C", WELL_FARM_TODAY + 1, 3, 10);
    refuse(store, &word, "C, which draws from no supply");
    word = well_farm_pin("A", WELL_FARM_TODAY + 1, 3, 10);
    word.mark[word.count++] = well_farm_pin("B", WELL_FARM_TODAY + 2, 3, 10).mark[0];
    refuse(store, &word, "found B beside A");
    struct book_form form = well_farm_form(9, 90), other = well_farm_form(9, 91);
    word = well_farm_pin("nowhere", WELL_FARM_TODAY + 1, 3, 10);
    assert_int_equal(turns_book_mark(store->db, &form, &word, &store->problems), STATUS_NOT_FOUND);
    const struct turns_word none = {.remove = 4711};
    assert_int_equal(turns_book_mark(store->db, &other, &none, &store->problems), STATUS_NOT_FOUND);
    assert_int_equal(turns_book_skipped(store->db, &other, 4711, &store->problems), STATUS_NOT_FOUND);
    struct stored_turn turn = first_of(store, "A", TURN_PLANNED);
    assert_int_equal(turns_book_late(store->db, &other, turn.id, WELL_FARM_TODAY + 30, 1, &store->problems),
                     STATUS_REFUSED);
}

static void the_next_morning_plans_on_from_what_became_of_the_turns(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    /* Put off to 14:00, begun, and done with 18 mm. */
    struct book_form late = well_farm_form(8, 20);
    must(turns_book_late(store->db, &late, turn.id, WELL_FARM_TODAY, 14, &store->problems), &store->problems);
    struct book_form form = well_farm_form(23, 21);
    struct farm_record record = {.date = WELL_FARM_TODAY, .kind = RECORD_IRRIGATION, .amount = 18, .sd = NAN};
    (void)snprintf(record.field, sizeof record.field, "%s", turn.field);
    must(turns_book_done(store->db, &form, turn.id, &record, &store->problems), &store->problems);
    well_farm_morning(store, WELL_FARM_TODAY + 1);
    struct stored_turns after = well_farm_turns(store);
    assert_int_equal(after.supply[0].day, WELL_FARM_TODAY + 1);
    assert_int_equal(after.supply[0].days, MORNING_AHEAD);
    for (size_t i = 0; i < after.turn_count; i++) {
        const struct stored_turn *one = &after.turn[i];
        if (one->id == turn.id)
            assert_int_equal(one->state, TURN_DONE);
        else if (one->state == TURN_PLANNED && one->sequence == 0 && one->changed_at > form.at)
            assert_true(well_farm_begins(one) >= 24 + 5);
    }
    /* 18 mm at 80 %: 14.4 mm are in the ledger of that day. By hand. */
    struct ledger_row *rows = NULL;
    size_t count = 0;
    must(ledger_store_rows(store->db, turn.field, WELL_FARM_TODAY + 1, &rows, &count, &store->problems),
         &store->problems);
    assert_int_equal(rows[count - 1].day.date, WELL_FARM_TODAY);
    assert_true(fabs(rows[count - 1].day.irrigation_net_mm - 14.4) < 1e-9);
    free(rows);
    well_farm_no_two_overlap(store);
    stored_turns_free(&after);
}

static void a_turn_of_which_nobody_said_anything_is_planned_anew(void **state) {
    struct test_store *store = *state;
    struct stored_turn turn = first_turn(store);
    assert_true(well_farm_begins(&turn) + turn.span <= 24 + 5);
    well_farm_morning(store, WELL_FARM_TODAY + 1);
    well_farm_morning(store, WELL_FARM_TODAY + 2);
    /* Its row stays as it was, for people to say what became of it; the field gets another one. */
    struct stored_turn same;
    must(turns_store_turn(store->db, turn.id, &same, &store->problems), &store->problems);
    assert_int_equal(same.state, TURN_PLANNED);
    assert_int_equal(well_farm_begins(&same), well_farm_begins(&turn));
    struct stored_turns turns = well_farm_turns(store);
    int ahead = 0;
    for (size_t i = 0; i < turns.turn_count; i++)
        ahead += strcmp(turns.turn[i].field, turn.field) == 0 && well_farm_begins(&turns.turn[i]) >= 48 + 5;
    assert_true(ahead > 0);
    stored_turns_free(&turns);
}

/* What the calls say of a field at an hour since 1970-01-01. */
static struct field_morning field_at(struct test_store *store, const char *field, int64_t hour) {
    struct field_morning *mornings = NULL, found = {.field = ""};
    size_t count = 0;
    must(ledger_store_calls(store->db, &mornings, &count, &store->problems), &store->problems);
    must(turns_store_next(store->db, hour, mornings, count, &store->problems), &store->problems);
    for (size_t i = 0; i < count; i++)
        if (strcmp(mornings[i].field, field) == 0)
            found = mornings[i];
    free(mornings);
    assert_string_equal(found.field, field);
    return found;
}

static void a_turn_is_on_to_its_last_hour_and_asked_about_from_then_on(void **state) {
    struct test_store *store = *state;
    const struct stored_turn turn = first_turn(store);
    const int64_t end = (int64_t)turn.date * 24 + turn.hour + turn.span;
    struct field_morning at = field_at(store, turn.field, end - 1);
    assert_true(at.turn.id == turn.id && at.turn.under_way);
    assert_int_equal(at.over.hours, 0);
    at = field_at(store, turn.field, end);
    assert_int_equal(at.over.id, turn.id);
    assert_int_equal(at.over.span, turn.span);
    assert_true(at.turn.id != turn.id && !at.turn.under_way);
    /* For as long as the board lists it: the plan's last turn ends on its tenth day at the latest. */
    const int64_t last = WELL_FARM_TODAY + 10 + TURNS_PAST_DAYS;
    assert_true(field_at(store, turn.field, end + 24).over.hours > 0);
    assert_int_equal(field_at(store, turn.field, (last + 1) * 24).over.hours, 0);
    const struct book_form form = well_farm_form(6, 90);
    must(turns_book_skipped(store->db, &form, turn.id, &store->problems), &store->problems);
    assert_int_equal(field_at(store, turn.field, end).over.hours, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, well_farm_open, well_farm_close)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(a_morning_plans_turns_and_running_it_again_changes_nothing),
        TEST(a_turn_that_is_moved_keeps_its_uid_and_the_others_make_room),
        TEST(the_same_form_twice_sets_one_mark),
        TEST(hours_kept_dry_hold_no_turn_until_the_mark_is_taken_back),
        TEST(a_turn_that_is_done_leaves_the_plan_with_its_water_in_the_balance),
        TEST(a_turn_that_is_to_come_cannot_be_done_until_the_hour_before_it),
        TEST(a_turn_can_be_done_from_its_set_up_on),
        TEST(an_irrigation_that_was_recorded_settles_the_turn_of_its_day),
        TEST(a_turn_that_is_late_stands_at_its_new_hour),
        TEST(a_turn_that_is_skipped_leaves_its_hours_free_of_its_field),
        TEST(a_turn_under_way_goes_on_when_the_plan_is_made_again),
        TEST(a_pin_where_a_turn_stands_moves_nothing_and_costs_nothing),
        TEST(a_form_late_in_the_hour_plans_from_the_next_one),
        TEST(what_does_not_fit_is_refused_with_what_would),
        TEST(the_next_morning_plans_on_from_what_became_of_the_turns),
        TEST(a_turn_of_which_nobody_said_anything_is_planned_anew),
        TEST(a_turn_is_on_to_its_last_hour_and_asked_about_from_then_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
