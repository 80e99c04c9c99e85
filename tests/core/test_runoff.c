#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <float.h>
#include <math.h>

#include "core/balance/runoff.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

static double runoff(double rain_mm, double cn) {
    double runoff_mm = NAN;
    assert_int_equal(runoff_curve_number_mm(rain_mm, cn, &runoff_mm), STATUS_OK);
    return runoff_mm;
}

static void runoff_is_never_more_than_rain_and_both_it_and_infiltration_grow_with_rain(void **state) {
    (void)state;
    for (int cn = 1; cn <= 100; cn++) {
        double q_before = 0, in_before = 0;
        for (int tenth = 0; tenth <= 4000; tenth += 7) {
            double rain = tenth / 10.0, q = runoff(rain, cn);
            assert_true(q >= 0 && q <= rain);
            assert_true(q >= q_before);
            /* Rounding of a difference of numbers up to 400. */
            assert_true(rain - q >= in_before - 1e-12);
            q_before = q;
            in_before = rain - q;
        }
    }
}

static void a_higher_curve_number_never_gives_less_runoff(void **state) {
    (void)state;
    for (int rain = 0; rain <= 300; rain += 3) {
        double before = 0;
        for (double cn = 0.5; cn <= 100; cn += 0.5) {
            double q = runoff(rain, cn);
            assert_true(q >= before);
            before = q;
        }
    }
}

static void nothing_runs_off_until_the_initial_abstraction_is_filled(void **state) {
    (void)state;
    /* CN 80: S = 25400/80 - 254 = 63.5 mm, Ia = 12.7 mm. */
    assert_near(runoff_retention_mm(80), 63.5, 1e-10);
    assert_true(runoff(12.7, 80) == 0);
    assert_true(runoff(12.8, 80) > 0);
    assert_true(runoff(0, 80) == 0);
    /* CN 100: everything runs off, and no rain is no runoff. */
    assert_true(runoff(25, 100) == 25);
    assert_true(runoff(0, 100) == 0);
}

static void the_abstraction_ratio_can_be_set(void **state) {
    (void)state;
    double q = NAN;
    /* By hand, CN 80, P 50, Ia = 0.05 S = 3.175: 46.825^2 / (46.825 + 63.5). */
    assert_int_equal(runoff_with_ratio_mm(50, 80, 0.05, &q), STATUS_OK);
    assert_near(q, 46.825 * 46.825 / 110.325, 1e-10);
    assert_int_equal(runoff_with_ratio_mm(50, 80, 0.2, &q), STATUS_OK);
    assert_true(q == runoff(50, 80));
    q = -1;
    assert_int_equal(runoff_with_ratio_mm(50, 80, -0.01, &q), STATUS_OUT_OF_RANGE);
    assert_int_equal(runoff_with_ratio_mm(50, 80, 1.01, &q), STATUS_OUT_OF_RANGE);
    assert_int_equal(runoff_with_ratio_mm(50, 80, NAN, &q), STATUS_NOT_FINITE);
    assert_true(q == -1);
}

static void rain_or_curve_numbers_outside_their_range_are_refused(void **state) {
    (void)state;
    double q = -1;
    assert_int_equal(runoff_curve_number_mm(-0.1, 80, &q), STATUS_OUT_OF_RANGE);
    assert_int_equal(runoff_curve_number_mm(10, 0, &q), STATUS_OUT_OF_RANGE);
    assert_int_equal(runoff_curve_number_mm(10, 100.1, &q), STATUS_OUT_OF_RANGE);
    assert_int_equal(runoff_curve_number_mm(NAN, 80, &q), STATUS_NOT_FINITE);
    assert_int_equal(runoff_curve_number_mm(INFINITY, 80, &q), STATUS_NOT_FINITE);
    assert_int_equal(runoff_curve_number_mm(10, NAN, &q), STATUS_NOT_FINITE);
    assert_true(q == -1);
    assert_true(isnan(runoff_retention_mm(0)) && isnan(runoff_retention_mm(101)) &&
                isnan(runoff_retention_mm(NAN)));
    assert_true(runoff(DBL_MAX, 80) > 0.99 * DBL_MAX);
}

static void wetness_leads_without_a_jump_from_the_dry_to_the_wet_curve_number(void **state) {
    (void)state;
    for (int cn = 0; cn <= 100; cn++) {
        double dry = runoff_cn_dry(cn), wet = runoff_cn_wet(cn), before = dry;
        assert_true(dry <= cn && cn <= wet);
        assert_true(dry >= 0 && wet <= 100);
        assert_true(runoff_cn_for_wetness(cn, 0) == dry);
        assert_near(runoff_cn_for_wetness(cn, 1), wet, 1e-12);
        assert_near(runoff_cn_for_wetness(cn, 0.5), cn, 4);
        for (int step = 1; step <= 100; step++) {
            double at = runoff_cn_for_wetness(cn, step / 100.0);
            /* The step is a hundredth of a span below 50; rounding may take it back by a little. */
            assert_true(at >= before - 1e-12 && at - before < 0.5);
            before = at;
        }
    }
    assert_true(isnan(runoff_cn_for_wetness(70, -0.01)) && isnan(runoff_cn_for_wetness(70, 1.01)));
    assert_true(isnan(runoff_cn_for_wetness(70, NAN)) && isnan(runoff_cn_for_wetness(101, 0.5)));
    assert_true(isnan(runoff_cn_dry(-1)) && isnan(runoff_cn_wet(100.1)) && isnan(runoff_cn_dry(NAN)));
}

static void a_drier_surface_is_never_wetter(void **state) {
    (void)state;
    /* REW 8, TEW 20: wet up to 4 mm, dry from 11.6 mm on, half way at 7.8 mm. */
    assert_true(runoff_wetness(0, 8, 20) == 1 && runoff_wetness(4, 8, 20) == 1);
    assert_near(runoff_wetness(7.8, 8, 20), 0.5, 1e-12);
    assert_true(runoff_wetness(11.6, 8, 20) < 1e-12 && runoff_wetness(20, 8, 20) == 0);
    double before = 1;
    for (double depletion = 0; depletion <= 20; depletion += 0.01) {
        double wetness = runoff_wetness(depletion, 8, 20);
        assert_true(wetness <= before && wetness >= 0);
        before = wetness;
    }
    /* Without readily evaporable water: from the first drop to 0.3 TEW. */
    assert_true(runoff_wetness(0, 0, 20) == 1);
    assert_near(runoff_wetness(3, 0, 20), 0.5, 1e-12);
}

static void a_surface_that_cannot_be_has_no_wetness(void **state) {
    (void)state;
    assert_true(isnan(runoff_wetness(-0.1, 8, 20)));
    assert_true(isnan(runoff_wetness(20.1, 8, 20)));
    assert_true(isnan(runoff_wetness(5, 20, 20)));
    assert_true(isnan(runoff_wetness(5, -1, 20)));
    assert_true(isnan(runoff_wetness(5, 8, INFINITY)));
    assert_true(isnan(runoff_wetness(NAN, 8, 20)));
    assert_true(isnan(runoff_wetness(5, NAN, 20)));
    assert_true(isnan(runoff_wetness(5, 8, NAN)));
}

static enum runoff_antecedent antecedent(double rain_mm, bool growing) {
    enum runoff_antecedent out = ANTECEDENT_COUNT;
    assert_int_equal(runoff_antecedent_class(rain_mm, growing, &out), STATUS_OK);
    return out;
}

/* NEH-4 of 1972, Table 4.2, as quoted: dormant 0.5 and 1.1 in, growing 1.4 and 2.1 in. */
static void five_days_of_rain_make_the_antecedent_class(void **state) {
    (void)state;
    assert_int_equal(antecedent(0.49 * 25.4, false), ANTECEDENT_DRY);
    assert_int_equal(antecedent(0.51 * 25.4, false), ANTECEDENT_AVERAGE);
    assert_int_equal(antecedent(1.09 * 25.4, false), ANTECEDENT_AVERAGE);
    assert_int_equal(antecedent(1.11 * 25.4, false), ANTECEDENT_WET);
    assert_int_equal(antecedent(1.39 * 25.4, true), ANTECEDENT_DRY);
    assert_int_equal(antecedent(1.41 * 25.4, true), ANTECEDENT_AVERAGE);
    assert_int_equal(antecedent(2.09 * 25.4, true), ANTECEDENT_AVERAGE);
    assert_int_equal(antecedent(2.11 * 25.4, true), ANTECEDENT_WET);
    enum runoff_antecedent out = ANTECEDENT_COUNT;
    assert_int_equal(runoff_antecedent_class(-1, true, &out), STATUS_OUT_OF_RANGE);
    assert_int_equal(runoff_antecedent_class(NAN, true, &out), STATUS_NOT_FINITE);
    assert_int_equal(out, ANTECEDENT_COUNT);
}

static void each_antecedent_class_has_its_curve_number(void **state) {
    (void)state;
    assert_true(runoff_cn_for_class(75, ANTECEDENT_DRY) == runoff_cn_dry(75));
    assert_true(runoff_cn_for_class(75, ANTECEDENT_AVERAGE) == 75);
    assert_true(runoff_cn_for_class(75, ANTECEDENT_WET) == runoff_cn_wet(75));
    assert_true(isnan(runoff_cn_for_class(75, ANTECEDENT_COUNT)));
    assert_true(isnan(runoff_cn_for_class(75, (enum runoff_antecedent) - 1)));
    assert_true(isnan(runoff_cn_for_class(101, ANTECEDENT_AVERAGE)));
}

static void no_number_whatever_breaks_a_runoff_function(void **state) {
    (void)state;
    struct hostile source = hostile_seed(630);
    int good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        double q = -1, rain = hostile_number(&source, 0, 200);
        double cn2 = hostile_number(&source, 1, 100), wetness = hostile_number(&source, 0, 1);
        double cn = runoff_cn_for_wetness(cn2, wetness);
        assert_true(isnan(cn) || (cn >= 0 && cn <= 100));
        enum status status = runoff_with_ratio_mm(rain, cn, hostile_number(&source, 0, 1), &q);
        assert_true((status == STATUS_OK) == (q != -1));
        assert_true(status != STATUS_OK || (q >= 0 && q <= rain));
        good += status == STATUS_OK;
        double surface = runoff_wetness(hostile_number(&source, 0, 20), hostile_number(&source, 0, 12),
                                        hostile_number(&source, 5, 30));
        assert_true(isnan(surface) || (surface >= 0 && surface <= 1));
    }
    assert_true(good > HOSTILE_ROUNDS / 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runoff_is_never_more_than_rain_and_both_it_and_infiltration_grow_with_rain),
        cmocka_unit_test(a_higher_curve_number_never_gives_less_runoff),
        cmocka_unit_test(nothing_runs_off_until_the_initial_abstraction_is_filled),
        cmocka_unit_test(the_abstraction_ratio_can_be_set),
        cmocka_unit_test(rain_or_curve_numbers_outside_their_range_are_refused),
        cmocka_unit_test(wetness_leads_without_a_jump_from_the_dry_to_the_wet_curve_number),
        cmocka_unit_test(a_drier_surface_is_never_wetter),
        cmocka_unit_test(a_surface_that_cannot_be_has_no_wetness),
        cmocka_unit_test(five_days_of_rain_make_the_antecedent_class),
        cmocka_unit_test(each_antecedent_class_has_its_curve_number),
        cmocka_unit_test(no_number_whatever_breaks_a_runoff_function),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
