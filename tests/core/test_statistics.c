#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "core/decide/distribution.h"
#include "core/decide/scores.h"
#include "core/decide/variance.h"
#include "tests/support/near.h"

/* ---- distributions: values of R 4.2.2, to its 15 digits ---- */

static void tail_of_f_is_that_of_r(void **state) {
    (void)state;
    /* pf(f, df1, df2, lower.tail = FALSE) */
    assert_near(distribution_f_above(4.26, 3, 12), 0.0288897063714095, 1e-15);
    assert_near(distribution_f_above(1e-9, 1, 1), 0.9999798683151648, 1e-12);
    assert_near(distribution_f_above(250, 2, 5), 9.75431026575814e-06, 1e-18);
    assert_near(distribution_f_above(0, 2, 5), 1, 0);
    assert_near(distribution_f_above(INFINITY, 2, 5), 0, 0);
}

static void t_and_its_inverse_are_those_of_r(void **state) {
    (void)state;
    /* qt(1 - beyond / 2, df) */
    assert_near(distribution_t_of(0.05, 12), 2.1788128296672284, 1e-12);
    assert_near(distribution_t_of(0.05, 1), 12.7062047361746941, 1e-11);
    assert_near(distribution_t_of(1, 5), 0, 1e-300);
    for (double df = 1; df < 2000; df *= 7) {
        for (double beyond = 0.9; beyond > 1e-6; beyond /= 9)
            assert_near(distribution_t_beyond(distribution_t_of(beyond, df), df) / beyond, 1, 1e-9);
    }
}

static void beta_is_symmetric_and_within_nought_and_one(void **state) {
    (void)state;
    static const double parameter[] = {0.5, 1, 2.5, 7, 60, 1000};
    for (int i = 0; i < 6; i++) {
        for (int k = 0; k < 6; k++) {
            double before = 0;
            for (double x = 0; x <= 1; x += 0.0625) {
                double a = parameter[i], b = parameter[k], value = distribution_beta(a, b, x);
                assert_true(value >= before - 1e-14 && value <= 1 + 1e-14);    /* it grows with x */
                assert_near(value + distribution_beta(b, a, 1 - x), 1, 1e-11); /* DLMF 8.17.4 */
                before = value;
            }
        }
    }
    assert_near(distribution_beta(1, 1, 0.3), 0.3, 1e-15); /* the uniform distribution */
}

static void distributions_outside_their_ranges_are_nan(void **state) {
    (void)state;
    assert_true(isnan(distribution_beta(0.4, 1, 0.5)));
    assert_true(isnan(distribution_beta(1, NAN, 0.5)));
    assert_true(isnan(distribution_beta(1, 1, 1.1)));
    assert_true(isnan(distribution_beta(1, 1, -0.1)));
    assert_true(isnan(distribution_f_above(-1, 1, 1)));
    assert_true(isnan(distribution_f_above(1, 0.5, 1)));
    assert_true(isnan(distribution_f_above(1, 1, 2e6)));
    assert_true(isnan(distribution_t_of(0, 5)));
    assert_true(isnan(distribution_t_of(1.1, 5)));
    assert_true(isnan(distribution_t_of(0.05, 0)));
}

/* ---- npk of R's datasets (W.N. Venables and B.D. Ripley, Modern applied statistics with S, 2002): yield of
 * peas, lb a plot, in six blocks of four; the table is R's aov(yield ~ block + N * P * K) ---- */

static const double npk_yield[24] = {49.5, 62.8, 46.8, 57.0, 59.8, 58.5, 55.5, 56.0, 62.8, 55.8, 69.5, 55.0,
                                     62.0, 48.8, 45.5, 44.2, 52.0, 51.5, 49.8, 48.8, 57.2, 59.0, 53.2, 56.0};
static const int npk_block[24] = {0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5};
static const int npk_n[24] = {0, 1, 0, 1, 1, 1, 0, 0, 0, 1, 1, 0, 1, 1, 0, 0, 1, 0, 1, 0, 1, 1, 0, 0};
static const int npk_p[24] = {1, 1, 0, 0, 0, 1, 0, 1, 1, 1, 0, 0, 0, 1, 0, 1, 1, 0, 0, 1, 0, 1, 1, 0};
static const int npk_k[24] = {1, 0, 0, 1, 0, 1, 1, 0, 0, 1, 0, 1, 0, 1, 1, 0, 0, 0, 1, 1, 1, 0, 1, 0};

static const struct variance_factor npk_factor[4] = {{6, npk_block}, {2, npk_n}, {2, npk_p}, {2, npk_k}};
static const struct variance_term npk_term[8] = {{1, {0}, -1},    {1, {1}, -1},      {1, {2}, -1},
                                                 {1, {3}, -1},    {2, {1, 2}, -1},   {2, {1, 3}, -1},
                                                 {2, {2, 3}, -1}, {3, {1, 2, 3}, -1}};
static double work[VARIANCE_WORK(VARIANCE_PLOTS_MAX)];

static void the_table_of_npk_is_that_of_r(void **state) {
    (void)state;
    static const struct {
        int df;
        double sum_square, f, p;
    } r[8] = {{5, 343.295, 4.44666642680, 0.015938790208},
              {1, 189.2816666667, 12.25873421365, 0.004371811826},
              {1, 8.4016666667, 0.54412981686, 0.474904092674},
              {1, 95.2016666667, 6.16568920232, 0.028795053500},
              {1, 21.2816666667, 1.37829669341, 0.263165282877},
              {1, 33.135, 2.14597200734, 0.168647878500},
              {1, 0.4816666667, 0.03119490519, 0.862752085685},
              {12, 185.2866666667, NAN, NAN}};
    struct variance_row row[9];
    assert_int_equal(variance_table(npk_yield, 24, npk_factor, 4, npk_term, 8, row, work), STATUS_OK);
    for (int i = 0; i < 7; i++) {
        assert_int_equal(row[i].df, r[i].df);
        assert_near(row[i].sum_square, r[i].sum_square, 1e-9 * r[i].sum_square);
        assert_near(row[i].f, r[i].f, 1e-10 * r[i].f);
        assert_near(row[i].p, r[i].p, 1e-11);
    }
    /* N:P:K is confounded with the blocks: R leaves it out, here nothing is left for it. */
    assert_int_equal(row[7].df, 0);
    assert_true(isnan(row[7].mean_square) && isnan(row[7].f) && row[7].sum_square == 0);
    assert_int_equal(row[8].df, r[7].df);
    assert_near(row[8].sum_square, r[7].sum_square, 1e-7);
}

static void sums_of_squares_add_up_whatever_the_layout(void **state) {
    (void)state;
    for (int plots = 3; plots <= 24; plots++) {
        struct variance_row row[9];
        assert_int_equal(variance_table(npk_yield, plots, npk_factor, 4, npk_term, 8, row, work), STATUS_OK);
        double mean = 0, all = 0, sum = 0;
        int df = 0;
        for (int i = 0; i < plots; i++)
            mean += npk_yield[i] / plots;
        for (int i = 0; i < plots; i++)
            all += (npk_yield[i] - mean) * (npk_yield[i] - mean);
        for (int i = 0; i < 9; i++) {
            assert_true(row[i].sum_square >= -1e-9);
            sum += row[i].sum_square;
            df += row[i].df;
        }
        assert_near(sum, all, 1e-9 * all);
        assert_int_equal(df, plots - 1);
    }
}

static void a_term_can_be_judged_by_another_or_not_at_all(void **state) {
    (void)state;
    struct variance_term term[3] = {{1, {0}, 2}, {1, {1}, 2}, {2, {0, 1}, 2}};
    struct variance_row row[4];
    assert_int_equal(variance_table(npk_yield, 24, npk_factor, 4, term, 3, row, work), STATUS_OK);
    assert_near(row[1].f, row[1].mean_square / row[2].mean_square, 1e-12);
    assert_true(isnan(row[2].f) && isnan(row[2].p));
    assert_true(isfinite(row[2].mean_square));
}

static void without_plots_to_spare_nothing_is_judged(void **state) {
    (void)state;
    static const int level[3] = {0, 1, 2};
    struct variance_factor factor = {3, level};
    struct variance_term term = {1, {0}, -1};
    struct variance_row row[2];
    assert_int_equal(variance_table(npk_yield, 3, &factor, 1, &term, 1, row, work), STATUS_OK);
    assert_int_equal(row[0].df, 2);
    assert_int_equal(row[1].df, 0);
    assert_true(isnan(row[0].f) && isnan(row[0].p) && isnan(row[1].mean_square));
    struct variance_mean mean, other;
    struct variance_difference difference;
    assert_int_equal(variance_mean_of(npk_yield, 3, &factor, 1, &row[1], 0.95, &mean), STATUS_OK);
    assert_true(mean.count == 1 && mean.mean == 62.8 && isnan(mean.sd) && isnan(mean.low) &&
                isnan(mean.high));
    assert_int_equal(variance_mean_of(npk_yield, 3, &factor, 2, &row[1], 0.95, &other), STATUS_OK);
    assert_int_equal(variance_difference_of(&mean, &other, &row[1], 0.95, &difference), STATUS_OK);
    assert_near(difference.difference, 62.8 - 46.8, 1e-12);
    assert_true(isnan(difference.p) && isnan(difference.low));
}

/* R: with(npk, t.test(yield ~ N, var.equal = TRUE)) gives the same with one factor and no blocks. */
static void two_treatments_differ_as_in_a_t_test(void **state) {
    (void)state;
    struct variance_term term = {1, {1}, -1};
    struct variance_row row[2];
    struct variance_mean none, nitrogen;
    struct variance_difference difference;
    assert_int_equal(variance_table(npk_yield, 24, npk_factor, 4, &term, 1, row, work), STATUS_OK);
    assert_int_equal(variance_mean_of(npk_yield, 24, &npk_factor[1], 0, &row[1], 0.95, &none), STATUS_OK);
    assert_int_equal(variance_mean_of(npk_yield, 24, &npk_factor[1], 1, &row[1], 0.95, &nitrogen), STATUS_OK);
    assert_int_equal(variance_difference_of(&nitrogen, &none, &row[1], 0.95, &difference), STATUS_OK);
    assert_near(none.mean, 52.0666666666667, 1e-12);
    assert_near(nitrogen.mean, 57.6833333333333, 1e-12);
    assert_near(difference.difference, 5.61666666666667, 1e-12);
    /* F is the square of t, so the two say the same. */
    assert_near(difference.p, row[0].p, 1e-12);
    assert_true(difference.low < 5.6 && difference.high > 5.7);
    assert_true(none.low < none.mean && none.mean < none.high && none.sd > 0);
}

static void a_group_without_plots_has_no_mean(void **state) {
    (void)state;
    static const struct variance_factor three = {3, npk_n};
    struct variance_row error = {12, 185.29, 15.44, NAN, NAN};
    struct variance_mean mean, other;
    struct variance_difference difference;
    assert_int_equal(variance_mean_of(npk_yield, 24, &three, 2, &error, 0.95, &mean), STATUS_OK);
    assert_true(mean.count == 0 && isnan(mean.mean) && isnan(mean.low));
    assert_int_equal(variance_mean_of(npk_yield, 24, &three, 1, &error, 0.95, &other), STATUS_OK);
    assert_int_equal(variance_difference_of(&mean, &other, &error, 0.95, &difference), STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_difference_of(&other, &mean, &error, 0.95, &difference), STATUS_OUT_OF_RANGE);
}

static void hostile_trials_are_refused(void **state) {
    (void)state;
    struct variance_row row[9], error = {5, 10, 2, NAN, NAN};
    struct variance_mean mean = {2, 1, 1, 0, 2};
    struct variance_difference difference;
    assert_int_equal(variance_table(npk_yield, 1, npk_factor, 4, npk_term, 8, row, work),
                     STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_table(npk_yield, VARIANCE_PLOTS_MAX + 1, npk_factor, 4, npk_term, 8, row, work),
                     STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_table(npk_yield, 24, npk_factor, 0, npk_term, 8, row, work),
                     STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_table(npk_yield, 24, npk_factor, 4, npk_term, 0, row, work),
                     STATUS_OUT_OF_RANGE);
    struct variance_factor factor = {0, npk_n};
    struct variance_term term = {1, {0}, -1};
    assert_int_equal(variance_table(npk_yield, 24, &factor, 1, &term, 1, row, work), STATUS_OUT_OF_RANGE);
    factor.levels = 1; /* a level of 1 is then too high */
    assert_int_equal(variance_table(npk_yield, 24, &factor, 1, &term, 1, row, work), STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_mean_of(npk_yield, 24, &factor, 0, &error, 0.95, &mean), STATUS_OUT_OF_RANGE);
    factor.levels = 2;
    term.error = 1;
    assert_int_equal(variance_table(npk_yield, 24, &factor, 1, &term, 1, row, work), STATUS_OUT_OF_RANGE);
    term = (struct variance_term){4, {0}, -1};
    assert_int_equal(variance_table(npk_yield, 24, &factor, 1, &term, 1, row, work), STATUS_OUT_OF_RANGE);
    term = (struct variance_term){1, {1}, -1};
    assert_int_equal(variance_table(npk_yield, 24, &factor, 1, &term, 1, row, work), STATUS_OUT_OF_RANGE);
    term.factor[0] = 0;
    double value[2] = {1, INFINITY};
    assert_int_equal(variance_table(value, 2, &factor, 1, &term, 1, row, work), STATUS_NOT_FINITE);
    assert_int_equal(variance_mean_of(value, 2, &factor, 0, &error, 0.95, &mean), STATUS_NOT_FINITE);
    assert_int_equal(variance_mean_of(value, 1, &factor, 0, &error, 0.95, &mean), STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_mean_of(npk_yield, 24, &factor, 0, &error, 1, &mean), STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_mean_of(npk_yield, 24, &factor, 0, &error, 0.4, &mean), STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_difference_of(&mean, &mean, &error, NAN, &difference), STATUS_OUT_OF_RANGE);
    error.df = -1;
    assert_int_equal(variance_mean_of(npk_yield, 24, &factor, 0, &error, 0.95, &mean), STATUS_OUT_OF_RANGE);
    assert_int_equal(variance_difference_of(&mean, &mean, &error, 0.95, &difference), STATUS_OUT_OF_RANGE);
    error.df = 5;
    struct variance_mean broken = {2, NAN, 1, 0, 2};
    assert_int_equal(variance_difference_of(&broken, &mean, &error, 0.95, &difference), STATUS_NOT_FINITE);
    assert_int_equal(variance_difference_of(&mean, &broken, &error, 0.95, &difference), STATUS_NOT_FINITE);
}

/* ---- scores: by hand, on four pairs ---- */

static void scores_are_as_by_hand(void **state) {
    (void)state;
    static const double measured[4] = {1, 2, 3, 6}, modelled[4] = {2, 2, 4, 5};
    struct scores scores;
    assert_int_equal(scores_of(measured, modelled, 4, &scores), STATUS_OK);
    assert_near(scores.bias, 0.25, 1e-15);       /* (1 + 0 + 1 - 1) / 4 */
    assert_near(scores.rmse, sqrt(0.75), 1e-15); /* squares 1, 0, 1, 1 */
    assert_near(scores.mae, 0.75, 1e-15);
    assert_near(scores.efficiency, 1 - 3.0 / 14, 1e-15); /* about the mean 3: 4 + 1 + 0 + 9 */
    /* |modelled - 3| + |measured - 3|: 3, 2, 1, 5; squares 9 + 4 + 1 + 25 */
    assert_near(scores.agreement, 1 - 3.0 / 39, 1e-15);
    /* modelled about 3.25: -1.25, -1.25, 0.75, 1.75; products with -2, -1, 0, 3: 9; squares 6.75 */
    assert_near(scores.r2, 81.0 / (14 * 6.75), 1e-14);
    assert_int_equal(scores.count, 4);
}

static void a_perfect_model_scores_one(void **state) {
    (void)state;
    static const double measured[3] = {0.2, 0.25, 0.22};
    struct scores scores;
    assert_int_equal(scores_of(measured, measured, 3, &scores), STATUS_OK);
    assert_true(scores.bias == 0 && scores.rmse == 0 && scores.efficiency == 1 && scores.agreement == 1);
    assert_near(scores.r2, 1, 1e-14);
}

static void what_does_not_vary_has_no_efficiency(void **state) {
    (void)state;
    static const double measured[2] = {0.2, 0.2}, modelled[2] = {0.1, 0.2};
    struct scores scores;
    assert_int_equal(scores_of(measured, modelled, 2, &scores), STATUS_OK);
    assert_true(isnan(scores.efficiency) && isnan(scores.r2) && isfinite(scores.agreement));
    assert_int_equal(scores_of(measured, measured, 2, &scores), STATUS_OK);
    assert_true(isnan(scores.agreement));
}

static void pairs_that_are_no_numbers_are_refused(void **state) {
    (void)state;
    static const double good[2] = {1, 2}, bad[2] = {1, NAN};
    struct scores scores;
    assert_int_equal(scores_of(good, good, 0, &scores), STATUS_MISSING);
    assert_int_equal(scores_of(good, bad, 2, &scores), STATUS_NOT_FINITE);
    assert_int_equal(scores_of(bad, good, 2, &scores), STATUS_NOT_FINITE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tail_of_f_is_that_of_r),
        cmocka_unit_test(t_and_its_inverse_are_those_of_r),
        cmocka_unit_test(beta_is_symmetric_and_within_nought_and_one),
        cmocka_unit_test(distributions_outside_their_ranges_are_nan),
        cmocka_unit_test(the_table_of_npk_is_that_of_r),
        cmocka_unit_test(sums_of_squares_add_up_whatever_the_layout),
        cmocka_unit_test(a_term_can_be_judged_by_another_or_not_at_all),
        cmocka_unit_test(without_plots_to_spare_nothing_is_judged),
        cmocka_unit_test(two_treatments_differ_as_in_a_t_test),
        cmocka_unit_test(a_group_without_plots_has_no_mean),
        cmocka_unit_test(hostile_trials_are_refused),
        cmocka_unit_test(scores_are_as_by_hand),
        cmocka_unit_test(a_perfect_model_scores_one),
        cmocka_unit_test(what_does_not_vary_has_no_efficiency),
        cmocka_unit_test(pairs_that_are_no_numbers_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
