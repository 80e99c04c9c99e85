#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <ctype.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "core/balance/soil.h"
#include "tests/support/near.h"
#include "tests/support/table.h"

/* The texture rules are written as conditions on sand, silt and clay with "and", "or", <, <=, >, >=, + and *.
 * They are read as they stand in the fixture, so that the function is held against the rules and not against
 * a second copy of itself. */
struct rule {
    const char *at;
    double sand, silt, clay;
};

static bool take(struct rule *rule, const char *word) {
    while (*rule->at == ' ')
        rule->at++;
    if (strncmp(rule->at, word, strlen(word)) != 0)
        return false;
    rule->at += strlen(word);
    return true;
}

static double factor(struct rule *rule) {
    if (take(rule, "sand"))
        return rule->sand;
    if (take(rule, "silt"))
        return rule->silt;
    if (take(rule, "clay"))
        return rule->clay;
    char *end = NULL;
    double value = strtod(rule->at, &end);
    assert_true(end != rule->at);
    rule->at = end;
    return value;
}

static double product(struct rule *rule) {
    double value = factor(rule);
    while (take(rule, "*"))
        value *= factor(rule);
    return value;
}

static double sum(struct rule *rule) {
    double value = product(rule);
    while (take(rule, "+"))
        value += product(rule);
    return value;
}

static bool comparison(struct rule *rule) {
    double left = sum(rule);
    if (take(rule, "<="))
        return left <= sum(rule);
    if (take(rule, ">="))
        return left >= sum(rule);
    if (take(rule, "<"))
        return left < sum(rule);
    assert_true(take(rule, ">"));
    return left > sum(rule);
}

static bool any_of(struct rule *rule);

static bool condition(struct rule *rule) {
    if (!take(rule, "("))
        return comparison(rule);
    bool holds = any_of(rule);
    assert_true(take(rule, ")"));
    return holds;
}

static bool all_of(struct rule *rule) {
    bool holds = condition(rule);
    while (take(rule, "and"))
        holds = condition(rule) && holds;
    return holds;
}

static bool any_of(struct rule *rule) {
    bool holds = all_of(rule);
    while (take(rule, "or"))
        holds = all_of(rule) || holds;
    return holds;
}

/* "Loamy sand" of a table is "loamy sand" of the program. */
static enum soil_texture texture_of(const char *name) {
    char lower[32];
    assert_true(strlen(name) < sizeof lower);
    size_t i = 0;
    for (; name[i] != '\0'; i++)
        lower[i] = (char)tolower((unsigned char)name[i]);
    lower[i] = '\0';
    return soil_texture_of(lower);
}

/* USDA texture rules, whole numbers: exact. */
static void each_point_of_the_triangle_is_in_the_one_class_whose_rule_holds(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/usda_texture_rules.csv");
    assert_int_equal(table_rows(table), TEXTURE_COUNT);
    int points = 0;
    for (int sand = 0; sand <= 100; sand++)
        for (int clay = 0; sand + clay <= 100; clay++) {
            enum soil_texture got = TEXTURE_COUNT, want = TEXTURE_COUNT;
            int holding = 0;
            for (int row = 0; row < table_rows(table); row++) {
                struct rule rule = {table_text(table, row, "rule_percent"), sand, 100 - sand - clay, clay};
                bool holds = any_of(&rule);
                assert_int_equal(*rule.at, '\0');
                if (holds)
                    want = texture_of(table_text(table, row, "class"));
                holding += holds;
            }
            assert_int_equal(holding, 1);
            assert_int_equal(soil_texture_class(sand, clay, &got), STATUS_OK);
            assert_int_equal(got, want);
            points++;
        }
    print_message("# texture triangle: %d points, each in one class\n", points);
    table_free(table);
}

/* Saxton and Rawls 2006, Table 3: contents printed in whole per cent, Ks in 0.1 mm/h. Half a unit of the last
 * digit, and 0.02 % for field capacity, where silt (30.5 before rounding) is printed 30 and silt loam 31. */
static void saxton_and_rawls_table_3_is_reproduced(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/saxton_rawls_2006_table3.csv");
    assert_int_equal(table_rows(table), TEXTURE_COUNT);
    for (int row = 0; row < table_rows(table); row++) {
        double sand = table_number(table, row, "sand_pct"), clay = table_number(table, row, "clay_pct");
        struct soil_hydraulic water;
        assert_int_equal(soil_saxton_rawls(sand, clay, table_number(table, row, "OM_pct"), &water),
                         STATUS_OK);
        assert_near(100 * water.wilting_point_m3_m3, table_number(table, row, "WP_vol_pct_printed"), 0.5);
        assert_near(100 * water.field_capacity_m3_m3, table_number(table, row, "FC_vol_pct_printed"), 0.52);
        assert_near(100 * water.saturation_m3_m3, table_number(table, row, "Sat_vol_pct_printed"), 0.5);
        assert_near(water.conductivity_mm_h, table_number(table, row, "Ks_mm_h_printed"), 0.05);
        /* Recomputed from the printed equations, three decimals. */
        assert_near(100 * water.wilting_point_m3_m3, table_number(table, row, "WP_recomputed"), 0.0006);
        assert_near(100 * water.field_capacity_m3_m3, table_number(table, row, "FC_recomputed"), 0.0006);
        assert_near(100 * water.saturation_m3_m3, table_number(table, row, "Sat_recomputed"), 0.0006);
        assert_near(water.conductivity_mm_h, table_number(table, row, "Ks_recomputed"), 0.0006);
    }
    table_free(table);
}

static void saxton_and_rawls_textures_fall_in_their_classes(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/saxton_rawls_2006_table3.csv");
    for (int row = 0; row < table_rows(table); row++) {
        enum soil_texture texture = TEXTURE_COUNT;
        double sand = table_number(table, row, "sand_pct"), clay = table_number(table, row, "clay_pct");
        assert_int_equal(soil_texture_class(sand, clay, &texture), STATUS_OK);
        assert_int_equal(texture, texture_of(table_text(table, row, "texture")));
    }
    table_free(table);
}

/* FAO-56 Table 19: the REW rule lies in the row's range over the row's TEW range (Ze 0.10 m). */
static void estimated_rew_lies_in_the_range_of_table_19(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/fao56_table19_soil_water.csv");
    for (int row = 0; row < table_rows(table); row++) {
        double low = table_number(table, row, "TEW_low_mm_Ze0.10");
        double high = table_number(table, row, "TEW_high_mm_Ze0.10");
        for (int step = 0; step <= 20; step++) {
            /* With WP 0, TEW of 0.10 m is 100 FC. */
            double rew = soil_rew_mm((low + (high - low) * step / 20) / 100, 0);
            assert_true(rew >= table_number(table, row, "REW_low_mm"));
            assert_true(rew <= table_number(table, row, "REW_high_mm"));
        }
    }
    table_free(table);
}

/* FAO-56 Table 19 and eq. 73: the middle of a row's contents gives a TEW within the row's printed range (1
 * mm, as both are rounded) and a soil that passes its check. */
static void soils_of_table_19_have_its_tew(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/fao56_table19_soil_water.csv");
    assert_int_equal(table_rows(table), 9);
    for (int row = 0; row < table_rows(table); row++) {
        double fc = (table_number(table, row, "FC_low_m3m3") + table_number(table, row, "FC_high_m3m3")) / 2;
        double wp = (table_number(table, row, "WP_low_m3m3") + table_number(table, row, "WP_high_m3m3")) / 2;
        struct soil soil;
        assert_int_equal(soil_from_water(fc, wp, 0.10, &soil), STATUS_OK);
        assert_true(soil.tew_mm >= table_number(table, row, "TEW_low_mm_Ze0.10") - 1);
        assert_true(soil.tew_mm <= table_number(table, row, "TEW_high_mm_Ze0.10") + 1);
        assert_true(soil.rew_mm >= table_number(table, row, "REW_low_mm"));
        assert_true(soil.rew_mm <= table_number(table, row, "REW_high_mm"));
    }
    table_free(table);
}

/* FAO-56 Example 36: eq. 82 and RAW = p TAW (eq. 83), printed in whole mm: half a millimetre. */
static void example_36_total_and_readily_available_water(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/fao56_example36.csv");
    assert_int_equal(table_rows(table), 9);
    for (int row = 0; row < table_rows(table); row++) {
        struct soil soil;
        assert_int_equal(soil_from_water(table_number(table, row, "FC_m3m3"),
                                         table_number(table, row, "WP_m3m3"), 0.10, &soil),
                         STATUS_OK);
        double taw = soil_available_between_mm(&soil, 0, table_number(table, row, "root_m"));
        assert_near(taw, table_number(table, row, "TAW_mm_printed"), 0.5);
        assert_near(table_number(table, row, "p") * taw, table_number(table, row, "RAW_mm_printed"), 0.5);
    }
    table_free(table);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_point_of_the_triangle_is_in_the_one_class_whose_rule_holds),
        cmocka_unit_test(saxton_and_rawls_table_3_is_reproduced),
        cmocka_unit_test(saxton_and_rawls_textures_fall_in_their_classes),
        cmocka_unit_test(estimated_rew_lies_in_the_range_of_table_19),
        cmocka_unit_test(soils_of_table_19_have_its_tew),
        cmocka_unit_test(example_36_total_and_readily_available_water),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
