/* Members of which it is said without a step that they keep their water, against those that are gone through
 * one by one. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/decide/outlook_kept.h"
#include "tests/support/bits.h"
#include "tests/support/outlook_case.h"

#define FIRST   20200
#define FIELDS  3000
#define DAYS    10
#define MEMBERS 70

static double et0_store[DAYS * MEMBERS], rain_store[DAYS * MEMBERS], depletion_store[DAYS * MEMBERS],
    scratch_store[2 * MEMBERS];
static struct outlook_room room = {depletion_store, scratch_store};

struct one {
    struct outlook_field field;
    struct outlook_weather weather;
    double net_mm;
};

/* Any field on a morning of its season, with what may stand in the way: a reading, rain that is known, water
 * above field capacity. The turn fills the root zone, or not quite, or more. */
static void make_one(struct hostile *source, struct one *one) {
    outlook_case_field(source, FIRST, 80, DAYS, &one->field);
    one->field.day[0].rain_known = hostile_between(source, 0, 3) < 1;
    one->field.day[0].reading_shift_mm =
        hostile_between(source, 0, 3) < 1 ? hostile_between(source, -40, 40) : 0;
    if (hostile_between(source, 0, 8) < 1) {
        one->field.start.excess_mm = hostile_between(source, 0, 10);
        one->field.start.depletion_mm = 0;
    }
    one->net_mm = fmax(one->field.start.depletion_mm * hostile_between(source, 0.3, 1.1), 0.5);
    one->weather = (struct outlook_weather){
        .days = DAYS, .members = MEMBERS, .et0_mm = et0_store, .rain_mm = rain_store};
    double wet = hostile_between(source, 0, 0.4), most_mm = hostile_between(source, 2, 30);
    for (int i = 0; i < DAYS * MEMBERS; i++) {
        et0_store[i] = hostile_between(source, -0.2, 9);
        rain_store[i] = hostile_between(source, 0, 1) < wet ? hostile_between(source, 0, most_mm) : 0;
    }
}

/* What a member loses below its roots in all. */
static double percolated_mm(const struct one *one, int member, double net_mm) {
    struct outlook_state state = one->field.start;
    double sum_mm = 0;
    for (int day = 0; day < DAYS; day++) {
        struct outlook_step step;
        int at = day * MEMBERS + member;
        outlook_step(&one->field, day, et0_store[at], rain_store[at], day == 0 ? net_mm : 0, &state, &step);
        sum_mm += step.percolation_mm;
    }
    return sum_mm;
}

static void nothing_percolates_of_members_that_are_said_to_keep_their_water(void **state) {
    (void)state;
    struct hostile source = hostile_seed(51);
    int kept = 0, dry = 0, single = 0, shifted = 0, rising = 0, slow = 0;
    for (int k = 0; k < FIELDS; k++) {
        struct one one;
        struct light lights[DAYS];
        double left_mm[MEMBERS];
        make_one(&source, &one);
        light_days(&one.field, DAYS, one.net_mm, lights);
        outlook_kept(&one.field, lights, DAYS, &one.weather, left_mm);
        for (int m = 0; m < MEMBERS; m++) {
            double below_mm = percolated_mm(&one, m, one.net_mm);
            if (left_mm[m] >= 0 && below_mm != 0)
                fail_msg("field %d, member %d: %.17g mm below the roots, said to be none", k, m, below_mm);
            bool told = left_mm[m] >= 0;
            kept += told;
            dry += below_mm == 0;
            single += told && one.field.day[0].single;
            shifted += told && one.field.day[0].reading_shift_mm < 0;
            rising += told && one.field.day[0].capillary_limit_mm > 0;
            slow += told && one.field.drainage_days > 1;
        }
    }
    printf("# measured of %d members of which nothing percolates %.0f %% are known beforehand\n", dry,
           100.0 * kept / dry);
    assert_true(kept > dry / 2);
    assert_true(single > 1000 && shifted > 1000 && rising > 1000 && slow > 1000);
}

static void expect_bits(double found, double expected, const char *what) {
    if (bits_add(BITS_SEED, found) != bits_add(BITS_SEED, expected))
        fail_msg("%s: found %.17g, expected %.17g of members one by one", what, found, expected);
}

static void what_a_turn_loses_has_the_bits_of_members_one_by_one(void **state) {
    (void)state;
    struct hostile source = hostile_seed(52);
    int lost = 0;
    for (int k = 0; k < FIELDS; k++) {
        struct one one;
        struct outlook outlook;
        double sum_mm = 0, lost_mm = 0;
        int count = 0;
        make_one(&source, &one);
        assert_int_equal(outlook_run(&one.field, &one.weather, one.net_mm, &room, &outlook), STATUS_OK);
        for (int m = 0; m < MEMBERS; m++) {
            double more_mm = percolated_mm(&one, m, one.net_mm) - percolated_mm(&one, m, 0);
            sum_mm += more_mm;
            lost_mm += more_mm >= 1 ? more_mm : 0;
            count += more_mm >= 1;
        }
        expect_bits(outlook.lost_chance, (double)count / MEMBERS, "chance of a loss");
        expect_bits(outlook.lost_mm, count > 0 ? lost_mm / count : 0, "loss where there is one");
        expect_bits(outlook.lost_mean_mm, sum_mm / MEMBERS, "mean loss");
        lost += count > 0 && count < MEMBERS;
    }
    assert_true(lost > 500);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_percolates_of_members_that_are_said_to_keep_their_water),
        cmocka_unit_test(what_a_turn_loses_has_the_bits_of_members_one_by_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
