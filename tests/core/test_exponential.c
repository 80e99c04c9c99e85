/* The exponential: how near it is to the true one, its ends, and that its bits are the same whatever compiled
 * it. */
#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/exponential.h"
#include "tests/support/bits.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

#define ROUNDS   1000000
#define LARGEST  0x1.62e42fefa39efp+9    /* 709.78: the last with a finite power (FDLIBM, e_exp.c) */
#define SMALLEST (-0x1.74910d52d3051p+9) /* -745.13: the last with one above 0 (the same) */

/* Of a power as it was reckoned, in units of the last place of a double there. */
static double error_ulp(double x) {
    long double right = expl((long double)x), got = (long double)exponential(x);
    int exponent;
    (void)frexpl(right, &exponent);
    if (exponent < DBL_MIN_EXP)
        exponent = DBL_MIN_EXP;
    return (double)(fabsl(got - right) / ldexpl(1, exponent - DBL_MANT_DIG));
}

/* FDLIBM states less than 1 ulp for the method with its own polynomial. Where long double is no wider than
 * double the reference itself may be half an ulp off. */
static void it_is_within_one_unit_of_the_last_place(void **state) {
    (void)state;
    struct hostile source = hostile_seed(11);
    const double most = LDBL_MANT_DIG > DBL_MANT_DIG ? 1.0 : 1.5;
    double worst = 0, worst_of_air = 0;
    for (int i = 0; i < ROUNDS; i++) {
        double anywhere = error_ulp(hostile_between(&source, SMALLEST, LARGEST));
        /* What eq. 11 asks for between -100 and 100 degC. */
        double of_air = error_ulp(hostile_between(&source, -12.6, 5.2));
        double near_zero = error_ulp(hostile_between(&source, -1, 1) * ldexp(1, -(i % 60)));
        worst = fmax(worst, fmax(anywhere, near_zero));
        worst_of_air = fmax(worst_of_air, of_air);
    }
    print_message("# measured the exponential: %.3f ulp off at most, %.3f where eq. 11 uses it\n", worst,
                  worst_of_air);
    assert_true(worst < most && worst_of_air < most);
    assert_true(worst > 0.4); /* no double is nearer than half an ulp everywhere: the measure measures */
}

/* M. Abramowitz and I.A. Stegun, Handbook of Mathematical Functions, Table 4.4 (from memory). */
static void known_powers_come_out(void **state) {
    (void)state;
    assert_near(exponential(1), 2.718281828459045, 1e-15);
    assert_near(exponential(-1), 0.367879441171442, 1e-15);
    assert_near(exponential(10), 22026.465794806717, 1e-11);
    assert_true(exponential(0) == 1 && exponential(-0.0) == 1);
}

static void its_ends_are_those_of_a_double(void **state) {
    (void)state;
    assert_true(isnan(exponential(NAN)));
    assert_true(isinf(exponential(INFINITY)) && exponential(-INFINITY) == 0);
    assert_true(isinf(exponential(1e300)) && exponential(-1e300) == 0);
    assert_true(isfinite(exponential(LARGEST)) && isinf(exponential(nextafter(LARGEST, INFINITY))));
    assert_true(exponential(SMALLEST) > 0 && exponential(nextafter(SMALLEST, -INFINITY)) == 0);
    assert_true(exponential(DBL_MIN) == 1 && exponential(-DBL_TRUE_MIN) == 1);
}

static void the_quick_one_has_the_same_bits(void **state) {
    (void)state;
    struct hostile source = hostile_seed(12);
    for (int i = 0; i < ROUNDS; i++) {
        double x = hostile_between(&source, -700, 700);
        assert_true(exponential_near(x) == exponential(x));
    }
}

/* The hash was made by gcc 12 with -O2; every compiler, option and vector must come to it. */
static void its_bits_are_the_same_everywhere(void **state) {
    (void)state;
    struct hostile source = hostile_seed(13);
    uint64_t hash = BITS_SEED;
    for (int i = 0; i < ROUNDS; i++)
        hash = bits_add(hash, exponential(hostile_between(&source, -750, 712)));
    assert_int_equal(hash, UINT64_C(0x210902725a89f2a6));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_within_one_unit_of_the_last_place),
        cmocka_unit_test(known_powers_come_out),
        cmocka_unit_test(its_ends_are_those_of_a_double),
        cmocka_unit_test(the_quick_one_has_the_same_bits),
        cmocka_unit_test(its_bits_are_the_same_everywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
