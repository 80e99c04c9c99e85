/* Units. Conversion factors: NIST Special Publication 811 (2008), Appendix B, which prints exact ones in bold
 * and others to seven digits; acre of the international foot; FAO-56 Table 3 and Annex 1 where named. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/status.h"
#include "core/base/units.h"
#include "tests/support/near.h"

/* Tolerance: seven printed digits. */
static void one_of_each_unit_is_what_sp_811_prints(void **state) {
    (void)state;
    static const struct {
        const char *symbol;
        enum unit_kind kind;
        double si;
    } row[] = {{"in", UNIT_LENGTH, 25.4},
               {"ft", UNIT_LENGTH, 304.8},
               {"yd", UNIT_LENGTH, 914.4},
               {"mi", UNIT_LENGTH, 1.609344e6},
               {"cm", UNIT_LENGTH, 10.0},
               {"m", UNIT_LENGTH, 1000.0},
               {"km", UNIT_LENGTH, 1e6},
               {"ac", UNIT_AREA, 4046.8564224}, /* 43560 x 0.09290304 */
               {"ha", UNIT_AREA, 1e4},
               {"ft2", UNIT_AREA, 0.09290304},
               {"gal", UNIT_VOLUME, 3.785412e-3},
               {"ft3", UNIT_VOLUME, 2.831685e-2},
               {"ac-ft", UNIT_VOLUME, 1233.4818375}, /* 43560 ft3 */
               {"ac-in", UNIT_VOLUME, 102.7901531},
               {"L", UNIT_VOLUME, 1e-3},
               {"ML", UNIT_VOLUME, 1e3},
               {"ha-mm", UNIT_VOLUME, 10.0},
               {"gal/min", UNIT_FLOW, 6.309020e-5 * 3600.0},
               {"ft3/s", UNIT_FLOW, 2.831685e-2 * 3600.0},
               {"L/s", UNIT_FLOW, 3.6},
               {"L/min", UNIT_FLOW, 0.06},
               {"m3/s", UNIT_FLOW, 3600.0},
               {"ac-ft/day", UNIT_FLOW, 1233.4818375 / 24.0},
               {"ac-in/h", UNIT_FLOW, 102.7901531},
               {"km/h", UNIT_SPEED, 2.777778e-1},
               {"mi/h", UNIT_SPEED, 4.4704e-1},
               {"kn", UNIT_SPEED, 5.144444e-1},
               {"ft/s", UNIT_SPEED, 3.048e-1},
               {"km/day", UNIT_SPEED, 1.0 / 86.4},
               {"hPa", UNIT_PRESSURE, 0.1},
               {"mbar", UNIT_PRESSURE, 0.1},
               {"Pa", UNIT_PRESSURE, 1e-3},
               {"bar", UNIT_PRESSURE, 100.0},
               {"inHg", UNIT_PRESSURE, 3.386389},
               {"mmHg", UNIT_PRESSURE, 1.333224e-1},
               {"psi", UNIT_PRESSURE, 6.894757},
               {"atm", UNIT_PRESSURE, 101.325},
               {"Ly", UNIT_RADIATION, 4.184e-2},
               {"cal/cm2", UNIT_RADIATION, 4.184e-2},
               {"W/m2", UNIT_RADIATION, 0.0864}, /* FAO-56 Table 3 */
               {"J/cm2", UNIT_RADIATION, 0.01},  /* FAO-56 Table 3 */
               {"kWh/m2", UNIT_RADIATION, 3.6},
               {"%", UNIT_FRACTION, 0.01},
               {"mm/m", UNIT_FRACTION, 0.001},
               {"in/ft", UNIT_FRACTION, 1.0 / 12.0},
               {"min", UNIT_TIME, 1.0 / 60.0},
               {"d", UNIT_TIME, 24.0},
               {"in/h", UNIT_RATE, 25.4},
               {"mm/day", UNIT_RATE, 1.0 / 24.0},
               {"mmho/cm", UNIT_CONDUCTIVITY, 1.0},
               {"uS/cm", UNIT_CONDUCTIVITY, 1e-3}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        const struct unit *unit = units_find(row[i].symbol);
        assert_non_null(unit);
        assert_int_equal(unit->kind, row[i].kind);
        assert_near(units_to_si(1.0, unit) / row[i].si, 1.0, 2e-7);
    }
}

/* Exact: the inch, and the fixed points of the Fahrenheit and Celsius scales. */
static void exact_definitions_are_exact(void **state) {
    (void)state;
    const struct unit *f = units_find("F"), *mm = units_find("mm"), *in = units_find("in");
    assert_true(units_to_si(32.0, f) == 0.0);
    assert_true(units_to_si(212.0, f) == 100.0);
    assert_true(units_from_si(100.0, f) == 212.0);
    assert_true(units_to_si(-40.0, f) == -40.0);
    assert_true(units_to_si(273.15, units_find("K")) == 0.0);
    assert_true(units_convert(1.0, in, mm) == 25.4);
    assert_true(units_convert(254.0, mm, in) == 10.0);
    assert_true(units_to_m(1.0, units_find("ft")) == 0.3048);
    assert_near(units_to_si(1.0, units_find("ac-ft")), units_to_si(12.0, units_find("ac-in")), 1e-9);
    assert_near(units_difference_to_si(9.0, f), 5.0, 1e-12);
    assert_near(units_difference_from_si(5.0, f), 9.0, 1e-12);
    assert_near(units_convert(50.0, f, units_find("K")), 283.15, 1e-12);
}

static void common_spellings_are_understood(void **state) {
    (void)state;
    static const struct {
        const char *typed, *symbol;
    } row[] = {{"gpm", "gal/min"},
               {"GPM", "gal/min"},
               {" gal/min ", "gal/min"},
               {"acre-ft", "ac-ft"},
               {"Ac-Ft", "ac-ft"},
               {"AF", "ac-ft"},
               {"acre-inches", "ac-in"},
               {"acres", "ac"},
               {"hectares", "ha"},
               {"inch", "in"},
               {"\"", "in"},
               {"degF", "°F"},
               {"° F", "°F"},
               {"F", "°F"},
               {"ºC", "°C"},
               {"C", "°C"},
               {"celsius", "°C"},
               {"m²", "m2"},
               {"m^3", "m3"},
               {"m³/h", "m3/h"},
               {"m3 h-1", "m3/h"},
               {"MJ m⁻² day⁻¹", "MJ/m2/day"},
               {"MJ·m⁻²", "MJ/m2/day"},
               {"mj/m2", "MJ/m2/day"},
               {"W m⁻²", "W/m2"},
               {"langleys", "Ly/day"},
               {"mph", "mi/h"},
               {"knots", "kn"},
               {"cfs", "ft3/s"},
               {"mbar", "hPa"},
               {"percent", "%"},
               {"kg/m2", "mm"},
               {"µS/cm", "uS/cm"}, /* micro sign */
               {"μS/cm", "uS/cm"}, /* Greek mu */
               {"\thours", "h"}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        const struct unit *unit = units_find(row[i].typed);
        assert_non_null(unit);
        assert_string_equal(unit->symbol, row[i].symbol);
    }
}

static void what_is_not_a_unit_is_not_found(void **state) {
    (void)state;
    static const char *const wrong[] = {"",
                                        " ",
                                        "°",
                                        "furlong",
                                        "mL",
                                        "ml",
                                        "in|inch",
                                        "gal/",
                                        "al/min",
                                        "mm mm",
                                        "megajoules per square metre and day of the month"};
    assert_null(units_find(NULL));
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_null(units_find(wrong[i]));
}

static void every_unit_is_found_by_its_symbol_and_comes_back_from_si(void **state) {
    (void)state;
    int count = 0;
    for (const struct unit *unit; (unit = units_at(count)) != NULL; count++) {
        assert_ptr_equal(units_find(unit->symbol), unit);
        assert_near(units_from_si(units_to_si(17.3, unit), unit), 17.3, 1e-11);
        const struct unit *core = units_of_core(unit->kind);
        assert_near(units_convert(17.3, unit, core), units_to_si(17.3, unit),
                    1e-12 * fabs(units_to_si(17.3, unit)));
        assert_true(units_convert(0.1, unit, unit) == 0.1);
    }
    assert_true(count > 60);
    assert_null(units_at(-1));
}

static void each_kind_has_a_name_and_a_unit_of_core(void **state) {
    (void)state;
    for (int kind = 0; kind < UNIT_KIND_COUNT; kind++) {
        const struct unit *core = units_of_core((enum unit_kind)kind);
        assert_non_null(core);
        assert_true(core->factor == 1.0 && core->zero == 0.0);
        assert_non_null(units_kind_name((enum unit_kind)kind));
    }
    assert_string_equal(units_kind_name(UNIT_CONDUCTIVITY), "electrical conductivity");
    assert_null(units_of_core(UNIT_KIND_COUNT));
    assert_null(units_kind_name(UNIT_KIND_COUNT));
}

static void nothing_comes_of_nothing(void **state) {
    (void)state;
    const struct unit *mm = units_find("mm");
    assert_true(isnan(units_to_si(NAN, mm)));
    assert_true(isnan(units_to_si(1.0, NULL)));
    assert_true(isnan(units_from_si(1.0, NULL)));
    assert_true(isnan(units_difference_to_si(1.0, NULL)));
    assert_true(isnan(units_difference_from_si(1.0, NULL)));
    assert_true(isnan(units_convert(1.0, NULL, mm)));
    assert_true(isnan(units_convert(1.0, mm, NULL)));
    assert_true(isnan(units_convert(1.0, mm, units_find("ha"))));
    assert_true(isnan(units_to_m(1.0, units_find("h"))));
}

static void every_status_has_a_name_of_its_own(void **state) {
    (void)state;
    for (int a = STATUS_OK; a <= STATUS_NO_MEMORY; a++)
        for (int b = STATUS_OK; b < a; b++)
            assert_string_not_equal(status_name((enum status)a), status_name((enum status)b));
    assert_string_equal(status_name((enum status)(STATUS_NO_MEMORY + 1)), "unknown status");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_of_each_unit_is_what_sp_811_prints),
        cmocka_unit_test(exact_definitions_are_exact),
        cmocka_unit_test(common_spellings_are_understood),
        cmocka_unit_test(what_is_not_a_unit_is_not_found),
        cmocka_unit_test(every_unit_is_found_by_its_symbol_and_comes_back_from_si),
        cmocka_unit_test(each_kind_has_a_name_and_a_unit_of_core),
        cmocka_unit_test(nothing_comes_of_nothing),
        cmocka_unit_test(every_status_has_a_name_of_its_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
