/* Numbers as text, held against the C library's own printf and strtod. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/view/number.h"

static uint64_t seed = 88172645463325252U;

static uint64_t next_random(void) { /* xorshift64, from memory */
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return seed;
}

static void check_fixed(double value) {
    char own[NUMBER_SIZE], printed[NUMBER_SIZE];
    for (int decimals = 0; decimals <= 4; decimals++) {
        (void)snprintf(printed, sizeof printed, "%.*f", decimals, value);
        assert_string_equal(number_fixed(value, decimals, own), printed);
    }
}

static void fixed_decimals_are_what_printf_prints(void **state) {
    (void)state;
    const double hard[] = {0,     -0.0,   0.5,    1.5,      2.5,         0.05,     0.15, 0.25,
                           0.125, 0.0005, 1e-300, 999999.5, 999999.9999, 1e6,      1e15, 1e300,
                           -1,    -0.4,   -2.5,   NAN,      INFINITY,    -INFINITY};
    for (size_t i = 0; i < sizeof hard / sizeof *hard; i++)
        check_fixed(hard[i]);
    for (int i = 0; i < 200000; i++) {
        double value = (double)(next_random() >> 11) / 9007199254740992.0;
        check_fixed(value * (i % 2 == 0 ? 100 : 1e6));
        check_fixed((double)(next_random() % 4000000) / 2000); /* halves of every place among them */
    }
}

/* Digits of the shortest "%.*e" that reads back as the value, tried one after the other. */
static int fewest_digits(double value) {
    char printed[NUMBER_SIZE];
    for (int precision = 0; precision < 17; precision++) {
        (void)snprintf(printed, sizeof printed, "%.*e", precision, value);
        if (strtod(printed, NULL) == value)
            return precision + 1;
    }
    return 17;
}

static int count_digits(const char *text) {
    int count = 0, zeros = 0;
    for (const char *c = text; *c != '\0' && *c != 'e'; c++) {
        bool digit = *c >= '0' && *c <= '9';
        if (digit && (*c != '0' || count > 0)) {
            count++;
            zeros = *c == '0' ? zeros + 1 : 0;
        }
    }
    return count - zeros;
}

static void check_shortest(double value) {
    struct text text;
    text_init(&text, 0);
    number_add_shortest(&text, value);
    assert_true(strtod(text_string(&text), NULL) == value);
    assert_int_equal(count_digits(text_string(&text)), fewest_digits(value));
    text_free(&text);
}

static void the_shortest_digits_read_back_and_none_shorter_do(void **state) {
    (void)state;
    const double hard[] = {1,
                           0.1,
                           0.3,
                           1.0 / 3,
                           5e-324,
                           2.2250738585072014e-308,
                           1.1e-310,
                           9007199254740993.0,
                           1e23,
                           1.5e300,
                           0x1p-30,
                           0x1p60,
                           0x1p-1022,
                           0x1p-1074,
                           123456789012345.6};
    for (size_t i = 0; i < sizeof hard / sizeof *hard; i++)
        check_shortest(hard[i]);
    for (int i = 0; i < 20000; i++) {
        uint64_t bits = next_random() & 0x7fffffffffffffffU;
        double value;
        memcpy(&value, &bits, sizeof value);
        if (isfinite(value) && value > 0)
            check_shortest(value);
        check_shortest((double)(1 + next_random() % 1000000) / 1000);
        check_shortest(ldexp(1, (int)(next_random() % 2000) - 1000));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fixed_decimals_are_what_printf_prints),
        cmocka_unit_test(the_shortest_digits_read_back_and_none_shorter_do),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
