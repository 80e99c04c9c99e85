/* Crop coefficients against the worked examples of FAO Irrigation and Drainage Paper 56 (1998), chapters 6
 * and 7 and Annex 7. Where nothing else is said the tolerance is half a unit of the last printed digit. Kc
 * ini of Examples 24, 25, 26 and of Box 15 was read off figures; the equations of the same figures (Annex 7)
 * are held against those readings within what a reader of a figure can see, 0.05. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/balance/crop.h"
#include "core/balance/surface.h"
#include "tests/support/near.h"

#define HALF_OF_2_DIGITS (0.005 + 1e-9) /* a half itself may have been rounded either way */
#define HALF_OF_1_DIGIT  (0.05 + 1e-9)
#define FIGURE_READING   0.05

static double term_of(double wind_m_s, double rh_min_pct, double height_m) {
    double term = NAN;
    assert_int_equal(crop_climate_term(wind_m_s, rh_min_pct, height_m, &term), STATUS_OK);
    return term;
}

static double kc_ini_figure(enum crop_wetting figure, double et0_mm, double interval_d) {
    double kc = NAN;
    assert_int_equal(crop_kc_ini_figure(figure, et0_mm, interval_d, &kc), STATUS_OK);
    return kc;
}

/* The dry bean of Box 15, Kimberly, Idaho, 1974, as observed, in a climate of 2.2 m/s and 30 %. */
static struct crop dry_bean(void) {
    return (struct crop){
        .stage_days = {25, 25, 30, 20},
        .kc_ini = 0.15,
        .kc_mid = 1.15,
        .kc_end = 0.35,
        .kcb_ini = 0.15,
        .kcb_mid = 1.10,
        .kcb_end = 0.25,
        .height_ini_m = 0.05,
        .height_max_m = 0.4,
        .root_ini_m = 0.2,
        .root_max_m = 0.8,
        .depletion_fraction = 0.45,
    };
}

static struct crop_day crop_on(struct crop bean, struct crop_climate climate, int day) {
    static const int32_t none[CROP_GROWING_STAGES] = {INT32_MIN, INT32_MIN, INT32_MIN, INT32_MIN};
    struct crop_progress progress = crop_progress_start();
    struct crop_position position;
    for (int i = 1; i <= day; i++) {
        struct crop_stage_input input = {.date = i, .planting_date = 1, .stage_date = none};
        assert_int_equal(crop_advance(&bean, &input, &progress, &position), STATUS_OK);
    }
    struct crop_day out;
    assert_int_equal(crop_day_at(&bean, &position, &climate, bean.kc_ini, &out), STATUS_OK);
    return out;
}

static struct crop_day bean_on(int day) {
    return crop_on(dry_bean(), (struct crop_climate){2.2, 30, 2.2, 30}, day);
}

/* The bean with the rounded coefficients that Figure 36 and Examples 28 and 30 start from, in the climate of
 * the tables. */
static struct crop_day rounded_bean_on(int day) {
    struct crop bean = dry_bean();
    bean.kc_mid = 1.19;
    bean.kcb_mid = 1.14;
    return crop_on(bean, (struct crop_climate){2, 45, 2, 45}, day);
}

static void example_23_intervals_between_rains(void **state) {
    (void)state;
    static const struct {
        const char *place;
        double days, rain_mm, event_mm;
        int printed_rainy_days, printed_interval_d;
    } row[] = {{"Paris", 30, 50, 3, 17, 2}, {"Gafsa", 30, 20, 5, 4, 7}, {"Calcutta", 30, 300, 20, 15, 2}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double interval_d = NAN;
        assert_int_equal(crop_wetting_interval(row[i].days, row[i].rain_mm, row[i].event_mm, &interval_d),
                         STATUS_OK);
        /* Printed as "about 2 days", "weekly" (7.5 days) and "about 2 days": within half a day. */
        assert_near(interval_d, row[i].printed_interval_d, 0.5);
        assert_near(row[i].days / interval_d, row[i].printed_rainy_days, 0.5);
    }
}

static void example_24_kc_ini_of_light_frequent_wettings(void **state) {
    (void)state;
    double kc = kc_ini_figure(WETTING_LIGHT, 4, 2);
    assert_near(kc, 0.85, FIGURE_READING);
    assert_near(kc, 0.8891, 5e-5); /* recomputed from eq. 7-3 by hand, not published */
    assert_near(kc * 4, 3.4, FIGURE_READING * 4);
}

static void example_25_kc_ini_between_light_and_heavy_wettings(void **state) {
    (void)state;
    double kc = NAN;
    assert_near(kc_ini_figure(WETTING_LIGHT, 5, 3.5), 0.55, FIGURE_READING);
    assert_near(kc_ini_figure(WETTING_HEAVY_COARSE, 5, 3.5), 0.70, FIGURE_READING + HALF_OF_2_DIGITS);
    assert_int_equal(crop_kc_ini(5, 3.5, 20, 1, true, &kc), STATUS_OK);
    assert_near(kc, 0.60, 0.01);
    assert_near(kc * 5, 3.0, 0.05);
}

static void example_26_kc_ini_of_trickle_irrigation(void **state) {
    (void)state;
    double light = kc_ini_figure(WETTING_LIGHT, 4, 2), heavy = kc_ini_figure(WETTING_HEAVY_FINE, 4, 2),
           kc = NAN;
    assert_near(light, 0.85, FIGURE_READING);
    assert_near(heavy, 1.15, HALF_OF_2_DIGITS);
    /* Eqs 59 to 61 on the figures' own readings give the printed digits; on the equations 0.425. */
    assert_near(0.85 + (12 / 0.4 - 10) / 30 * (1.15 - 0.85), 1.05, HALF_OF_2_DIGITS);
    assert_int_equal(crop_kc_ini(4, 2, 12, 0.4, false, &kc), STATUS_OK);
    assert_near(kc, 0.42, HALF_OF_2_DIGITS + 0.001);
    assert_near(kc * 4, 1.7, 0.05);
}

/* The example prints 0.57 for Fig. 29, which its own expression does not give, and 0.63 and 3.2 from it. The
 * equation decides: 0.53, 0.61 (0.605), 3.0. */
static void example_7_1_kc_ini_by_equation(void **state) {
    (void)state;
    double kc = NAN;
    assert_near(kc_ini_figure(WETTING_LIGHT, 5, 3.5), 0.53288, 5e-6);
    assert_near(kc_ini_figure(WETTING_HEAVY_COARSE, 5, 3.5), 0.75, HALF_OF_2_DIGITS);
    assert_near(kc_ini_figure(WETTING_HEAVY_COARSE, 5, 3.5), 0.75009, 5e-6);
    assert_int_equal(crop_kc_ini(5, 3.5, 20, 1, true, &kc), STATUS_OK);
    assert_near(kc, 0.60528, 5e-6);
}

static void example_27_kc_mid_of_maize_in_two_climates(void **state) {
    (void)state;
    assert_near(1.20 + term_of(1.3, 75, 2), 1.07, HALF_OF_2_DIGITS); /* Taipei */
    assert_near(1.20 + term_of(4.6, 44, 2), 1.30, HALF_OF_2_DIGITS); /* Mocha */
}

/* Box 14 does not say which RHmin its classes have and rounds to steps of a few hundredths: 30, 45 and 80 %
 * (Table 16) come within 0.015 of each of its values, and sub-humid, where Table 16 has the 45 % of the
 * equation, within half a digit but for the printed 1.20 (1.21). */
static void box_14_kc_mid_of_wheat_under_different_climates(void **state) {
    (void)state;
    static const struct {
        double rh_min_pct, kc_4_m_s, kc_2_m_s, kc_1_m_s;
    } row[] = {{30, 1.25, 1.20, 1.17}, {45, 1.20, 1.15, 1.12}, {80, 1.10, 1.05, 1.02}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        assert_near(1.15 + term_of(4, row[i].rh_min_pct, 1), row[i].kc_4_m_s, 0.015);
        assert_near(1.15 + term_of(2, row[i].rh_min_pct, 1), row[i].kc_2_m_s, 0.015);
        assert_near(1.15 + term_of(1, row[i].rh_min_pct, 1), row[i].kc_1_m_s, 0.015);
    }
    assert_near(1.15 + term_of(2, 45, 1), 1.15, HALF_OF_2_DIGITS);
    assert_near(1.15 + term_of(1, 45, 1), 1.12, HALF_OF_2_DIGITS);
}

static void box_15_single_coefficients_of_the_dry_bean(void **state) {
    (void)state;
    assert_near(bean_on(60).kc, 1.19, HALF_OF_2_DIGITS);
    assert_near(bean_on(100).kc, 0.35, HALF_OF_2_DIGITS); /* below 0.45: not adjusted */
    assert_near(kc_ini_figure(WETTING_LIGHT, 5.3, 14), 0.15, FIGURE_READING);
    assert_near(kc_ini_figure(WETTING_LIGHT, 5.3, 14), 0.1348, 5e-5); /* recomputed, not published */
}

/* Decades of ten days from planting on, as the figure counts them; a decade's Kc is the mean of a curve that
 * is continuous in time, that is of the day's value at its beginning and its end. */
static void figure_36_ten_day_coefficients_of_the_dry_bean(void **state) {
    (void)state;
    static const struct {
        const char *decade;
        double kc, et0_mm, etc_mm;
    } row[] = {{"May 3", 0.15, 3.0, 0.5},  {"June 1", 0.15, 3.4, 0.5}, {"June 2", 0.20, 4.0, 0.8},
               {"June 3", 0.57, 4.2, 2.4}, {"July 1", 0.98, 4.5, 4.4}, {"July 2", 1.19, 5.1, 6.1},
               {"July 3", 1.19, 5.6, 6.7}, {"Aug 1", 1.19, 6.0, 7.1},  {"Aug 2", 0.98, 5.5, 5.4},
               {"Aug 3", 0.56, 5.2, 2.9}};
    for (int i = 0; i < 10; i++) {
        double sum = 0;
        for (int day = 10 * i + 1; day <= 10 * i + 10; day++) {
            double before = day > 1 ? rounded_bean_on(day - 1).kc : rounded_bean_on(1).kc;
            sum += (before + rounded_bean_on(day).kc) / 2;
        }
        assert_near(sum / 10, row[i].kc, HALF_OF_2_DIGITS);
        assert_near(sum / 10 * row[i].et0_mm, row[i].etc_mm, HALF_OF_1_DIGIT);
    }
}

static void example_28_kc_of_the_dry_bean_on_four_days(void **state) {
    (void)state;
    assert_near(rounded_bean_on(20).kc, 0.15, HALF_OF_2_DIGITS);
    assert_near(rounded_bean_on(40).kc, 0.77, HALF_OF_2_DIGITS);
    assert_near(rounded_bean_on(70).kc, 1.19, HALF_OF_2_DIGITS);
    assert_near(rounded_bean_on(95).kc, 0.56, HALF_OF_2_DIGITS);
}

static void equation_68_alfalfa_over_grass_at_kimberly(void **state) {
    (void)state;
    double ratio = NAN;
    assert_int_equal(crop_alfalfa_ratio(2.2, 30, &ratio), STATUS_OK);
    assert_near(ratio, 1.24, HALF_OF_2_DIGITS);
}

static void example_29_basal_coefficients_of_the_dry_bean(void **state) {
    (void)state;
    assert_near(bean_on(1).kcb, 0.15, HALF_OF_2_DIGITS);
    assert_near(bean_on(60).kcb, 1.14, HALF_OF_2_DIGITS);
    assert_near(bean_on(100).kcb, 0.25, HALF_OF_2_DIGITS);
}

static void example_30_kcb_of_the_dry_bean_on_four_days(void **state) {
    (void)state;
    assert_near(rounded_bean_on(12).kcb, 0.15, HALF_OF_2_DIGITS);
    assert_near(rounded_bean_on(37).kcb, 0.63, HALF_OF_2_DIGITS);
    assert_near(rounded_bean_on(65).kcb, 1.14, HALF_OF_2_DIGITS);
    assert_near(rounded_bean_on(90).kcb, 0.70, HALF_OF_2_DIGITS); /* 0.695 */
}

/* Cotton of Examples 32 to 34: Kcb 0.9, 1 m high, 3 m/s, 20 %, surface wet. */
static const double cotton_kcb = 0.9;

static double cotton_kc_max(void) {
    return crop_kc_max(REFERENCE_FAO56_GRASS, cotton_kcb, term_of(3, 20, 1));
}

static double cotton_cover(void) {
    return crop_cover(cotton_kcb, cotton_kc_max(), 1);
}

static struct surface_evaporation cotton(double wetted_fraction, bool drip) {
    struct surface surface = {.depletion_mm = 0, .wetted_fraction = wetted_fraction, .by_system = true};
    struct surface_demand demand = {.kcb = cotton_kcb,
                                    .kc_max = cotton_kc_max(),
                                    .cover = cotton_cover(),
                                    .et0_mm = 7,
                                    .rew_mm = 8,
                                    .tew_mm = 22,
                                    .drip_under_canopy = drip};
    struct surface_evaporation out;
    assert_int_equal(surface_evaporate(&surface, &demand, &out), STATUS_OK);
    return out;
}

static void example_32_cotton_under_sprinklers(void **state) {
    (void)state;
    struct surface_evaporation soil = cotton(1, false);
    assert_near(cotton_kc_max(), 1.30, HALF_OF_2_DIGITS);
    assert_near(cotton_cover(), 0.53, HALF_OF_2_DIGITS);
    assert_near(soil.exposed_fraction, 0.47, HALF_OF_2_DIGITS);
    assert_near(soil.exposed_fraction * cotton_kc_max(), 0.61,
                HALF_OF_2_DIGITS + 0.002); /* printed from 0.47 */
    assert_near(soil.ke, 0.40, HALF_OF_2_DIGITS);
    assert_near(cotton_kcb + soil.ke, 1.30, HALF_OF_2_DIGITS);
}

static void example_33_cotton_under_alternate_furrows(void **state) {
    (void)state;
    struct surface_evaporation soil = cotton(0.3, false);
    assert_near(soil.exposed_fraction, 0.3, 1e-12);
    assert_near(soil.ke, 0.39, HALF_OF_2_DIGITS);
    assert_near(cotton_kcb + soil.ke, 1.29, HALF_OF_2_DIGITS);
}

static void example_34_cotton_under_drip_beneath_the_canopy(void **state) {
    (void)state;
    struct surface_evaporation soil = cotton(0.3, true);
    assert_near(soil.exposed_fraction, 0.19, HALF_OF_2_DIGITS);
    assert_near(soil.ke, 0.25, HALF_OF_2_DIGITS);
    assert_near(cotton_kcb + soil.ke, 1.15, HALF_OF_2_DIGITS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(example_23_intervals_between_rains),
        cmocka_unit_test(example_24_kc_ini_of_light_frequent_wettings),
        cmocka_unit_test(example_25_kc_ini_between_light_and_heavy_wettings),
        cmocka_unit_test(example_26_kc_ini_of_trickle_irrigation),
        cmocka_unit_test(example_7_1_kc_ini_by_equation),
        cmocka_unit_test(example_27_kc_mid_of_maize_in_two_climates),
        cmocka_unit_test(box_14_kc_mid_of_wheat_under_different_climates),
        cmocka_unit_test(box_15_single_coefficients_of_the_dry_bean),
        cmocka_unit_test(figure_36_ten_day_coefficients_of_the_dry_bean),
        cmocka_unit_test(example_28_kc_of_the_dry_bean_on_four_days),
        cmocka_unit_test(equation_68_alfalfa_over_grass_at_kimberly),
        cmocka_unit_test(example_29_basal_coefficients_of_the_dry_bean),
        cmocka_unit_test(example_30_kcb_of_the_dry_bean_on_four_days),
        cmocka_unit_test(example_32_cotton_under_sprinklers),
        cmocka_unit_test(example_33_cotton_under_alternate_furrows),
        cmocka_unit_test(example_34_cotton_under_drip_beneath_the_canopy),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
