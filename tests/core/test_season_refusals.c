#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "tests/support/hostile.h"
#include "tests/support/plain_season.h"

static void days_come_in_order_without_a_gap(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_prepared prepared = prepare(&setup);
    struct season_state run = begin(&setup), before;
    struct season_day day = {.date = 1}, day_before = day;
    struct season_input input = plain_day(FIRST + 1);
    memcpy(&before, &run, sizeof run);
    assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_ORDER);
    input.date = FIRST - 1;
    assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_ORDER);
    assert_memory_equal(&run, &before, sizeof run);
    assert_memory_equal(&day, &day_before, sizeof day);
    run.next_date = CALENDAR_LAST + 1;
    input.date = CALENDAR_LAST + 1;
    assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_ORDER);
}

static void wrong_input_has_a_named_status_and_changes_nothing(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_prepared prepared = prepare(&setup);
    struct season_state run = begin(&setup), before;
    struct season_day day = {.date = 1}, day_before = day;
    memcpy(&before, &run, sizeof run);
    struct season_input input;
#define REFUSED(change, wanted)                                                                              \
    do {                                                                                                     \
        input = plain_day(FIRST);                                                                            \
        change;                                                                                              \
        assert_int_equal(season_step(&prepared, &run, &input, &day), wanted);                                \
        assert_memory_equal(&run, &before, sizeof run);                                                      \
        assert_memory_equal(&day, &day_before, sizeof day);                                                  \
    } while (0)
    REFUSED(input.et0_mm = NAN, STATUS_MISSING);
    REFUSED(input.wind_2m_m_s = NAN, STATUS_MISSING);
    REFUSED(input.rh_min_pct = NAN, STATUS_MISSING);
    REFUSED(input.rain_mm = NAN, STATUS_MISSING);
    REFUSED(input.irrigation_net_mm = NAN, STATUS_MISSING);
    REFUSED(input.irrigation_gross_mm = NAN, STATUS_MISSING);
    REFUSED(input.et0_mm = INFINITY, STATUS_NOT_FINITE);
    REFUSED(input.reading_m3_m3 = -INFINITY, STATUS_NOT_FINITE);
    REFUSED(input.et0_mm = 40, STATUS_OUT_OF_RANGE);
    REFUSED(input.et0_mm = -6, STATUS_OUT_OF_RANGE);
    REFUSED(input.rain_mm = -1, STATUS_OUT_OF_RANGE);
    REFUSED(input.rh_min_pct = 101, STATUS_OUT_OF_RANGE);
    REFUSED(input.observed_cover = 1.1, STATUS_OUT_OF_RANGE);
    REFUSED(input.irrigation_gross_mm = -1, STATUS_OUT_OF_RANGE);
    REFUSED(input.irrigation_net_mm = 1, STATUS_ORDER); /* above gross */
    REFUSED(input.cutting = true, STATUS_ORDER);
#undef REFUSED
    setup.crop.clock = CLOCK_DEGREE_DAYS;
    setup.planting_date = FIRST;
    prepared = prepare(&setup);
    input = plain_day(FIRST);
    input.tmin_c = NAN;
    assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_MISSING);
    input.tmin_c = 30;
    assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_ORDER);
}

/* Nobody steps with a setup that was not judged, or was refused: it gives the status that it was refused for.
 */
static void a_setup_that_was_refused_gives_its_status_to_every_day(void **state) {
    (void)state;
    struct season_setup good = plain_setup(), setup;
    struct season_prepared prepared;
    struct season_state run = begin(&good), before;
    struct season_input input = plain_day(FIRST);
    struct season_day day = {.date = 1}, day_before = day;
    memcpy(&before, &run, sizeof run);
#define REFUSED(change, wanted)                                                                              \
    do {                                                                                                     \
        setup = good;                                                                                        \
        change;                                                                                              \
        assert_int_equal(season_prepare(&setup, &prepared), wanted);                                         \
        assert_int_equal(season_begin(&prepared, &run), wanted);                                             \
        assert_int_equal(season_step(&prepared, &run, &input, &day), wanted);                                \
        assert_memory_equal(&run, &before, sizeof run);                                                      \
        assert_memory_equal(&day, &day_before, sizeof day);                                                  \
    } while (0)
    REFUSED(setup.soil.layer_count = 0, STATUS_OUT_OF_RANGE);
    REFUSED(setup.soil.tew_mm = -1, STATUS_ORDER);
    REFUSED(setup.soil.curve_number = 1000, STATUS_OUT_OF_RANGE);
    REFUSED(setup.soil.rew_mm = NAN, STATUS_NOT_FINITE);
    REFUSED(setup.climate_wind_m_s = -4, STATUS_OUT_OF_RANGE);
    REFUSED(setup.drainage_days = NAN, STATUS_MISSING);
    REFUSED(setup.crop.height_max_m = INFINITY, STATUS_NOT_FINITE);
    REFUSED(setup.wetting_interval_d = -1; setup.wetting_depth_mm = 20, STATUS_OUT_OF_RANGE);
    REFUSED(setup.ece_ds_m = 50, STATUS_OUT_OF_RANGE);
#undef REFUSED
    memset(&prepared, 0, sizeof prepared);
    assert_int_equal(season_begin(&prepared, &run), STATUS_MISSING);
    assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_MISSING);
    assert_memory_equal(&run, &before, sizeof run);
}

/* Roots of 0.3 m hold 45 mm, the surface layer 20 mm. */
static void a_state_of_another_setup_is_refused(void **state) {
    (void)state;
    struct season_setup setup = plain_setup();
    struct season_prepared prepared = prepare(&setup);
    struct season_state good = begin(&setup), run;
    struct season_input input = plain_day(FIRST);
    struct season_day day;
#define REFUSED(change, wanted)                                                                              \
    do {                                                                                                     \
        run = good;                                                                                          \
        change;                                                                                              \
        assert_int_equal(season_step(&prepared, &run, &input, &day), wanted);                                \
    } while (0)
    REFUSED(run.root_zone.depletion_mm = 45.1, STATUS_OUT_OF_RANGE);
    REFUSED(run.surface.depletion_mm = 20.1, STATUS_OUT_OF_RANGE);
    REFUSED(run.root_zone.depletion_mm = NAN, STATUS_MISSING);
    REFUSED(run.surface.depletion_mm = NAN, STATUS_MISSING);
#undef REFUSED
    assert_int_equal(season_step(&prepared, &good, &input, &day), STATUS_OK);
}

static void a_wrong_setup_is_refused_by_the_name_of_its_member(void **state) {
    (void)state;
    struct season_setup good = plain_setup(), setup;
    struct season_prepared prepared;
    struct season_state run = {.next_date = 7};
    const char *member;
#define REFUSED(change, wanted, wanted_member)                                                               \
    do {                                                                                                     \
        setup = good;                                                                                        \
        change;                                                                                              \
        member = "none";                                                                                     \
        assert_int_equal(season_setup_check(&setup, &member), wanted);                                       \
        assert_string_equal(member, wanted_member);                                                          \
        assert_int_equal(season_prepare(&setup, &prepared), wanted);                                         \
        assert_int_equal(season_begin(&prepared, &run), wanted);                                             \
        assert_int_equal(run.next_date, 7);                                                                  \
    } while (0)
    REFUSED(setup.method = (enum coefficient_method)2, STATUS_OUT_OF_RANGE, "method");
    REFUSED(setup.crop.root_ini_m = 0, STATUS_OUT_OF_RANGE, "root_ini_m");
    REFUSED(setup.soil.layer_count = 0, STATUS_OUT_OF_RANGE, "soil");
    REFUSED(setup.first_date = CALENDAR_NONE, STATUS_OUT_OF_RANGE, "first_date");
    REFUSED(setup.planting_date = CALENDAR_NONE, STATUS_OUT_OF_RANGE, "planting_date");
    REFUSED(setup.first_date = setup.planting_date + 1, STATUS_ORDER, "first_date");
    REFUSED(setup.stage_date[0] = setup.planting_date, STATUS_ORDER, "stage_date");
    REFUSED(setup.stage_date[1] = CALENDAR_LAST + 1, STATUS_OUT_OF_RANGE, "stage_date");
    REFUSED(setup.stage_date[1] = FIRST + 40; setup.stage_date[3] = FIRST + 39, STATUS_ORDER, "stage_date");
    REFUSED(setup.start_depletion = NAN, STATUS_MISSING, "start_depletion");
    REFUSED(setup.start_depletion = 1.1, STATUS_OUT_OF_RANGE, "start_depletion");
    REFUSED(setup.start_surface = INFINITY, STATUS_NOT_FINITE, "start_surface");
    REFUSED(setup.system_wetted_fraction = 0, STATUS_OUT_OF_RANGE, "system_wetted_fraction");
    REFUSED(setup.drainage_days = 31, STATUS_OUT_OF_RANGE, "drainage_days");
    REFUSED(setup.wetting_interval_d = 5, STATUS_MISSING, "wetting_depth_mm");
    REFUSED(setup.method = COEFFICIENT_SINGLE; setup.crop.kc_ini = NAN, STATUS_MISSING, "kc_ini");
    REFUSED(setup.ece_ds_m = 3; setup.crop.salt_slope_pct = NAN, STATUS_MISSING, "ece_ds_m");
    REFUSED(setup.ece_ds_m = 3; setup.crop.salt_threshold_ds_m = NAN, STATUS_MISSING, "ece_ds_m");
    REFUSED(setup.ece_ds_m = 3; setup.method = COEFFICIENT_SINGLE, STATUS_ORDER, "ece_ds_m");
    REFUSED(setup.ece_ds_m = 7.5, STATUS_OUT_OF_RANGE, "ece_ds_m"); /* threshold + 50 / b is 7 */
#undef REFUSED
    assert_int_equal(season_setup_check(&good, NULL), STATUS_OK);
    /* Kc ini by wetting needs none of Table 12. */
    good.method = COEFFICIENT_SINGLE;
    good.crop.kc_ini = NAN;
    good.wetting_interval_d = good.wetting_depth_mm = 7;
    assert_int_equal(season_setup_check(&good, NULL), STATUS_OK);
}

static void hostile_days_give_a_status_or_a_row_that_closes(void **state) {
    (void)state;
    struct hostile source = hostile_seed(41);
    struct season_setup setup = plain_setup();
    struct season_prepared prepared = prepare(&setup);
    struct season_state run = begin(&setup);
    int good = 0;
    for (int n = 0; n < HOSTILE_ROUNDS; n++) {
        if (run.next_date > FIRST + 90)
            run = begin(&setup);
        struct season_input input = plain_day(run.next_date);
        double *member[] = {&input.et0_mm,
                            &input.wind_2m_m_s,
                            &input.rh_min_pct,
                            &input.rain_mm,
                            &input.irrigation_gross_mm,
                            &input.irrigation_net_mm,
                            &input.observed_cover,
                            &input.reading_m3_m3,
                            &input.reading_sd_m3_m3,
                            &input.tmax_c,
                            &input.tmin_c};
        static const double high[] = {30, 20, 100, 2000, 2000, 2000, 1, 1, 1, 40, 40};
        size_t k = (size_t)n % (sizeof member / sizeof member[0]);
        *member[k] = hostile_number(&source, 0, high[k]);
        struct season_state before;
        memcpy(&before, &run, sizeof run);
        struct season_day day;
        if (season_step(&prepared, &run, &input, &day) == STATUS_OK) {
            assert_true(fabs(season_closure_mm(&day)) < 1e-9);
            assert_true(day.depletion_mm >= 0 && day.depletion_mm <= day.taw_mm);
            good++;
        } else {
            assert_memory_equal(&run, &before, sizeof run);
        }
    }
    assert_true(good > HOSTILE_ROUNDS / 4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_come_in_order_without_a_gap),
        cmocka_unit_test(wrong_input_has_a_named_status_and_changes_nothing),
        cmocka_unit_test(a_setup_that_was_refused_gives_its_status_to_every_day),
        cmocka_unit_test(a_state_of_another_setup_is_refused),
        cmocka_unit_test(a_wrong_setup_is_refused_by_the_name_of_its_member),
        cmocka_unit_test(hostile_days_give_a_status_or_a_row_that_closes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
