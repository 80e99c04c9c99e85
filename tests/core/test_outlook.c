/* The outlook of a field: the light step against the season's own, and what its chances must keep to. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/decide/outlook.h"
#include "tests/support/near.h"
#include "tests/support/outlook_case.h"

#define FIRST    20200
#define FIELDS   3000
#define DAYS     10
#define MEMBERS  400
#define EXACT_MM 1e-9 /* of a path of ten days */

static double et0_store[DAYS * MEMBERS], rain_store[DAYS * MEMBERS];
static double depletion_store[DAYS * MEMBERS], scratch_store[2 * MEMBERS];
static struct outlook_room room = {depletion_store, scratch_store};

struct one {
    struct season_setup setup;
    struct season_prepared prepared;
    struct season_state state;
    struct season_input input[DAYS];
    struct outlook_field field;
};

static void make_one(struct hostile *source, struct one *one) {
    one->setup = outlook_case_setup(source, FIRST);
    outlook_case_walk(source, &one->setup, 10 + (int)hostile_between(source, 0, 70), &one->prepared,
                      &one->state);
    for (int i = 0; i < DAYS; i++) {
        one->input[i] = outlook_case_day(source, one->state.next_date + i);
        if (i == 0 && hostile_between(source, 0, 6) < 1)
            one->input[0].irrigation_gross_mm = one->input[0].irrigation_net_mm = 12;
    }
    assert_int_equal(outlook_field_prepare(&one->prepared, &one->state, one->input, DAYS, &one->field),
                     STATUS_OK);
}

/* The largest difference of a path between the light step and the season's, with a turn of `net_mm` on day 2.
 */
static double largest_difference(const struct one *one, const struct season_input *input, double net_mm) {
    struct season_state state = one->state;
    struct outlook_state light = one->field.start;
    double largest_mm = 0;
    for (int i = 0; i < DAYS; i++) {
        struct season_input given = input[i];
        struct season_day day;
        struct outlook_step step;
        if (i == 2) {
            given.irrigation_net_mm += net_mm;
            given.irrigation_gross_mm += net_mm;
        }
        assert_int_equal(season_step(&one->prepared, &state, &given, &day), STATUS_OK);
        outlook_step(&one->field, i, given.et0_mm, given.rain_mm, i == 2 ? net_mm : 0, &light, &step);
        const double difference[] = {light.depletion_mm - day.depletion_mm,
                                     light.excess_mm - day.excess_mm,
                                     light.surface_mm - day.surface_depletion_mm,
                                     light.below_mm - day.below_depletion_mm,
                                     step.eta_mm - day.eta_mm,
                                     step.etc_mm - day.etc_mm,
                                     step.percolation_mm - day.percolation_mm,
                                     step.runoff_mm - day.runoff_mm,
                                     step.raw_mm - day.raw_mm,
                                     step.allowed_mm - day.allowed_mm,
                                     step.ks - day.ks};
        for (size_t k = 0; k < sizeof difference / sizeof *difference; k++)
            largest_mm = fmax(largest_mm, fabs(difference[k]));
        assert_true(isfinite(step.eta_mm));
    }
    return largest_mm;
}

static void the_light_step_is_the_seasons_own_on_the_weather_it_was_prepared_with(void **state) {
    (void)state;
    struct hostile source = hostile_seed(11);
    struct one one;
    double largest_mm = 0;
    for (int i = 0; i < FIELDS; i++) {
        make_one(&source, &one);
        largest_mm = fmax(largest_mm, largest_difference(&one, one.input, 0));
        assert_true(largest_mm < EXACT_MM);
    }
    printf(
        "# measured light step against season_step, %d fields x %d days, its own weather: largest difference "
        "%.2g mm\n",
        FIELDS, DAYS, largest_mm);
}

static void the_light_step_is_the_seasons_own_with_other_rain_and_reference_et(void **state) {
    (void)state;
    struct hostile source = hostile_seed(12);
    struct one one;
    double largest_mm = 0;
    for (int i = 0; i < FIELDS; i++) {
        struct season_input other[DAYS];
        make_one(&source, &one);
        for (int k = 0; k < DAYS; k++) {
            struct season_input drawn = outlook_case_day(&source, one.input[k].date);
            other[k] = one.input[k];
            other[k].et0_mm = drawn.et0_mm;
            other[k].rain_mm = drawn.rain_mm;
        }
        largest_mm = fmax(largest_mm, largest_difference(&one, other, 20));
        assert_true(largest_mm < EXACT_MM);
    }
    printf("# measured light step against season_step, other rain and ET0, a turn on the third day: largest "
           "difference %.2g mm\n",
           largest_mm);
}

/* Wind and humidity, which the light step keeps at the forecast's, move the coefficients by eqs 62 to 72: by
 * no more than 0.04 x 4 + 0.004 x 60 at 3 m height. Tolerance: 0.5 mm a day of a path, no source. */
static void other_wind_and_humidity_part_them_by_half_a_millimetre_a_day_at_most(void **state) {
    (void)state;
    struct hostile source = hostile_seed(13);
    struct one one;
    double largest_mm = 0;
    for (int i = 0; i < FIELDS; i++) {
        struct season_input other[DAYS];
        make_one(&source, &one);
        for (int k = 0; k < DAYS; k++) {
            struct season_input drawn = outlook_case_day(&source, one.input[k].date);
            other[k] = one.input[k];
            other[k].wind_2m_m_s = fmax(one.input[k].wind_2m_m_s + hostile_between(&source, -1, 1), 0.5);
            other[k].rh_min_pct = one.input[k].rh_min_pct + hostile_between(&source, -10, 10);
            other[k].et0_mm = drawn.et0_mm;
            other[k].rain_mm = drawn.rain_mm;
        }
        largest_mm = fmax(largest_mm, largest_difference(&one, other, 0));
    }
    printf("# measured light step against season_step, wind off by 1 m/s and humidity by 10 %%: largest "
           "difference "
           "%.2g mm in %d days\n",
           largest_mm, DAYS);
    assert_true(largest_mm < 0.5 * DAYS);
}

/* ---- chances */

static struct outlook_weather weather_store(void) {
    return (struct outlook_weather){
        .days = DAYS, .members = MEMBERS, .et0_mm = et0_store, .rain_mm = rain_store};
}

/* Every member has its own weather about the field's. */
static struct outlook_weather spread_weather(struct hostile *source, const struct one *one) {
    struct outlook_weather weather = weather_store();
    for (int day = 0; day < DAYS; day++)
        for (int m = 0; m < MEMBERS; m++) {
            et0_store[day * MEMBERS + m] =
                fmax(one->input[day].et0_mm, 0) * hostile_between(source, 0.7, 1.3);
            rain_store[day * MEMBERS + m] =
                hostile_between(source, 0, 4) < 1 ? hostile_between(source, 0, 25) : 0;
        }
    return weather;
}

static void members_that_agree_leave_no_doubt(void **state) {
    (void)state;
    struct hostile source = hostile_seed(21);
    struct one one;
    struct outlook outlook;
    for (int i = 0; i < 200; i++) {
        make_one(&source, &one);
        struct outlook_weather weather = weather_store();
        for (int day = 0; day < DAYS; day++)
            for (int m = 0; m < MEMBERS; m++) {
                et0_store[day * MEMBERS + m] = one.input[day].et0_mm;
                rain_store[day * MEMBERS + m] = one.input[day].rain_mm;
            }
        assert_int_equal(outlook_run(&one.field, &weather, 0, &room, &outlook), STATUS_OK);
        struct season_state walking = one.state;
        bool dry = false;
        for (int day = 0; day < DAYS; day++) {
            struct season_day walked;
            assert_int_equal(season_step(&one.prepared, &walking, &one.input[day], &walked), STATUS_OK);
            /* The morning counts, too. */
            dry =
                dry || (crop_growing(walked.stage) && walked.depletion_mm >= walked.allowed_mm) ||
                (day == 0 && crop_growing(walked.stage) && one.field.start.depletion_mm >= walked.allowed_mm);
            assert_near(outlook.passes[day], dry ? 1 : 0, 0);
            for (int line = 0; line < OUTLOOK_LINES; line++)
                assert_near(outlook.depletion_mm[day][line], walked.depletion_mm, EXACT_MM);
        }
    }
}

static void chances_never_fall_and_lines_keep_their_order(void **state) {
    (void)state;
    struct hostile source = hostile_seed(22);
    struct one one;
    struct outlook outlook;
    for (int i = 0; i < 300; i++) {
        make_one(&source, &one);
        struct outlook_weather weather = spread_weather(&source, &one);
        assert_int_equal(outlook_run(&one.field, &weather, 15, &room, &outlook), STATUS_OK);
        assert_int_equal(outlook.days, DAYS);
        for (int day = 0; day < DAYS; day++) {
            assert_true(outlook.passes[day] >= (day > 0 ? outlook.passes[day - 1] : 0) &&
                        outlook.passes[day] <= 1);
            assert_true(outlook.depletion_mm[day][OUTLOOK_P10] <= outlook.depletion_mm[day][OUTLOOK_P50]);
            assert_true(outlook.depletion_mm[day][OUTLOOK_P50] <= outlook.depletion_mm[day][OUTLOOK_P90]);
        }
        int32_t last = INT32_MIN;
        for (int line = 0; line < OUTLOOK_LINES; line++) {
            bool none = outlook.dry_date[line] == CALENDAR_NONE;
            assert_true(none || outlook.dry_date[line] >= last);
            last = none ? INT32_MAX : outlook.dry_date[line];
        }
        assert_true(outlook.lost_chance >= 0 && outlook.lost_chance <= 1);
        /* A loss counts from 1 mm on. */
        assert_true(outlook.lost_mm >= 1 || (outlook.lost_mm <= 0 && outlook.lost_chance <= 0));
    }
}

/* 10, 50 and 90 % by a full sort. */
static int ascending(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static void lines_are_the_sorted_members_own(void **state) {
    (void)state;
    struct hostile source = hostile_seed(23);
    struct one one;
    struct outlook outlook;
    double sorted[MEMBERS];
    for (int i = 0; i < 50; i++) {
        make_one(&source, &one);
        struct outlook_weather weather = spread_weather(&source, &one);
        assert_int_equal(outlook_run(&one.field, &weather, 0, &room, &outlook), STATUS_OK);
        for (int day = 0; day < DAYS; day++) {
            memcpy(sorted, &depletion_store[day * MEMBERS], sizeof sorted);
            qsort(sorted, MEMBERS, sizeof *sorted, ascending);
            assert_near(outlook.depletion_mm[day][OUTLOOK_P10], sorted[40], 0);
            assert_near(outlook.depletion_mm[day][OUTLOOK_P50], sorted[200], 0);
            assert_near(outlook.depletion_mm[day][OUTLOOK_P90], sorted[359], 0);
        }
        assert_false(isfinite(outlook.lost_chance) || isfinite(outlook.lost_mm));
    }
}

static void a_turn_before_sure_rain_is_lost_below_the_roots(void **state) {
    (void)state;
    struct hostile source = hostile_seed(24);
    struct one one;
    struct outlook outlook;
    make_one(&source, &one);
    one.field.start = (struct outlook_state){.depletion_mm = 20, .surface_mm = 5, .wetted_fraction = 1};
    one.field.cn_dry = one.field.cn_wet = NAN;
    one.field.drainage_days = 0;
    for (int day = 0; day < DAYS; day++) {
        one.field.day[day].irrigation_net_mm = one.field.day[day].capillary_limit_mm = 0;
        one.field.day[day].taw_mm = 100;
        one.field.day[day].reached_share = 0;
        for (int m = 0; m < MEMBERS; m++) {
            et0_store[day * MEMBERS + m] = 4;
            rain_store[day * MEMBERS + m] = day == 0 && m % 4 == 0 ? 60 : 0;
        }
    }
    struct outlook_weather weather = weather_store();
    assert_int_equal(outlook_run(&one.field, &weather, 20, &room, &outlook), STATUS_OK);
    /* One member in four has 60 mm, which fills the 20 mm alone: all of the turn goes below. */
    assert_near(outlook.lost_chance, 0.25, 0);
    assert_near(outlook.lost_mm, 20, 1e-9);
    assert_near(outlook.lost_mean_mm, 5, 1e-9);
}

static void tenths_are_said_as_people_say_them(void **state) {
    (void)state;
    assert_int_equal(outlook_tenths(0.7), 7);
    assert_int_equal(outlook_tenths(0.66), 7);
    assert_int_equal(outlook_tenths(0.0), 0);
    assert_int_equal(outlook_tenths(0.02), 1);
    assert_int_equal(outlook_tenths(0.98), 9);
    assert_int_equal(outlook_tenths(1.0), 10);
    assert_int_equal(outlook_tenths(NAN), -1);
    assert_int_equal(outlook_tenths(-0.2), 0);
    assert_int_equal(outlook_tenths(1.2), 10);
}

/* A field of bare figures: a crop at full cover on 100 mm of TAW with RAW at 50. */
static struct outlook_field plain_field(void) {
    struct outlook_field field = {.today = FIRST,
                                  .days = 1,
                                  .p = 0.5,
                                  .p_fixed = true,
                                  .rew_mm = 8,
                                  .tew_mm = 20,
                                  .evaporation_m = 0.1,
                                  .cn_dry = NAN,
                                  .cn_wet = NAN,
                                  .system_wetted_fraction = 1};
    field.day[0] = (struct outlook_day){.stage = STAGE_MID,
                                        .growing = true,
                                        .kcb = 1,
                                        .kc_max = 1.05,
                                        .cover = 0.99,
                                        .root_m = 1,
                                        .taw_mm = 100,
                                        .allowed_share = NAN,
                                        .ks_salt = 1};
    return field;
}

/* Eq. 85 cannot hold more than TAW: of dry soil that the roots grow into only what there is room for. */
static void roots_that_grow_into_dry_soil_never_pass_taw(void **state) {
    (void)state;
    struct outlook_field field = plain_field();
    struct outlook_state light = {.depletion_mm = 95, .below_mm = 50, .surface_mm = 20, .wetted_fraction = 1};
    struct outlook_step step;
    field.day[0].reached_share = 0.5;
    outlook_step(&field, 0, 0, 0, 0, &light, &step);
    assert_near(light.depletion_mm, 100, 0);
    assert_near(light.below_mm, 45, 0);
}

static void a_reading_of_today_shifts_the_evening_within_0_and_taw(void **state) {
    (void)state;
    static const double shift_mm[] = {12, -12, 200, -200}, evening_mm[] = {52, 28, 100, 0};
    for (int i = 0; i < 4; i++) {
        struct outlook_field field = plain_field();
        struct outlook_state light = {.depletion_mm = 40, .surface_mm = 20, .wetted_fraction = 1};
        struct outlook_step step;
        field.day[0].reading_shift_mm = shift_mm[i];
        outlook_step(&field, 0, 0, 0, 0, &light, &step);
        assert_near(light.depletion_mm, evening_mm[i], 0);
    }
}

/* Roots shorter than the evaporation layer take all of their water from it; without transpiration or
 * evaporation nothing is shared out. */
static void seedlings_and_days_without_use_are_no_exception(void **state) {
    (void)state;
    struct outlook_field field = plain_field();
    struct outlook_state light = {.depletion_mm = 10, .surface_mm = 5, .wetted_fraction = 1};
    struct outlook_step step;
    field.shallow = true;
    field.day[0].root_m = 0.08;
    field.day[0].taw_mm = 30;
    outlook_step(&field, 0, 4, 0, 0, &light, &step);
    assert_true(light.surface_mm > 5 && step.eta_mm > 0);
    field.day[0].single = true;
    field.day[0].kcb = field.day[0].kc = field.day[0].kc_max = 0;
    double before_mm = light.depletion_mm;
    outlook_step(&field, 0, 4, 0, 0, &light, &step);
    assert_near(step.eta_mm, 0, 0);
    assert_near(light.depletion_mm, before_mm, 0);
}

/* FAO-56 eq. 91 divides by Ky: where none is published, by 1, as the season does. */
static void salt_without_a_ky_and_mornings_before_planting_follow_the_season(void **state) {
    (void)state;
    struct hostile source = hostile_seed(31);
    struct one one;
    int salty = 0, before = 0;
    for (int i = 0; i < 400; i++) {
        one.setup = outlook_case_setup(&source, FIRST);
        if (one.setup.method == COEFFICIENT_DUAL)
            one.setup.ece_ds_m = 4;
        one.setup.crop.ky_season = NAN;
        outlook_case_walk(&source, &one.setup, i % 8, &one.prepared, &one.state);
        for (int day = 0; day < DAYS; day++)
            one.input[day] = outlook_case_day(&source, one.state.next_date + day);
        assert_int_equal(outlook_field_prepare(&one.prepared, &one.state, one.input, DAYS, &one.field),
                         STATUS_OK);
        assert_true(largest_difference(&one, one.input, 0) <= EXACT_MM);
        salty += one.field.day[DAYS - 1].ks_salt < 1;
        bool unplanted = one.state.next_date < one.setup.planting_date;
        before += unplanted;
        assert_true(!unplanted || one.field.days_in_season <= 0);
    }
    assert_true(salty > 50 && before > 50);
}

static void a_turn_that_no_rain_follows_loses_nothing(void **state) {
    (void)state;
    struct outlook_field field = plain_field();
    struct outlook_weather weather = weather_store();
    struct outlook outlook;
    field.start = (struct outlook_state){.depletion_mm = 40, .surface_mm = 20, .wetted_fraction = 1};
    weather.days = 1;
    for (int m = 0; m < weather.members; m++) {
        et0_store[m] = 5;
        rain_store[m] = 0;
    }
    assert_int_equal(outlook_run(&field, &weather, 20, &room, &outlook), STATUS_OK);
    assert_near(outlook.lost_chance, 0, 0);
    assert_near(outlook.lost_mm, 0, 0);
    assert_near(outlook.lost_mean_mm, 0, 0);
}

static void arguments_outside_their_range_are_refused_and_nothing_is_written(void **state) {
    (void)state;
    struct hostile source = hostile_seed(25);
    struct one one;
    make_one(&source, &one);
    struct outlook_weather weather = spread_weather(&source, &one);
    struct outlook outlook = {.days = 77};
    assert_int_equal(outlook_run(&one.field, &weather, NAN, &room, &outlook), STATUS_MISSING);
    assert_int_equal(outlook_run(&one.field, &weather, -1, &room, &outlook), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook_run(&one.field, &weather, INFINITY, &room, &outlook), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook_add_turn(&one.field, &weather, NAN, &room, &outlook), STATUS_MISSING);
    assert_int_equal(outlook_add_turn(&one.field, &weather, -1, &room, &outlook), STATUS_OUT_OF_RANGE);
    weather.members = 0;
    assert_int_equal(outlook_run(&one.field, &weather, 0, &room, &outlook), STATUS_OUT_OF_RANGE);
    weather.members = OUTLOOK_MEMBERS_MAX + 1;
    assert_int_equal(outlook_run(&one.field, &weather, 0, &room, &outlook), STATUS_OUT_OF_RANGE);
    weather.members = MEMBERS;
    weather.days = 0;
    assert_int_equal(outlook_run(&one.field, &weather, 0, &room, &outlook), STATUS_OUT_OF_RANGE);
    assert_int_equal(outlook.days, 77);
    struct outlook_field field = {.days = 77};
    assert_int_equal(outlook_field_prepare(&one.prepared, &one.state, one.input, 0, &field),
                     STATUS_OUT_OF_RANGE);
    assert_int_equal(
        outlook_field_prepare(&one.prepared, &one.state, one.input, OUTLOOK_DAYS_MAX + 1, &field),
        STATUS_OUT_OF_RANGE);
    const struct season_day path[1] = {{.date = 0}};
    assert_int_equal(
        outlook_field_of_path(&one.prepared, &one.state, one.input, path, OUTLOOK_DAYS_MAX + 1, &field),
        STATUS_OUT_OF_RANGE);
    one.input[4].et0_mm = NAN;
    assert_int_equal(outlook_field_prepare(&one.prepared, &one.state, one.input, DAYS, &field),
                     STATUS_MISSING);
    assert_int_equal(field.days, 77);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_light_step_is_the_seasons_own_on_the_weather_it_was_prepared_with),
        cmocka_unit_test(the_light_step_is_the_seasons_own_with_other_rain_and_reference_et),
        cmocka_unit_test(other_wind_and_humidity_part_them_by_half_a_millimetre_a_day_at_most),
        cmocka_unit_test(members_that_agree_leave_no_doubt),
        cmocka_unit_test(chances_never_fall_and_lines_keep_their_order),
        cmocka_unit_test(lines_are_the_sorted_members_own),
        cmocka_unit_test(a_turn_before_sure_rain_is_lost_below_the_roots),
        cmocka_unit_test(tenths_are_said_as_people_say_them),
        cmocka_unit_test(roots_that_grow_into_dry_soil_never_pass_taw),
        cmocka_unit_test(a_reading_of_today_shifts_the_evening_within_0_and_taw),
        cmocka_unit_test(seedlings_and_days_without_use_are_no_exception),
        cmocka_unit_test(salt_without_a_ky_and_mornings_before_planting_follow_the_season),
        cmocka_unit_test(a_turn_that_no_rain_follows_loses_nothing),
        cmocka_unit_test(arguments_outside_their_range_are_refused_and_nothing_is_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
