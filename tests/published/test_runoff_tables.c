#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/balance/runoff.h"
#include "tests/support/near.h"
#include "tests/support/table.h"

/* The formulas of Chow et al. 1988 against the fixture's own evaluation of them (two decimals), and against
 * the whole numbers of NEH 630 Table 10-1 (from memory), which they fit within 2.25. */
static void dry_and_wet_curve_numbers_follow_chow_and_fit_the_nrcs_table(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/runoff_cn_arc_conversion.csv");
    assert_true(table_rows(table) > 60);
    double worst = 0;
    for (int row = 0; row < table_rows(table); row++) {
        double cn = table_number(table, row, "CN_II");
        double dry = runoff_cn_dry(cn), wet = runoff_cn_wet(cn);
        assert_near(dry, table_number(table, row, "CN_I_Chow1988_formula"), 0.0051);
        assert_near(wet, table_number(table, row, "CN_III_Chow1988_formula"), 0.0051);
        assert_near(dry, table_number(table, row, "CN_I_table"), 2.25);
        assert_near(wet, table_number(table, row, "CN_III_table"), 2.25);
        worst = fmax(worst, fabs(dry - table_number(table, row, "CN_I_table")));
        worst = fmax(worst, fabs(wet - table_number(table, row, "CN_III_table")));
    }
    print_message("# antecedent curve numbers: formula and NRCS table differ by at most %.2f\n", worst);
    table_free(table);
}

/* TR-55 Table 2-1 (from memory), inches to two decimals: half a hundredth of an inch. */
static void runoff_depths_of_tr_55_are_reproduced(void **state) {
    (void)state;
    struct table *table = table_read("fixtures/published/runoff_tr55_table2_1.csv");
    assert_int_equal(table_rows(table), 23);
    for (int row = 0; row < table_rows(table); row++) {
        double q_mm = NAN;
        assert_int_equal(runoff_curve_number_mm(25.4 * table_number(table, row, "P_in"),
                                                table_number(table, row, "CN"), &q_mm),
                         STATUS_OK);
        assert_near(q_mm / 25.4, table_number(table, row, "Q_in_printed"), 0.005);
    }
    table_free(table);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dry_and_wet_curve_numbers_follow_chow_and_fit_the_nrcs_table),
        cmocka_unit_test(runoff_depths_of_tr_55_are_reproduced),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
