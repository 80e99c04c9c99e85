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
    outlook_case_field(source, FIRST, 80, DAYS, field);
    field->day[0].rain_known = hostile_between(source, 0, 3) < 1;
    field->day[0].reading_shift_mm = hostile_between(source, 0, 3) < 1 ? hostile_between(source, -60, 60) : 0;
    field->day[0].irrigation_net_mm = hostile_between(source, 0, 3) < 1 ? 18 : 0;
}

static void draw_weather(struct hostile *source, int32_t date, struct outlook_lanes_room *out) {
    for (int i = 0; i < OUTLOOK_LANES; i++) {
        struct season_input drawn = outlook_case_day(source, date);
        out->et0_mm[i] = drawn.et0_mm;
        out->rain_mm[i] = drawn.rain_mm;
    }
}

static void expect_bits(double found, double expected, const char *what) {
    if (bits_add(BITS_SEED, found) != bits_add(BITS_SEED, expected))
        fail_msg("%s: found %.17g side by side, expected %.17g of one alone", what, found, expected);
}

static void expect_lane(const struct outlook_lanes *lanes, int i, const struct outlook_state *state,
                        const struct outlook_step *step) {
    expect_bits(lanes->evening->depletion_mm[i], state->depletion_mm, "depletion");
    expect_bits(lanes->evening->excess_mm[i], state->excess_mm, "excess");
    expect_bits(lanes->evening->below_mm[i], state->below_mm, "below the roots");
    expect_bits(lanes->evening->surface_mm[i], state->surface_mm, "surface");
    expect_bits(lanes->evening->wetted_fraction[i], state->wetted_fraction, "wetted fraction");
    expect_bits(lanes->evening->by_system[i], state->by_system, "by system");
    expect_bits(lanes->runoff_mm[i], step->runoff_mm, "runoff");
    expect_bits(lanes->evening->percolated_mm[i], lanes->morning->percolated_mm[i] + step->percolation_mm,
                "percolated");
}

static void members_side_by_side_get_the_bits_of_one_alone(void **test) {
    (void)test;
    struct hostile source = hostile_seed(41);
    int wet = 0, single = 0, shallow = 0, draining = 0;
    for (int k = 0; k < FIELDS; k++) {
        struct outlook_field field;
        struct outlook_lanes lanes;
        struct outlook_state state[OUTLOOK_LANES];
        bool was_dry[OUTLOOK_LANES] = {false};
        make_field(&source, &field);
        outlook_lanes_begin(&field, &lanes);
        for (int i = 0; i < OUTLOOK_LANES; i++)
            state[i] = field.start;
        for (int day = 0; day < DAYS; day++) {
            double net_mm = day == 1 ? 30 : 0;
            struct outlook_lanes_room drawn;
            draw_weather(&source, FIRST, &drawn);
            const struct light light = light_of(&field, day, net_mm);
            int dry_alone = 0,
                dry = outlook_lanes_step(&light, (struct outlook_lanes_weather){drawn.et0_mm, drawn.rain_mm},
                                         &lanes);
            for (int i = 0; i < OUTLOOK_LANES; i++) {
                struct outlook_step step;
                outlook_step(&field, day, drawn.et0_mm[i], drawn.rain_mm[i], net_mm, &state[i], &step);
                expect_lane(&lanes, i, &state[i], &step);
                bool passes = state[i].depletion_mm >= step.allowed_mm ||
                              (day == 0 && field.start.depletion_mm >= step.allowed_mm);
                was_dry[i] = was_dry[i] || (field.day[day].growing && passes);
                dry_alone += was_dry[i];
                wet += step.runoff_mm > 0;
            }
            assert_int_equal(dry, dry_alone);
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
