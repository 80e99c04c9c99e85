#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "core/balance/salinity.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

/* Beans of FAO-56 Table 23 (1.0 dS/m, 19 %), Ky of Table 24. */
static const struct salinity_tolerance beans = {1.0, 19};
#define BEANS_KY 1.15

static void nothing_is_lost_up_to_the_threshold(void **state) {
    (void)state;
    double share = NAN;
    for (double ece = 0; ece <= 1; ece += 0.125) {
        assert_int_equal(salinity_relative_yield(&beans, ece, &share), STATUS_OK);
        assert_true(share == 1);
        assert_int_equal(salinity_stress(&beans, BEANS_KY, ece, &share), STATUS_OK);
        assert_true(share == 1);
    }
}

static void yield_falls_along_eq_89_to_its_limit(void **state) {
    (void)state;
    /* 1 + 50/19 dS/m, where half is lost. */
    double limit = salinity_limit_ds_m(&beans), share = NAN, before = 1;
    assert_near(limit, 3.6315789473684, 1e-12);
    for (double ece = 1; ece < limit; ece += 0.01) {
        assert_int_equal(salinity_relative_yield(&beans, ece, &share), STATUS_OK);
        assert_near(share, 1 - 0.19 * (ece - 1), 1e-12);
        assert_true(share <= before && share >= 0.5);
        before = share;
    }
    share = -1;
    assert_int_equal(salinity_relative_yield(&beans, limit, &share), STATUS_OUT_OF_RANGE);
    assert_true(share == -1);
}

static void a_small_ky_that_makes_the_stress_negative_is_refused(void **state) {
    (void)state;
    double ks = -1;
    /* Eq. 91 by hand: 1 - 19 / (100 x 0.2) x 2 = -0.9. */
    assert_int_equal(salinity_stress(&beans, 0.2, 3, &ks), STATUS_OUT_OF_RANGE);
    assert_true(ks == -1);
    assert_int_equal(salinity_stress(&beans, 0.2, 1.5, &ks), STATUS_OK);
    assert_near(ks, 1 - 0.19 / 0.2 * 0.5, 1e-12);
}

static void tolerances_outside_their_range_are_refused(void **state) {
    (void)state;
    const struct {
        struct salinity_tolerance crop;
        enum status status;
    } bad[] = {
        {{-0.1, 19}, STATUS_OUT_OF_RANGE}, {{101, 19}, STATUS_OUT_OF_RANGE},
        {{NAN, 19}, STATUS_NOT_FINITE},    {{1, 0}, STATUS_OUT_OF_RANGE},
        {{1, 101}, STATUS_OUT_OF_RANGE},   {{1, INFINITY}, STATUS_NOT_FINITE},
    };
    double out = -1;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(salinity_stress(&bad[i].crop, 1, 2, &out), bad[i].status);
        assert_int_equal(salinity_relative_yield(&bad[i].crop, 2, &out), bad[i].status);
        assert_true(isnan(salinity_limit_ds_m(&bad[i].crop)));
    }
    assert_int_equal(salinity_stress(&beans, 0.05, 2, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_stress(&beans, NAN, 2, &out), STATUS_NOT_FINITE);
    assert_int_equal(salinity_stress(&beans, 1, -1, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_stress(&beans, 1, NAN, &out), STATUS_NOT_FINITE);
    assert_true(out == -1);
}

static void water_stress_multiplies_salt_stress_beyond_raw(void **state) {
    (void)state;
    double ks = NAN, before = 1;
    for (int depletion = 0; depletion <= 110; depletion++) {
        assert_int_equal(salinity_water_stress(0.9, depletion, 110, 44, &ks), STATUS_OK);
        assert_true(ks <= before);
        assert_true(depletion > 44 ? ks < 0.9 : ks == 0.9);
        before = ks;
    }
    assert_true(ks == 0);
}

static void contradictory_water_contents_are_named(void **state) {
    (void)state;
    double ks = -1;
    assert_int_equal(salinity_water_stress(0.9, 111, 110, 44, &ks), STATUS_ORDER);
    assert_int_equal(salinity_water_stress(0.9, 50, 110, 110, &ks), STATUS_ORDER);
    assert_int_equal(salinity_water_stress(1.1, 50, 110, 44, &ks), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_water_stress(0.9, -1, 110, 44, &ks), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_water_stress(0.9, 50, INFINITY, 44, &ks), STATUS_NOT_FINITE);
    assert_int_equal(salinity_water_stress(0.9, 50, 110, NAN, &ks), STATUS_NOT_FINITE);
    assert_true(ks == -1);
}

static void a_root_zone_in_balance_needs_the_leaching_that_made_it(void **state) {
    (void)state;
    /* Eq. 93 solved for LF is the leaching requirement: ECiw / (5 ECe - ECiw). */
    for (double fraction = 0.01; fraction < 1; fraction += 0.01) {
        double ece = NAN, requirement = NAN;
        assert_int_equal(salinity_of_root_zone(1.7, fraction, &ece), STATUS_OK);
        assert_int_equal(salinity_leaching_requirement(1.7, ece, &requirement), STATUS_OK);
        assert_near(requirement, fraction, 1e-12);
    }
}

static void water_too_salty_to_leach_with_is_refused(void **state) {
    (void)state;
    double out = -1;
    assert_int_equal(salinity_leaching_requirement(2.5, 1, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_leaching_requirement(6, 1, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_leaching_requirement(0, 0, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_leaching_requirement(NAN, 1, &out), STATUS_NOT_FINITE);
    assert_int_equal(salinity_leaching_requirement(1, NAN, &out), STATUS_NOT_FINITE);
    assert_int_equal(salinity_of_root_zone(1, 0, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_of_root_zone(1, 1.1, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(salinity_of_root_zone(NAN, 0.2, &out), STATUS_NOT_FINITE);
    assert_true(out == -1);
    assert_int_equal(salinity_leaching_requirement(0, 2, &out), STATUS_OK);
    assert_true(out == 0);
}

static void no_number_whatever_breaks_a_salinity_function(void **state) {
    (void)state;
    struct hostile source = hostile_seed(89);
    int good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        struct salinity_tolerance crop = {hostile_number(&source, 0, 8), hostile_number(&source, 1, 20)};
        double ks = -1, both = -1, ece = -1, requirement = -1;
        enum status status =
            salinity_stress(&crop, hostile_number(&source, 0.2, 1.5), hostile_number(&source, 0, 10), &ks);
        assert_true(status == STATUS_OK ? ks >= 0 && ks <= 1 : ks == -1);
        good += status == STATUS_OK;
        status = salinity_water_stress(ks, hostile_number(&source, 0, 100), hostile_number(&source, 50, 150),
                                       hostile_number(&source, 0, 100), &both);
        assert_true(status == STATUS_OK ? both >= 0 && both <= ks : both == -1);
        status =
            salinity_of_root_zone(hostile_number(&source, 0, 5), hostile_number(&source, 0.05, 0.5), &ece);
        assert_true(status == STATUS_OK ? ece >= 0 && isfinite(ece) : ece == -1);
        status = salinity_leaching_requirement(hostile_number(&source, 0, 5), hostile_number(&source, 0, 5),
                                               &requirement);
        assert_true(status == STATUS_OK ? requirement >= 0 && requirement < 1 : requirement == -1);
    }
    assert_true(good > HOSTILE_ROUNDS / 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_lost_up_to_the_threshold),
        cmocka_unit_test(yield_falls_along_eq_89_to_its_limit),
        cmocka_unit_test(a_small_ky_that_makes_the_stress_negative_is_refused),
        cmocka_unit_test(tolerances_outside_their_range_are_refused),
        cmocka_unit_test(water_stress_multiplies_salt_stress_beyond_raw),
        cmocka_unit_test(contradictory_water_contents_are_named),
        cmocka_unit_test(a_root_zone_in_balance_needs_the_leaching_that_made_it),
        cmocka_unit_test(water_too_salty_to_leach_with_is_refused),
        cmocka_unit_test(no_number_whatever_breaks_a_salinity_function),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
