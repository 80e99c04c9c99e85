/* The surface layer and the root zone against FAO Irrigation and Drainage Paper 56 (1998): Examples 31, 35,
 * 36, 37, 38 and the parameters of Annex 8. Printed tables are held to half a unit of their last digit.
 * "Exact" columns are the examples' own rules computed without rounding in between; they are not published.
 *
 * What cannot be matched, and why:
 * - Example 35, days 3 to 10 of the 1998 table: its errata say that E and Kc of day 3 are wrong and that De
 * was rounded to whole mm from day to day. The exact trace is what the errata describe; days 1 and 2 match
 * the print.
 * - Example 38, days 1 to 10: the print lets day 1 drain before it evaporates (DP 17, Dr 5). Eq. 88, the text
 * under eq. 86 and Annex 8 take evapotranspiration first (DP 11, Dr 0), and so do we: then no irrigation is
 * due on day
 *   10. The exact trace has eq. 88's order. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/balance/season.h"
#include "tests/support/near.h"

#define HALF_OF_4_DIGITS (0.00005 + 1e-9)
#define HALF_OF_2_DIGITS (0.005 + 1e-9)
#define HALF_OF_1_DIGIT  (0.05 + 1e-9)
#define HALF_OF_1_MM     (0.5 + 1e-9)

static struct surface_evaporation evaporate(const struct surface *surface,
                                            const struct surface_demand *demand) {
    struct surface_evaporation out = {.ke = NAN};
    assert_int_equal(surface_evaporate(surface, demand, &out), STATUS_OK);
    return out;
}

static void example_31_bare_loam_dries_for_ten_days(void **state) {
    (void)state;
    static const struct {
        double printed_de_start, printed_kr, printed_ke, printed_e, printed_de_end, printed_etc, exact_de_end;
    } row[10] = {
        {0.00, 1, 1.05, 4.73, 4.73, 5.4, 4.725},        {4.73, 1, 1.05, 4.73, 9.45, 5.4, 9.45},
        {9.45, 0.96, 1.01, 4.53, 13.98, 5.2, 13.9817},  {13.98, 0.55, 0.57, 2.59, 16.57, 3.3, 16.5668},
        {16.57, 0.31, 0.33, 1.47, 18.04, 2.1, 18.0415}, {18.04, 0.18, 0.19, 0.84, 18.88, 1.5, 18.8828},
        {18.88, 0.10, 0.11, 0.48, 19.36, 1.2, 19.3627}, {19.36, 0.06, 0.06, 0.27, 19.64, 0.9, 19.6364},
        {19.64, 0.03, 0.03, 0.16, 19.79, 0.8, 19.7926}, {19.79, 0.02, 0.02, 0.09, 19.88, 0.8, 19.8817},
    };
    struct surface surface = {.depletion_mm = 0, .wetted_fraction = 1};
    struct surface_demand demand = {
        .kcb = 0.15, .kc_max = 1.20, .cover = 0, .et0_mm = 4.5, .rew_mm = 9, .tew_mm = 20};
    for (int i = 0; i < 10; i++) {
        assert_near(surface.depletion_mm, row[i].printed_de_start, HALF_OF_2_DIGITS);
        struct surface_evaporation day = evaporate(&surface, &demand);
        surface_dry(&surface, day.evaporation_mm, 0, day.exposed_fraction, demand.tew_mm);
        assert_near(day.kr, row[i].printed_kr, HALF_OF_2_DIGITS);
        assert_near(day.ke, row[i].printed_ke, HALF_OF_2_DIGITS);
        assert_near(day.evaporation_mm, row[i].printed_e, HALF_OF_2_DIGITS);
        assert_near(surface.depletion_mm, row[i].printed_de_end, HALF_OF_2_DIGITS);
        assert_near((day.ke + demand.kcb) * demand.et0_mm, row[i].printed_etc, HALF_OF_1_DIGIT);
        assert_near(surface.depletion_mm, row[i].exact_de_end, HALF_OF_4_DIGITS);
    }
}

/* Days of Examples 35 and 38. The traces' columns: few, Kcb, De at the start, Kr, Ke, E / few, DPe, De at the
 * end, E, Kc, ETc; then Zr, RAW, Dr at the start (after the day's water), DP, Dr at the end. */
static const double et0_35[10] = {4.5, 5.0, 3.9, 4.2, 4.8, 2.7, 5.8, 5.1, 4.7, 5.2};
static const double exact_35[10][11] = {
    {0.8, 0.3, 0, 1, 0.912, 5.1302, 32.0, 5.1302, 4.1041, 1.212, 5.4541},
    {0.8, 0.3111, 5.1302, 1, 0.9009, 5.6307, 0, 10.7609, 4.5046, 1.212, 6.0601},
    {0.8, 0.3222, 10.7609, 0.7239, 0.6441, 3.1402, 0, 13.9011, 2.5121, 0.9664, 3.7688},
    {0.8, 0.3333, 13.9011, 0.4099, 0.3602, 1.8909, 0, 15.792, 1.5127, 0.6935, 2.9127},
    {0.8, 0.3444, 15.792, 0.2208, 0.1916, 1.1494, 0, 16.9414, 0.9195, 0.536, 2.5728},
    {0.8867, 0.3556, 10.9414, 0.7059, 0.6046, 1.8409, 0, 12.7823, 1.6323, 0.9601, 2.5923},
    {0.88, 0.3667, 12.7823, 0.5218, 0.4411, 2.9072, 0, 15.6894, 2.5583, 0.8078, 4.685},
    {0.8733, 0.3778, 15.6894, 0.2311, 0.1928, 1.1256, 0, 16.8151, 0.9831, 0.5705, 2.9097},
    {0.8667, 0.3889, 16.8151, 0.1185, 0.0975, 0.5289, 0, 17.344, 0.4584, 0.4864, 2.2862},
    {0.86, 0.4, 17.344, 0.0656, 0.0533, 0.3221, 0, 17.6661, 0.277, 0.4533, 2.357}};
static const double exact_38[10][5] = {{0.3, 23.4, 0, 11.1459, 0},
                                       {0.3056, 23.8333, 0, 0, 6.0601},
                                       {0.3111, 24.2667, 6.0601, 0, 9.829},
                                       {0.3167, 24.7, 9.829, 0, 12.7417},
                                       {0.3222, 25.1333, 12.7417, 0, 15.3145},
                                       {0.3278, 25.5667, 9.3145, 0, 11.9068},
                                       {0.3333, 26.0, 11.9068, 0, 16.5918},
                                       {0.3389, 26.4333, 16.5918, 0, 19.5015},
                                       {0.3444, 26.8667, 19.5015, 0, 21.7877},
                                       {0.35, 27.3, 21.7877, 0, 24.1447}};

/* One day of Example 35 through the surface layer: what evaporates, and DPe. */
struct day_35 {
    struct surface_evaporation soil;
    double kcb, kc_max, de_start_mm, deep_mm;
};

static struct day_35 step_35(struct surface *surface, int i) {
    double term = NAN, along = i / 9.0;
    assert_int_equal(crop_climate_term(1.6, 35, 0.3, &term), STATUS_OK);
    struct day_35 day = {.kcb = 0.30 + 0.10 * along};
    day.kc_max = crop_kc_max(REFERENCE_FAO56_GRASS, day.kcb, term);
    double rain_mm = i == 5 ? 6 : 0;
    struct surface_wetting wetting = {rain_mm, rain_mm, i == 0 ? 40 : 0, 0.8};
    day.deep_mm = surface_wet(surface, &wetting);
    day.de_start_mm = surface->depletion_mm;
    struct surface_demand demand = {.kcb = day.kcb,
                                    .kc_max = day.kc_max,
                                    .cover = 0.08 + 0.06 * along,
                                    .et0_mm = et0_35[i],
                                    .rew_mm = 8,
                                    .tew_mm = 18};
    day.soil = evaporate(surface, &demand);
    surface_dry(surface, day.soil.evaporation_mm, 0, day.soil.exposed_fraction, demand.tew_mm);
    return day;
}

static void example_35_dual_coefficients_for_ten_days(void **state) {
    (void)state;
    assert_near(soil_tew_mm(0.23, 0.10, 0.1), 18, HALF_OF_1_MM);
    struct surface surface = {.depletion_mm = 18, .wetted_fraction = 1};
    for (int i = 0; i < 10; i++) {
        struct day_35 day = step_35(&surface, i);
        const double *exact = exact_35[i];
        double kc = day.kcb + day.soil.ke;
        assert_near(day.kc_max, 1.21, HALF_OF_2_DIGITS);
        const double got[11] = {day.soil.exposed_fraction,
                                day.kcb,
                                day.de_start_mm,
                                day.soil.kr,
                                day.soil.ke,
                                day.soil.evaporation_mm / day.soil.exposed_fraction,
                                day.deep_mm,
                                surface.depletion_mm,
                                day.soil.evaporation_mm,
                                kc,
                                kc * et0_35[i]};
        for (int k = 0; k < 11; k++)
            assert_near(got[k], exact[k], HALF_OF_4_DIGITS);
    }
}

static void example_35_first_two_days_as_printed(void **state) {
    (void)state;
    static const struct {
        double de_start, kr, ke, e_over_few, deep, de_end, e, kc, etc;
    } row[2] = {{0, 1.00, 0.91, 5.1, 32, 5, 4.1, 1.21, 5.5}, {5, 1.00, 0.90, 5.6, 0, 11, 4.5, 1.21, 6.1}};
    struct surface surface = {.depletion_mm = 18, .wetted_fraction = 1};
    for (int i = 0; i < 2; i++) {
        struct day_35 day = step_35(&surface, i);
        assert_near(day.de_start_mm, row[i].de_start, HALF_OF_1_MM);
        assert_near(day.soil.kr, row[i].kr, HALF_OF_2_DIGITS);
        assert_near(day.soil.ke, row[i].ke, HALF_OF_2_DIGITS);
        assert_near(day.soil.evaporation_mm / day.soil.exposed_fraction, row[i].e_over_few, HALF_OF_1_DIGIT);
        assert_near(day.deep_mm, row[i].deep, HALF_OF_1_MM);
        assert_near(surface.depletion_mm, row[i].de_end, HALF_OF_1_MM);
        assert_near(day.soil.evaporation_mm, row[i].e, HALF_OF_1_DIGIT);
        assert_near(day.kcb + day.soil.ke, row[i].kc, HALF_OF_2_DIGITS);
        assert_near((day.kcb + day.soil.ke) * et0_35[i], row[i].etc, HALF_OF_1_DIGIT);
    }
}

static void example_36_readily_available_water_of_crops_and_soils(void **state) {
    (void)state;
    static const struct {
        double root_m, p, taw_mm[3], raw_mm[3];
    } crop[3] = {{0.4, 0.30, {36, 68, 48}, {11, 20, 14}},
                 {0.8, 0.40, {72, 136, 96}, {29, 54, 38}},
                 {1.2, 0.55, {108, 204, 144}, {59, 112, 79}}};
    static const double water[3][2] = {{0.15, 0.06}, {0.32, 0.15}, {0.35, 0.23}};
    for (int s = 0; s < 3; s++) {
        struct soil soil;
        assert_int_equal(soil_from_water(water[s][0], water[s][1], 0.1, &soil), STATUS_OK);
        for (int c = 0; c < 3; c++) {
            double taw_mm = soil_available_between_mm(&soil, 0, crop[c].root_m);
            assert_near(taw_mm, crop[c].taw_mm[s], HALF_OF_1_MM);
            assert_near(crop[c].p * taw_mm, crop[c].raw_mm[s], HALF_OF_1_MM);
        }
    }
}

static void example_37_tomato_under_stress_for_ten_days(void **state) {
    (void)state;
    static const struct {
        double dr_start, ks, eta, dr_end, exact_ks, exact_dr_end;
    } row[10] = {{55.0, 1.00, 6.0, 61.0, 1, 61},
                 {61.0, 1.00, 6.0, 67.0, 1, 67},
                 {67.0, 0.97, 5.8, 72.8, 0.9688, 72.8125},
                 {72.8, 0.91, 5.4, 78.3, 0.9082, 78.2617},
                 {78.3, 0.85, 5.1, 83.4, 0.8514, 83.3704},
                 {83.4, 0.80, 4.8, 88.2, 0.7982, 88.1597},
                 {88.2, 0.75, 4.5, 92.6, 0.7483, 92.6497},
                 {92.6, 0.70, 4.2, 96.9, 0.7016, 96.8591},
                 {96.9, 0.66, 3.9, 100.8, 0.6577, 100.8054},
                 {100.8, 0.62, 3.7, 104.5, 0.6166, 104.5051}};
    struct soil soil;
    assert_int_equal(soil_from_water(0.32, 0.12, 0.1, &soil), STATUS_OK);
    double taw_mm = soil_available_between_mm(&soil, 0, 0.8), raw_mm = 0.40 * taw_mm;
    assert_near(taw_mm, 160, 1e-9);
    assert_near(raw_mm, 64, 1e-9);
    struct root_zone zone = {.depletion_mm = 55};
    for (int i = 0; i < 10; i++) {
        struct root_zone_flow flow = {.eta_mm = NAN};
        double depletion_mm = NAN;
        assert_int_equal(root_zone_open(&zone, &(struct root_zone_inflow){0}, taw_mm, &flow, &depletion_mm),
                         STATUS_OK);
        double ks = root_zone_ks(taw_mm, raw_mm, depletion_mm);
        assert_int_equal(root_zone_close(&zone, ks * 1.2 * 5.0, taw_mm, 0, &flow), STATUS_OK);
        assert_near(depletion_mm, row[i].dr_start, HALF_OF_1_DIGIT);
        assert_near(ks, row[i].ks, HALF_OF_2_DIGITS);
        assert_near(flow.eta_mm, row[i].eta, HALF_OF_1_DIGIT);
        assert_near(zone.depletion_mm, row[i].dr_end, HALF_OF_1_DIGIT);
        assert_near(ks, row[i].exact_ks, HALF_OF_4_DIGITS);
        assert_near(zone.depletion_mm, row[i].exact_dr_end, HALF_OF_4_DIGITS);
    }
}

/* The root zone of Example 38 on top of Example 35, in eq. 88's order. The first depletion is RAW, 0.6 x 130
 * x 0.3 m, of which the example prints 23. */
static void example_38_root_zone_with_evapotranspiration_before_drainage(void **state) {
    (void)state;
    struct soil soil;
    assert_int_equal(soil_from_water(0.23, 0.10, 0.1, &soil), STATUS_OK);
    struct surface surface = {.depletion_mm = 18, .wetted_fraction = 1};
    struct root_zone zone = {.depletion_mm = 23.4};
    for (int i = 0; i < 10; i++) {
        struct day_35 day = step_35(&surface, i);
        double root_m = 0.30 + 0.05 * i / 9.0, taw_mm = soil_available_between_mm(&soil, 0, root_m),
               start_mm = NAN;
        struct root_zone_inflow inflow = {.infiltration_mm = i == 5 ? 6 : 0,
                                          .irrigation_mm = i == 0 ? 40 : 0};
        struct root_zone_flow flow = {.eta_mm = NAN};
        assert_int_equal(root_zone_open(&zone, &inflow, taw_mm, &flow, &start_mm), STATUS_OK);
        double ks = root_zone_ks(taw_mm, 0.6 * taw_mm, start_mm);
        double etc_mm = (ks * day.kcb + day.soil.ke) * et0_35[i];
        assert_int_equal(root_zone_close(&zone, etc_mm, taw_mm, 0, &flow), STATUS_OK);
        assert_near(ks, 1, 1e-12); /* printed */
        assert_near(root_m, exact_38[i][0], HALF_OF_4_DIGITS);
        assert_near(0.6 * taw_mm, exact_38[i][1], HALF_OF_4_DIGITS);
        assert_near(start_mm, exact_38[i][2], HALF_OF_4_DIGITS);
        /* The exact trace starts from 23.4 less nothing lost to rounding: DP 40 - 23.4 - 5.4541. */
        assert_near(flow.percolation_mm, exact_38[i][3], HALF_OF_4_DIGITS);
        assert_near(zone.depletion_mm, exact_38[i][4], HALF_OF_4_DIGITS);
    }
}

/* Annex 8 sets up the dry bean of Kimberly, 1974; its daily table is a picture and not held here. */
static struct season_setup annex_8(void) {
    struct season_setup setup = season_setup_default();
    setup.crop = (struct crop){.stage_days = {25, 25, 30, 20},
                               .kc_ini = 0.4,
                               .kc_mid = 1.15,
                               .kc_end = 0.35,
                               .kcb_ini = 0.15,
                               .kcb_mid = 1.1,
                               .kcb_end = 0.25,
                               .height_ini_m = 0.05,
                               .height_max_m = 0.4,
                               .root_ini_m = 0.2,
                               .root_max_m = 0.8,
                               .depletion_fraction = 0.45,
                               .allowed_depletion = {0.70, 0.45, 0.45, 0.45},
                               .ky_season = 1.15,
                               .ky_stage = {NAN, NAN, NAN, NAN},
                               .salt_threshold_ds_m = NAN,
                               .salt_slope_pct = NAN,
                               .base_c = NAN,
                               .ceiling_c = NAN};
    assert_int_equal(soil_from_water(0.30, 0.14, 0.1, &setup.soil), STATUS_OK); /* 160 mm/m */
    setup.soil.rew_mm = 8;
    setup.soil.tew_mm = 22;
    setup.start_surface = 18.0 / 22;
    setup.system_wetted_fraction = 0.5;
    assert_int_equal(calendar_from_civil(1974, 5, 15, &setup.first_date), STATUS_OK);
    assert_int_equal(calendar_from_civil(1974, 5, 22, &setup.planting_date), STATUS_OK);
    return setup;
}

/* ET0 of 15 and 16 May is printed; RHmin is 100 e0(Tdew) / e0(Tmax), 50 and 28 %; the days after are a steady
 * 5 mm, 45 % and 2 m/s, so that the coefficients are those of the table. */
static struct season_input annex_8_day(int32_t date, int i) {
    struct season_input input = season_input_empty(date);
    input.et0_mm = i == 0 ? 3.4 : i == 1 ? 4.1 : 5;
    input.wind_2m_m_s = i == 0 ? 5.7655 : i == 1 ? 2.2175 : 2;
    input.rh_min_pct = i == 0 ? 49.8 : i == 1 ? 27.6 : 45;
    input.rain_mm = 0;
    return input;
}

static void annex_8_parameters_make_the_season_that_they_describe(void **state) {
    (void)state;
    struct season_setup setup = annex_8();
    struct season_state run;
    struct season_prepared prepared;
    assert_int_equal(season_prepare(&setup, &prepared), STATUS_OK);
    assert_int_equal(season_begin(&prepared, &run), STATUS_OK);
    /* Bare soil, eq. 71 and 74 by hand: Kr = (22 - De) / 14, Kc max 1.2. */
    double de_mm = 18;
    for (int i = 0; i < 107 + 1; i++) {
        struct season_input input = annex_8_day(setup.first_date + i, i);
        struct season_day day;
        assert_int_equal(season_step(&prepared, &run, &input, &day), STATUS_OK);
        int bean_day = i - 6;
        if (bean_day < 1) {
            double e_mm = (22 - de_mm) / 14 * 1.2 * input.et0_mm;
            de_mm += e_mm;
            assert_int_equal(day.stage, STAGE_BARE);
            assert_near(day.evaporation_mm, e_mm, 1e-9);
            assert_near(day.surface_depletion_mm, de_mm, 1e-9);
            continue;
        }
        enum crop_stage want = bean_day <= 25    ? STAGE_INITIAL
                               : bean_day <= 50  ? STAGE_DEVELOPMENT
                               : bean_day <= 80  ? STAGE_MID
                               : bean_day <= 100 ? STAGE_LATE
                                                 : STAGE_ENDED;
        assert_int_equal(day.stage, want);
        assert_near(day.days_in_season, bean_day, 0);
        if (bean_day <= 25)
            assert_near(day.kcb, 0.15, 1e-12);
        if (bean_day >= 50 && bean_day <= 80)
            assert_near(day.kcb, 1.1, 1e-12);
        if (bean_day == 100)
            assert_near(day.kcb, 0.25, 1e-12);
        /* Zr 0.2 m at planting and 0.8 m when mid-season begins; 160 mm/m. */
        double root_m = bean_day > 50 ? 0.8 : 0.2 + 0.6 * (bean_day - 1) / 50.0;
        assert_near(day.root_m, root_m, 1e-12);
        assert_near(day.taw_mm, 160 * root_m, 1e-9);
        if (want != STAGE_ENDED)
            assert_near(day.allowed_mm / day.taw_mm, bean_day <= 25 ? 0.70 : 0.45, 1e-12);
    }
}

/* The last irrigation of the Kimberly season, day 225 of 1974, falls into its late season. */
static void annex_8_last_irrigation_falls_into_the_late_season(void **state) {
    (void)state;
    struct season_setup setup = annex_8();
    int bean_day = 225 - calendar_day_of_year(setup.planting_date) + 1;
    assert_true(bean_day > 80 && bean_day <= 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(example_31_bare_loam_dries_for_ten_days),
        cmocka_unit_test(example_35_dual_coefficients_for_ten_days),
        cmocka_unit_test(example_35_first_two_days_as_printed),
        cmocka_unit_test(example_36_readily_available_water_of_crops_and_soils),
        cmocka_unit_test(example_37_tomato_under_stress_for_ten_days),
        cmocka_unit_test(example_38_root_zone_with_evapotranspiration_before_drainage),
        cmocka_unit_test(annex_8_parameters_make_the_season_that_they_describe),
        cmocka_unit_test(annex_8_last_irrigation_falls_into_the_late_season),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
