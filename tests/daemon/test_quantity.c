/* Quantities with units. Factors of units are held against their sources in the tests of core/base/units;
 * here they are only used: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 acre = 4046.8564224 m2, 1 US gallon
 * = 3.785411784 L (NIST SP 811, Appendix B). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/quantity.h"
#include "support/hostile.h"
#include "support/near.h"

static double value_of(const char *text, enum quantity_kind kind) {
    struct quantity quantity;
    char expected[QUANTITY_WORDS_SIZE];
    if (quantity_read(text, kind, &quantity, expected) != STATUS_OK)
        fail_msg("%s was refused: %s", text, expected);
    return quantity.value;
}

/* The words of a refusal. */
static const char *refusal_of(const char *text, enum quantity_kind kind) {
    static char expected[QUANTITY_WORDS_SIZE];
    struct quantity quantity = {-1, NULL};
    if (quantity_read(text, kind, &quantity, expected) != STATUS_REFUSED)
        fail_msg("\"%s\" was read as %g", text, quantity.value);
    assert_true(quantity.value == -1);
    return expected;
}

static void units_are_converted_once_and_right(void **state) {
    (void)state;
    assert_near(value_of("0.9 in", QUANTITY_DEPTH), 22.86, 1e-12);
    assert_near(value_of("130 ac", QUANTITY_AREA), 526091.334912, 1e-6);
    assert_near(value_of("800 gal/min", QUANTITY_FLOW), 181.699765632, 1e-9);
    assert_near(value_of("4 ft", QUANTITY_LENGTH), 1.2192, 1e-12);
    assert_near(value_of("50 F", QUANTITY_TEMPERATURE), 10, 1e-12);
    assert_near(value_of("3.6 F", QUANTITY_DIFFERENCE), 2, 1e-12);
    assert_near(value_of("1 ML", QUANTITY_VOLUME), 1000, 1e-9);
    assert_near(value_of("0.5 in/h", QUANTITY_RATE), 12.7, 1e-12);
    assert_near(value_of("90 min", QUANTITY_HOURS), 1.5, 1e-12);
    assert_near(value_of("150 mm/m", QUANTITY_SHARE), 0.15, 1e-12);
}

static void what_is_for_a_smaller_unit_is_more_for_a_larger_one(void **state) {
    (void)state;
    assert_near(value_of("200 /ac", QUANTITY_PER_AREA), 494.210762934, 1e-6); /* 1 ha = 2.4710538147 ac */
    assert_near(value_of("12/ac-in", QUANTITY_PER_VOLUME), 0.1167426999, 1e-9);
    assert_true(value_of("0.1 /ha", QUANTITY_PER_AREA) == 0.1 && value_of("0.1", QUANTITY_PER_AREA) == 0.1);
    assert_near(quantity_in(494.210762934, QUANTITY_PER_AREA, units_find("ac")), 200, 1e-6);
    assert_string_equal(refusal_of("200 ac", QUANTITY_PER_AREA),
                        "an amount per hectare, or with its area, as \"40 /ac\"");
    assert_string_equal(refusal_of("12 /ac", QUANTITY_PER_VOLUME),
                        "an amount per m3, or with its volume, as \"12 /ac-in\"");
    char words[QUANTITY_WORDS_SIZE];
    struct quantity quantity;
    const struct quantity_limits least = {1, INFINITY, false};
    assert_int_equal(quantity_read("0.1 /ac", QUANTITY_PER_AREA, &quantity, words), STATUS_OK);
    assert_int_equal(quantity_within(&quantity, QUANTITY_PER_AREA, &least, words), STATUS_REFUSED);
    assert_string_equal(words, "0.404686 /ac or more");
}

static void the_unit_of_core_is_taken_bit_for_bit(void **state) {
    (void)state;
    assert_true(value_of("0.1 m", QUANTITY_LENGTH) == 0.1);
    assert_true(value_of("22.123456789012345 mm", QUANTITY_DEPTH) == 22.123456789012345);
    assert_true(value_of("1e-300 m2", QUANTITY_AREA) == 1e-300);
    assert_true(value_of("62 %", QUANTITY_PERCENT) == 62);
}

static void a_share_is_per_cent_or_a_bare_number(void **state) {
    (void)state;
    assert_true(value_of("85 %", QUANTITY_SHARE) == 0.85);
    assert_true(value_of("85%", QUANTITY_SHARE) == 0.85);
    assert_true(value_of("0.85", QUANTITY_SHARE) == 0.85);
    assert_near(value_of("0.62", QUANTITY_PERCENT), 62, 1e-12);
}

static void blanks_do_not_matter_even_those_of_word_processors(void **state) {
    (void)state;
    assert_true(value_of("  25mm ", QUANTITY_DEPTH) == 25);
    assert_true(value_of("25\t mm", QUANTITY_DEPTH) == 25);
    assert_true(value_of("25\xC2\xA0mm", QUANTITY_DEPTH) == 25);
    assert_true(value_of("25\xE2\x80\xAFmm", QUANTITY_DEPTH) == 25);
    assert_true(value_of("+2.5e1 mm", QUANTITY_DEPTH) == 25);
    assert_true(value_of(".5 mm", QUANTITY_DEPTH) == 0.5);
}

static void a_bare_number_is_refused_where_a_unit_is_needed(void **state) {
    (void)state;
    struct quantity quantity;
    char expected[QUANTITY_WORDS_SIZE];
    assert_int_equal(quantity_of_number(52, QUANTITY_AREA, &quantity, expected), STATUS_REFUSED);
    assert_string_equal(expected, "an area with its unit, as \"52 ha\"");
    assert_string_equal(refusal_of("52", QUANTITY_AREA), "an area with its unit, as \"52 ha\"");
    assert_int_equal(quantity_of_number(14, QUANTITY_HOURS, &quantity, expected), STATUS_OK);
    assert_true(quantity.value == 14 && quantity.unit == NULL);
}

static void what_is_no_quantity_is_refused_with_what_was_expected(void **state) {
    (void)state;
    static const char *const wrong[] = {"52 hx",  "52 mm",   "ha",     "",       "   ",     "- 3 ha",
                                        "--3 ha", "3 ha ha", "NaN ha", "inf ha", "0x10 ha", ". ha",
                                        "1e ha2", "3 %",     "\xFF",   "3 \xFF"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_string_equal(refusal_of(wrong[i], QUANTITY_AREA), "an area with its unit, as \"52 ha\"");
}

static void a_decimal_comma_is_refused_and_explained(void **state) {
    (void)state;
    assert_non_null(strstr(refusal_of("1,5 ha", QUANTITY_AREA), "without a comma"));
    assert_non_null(strstr(refusal_of("1,200 m3", QUANTITY_VOLUME), "1500 for fifteen hundred"));
}

static void what_a_double_cannot_hold_is_refused(void **state) {
    (void)state;
    assert_string_equal(refusal_of("1e999 ha", QUANTITY_AREA), "a number below 1.8e308");
    assert_string_equal(refusal_of("1e308 km2", QUANTITY_AREA), "a number below 1.8e308");
    char digits[200];
    memset(digits, '1', 199);
    digits[199] = '\0';
    (void)refusal_of(digits, QUANTITY_NUMBER);
}

static void limits_are_told_in_the_unit_that_was_written(void **state) {
    (void)state;
    char words[QUANTITY_WORDS_SIZE];
    struct quantity quantity;
    const struct quantity_limits above_zero = {0, INFINITY, true}, depth = {0.1, 0.15, false},
                                 share = {0.2, 1, false}, mixture = {0, 60, false},
                                 more = {0, INFINITY, false}, open = {0, 2000, true};
    assert_int_equal(quantity_read("-3 ha", QUANTITY_AREA, &quantity, words), STATUS_OK);
    assert_int_equal(quantity_within(&quantity, QUANTITY_AREA, &above_zero, words), STATUS_REFUSED);
    assert_string_equal(words, "more than 0 ha");
    (void)quantity_read("10 in", QUANTITY_LENGTH, &quantity, words);
    (void)quantity_within(&quantity, QUANTITY_LENGTH, &depth, words);
    assert_string_equal(words, "3.93701 in to 5.90551 in");
    (void)quantity_of_number(85, QUANTITY_SHARE, &quantity, words);
    (void)quantity_within(&quantity, QUANTITY_SHARE, &share, words);
    assert_string_equal(words, "0.2 to 1, or per cent as \"85 %\"");
    (void)quantity_read("61 %", QUANTITY_PERCENT, &quantity, words);
    (void)quantity_within(&quantity, QUANTITY_PERCENT, &mixture, words);
    assert_string_equal(words, "0 % to 60 %");
    (void)quantity_of_number(-1, QUANTITY_NUMBER, &quantity, words);
    (void)quantity_within(&quantity, QUANTITY_NUMBER, &more, words);
    assert_string_equal(words, "0 or more");
    (void)quantity_read("0 mm", QUANTITY_DEPTH, &quantity, words);
    (void)quantity_within(&quantity, QUANTITY_DEPTH, &open, words);
    assert_string_equal(words, "more than 0 mm and at most 2000 mm");
}

static void limits_themselves_are_inside(void **state) {
    (void)state;
    char words[QUANTITY_WORDS_SIZE];
    const struct quantity_limits closed = {1, 2, false}, above = {1, 2, true};
    const struct quantity low = {1, NULL}, high = {2, NULL}, not_a_number = {NAN, NULL};
    assert_int_equal(quantity_within(&low, QUANTITY_NUMBER, &closed, words), STATUS_OK);
    assert_int_equal(quantity_within(&high, QUANTITY_NUMBER, &closed, words), STATUS_OK);
    assert_int_equal(quantity_within(&low, QUANTITY_NUMBER, &above, words), STATUS_REFUSED);
    assert_int_equal(quantity_within(&not_a_number, QUANTITY_NUMBER, &closed, words), STATUS_REFUSED);
}

static void a_written_value_reads_back_bit_for_bit(void **state) {
    (void)state;
    struct hostile source = hostile_seed(7);
    char words[QUANTITY_WORDS_SIZE];
    bool bare;
    for (int round = 0; round < HOSTILE_ROUNDS; round++) {
        enum quantity_kind kind =
            (enum quantity_kind)(round % QUANTITY_PERCENT); /* that one is never written */
        double value = hostile_number(&source, -5, 5);
        if (!isfinite(value))
            continue;
        quantity_write(value, kind, words, &bare);
        assert_true(value_of(words, kind) == value);
        assert_true(bare == (strpbrk(words, " ") == NULL));
    }
}

static void a_written_value_is_short_where_it_can_be(void **state) {
    (void)state;
    char words[QUANTITY_WORDS_SIZE];
    bool bare;
    quantity_write(0.35 - 0.35 + 35 * 0.01, QUANTITY_SHARE, words, &bare);
    assert_string_equal(words, "35 %");
    quantity_write(0.1, QUANTITY_LENGTH, words, &bare);
    assert_string_equal(words, "0.1 m");
    quantity_write(520000, QUANTITY_AREA, words, &bare);
    assert_string_equal(words, "520000 m2");
    quantity_write(0.1 + 0.2, QUANTITY_NUMBER, words, &bare);
    assert_string_equal(words, "0.30000000000000004");
    assert_true(bare);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(units_are_converted_once_and_right),
        cmocka_unit_test(what_is_for_a_smaller_unit_is_more_for_a_larger_one),
        cmocka_unit_test(the_unit_of_core_is_taken_bit_for_bit),
        cmocka_unit_test(a_share_is_per_cent_or_a_bare_number),
        cmocka_unit_test(blanks_do_not_matter_even_those_of_word_processors),
        cmocka_unit_test(a_bare_number_is_refused_where_a_unit_is_needed),
        cmocka_unit_test(what_is_no_quantity_is_refused_with_what_was_expected),
        cmocka_unit_test(a_decimal_comma_is_refused_and_explained),
        cmocka_unit_test(what_a_double_cannot_hold_is_refused),
        cmocka_unit_test(limits_are_told_in_the_unit_that_was_written),
        cmocka_unit_test(limits_themselves_are_inside),
        cmocka_unit_test(a_written_value_reads_back_bit_for_bit),
        cmocka_unit_test(a_written_value_is_short_where_it_can_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
