/* ASCE-EWRI 2005, Appendix C: daily and hourly reference ET at Greeley, Colorado, from fixtures/published/.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "core/weather/reference_et.h"
#include "tests/support/printed.h"
#include "tests/support/table.h"

#define LATITUDE     40.41
#define ELEVATION    1462.4
#define ANEMOMETER_M 3.0

static double daily_et(const char *iso, const double in[5], enum reference_kind kind) {
    static const enum weather_element element[5] = {WEATHER_TMAX_C, WEATHER_TMIN_C, WEATHER_EA_KPA,
                                                    WEATHER_RS_MJ_M2, WEATHER_WIND_M_S};
    struct weather_site site = weather_site_default(LATITUDE, ELEVATION);
    site.wind_height_m = ANEMOMETER_M;
    int32_t date = 0;
    assert_int_equal(calendar_parse_iso(iso, &date), STATUS_OK);
    struct weather_day day = weather_day_empty(date);
    for (int i = 0; i < 5; i++) {
        day.value[element[i]] = in[i];
        day.origin[element[i]] = ORIGIN_MEASURED;
    }
    struct weather_full full;
    double et = 0.0;
    assert_int_equal(weather_complete(&day, &site, NULL, &full), STATUS_OK);
    assert_int_equal(reference_et_day(&full, &site, kind, NULL, &et), STATUS_OK);
    return et;
}

/* Tolerance 0.03 mm: recomputing with the standard's own equations from the inputs as printed (ea to 0.01
 * kPa, Rs to 0.1 MJ) differs from the printed results by up to 0.025 mm, so the printed inputs are rounded.
 * Half a unit of Rs alone is 0.05 x 0.77 x 0.408 x 0.7 = 0.011 mm, of ea up to 0.005 x 2 mm/kPa = 0.010 mm,
 * of the result 0.005 mm. */
static void daily_et_of_five_days_agrees_with_table_c3(void **state) {
    (void)state;
    static const char *const input[5] = {"tmax_c", "tmin_c", "ea_kpa", "rs_mj_m2_day", "wind_3m_m_s"};
    struct table *table = table_read("fixtures/published/asce_ewri2005_greeley_daily.csv");
    double largest = 0.0;
    int rows = table_rows(table);
    for (int row = 0; row < rows; row++) {
        const char *date = table_text(table, row, "date");
        double in[5];
        for (int i = 0; i < 5; i++)
            in[i] = table_number(table, row, input[i]);
        double off_short =
            daily_et(date, in, REFERENCE_ASCE_SHORT) - table_number(table, row, "etos_printed_mm");
        double off_tall =
            daily_et(date, in, REFERENCE_ASCE_TALL) - table_number(table, row, "etrs_printed_mm");
        largest = fmax(largest, fmax(fabs(off_short), fabs(off_tall)));
    }
    table_free(table);
    printf("# ASCE-EWRI Table C-3, %d days, short and tall: largest difference %.3f mm/day\n", rows, largest);
    assert_int_equal(rows, 5);
    assert_true(largest <= 0.03);
}

static void hourly_et_agrees_with_the_printed_digits(void **state) {
    (void)state;
    const struct reference_place greeley = {{LATITUDE, -104.78, -105.0}, ELEVATION};
    struct table *table = table_read("fixtures/published/asce_ewri2005_greeley_hourly.csv");
    assert_int_equal(table_rows(table), 2);
    for (int row = 0; row < 2; row++) {
        double wind = air_wind_2m_m_s(table_number(table, row, "wind_3m_m_s"), ANEMOMETER_M);
        double midpoint = table_number(table, row, "midpoint_h"), et = 0.0;
        struct reference_hour hour = {table_number(table, row, "t_c"), table_number(table, row, "ea_kpa"),
                                      wind, table_number(table, row, "rs_mj_m2_h")};
        assert_int_equal(
            reference_et_hourly(&hour, &greeley, 183, midpoint, 0.8, REFERENCE_ASCE_SHORT, NULL, &et),
            STATUS_OK);
        assert_printed(et, table_text(table, row, "etos_printed_mm"));
        assert_int_equal(
            reference_et_hourly(&hour, &greeley, 183, midpoint, 0.8, REFERENCE_ASCE_TALL, NULL, &et),
            STATUS_OK);
        assert_printed(et, table_text(table, row, "etrs_printed_mm"));
    }
    table_free(table);
}

/* FAO-56 eqs 53, 45, 46 (Cd 0.34 always) and ASCE-EWRI eq. 1 with the constants of its Table 1, by day and
 * night, worked by hand with the terms that the function gives. */
static void hours_of_day_and_night_have_their_own_constants(void **state) {
    (void)state;
    const struct reference_place greeley = {{LATITUDE, -104.78, -105.0}, ELEVATION};
    const struct {
        enum reference_kind kind;
        double midpoint, rs, cn, cd, g;
    } row[] = {{REFERENCE_FAO56_GRASS, 12.5, 3.0, 37.0, 0.34, 0.1},
               {REFERENCE_FAO56_GRASS, 1.5, 0.0, 37.0, 0.34, 0.5},
               {REFERENCE_ASCE_SHORT, 12.5, 3.0, 37.0, 0.24, 0.1},
               {REFERENCE_ASCE_SHORT, 1.5, 0.0, 37.0, 0.96, 0.5},
               {REFERENCE_ASCE_TALL, 12.5, 3.0, 66.0, 0.25, 0.04},
               {REFERENCE_ASCE_TALL, 1.5, 0.0, 66.0, 1.7, 0.2}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        const struct reference_hour hour = {15.0, 1.2, 1.5, row[i].rs};
        struct reference_hour_terms t;
        double et = 0.0;
        assert_int_equal(
            reference_et_hourly(&hour, &greeley, 183, row[i].midpoint, 0.7, row[i].kind, &t, &et), STATUS_OK);
        assert_true((t.rn_mj_m2 > 0.0) == (row[i].rs > 0.0));
        assert_near(t.soil_heat_mj_m2, row[i].g * t.rn_mj_m2, 1e-12);
        double top = 0.408 * t.delta_kpa_c * t.rn_mj_m2 * (1.0 - row[i].g) +
                     t.gamma_kpa_c * row[i].cn / 288.0 * 1.5 * (t.es_kpa - 1.2);
        assert_near(et, top / (t.delta_kpa_c + t.gamma_kpa_c * (1.0 + row[i].cd * 1.5)), 1e-12);
    }
}

/* At dusk the sun is still up while Rn is below zero: day for FAO-56, night for ASCE-EWRI. */
static void dusk_is_day_for_fao_56_and_night_for_asce_ewri(void **state) {
    (void)state;
    const struct reference_place greeley = {{LATITUDE, -104.78, -105.0}, ELEVATION};
    const struct reference_hour hour = {15.0, 1.2, 1.5, 0.05};
    struct reference_hour_terms t;
    double et = 0.0;
    assert_int_equal(reference_et_hourly(&hour, &greeley, 183, 19.0, 0.9, REFERENCE_FAO56_GRASS, &t, &et),
                     STATUS_OK);
    assert_true(t.sun.ra_mj_m2 > 0.0 && t.rn_mj_m2 < 0.0);
    assert_near(t.soil_heat_mj_m2, 0.1 * t.rn_mj_m2, 1e-12);
    assert_int_equal(reference_et_hourly(&hour, &greeley, 183, 19.0, 0.9, REFERENCE_ASCE_SHORT, &t, &et),
                     STATUS_OK);
    assert_near(t.soil_heat_mj_m2, 0.5 * t.rn_mj_m2, 1e-12);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(daily_et_of_five_days_agrees_with_table_c3),
        cmocka_unit_test(hourly_et_agrees_with_the_printed_digits),
        cmocka_unit_test(hours_of_day_and_night_have_their_own_constants),
        cmocka_unit_test(dusk_is_day_for_fao_56_and_night_for_asce_ewri),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
