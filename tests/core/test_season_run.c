/* season_run() against season_step(), which it says it is the same as. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <string.h>

#include "core/balance/crop_block.h"
#include "tests/support/plain_season.h"
#include "tests/support/random_season.h"

#define SEASONS  4000
#define DAYS_MAX 200

/* What happens now and then: a reading, a cover that is seen, a cutting. */
static void add_events(struct hostile *source, const struct season_setup *setup, double often,
                       struct season_input *input) {
    if (random_one_in(source, often)) {
        input->reading_m3_m3 = hostile_between(source, 0, 0.5);
        input->reading_sd_m3_m3 = random_one_in(source, 2) ? 0 : hostile_between(source, 0, 0.05);
    }
    if (random_one_in(source, often))
        input->observed_cover = hostile_between(source, 0, 1);
    input->cutting = setup->crop.forage && random_one_in(source, often);
}

static void draw_season(struct hostile *source, struct season_setup *setup,
                        struct season_input input[DAYS_MAX]) {
    const double often[] = {1e9, 60, 8};
    double times = often[(int)hostile_between(source, 0, 2.999)];
    *setup = random_season_setup(source);
    if (random_one_in(source, 4))
        setup->climate_wind_m_s = hostile_between(source, 0, 8);
    if (random_one_in(source, 4))
        setup->climate_rh_min_pct = hostile_between(source, 5, 100);
    for (int i = 0; i < DAYS_MAX; i++) {
        input[i] = random_season_day(source, RANDOM_SEASON_FIRST + i);
        random_season_irrigate(source, &input[i]);
        add_events(source, setup, times, &input[i]);
        /* Seldom a day that is refused. */
        if (random_one_in(source, 2000))
            input[i].rh_min_pct = random_one_in(source, 2) ? (double)NAN : 101;
    }
}

/* Days by season_step(), up to the first that is refused. */
static enum status step_all(const struct season_prepared *prepared, struct season_state *state,
                            const struct season_input *input, int count, struct season_day *out, int *done) {
    for (*done = 0; *done < count; ++*done) {
        enum status status = season_step(prepared, state, &input[*done], &out[*done]);
        if (status != STATUS_OK)
            return status;
    }
    return STATUS_OK;
}

static void many_days_at_a_time_give_the_bits_of_the_same_days_one_by_one(void **state) {
    (void)state;
    static struct season_input input[DAYS_MAX];
    static struct season_day one[DAYS_MAX], many[DAYS_MAX];
    struct hostile source = hostile_seed(11);
    long days = 0, refused = 0;
    for (int n = 0; n < SEASONS; n++) {
        struct season_setup setup;
        struct season_prepared prepared;
        struct season_state by_day, by_run;
        draw_season(&source, &setup, input);
        assert_int_equal(season_prepare(&setup, &prepared), STATUS_OK);
        assert_int_equal(season_begin(&prepared, &by_day), STATUS_OK);
        by_run = by_day;
        int done = 0, stepped, part;
        enum status status = step_all(&prepared, &by_day, input, DAYS_MAX, one, &stepped), ran = STATUS_OK;
        /* In parts of any length: a morning's are not those of a replay. */
        for (; ran == STATUS_OK && done < DAYS_MAX; done += part) {
            int count = (int)hostile_between(&source, 1, 120);
            count = count < DAYS_MAX - done ? count : DAYS_MAX - done;
            ran = season_run(&prepared, &by_run, &input[done], count, &many[done], &part);
        }
        assert_int_equal(ran, status);
        assert_int_equal(done, stepped);
        assert_memory_equal(many, one, (size_t)stepped * sizeof one[0]);
        /* What is carried on is the same: so is the day after. */
        struct season_day next_one = {.date = 0}, next_many = next_one;
        struct season_input next = random_season_day(&source, RANDOM_SEASON_FIRST + stepped);
        assert_int_equal(season_step(&prepared, &by_day, &next, &next_one),
                         season_step(&prepared, &by_run, &next, &next_many));
        assert_memory_equal(&next_many, &next_one, sizeof next_one);
        assert_memory_equal(&by_run.variance_mm2, &by_day.variance_mm2, sizeof by_run.variance_mm2);
        assert_memory_equal(&by_run.height_power, &by_day.height_power, sizeof by_run.height_power);
        days += stepped;
        refused += status != STATUS_OK;
    }
    assert_true(refused > 100 && days > SEASONS * DAYS_MAX / 2);
    printf("# measured many days at a time: %ld days of %d random seasons are those one by one, to the last "
           "bit\n",
           days, SEASONS);
}

static void days_that_are_refused_leave_the_state_of_their_morning(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_prepared prepared = prepare(&setup);
    struct season_input input[40];
    struct season_day out[40];
    for (int i = 0; i < 40; i++)
        input[i] = plain_day(FIRST + i);
    input[30].rain_mm = -1;
    struct season_state run = begin(&setup);
    int done = -1;
    assert_int_equal(season_run(&prepared, &run, input, 0, out, &done), STATUS_OK);
    assert_int_equal(done, 0);
    assert_int_equal(season_run(&prepared, &run, input, 40, out, &done), STATUS_OUT_OF_RANGE);
    assert_int_equal(done, 30);
    assert_int_equal(run.next_date, FIRST + 30);
    input[30].rain_mm = 0;
    assert_int_equal(season_run(&prepared, &run, &input[30], 10, &out[30], &done), STATUS_OK);
    assert_int_equal(done, 10);
    /* Not in order. */
    assert_int_equal(season_run(&prepared, &run, input, 1, out, &done), STATUS_ORDER);
    assert_int_equal(done, 0);
    prepared.sound = false;
    prepared.status = STATUS_MISSING;
    assert_int_equal(season_run(&prepared, &run, input, 1, out, &done), STATUS_MISSING);
}

/* What stands in a state that nobody began is found at once, or on the day that meets it: no row is made of
 * it after that. */
static void a_state_that_holds_no_number_goes_no_further_than_a_day(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_prepared prepared = prepare(&setup);
    struct season_input input[CROP_BLOCK_DAYS];
    struct season_day out[CROP_BLOCK_DAYS];
    struct season_state run = begin(&setup);
    int done;
    for (int i = 0; i < CROP_BLOCK_DAYS; i++)
        input[i] = plain_day(FIRST + i);
    assert_int_equal(season_run(&prepared, &run, input, 8, out, &done), STATUS_OK);
    double *const number[] = {&run.root_zone.excess_mm, &run.root_zone.below_depletion_mm,
                              &run.surface.wetted_fraction, &run.root_m, &run.variance_mm2};
    for (size_t i = 0; i < sizeof number / sizeof number[0]; i++) {
        struct season_state before = run, stepped;
        *number[i] = (double)NAN;
        stepped = run;
        struct season_day one[20];
        int days;
        enum status wanted = step_all(&prepared, &stepped, &input[8], 20, one, &days);
        assert_int_equal(season_run(&prepared, &run, &input[8], 20, out, &done), wanted);
        assert_int_equal(done, days);
        run = before;
    }
    run.root_zone.depletion_mm = run.taw_mm + 1;
    assert_int_equal(season_run(&prepared, &run, &input[8], 1, out, &done), STATUS_OUT_OF_RANGE);
}

/* The last days of the calendar are gone through one by one. */
static void a_season_ends_with_the_calendar(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    setup.first_date = setup.planting_date = CALENDAR_LAST - 60;
    struct season_prepared prepared = prepare(&setup);
    struct season_state run = begin(&setup);
    struct season_input input[62];
    struct season_day out[62];
    int done;
    for (int i = 0; i < 62; i++)
        input[i] = plain_day(setup.first_date + i);
    assert_int_equal(season_run(&prepared, &run, input, 62, out, &done), STATUS_ORDER);
    assert_int_equal(done, 61);
    assert_int_equal(out[60].date, CALENDAR_LAST);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(many_days_at_a_time_give_the_bits_of_the_same_days_one_by_one),
        cmocka_unit_test(days_that_are_refused_leave_the_state_of_their_morning),
        cmocka_unit_test(a_state_that_holds_no_number_goes_no_further_than_a_day),
        cmocka_unit_test(a_season_ends_with_the_calendar),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
