#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "core/balance/soil.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

static struct soil loam(void) {
    struct soil soil;
    assert_int_equal(soil_from_water(0.27, 0.12, 0.10, &soil), STATUS_OK);
    return soil;
}

static struct soil three_layers(void) {
    struct soil soil = loam();
    soil.layer_count = 3;
    soil.layer[0] = (struct soil_layer){0.3, 0.27, 0.12};
    soil.layer[1] = (struct soil_layer){0.7, 0.34, 0.20};
    soil.layer[2] = (struct soil_layer){1.0, 0.15, 0.06};
    return soil;
}

static void every_texture_has_a_name_that_leads_back(void **state) {
    (void)state;
    for (int texture = 0; texture < TEXTURE_COUNT; texture++)
        assert_int_equal(soil_texture_of(soil_texture_name((enum soil_texture)texture)), texture);
    assert_null(soil_texture_name(TEXTURE_COUNT));
    assert_null(soil_texture_name((enum soil_texture) - 1));
    assert_int_equal(soil_texture_of("Sand"), TEXTURE_COUNT);
    assert_int_equal(soil_texture_of(""), TEXTURE_COUNT);
}

static void fractions_that_are_no_whole_are_refused(void **state) {
    (void)state;
    enum soil_texture texture = TEXTURE_COUNT;
    struct soil_hydraulic water;
    assert_int_equal(soil_texture_class(-0.1, 20, &texture), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_texture_class(20, -0.1, &texture), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_texture_class(60, 40.1, &texture), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_texture_class(NAN, 20, &texture), STATUS_NOT_FINITE);
    assert_int_equal(soil_texture_class(20, INFINITY, &texture), STATUS_NOT_FINITE);
    assert_int_equal(texture, TEXTURE_COUNT);
    assert_int_equal(soil_saxton_rawls(60, 40.1, 2, &water), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_saxton_rawls(20, 60.1, 2, &water), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_saxton_rawls(20, 20, 8.1, &water), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_saxton_rawls(20, 20, -0.1, &water), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_saxton_rawls(20, 20, NAN, &water), STATUS_NOT_FINITE);
}

static void pure_sand_has_no_wilting_point_in_saxton_and_rawls(void **state) {
    (void)state;
    struct soil_hydraulic water = {.conductivity_mm_h = -1};
    /* Eq. 1 by hand: t = -0.024 + 0.031 = 0.007; 1.14 t - 0.02 = -0.012. */
    assert_int_equal(soil_saxton_rawls(100, 0, 0, &water), STATUS_OUT_OF_RANGE);
    assert_true(water.conductivity_mm_h == -1);
}

static void saxton_and_rawls_stay_possible_over_their_whole_range(void **state) {
    (void)state;
    int refused = 0, points = 0;
    for (int organic = 0; organic <= 16; organic++)
        for (int sand = 0; sand <= 100; sand += 2)
            for (int clay = 0; clay <= 60 && sand + clay <= 100; clay += 2) {
                struct soil_hydraulic water;
                points++;
                if (soil_saxton_rawls(sand, clay, organic / 2.0, &water) != STATUS_OK) {
                    refused++;
                    continue;
                }
                assert_true(water.wilting_point_m3_m3 > 0);
                assert_true(water.field_capacity_m3_m3 > water.wilting_point_m3_m3);
                assert_true(water.saturation_m3_m3 > water.field_capacity_m3_m3);
                assert_true(water.saturation_m3_m3 < 1);
                assert_true(water.conductivity_mm_h > 0 && water.conductivity_mm_h < 1930);
            }
    /* Only the very edge of the range is lost. */
    assert_true(refused > 0 && refused < points / 200);
}

static void a_soil_from_water_passes_its_check(void **state) {
    (void)state;
    struct soil soil = loam();
    assert_int_equal(soil_check(&soil), STATUS_OK);
    assert_int_equal(soil.layer_count, 1);
    /* Eq. 73: 1000 (0.27 - 0.06) 0.10. */
    assert_near(soil.tew_mm, 21, 1e-12);
    /* soil_rew_mm(): 8 + 5/3. */
    assert_near(soil.rew_mm, 8 + 5.0 / 3, 1e-12);
    assert_true(isnan(soil.curve_number) && isnan(soil.intake_mm_h));
}

static void rew_follows_its_rule_without_a_jump_and_stays_below_tew(void **state) {
    (void)state;
    /* TEW of 0.10 m, mm, is 100 (FC - WP/2); WP 0 makes it 100 FC. */
    assert_near(soil_rew_mm(0.10, 0), 5, 1e-12);
    assert_near(soil_rew_mm(0.16, 0), 8, 1e-12);
    assert_near(soil_rew_mm(0.19, 0), 9, 1e-12);
    assert_near(soil_rew_mm(0.22, 0), 10, 1e-12);
    assert_near(soil_rew_mm(0.60, 0), 10, 1e-12);
    assert_true(isnan(soil_rew_mm(NAN, 0)));
    double before = 0;
    for (double fc = 0.001; fc < 0.75; fc += 0.001) {
        double rew = soil_rew_mm(fc, 0);
        assert_true(rew >= before && rew - before < 0.06);
        assert_true(rew < soil_tew_mm(fc, 0, 0.10));
        before = rew;
    }
}

static void a_soil_outside_its_ranges_is_refused(void **state) {
    (void)state;
    struct soil soil;
    assert_int_equal(soil_from_water(0.12, 0.12, 0.10, &soil), STATUS_ORDER);
    assert_int_equal(soil_from_water(0.10, 0.12, 0.10, &soil), STATUS_ORDER);
    assert_int_equal(soil_from_water(0.75, 0.12, 0.10, &soil), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_from_water(0.30, -0.01, 0.10, &soil), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_from_water(0.30, 0.12, 0.09, &soil), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_from_water(0.30, 0.12, 0.16, &soil), STATUS_OUT_OF_RANGE);
    assert_int_equal(soil_from_water(NAN, 0.12, 0.10, &soil), STATUS_NOT_FINITE);
    assert_int_equal(soil_from_water(0.30, INFINITY, 0.10, &soil), STATUS_NOT_FINITE);
    assert_int_equal(soil_from_water(0.30, 0.12, NAN, &soil), STATUS_NOT_FINITE);
}

struct damage {
    size_t offset; /* of a double in struct soil */
    double value;
    enum status status;
};

static void each_member_is_checked(void **state) {
    (void)state;
    const size_t second = offsetof(struct soil, layer) + sizeof(struct soil_layer);
    const struct damage damage[] = {
        {offsetof(struct soil, rew_mm), NAN, STATUS_NOT_FINITE},
        {offsetof(struct soil, rew_mm), -1, STATUS_OUT_OF_RANGE},
        {offsetof(struct soil, rew_mm), 21.1, STATUS_ORDER},
        {offsetof(struct soil, tew_mm), INFINITY, STATUS_NOT_FINITE},
        {offsetof(struct soil, tew_mm), 113, STATUS_OUT_OF_RANGE},
        {offsetof(struct soil, evaporation_depth_m), NAN, STATUS_NOT_FINITE},
        {offsetof(struct soil, evaporation_depth_m), 0.09, STATUS_OUT_OF_RANGE},
        {offsetof(struct soil, evaporation_depth_m), 0.16, STATUS_OUT_OF_RANGE},
        {offsetof(struct soil, curve_number), 78, STATUS_OK},
        {offsetof(struct soil, curve_number), INFINITY, STATUS_NOT_FINITE},
        {offsetof(struct soil, curve_number), 0.9, STATUS_OUT_OF_RANGE},
        {offsetof(struct soil, curve_number), 100.1, STATUS_OUT_OF_RANGE},
        {offsetof(struct soil, intake_mm_h), 12, STATUS_OK},
        {offsetof(struct soil, intake_mm_h), INFINITY, STATUS_NOT_FINITE},
        {offsetof(struct soil, intake_mm_h), 0, STATUS_OUT_OF_RANGE},
        {second + offsetof(struct soil_layer, bottom_m), NAN, STATUS_NOT_FINITE},
        {second + offsetof(struct soil_layer, bottom_m), -1, STATUS_OUT_OF_RANGE},
        {second + offsetof(struct soil_layer, bottom_m), 20.1, STATUS_OUT_OF_RANGE},
        {second + offsetof(struct soil_layer, bottom_m), 0.3, STATUS_ORDER},
        {second + offsetof(struct soil_layer, bottom_m), 1.0, STATUS_ORDER},
        {second + offsetof(struct soil_layer, field_capacity_m3_m3), NAN, STATUS_NOT_FINITE},
        {second + offsetof(struct soil_layer, field_capacity_m3_m3), 0.20, STATUS_ORDER},
        {second + offsetof(struct soil_layer, wilting_point_m3_m3), NAN, STATUS_NOT_FINITE},
        {second + offsetof(struct soil_layer, wilting_point_m3_m3), -0.1, STATUS_OUT_OF_RANGE},
    };
    for (size_t i = 0; i < sizeof damage / sizeof damage[0]; i++) {
        struct soil soil = three_layers();
        assert_int_equal(soil_check(&soil), STATUS_OK);
        memcpy((char *)&soil + damage[i].offset, &damage[i].value, sizeof damage[i].value);
        assert_int_equal(soil_check(&soil), damage[i].status);
    }
    struct soil soil = three_layers();
    soil.layer_count = 0;
    assert_int_equal(soil_check(&soil), STATUS_OUT_OF_RANGE);
    assert_true(isnan(soil_available_between_mm(&soil, 0, 1)));
    soil.layer_count = SOIL_LAYERS_MAX + 1;
    assert_int_equal(soil_check(&soil), STATUS_OUT_OF_RANGE);
    assert_true(isnan(soil_available_between_mm(&soil, 0, 1)));
}

static void layers_hold_what_eq_82_says(void **state) {
    (void)state;
    struct soil soil = three_layers();
    /* By hand: 0.3 x 150 + 0.4 x 140 + 0.5 x 90 mm, the last layer going on below its bottom. */
    assert_near(soil_available_between_mm(&soil, 0, 1.2), 45 + 56 + 45, 1e-10);
    assert_near(soil_available_between_mm(&soil, 0.5, 0.6), 14, 1e-10);
    assert_near(soil_available_between_mm(&soil, 1.5, 2.0), 45, 1e-10);
    assert_true(soil_available_between_mm(&soil, 0.4, 0.4) == 0);
    assert_near(soil_field_capacity_to_mm(&soil, 0.5), 0.3 * 270 + 0.2 * 340, 1e-10);
    assert_near(soil_wilting_point_to_mm(&soil, 0.5), 0.3 * 120 + 0.2 * 200, 1e-10);
}

static void depths_outside_the_soil_give_no_number(void **state) {
    (void)state;
    struct soil soil = three_layers();
    assert_true(isnan(soil_available_between_mm(&soil, -0.1, 1)));
    assert_true(isnan(soil_available_between_mm(&soil, 0.5, 0.4)));
    assert_true(isnan(soil_available_between_mm(&soil, 0, 20.1)));
    assert_true(isnan(soil_available_between_mm(&soil, NAN, 1)));
    assert_true(isnan(soil_available_between_mm(&soil, 0, NAN)));
    assert_true(isnan(soil_field_capacity_to_mm(&soil, INFINITY)));
    assert_true(isnan(soil_wilting_point_to_mm(&soil, -1)));
}

static void a_growing_root_zone_gains_exactly_the_soil_it_reaches(void **state) {
    (void)state;
    struct hostile source = hostile_seed(82);
    struct soil soil = three_layers();
    for (int i = 0; i < 2000; i++) {
        double a = hostile_between(&source, 0, 2), b = hostile_between(&source, a, 2);
        double whole = soil_available_between_mm(&soil, 0, b);
        /* Rounding only: the sums are of a few terms below 1000 mm. */
        assert_near(soil_available_between_mm(&soil, 0, a) + soil_available_between_mm(&soil, a, b), whole,
                    1e-9);
        assert_true(whole >= soil_available_between_mm(&soil, 0, a));
        assert_near(soil_field_capacity_to_mm(&soil, b) - soil_wilting_point_to_mm(&soil, b), whole, 1e-9);
    }
}

static void splitting_a_layer_changes_nothing(void **state) {
    (void)state;
    struct soil one = loam(), two = loam();
    two.layer_count = 2;
    two.layer[1] = two.layer[0];
    two.layer[0].bottom_m = 0.37;
    for (double z = 0; z < 2; z += 0.01)
        assert_near(soil_available_between_mm(&two, 0, z), soil_available_between_mm(&one, 0, z), 1e-10);
}

static void no_number_whatever_breaks_a_soil_function(void **state) {
    (void)state;
    struct hostile source = hostile_seed(2006);
    int good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        enum soil_texture texture = TEXTURE_COUNT;
        struct soil_hydraulic water = {.saturation_m3_m3 = -1};
        double sand = hostile_number(&source, 0, 60), clay = hostile_number(&source, 0, 40);
        enum status status = soil_texture_class(sand, clay, &texture);
        assert_true((status == STATUS_OK) == (texture != TEXTURE_COUNT));
        status = soil_saxton_rawls(sand, clay, hostile_number(&source, 0, 8), &water);
        assert_true((status == STATUS_OK) == (water.saturation_m3_m3 != -1));
        assert_true(status != STATUS_OK || isfinite(water.conductivity_mm_h));

        struct soil soil = {.layer_count = -7};
        status = soil_from_water(hostile_number(&source, 0.1, 0.5), hostile_number(&source, 0, 0.2),
                                 hostile_number(&source, 0.10, 0.15), &soil);
        assert_true((status == STATUS_OK) == (soil.layer_count == 1));
        double top = hostile_number(&source, 0, 1), bottom = hostile_number(&source, 0.5, 2);
        double available = soil_available_between_mm(&soil, top, bottom);
        assert_true(isnan(available) || (status == STATUS_OK && available >= 0 && available <= 15000));
        good += !isnan(available);
    }
    assert_true(good > HOSTILE_ROUNDS / 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_texture_has_a_name_that_leads_back),
        cmocka_unit_test(fractions_that_are_no_whole_are_refused),
        cmocka_unit_test(pure_sand_has_no_wilting_point_in_saxton_and_rawls),
        cmocka_unit_test(saxton_and_rawls_stay_possible_over_their_whole_range),
        cmocka_unit_test(a_soil_from_water_passes_its_check),
        cmocka_unit_test(rew_follows_its_rule_without_a_jump_and_stays_below_tew),
        cmocka_unit_test(a_soil_outside_its_ranges_is_refused),
        cmocka_unit_test(each_member_is_checked),
        cmocka_unit_test(layers_hold_what_eq_82_says),
        cmocka_unit_test(depths_outside_the_soil_give_no_number),
        cmocka_unit_test(a_growing_root_zone_gains_exactly_the_soil_it_reaches),
        cmocka_unit_test(splitting_a_layer_changes_nothing),
        cmocka_unit_test(no_number_whatever_breaks_a_soil_function),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
