/* Members that go through a day side by side against one member alone: the same bits, whatever the
 * processor's vectors. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/decide/outlook_lanes.h"
#include "tests/support/bits.h"
#include "tests/support/outlook_case.h"

#define FIRST  20200
#define FIELDS 2000
#define DAYS   10

static void make_field(struct hostile *source, struct outlook_field *field) {
    struct season_setup setup = outlook_case_setup(source, FIRST);
    struct season_prepared prepared;
    struct season_state state;
    struct season_input input[DAYS];
    outlook_case_walk(source, &setup, (int)hostile_between(source, 0, 80), &prepared, &state);
    for (int day = 0; day < DAYS; day++)
        input[day] = outlook_case_day(source, state.next_date + day);
    if (outlook_field_prepare(&prepared, &state, input, DAYS, field) != STATUS_OK)
        abort();
    field->day[0].rain_known = hostile_between(source, 0, 3) < 1;
    field->day[0].reading_shift_mm = hostile_between(source, 0, 3) < 1 ? hostile_between(source, -60, 60) : 0;
    field->day[0].irrigation_net_mm = hostile_between(source, 0, 3) < 1 ? 18 : 0;
}

static void draw_weather(struct hostile *source, int32_t date, struct outlook_lanes *lanes) {
    for (int i = 0; i < OUTLOOK_LANES; i++) {
        struct season_input drawn = outlook_case_day(source, date);
        lanes->et0_mm[i] = drawn.et0_mm;
        lanes->rain_mm[i] = drawn.rain_mm;
    }
}

static void expect_bits(double found, double expected, const char *what) {
    if (bits_add(BITS_SEED, found) != bits_add(BITS_SEED, expected))
        fail_msg("%s: found %.17g side by side, expected %.17g of one alone", what, found, expected);
}

static void expect_lane(const struct outlook_lanes *lanes, int i, const struct outlook_state *state,
                        const struct outlook_step *step) {
    expect_bits(lanes->depletion_mm[i], state->depletion_mm, "depletion");
    expect_bits(lanes->excess_mm[i], state->excess_mm, "excess");
    expect_bits(lanes->below_mm[i], state->below_mm, "below the roots");
    expect_bits(lanes->surface_mm[i], state->surface_mm, "surface");
    expect_bits(lanes->wetted_fraction[i], state->wetted_fraction, "wetted fraction");
    expect_bits(lanes->by_system[i], state->by_system, "by system");
    expect_bits(lanes->runoff_mm[i], step->runoff_mm, "runoff");
    expect_bits(lanes->allowed_mm[i], step->allowed_mm, "allowed");
    expect_bits(lanes->percolation_mm[i], step->percolation_mm, "percolation");
}

static void members_side_by_side_get_the_bits_of_one_alone(void **test) {
    (void)test;
    struct hostile source = hostile_seed(41);
    int wet = 0, single = 0, shallow = 0, draining = 0;
    for (int k = 0; k < FIELDS; k++) {
        struct outlook_field field;
        struct outlook_lanes lanes;
        struct outlook_state state[OUTLOOK_LANES];
        make_field(&source, &field);
        outlook_lanes_begin(&field, &lanes);
        for (int i = 0; i < OUTLOOK_LANES; i++)
            state[i] = field.start;
        for (int day = 0; day < DAYS; day++) {
            double net_mm = day == 1 ? 30 : 0;
            draw_weather(&source, FIRST, &lanes);
            const struct outlook_lanes given = lanes;
            outlook_lanes_step(&field, day, net_mm, &lanes);
            for (int i = 0; i < OUTLOOK_LANES; i++) {
                struct outlook_step step;
                outlook_step(&field, day, given.et0_mm[i], given.rain_mm[i], net_mm, &state[i], &step);
                expect_lane(&lanes, i, &state[i], &step);
                wet += step.runoff_mm > 0;
            }
            single += field.day[day].single;
        }
        shallow += field.shallow;
        draining += field.drainage_days > 1;
    }
    printf("# measured %d fields x %d days x %d members side by side have the bits of one alone\n", FIELDS,
           DAYS, OUTLOOK_LANES);
    assert_true(wet > 1000 && single > 1000 && shallow > 100 && draining > 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(members_side_by_side_get_the_bits_of_one_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
