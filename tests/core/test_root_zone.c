#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/balance/root_zone.h"
#include "tests/support/near.h"

static void ks_is_one_up_to_raw_and_nothing_at_taw(void **state) {
    (void)state;
    assert_near(root_zone_ks(100, 40, 40), 1, 0);
    assert_near(root_zone_ks(100, 40, 70), 0.5, 1e-12);
    assert_near(root_zone_ks(100, 40, 100), 0, 0);
    assert_true(isnan(root_zone_ks(100, 100, 50)) && isnan(root_zone_ks(100, 40, 101)) &&
                isnan(root_zone_ks(100, -1, 50)) && isnan(root_zone_ks(100, 40, -1)) &&
                isnan(root_zone_ks(NAN, 40, 1)));
}

static void capillary_rise_falls_to_nothing_at_one_metre_below_the_roots(void **state) {
    (void)state;
    assert_near(root_zone_capillary_limit_mm(NAN, 0.6, 3), 0, 0);
    assert_near(root_zone_capillary_limit_mm(0.5, 0.6, 3), 3, 0);
    assert_near(root_zone_capillary_limit_mm(1.1, 0.6, 3), 1.5, 1e-12);
    assert_near(root_zone_capillary_limit_mm(1.6, 0.6, 3), 0, 1e-12);
    assert_near(root_zone_capillary_limit_mm(9, 0.6, 3), 0, 0);
    assert_true(isnan(root_zone_capillary_limit_mm(-1, 0.6, 3)) &&
                isnan(root_zone_capillary_limit_mm(1, -0.6, 3)) &&
                isnan(root_zone_capillary_limit_mm(1, 0.6, -3)) &&
                isnan(root_zone_capillary_limit_mm(INFINITY, 0.6, 3)));
}

static struct root_zone_flow whole_day(struct root_zone *zone, struct root_zone_inflow inflow,
                                       double demand_mm, double taw_mm, double drainage_days) {
    struct root_zone_flow flow = {.eta_mm = NAN};
    double depletion_mm = NAN;
    assert_int_equal(root_zone_open(zone, &inflow, taw_mm, &flow, &depletion_mm), STATUS_OK);
    assert_int_equal(root_zone_close(zone, demand_mm, taw_mm, drainage_days, &flow), STATUS_OK);
    return flow;
}

static void evapotranspiration_comes_before_drainage(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 10};
    struct root_zone_flow flow =
        whole_day(&zone, (struct root_zone_inflow){.infiltration_mm = 30}, 6, 100, 0);
    assert_near(flow.percolation_mm, 14, 1e-12); /* eq. 88: 30 - 6 - 10 */
    assert_near(zone.depletion_mm, 0, 0);
}

static void what_percolates_refills_the_soil_below_first(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 0, .below_depletion_mm = 20};
    (void)whole_day(&zone, (struct root_zone_inflow){.infiltration_mm = 15}, 0, 100, 0);
    assert_near(zone.below_depletion_mm, 5, 1e-12);
    (void)whole_day(&zone, (struct root_zone_inflow){.infiltration_mm = 15}, 0, 100, 0);
    assert_near(zone.below_depletion_mm, 0, 0);
}

static void new_soil_brings_its_own_depletion(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 10, .below_depletion_mm = 30};
    struct root_zone_flow flow = whole_day(&zone, (struct root_zone_inflow){.new_soil_mm = 4}, 0, 60, 0);
    assert_near(flow.new_soil_mm, 4, 0);
    assert_near(zone.depletion_mm, 14, 1e-12);
    assert_near(zone.below_depletion_mm, 26, 1e-12);
    /* No more than the roots' own TAW holds; the rest stays below. */
    zone = (struct root_zone){.depletion_mm = 59, .below_depletion_mm = 30};
    flow = whole_day(&zone, (struct root_zone_inflow){.new_soil_mm = 4}, 0, 60, 0);
    assert_near(flow.new_soil_mm, 1, 1e-12);
    assert_near(zone.below_depletion_mm, 29, 1e-12);
}

static void a_dry_root_zone_gives_only_what_it_holds(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 97};
    struct root_zone_flow flow = whole_day(&zone, (struct root_zone_inflow){0}, 8, 100, 0);
    assert_near(flow.eta_mm, 3, 1e-12);
    assert_near(zone.depletion_mm, 100, 0);
}

static void capillary_rise_stops_at_field_capacity(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 2};
    struct root_zone_inflow rise = {.capillary_limit_mm = 3};
    assert_near(whole_day(&zone, rise, 5, 100, 0).capillary_mm, 2, 1e-12);
    assert_near(whole_day(&zone, rise, 0, 100, 0).capillary_mm, 3, 1e-12);
    rise.infiltration_mm = 50;
    assert_near(whole_day(&zone, rise, 0, 100, 0).capillary_mm, 0, 0);
}

static void slow_drainage_keeps_water_above_field_capacity_for_the_crop(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 0};
    struct root_zone_flow flow =
        whole_day(&zone, (struct root_zone_inflow){.infiltration_mm = 36}, 6, 100, 3);
    assert_near(flow.percolation_mm, 10, 1e-12); /* a third of 30 */
    assert_near(zone.excess_mm, 20, 1e-12);
    flow = whole_day(&zone, (struct root_zone_inflow){0}, 5, 100, 3);
    assert_near(flow.percolation_mm, 5, 1e-12);
    assert_near(zone.excess_mm, 10, 1e-12);
    assert_near(zone.depletion_mm, 0, 0);
    flow = whole_day(&zone, (struct root_zone_inflow){0}, 12, 100, 3);
    assert_near(zone.depletion_mm, 2, 1e-12);
    assert_near(zone.excess_mm, 0, 0);
}

static void a_reading_is_weighed_by_its_uncertainty(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 40};
    double variance_mm2 = 36, shift_mm;
    struct root_zone_reading reading = {.depletion_mm = 60, .sd_mm = 6};
    assert_int_equal(root_zone_correct(&zone, &reading, 100, &variance_mm2, &shift_mm), STATUS_OK);
    assert_near(zone.depletion_mm, 50, 1e-12); /* equal variances: half way */
    assert_near(shift_mm, 10, 1e-12);
    assert_near(variance_mm2, 18, 1e-12);
    reading.sd_mm = 0;
    assert_int_equal(root_zone_correct(&zone, &reading, 100, &variance_mm2, &shift_mm), STATUS_OK);
    assert_near(zone.depletion_mm, 60, 0);
    assert_near(variance_mm2, 0, 0);
    /* Nothing is uncertain about the balance now: only a reading without a standard deviation moves it. */
    reading = (struct root_zone_reading){.depletion_mm = 20, .sd_mm = 5};
    assert_int_equal(root_zone_correct(&zone, &reading, 100, &variance_mm2, &shift_mm), STATUS_OK);
    assert_near(shift_mm, 0, 0);
}

static void a_reading_outside_field_capacity_and_wilting_point_counts_as_the_limit(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 40};
    double variance_mm2 = 36, shift_mm;
    struct root_zone_reading wet = {.depletion_mm = -30}, dry = {.depletion_mm = 130};
    assert_int_equal(root_zone_correct(&zone, &wet, 100, &variance_mm2, &shift_mm), STATUS_OK);
    assert_near(zone.depletion_mm, 0, 0);
    zone.excess_mm = 12;
    assert_int_equal(root_zone_correct(&zone, &wet, 100, &variance_mm2, &shift_mm), STATUS_OK);
    assert_near(zone.excess_mm, 12, 0);
    assert_int_equal(root_zone_correct(&zone, &dry, 100, &variance_mm2, &shift_mm), STATUS_OK);
    assert_near(zone.depletion_mm, 100, 0);
    assert_near(zone.excess_mm, 0, 0);
    assert_near(shift_mm, 112, 1e-12);
}

static void the_root_zone_names_what_is_wrong_and_stays_as_it_was(void **state) {
    (void)state;
    struct root_zone zone = {.depletion_mm = 40, .below_depletion_mm = 5}, before = zone;
    struct root_zone_flow flow = {.eta_mm = NAN};
    double depletion_mm, variance_mm2 = 4, shift_mm;
    struct root_zone_inflow inflow = {.infiltration_mm = NAN};
    assert_int_equal(root_zone_open(&zone, &inflow, 100, &flow, &depletion_mm), STATUS_MISSING);
    inflow.infiltration_mm = INFINITY;
    assert_int_equal(root_zone_open(&zone, &inflow, 100, &flow, &depletion_mm), STATUS_NOT_FINITE);
    static const struct root_zone_inflow negative[] = {{.new_soil_mm = -1},
                                                       {.infiltration_mm = -1},
                                                       {.irrigation_mm = -1},
                                                       {.capillary_limit_mm = -1},
                                                       {.new_soil_mm = 6}}; /* more than lies below */
    for (size_t i = 0; i < sizeof negative / sizeof negative[0]; i++)
        assert_int_equal(root_zone_open(&zone, &negative[i], 100, &flow, &depletion_mm), STATUS_OUT_OF_RANGE);
    inflow = (struct root_zone_inflow){0};
    assert_int_equal(root_zone_open(&zone, &inflow, 30, &flow, &depletion_mm), STATUS_OUT_OF_RANGE);
    assert_int_equal(root_zone_close(&zone, NAN, 100, 0, &flow), STATUS_MISSING);
    assert_int_equal(root_zone_close(&zone, -1, 100, 0, &flow), STATUS_OUT_OF_RANGE);
    assert_int_equal(root_zone_close(&zone, 1, 30, 0, &flow), STATUS_OUT_OF_RANGE);
    assert_int_equal(root_zone_close(&zone, 1, 100, -1, &flow), STATUS_OUT_OF_RANGE);
    struct root_zone_reading reading = {.depletion_mm = NAN};
    assert_int_equal(root_zone_correct(&zone, &reading, 100, &variance_mm2, &shift_mm), STATUS_MISSING);
    reading = (struct root_zone_reading){.depletion_mm = 10, .sd_mm = -1};
    assert_int_equal(root_zone_correct(&zone, &reading, 100, &variance_mm2, &shift_mm), STATUS_OUT_OF_RANGE);
    reading.sd_mm = 1;
    assert_int_equal(root_zone_correct(&zone, &reading, -1, &variance_mm2, &shift_mm), STATUS_OUT_OF_RANGE);
    variance_mm2 = -1;
    assert_int_equal(root_zone_correct(&zone, &reading, 100, &variance_mm2, &shift_mm), STATUS_OUT_OF_RANGE);
    assert_memory_equal(&zone, &before, sizeof zone);
    assert_true(isnan(root_zone_gain(-1, 1)) && isnan(root_zone_gain(1, -1)) &&
                isnan(root_zone_gain(INFINITY, 1)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ks_is_one_up_to_raw_and_nothing_at_taw),
        cmocka_unit_test(capillary_rise_falls_to_nothing_at_one_metre_below_the_roots),
        cmocka_unit_test(evapotranspiration_comes_before_drainage),
        cmocka_unit_test(what_percolates_refills_the_soil_below_first),
        cmocka_unit_test(new_soil_brings_its_own_depletion),
        cmocka_unit_test(a_dry_root_zone_gives_only_what_it_holds),
        cmocka_unit_test(capillary_rise_stops_at_field_capacity),
        cmocka_unit_test(slow_drainage_keeps_water_above_field_capacity_for_the_crop),
        cmocka_unit_test(a_reading_is_weighed_by_its_uncertainty),
        cmocka_unit_test(a_reading_outside_field_capacity_and_wilting_point_counts_as_the_limit),
        cmocka_unit_test(the_root_zone_names_what_is_wrong_and_stays_as_it_was),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
