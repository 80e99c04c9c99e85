#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "core/balance/yield.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

/* Maize, FAO-33 by stage (from memory): vegetative, flowering, yield formation, ripening. */
static const struct yield_water maize_full[4] = {
    {0.4, 150, 150}, {1.5, 120, 120}, {0.5, 200, 200}, {0.2, 60, 60}};

static void copy_maize(struct yield_water out[4]) {
    for (int i = 0; i < 4; i++)
        out[i] = maize_full[i];
}

static void full_water_gives_full_yield(void **state) {
    (void)state;
    struct yield_share share;
    struct yield_stage each[4];
    struct yield_water season = {1.25, 530, 530};
    assert_int_equal(yield_season(&season, &share), STATUS_OK);
    assert_true(share.relative == 1 && share.lost == 0 && !share.total_loss);
    assert_int_equal(yield_by_stage(maize_full, 4, &share, each), STATUS_OK);
    assert_true(share.relative == 1 && share.lost == 0 && !share.total_loss);
    for (int i = 0; i < 4; i++)
        assert_true(each[i].counted && each[i].factor == 1 && each[i].cost == 0);
}

static void a_line_below_zero_is_total_loss_and_says_so(void **state) {
    (void)state;
    struct yield_share share;
    /* 1 - 1.25 (1 - 0.1) = -0.125. */
    struct yield_water season = {1.25, 500, 50};
    assert_int_equal(yield_season(&season, &share), STATUS_OK);
    assert_true(share.total_loss && share.relative == 0 && share.lost == 1);
    /* Flowering alone: 1 - 1.5 x 0.7 = -0.05. What comes later has nothing left to lose. */
    struct yield_water stage[4];
    struct yield_stage each[4];
    copy_maize(stage);
    stage[1].eta_mm = 0.3 * stage[1].etc_mm;
    stage[2].eta_mm = 0.5 * stage[2].etc_mm;
    assert_int_equal(yield_by_stage(stage, 4, &share, each), STATUS_OK);
    assert_true(share.total_loss && share.relative == 0);
    assert_true(each[1].factor == 0 && each[1].cost == 1);
    assert_true(each[2].cost == 0 && each[2].factor < 1);
}

static void the_product_of_two_stages_is_as_by_hand(void **state) {
    (void)state;
    struct yield_water stage[4];
    struct yield_share share;
    struct yield_stage each[4];
    copy_maize(stage);
    stage[0].eta_mm = 120; /* deficit 0.2: factor 1 - 0.4 x 0.2 = 0.92 */
    stage[1].eta_mm = 108; /* deficit 0.1: factor 1 - 1.5 x 0.1 = 0.85 */
    assert_int_equal(yield_by_stage(stage, 4, &share, each), STATUS_OK);
    assert_near(share.relative, 0.92 * 0.85, 1e-12);
    assert_near(each[0].cost, 0.08, 1e-12);
    assert_near(each[1].cost, 0.15 * 0.92, 1e-12);
    assert_true(!share.total_loss);
}

static void stages_without_a_factor_or_not_reached_are_left_out_and_say_so(void **state) {
    (void)state;
    struct yield_water stage[3] = {{NAN, 100, 20}, {0.8, 100, 50}, {0.5, 0, 0}};
    struct yield_share share;
    struct yield_stage each[3];
    assert_int_equal(yield_by_stage(stage, 3, &share, each), STATUS_OK);
    assert_near(share.relative, 0.6, 1e-12);
    assert_true(!each[0].counted && isnan(each[0].factor) && each[0].cost == 0);
    assert_true(each[1].counted);
    assert_true(!each[2].counted && isnan(each[2].factor) && each[2].cost == 0);
    stage[1].ky = NAN;
    each[1].cost = -7;
    assert_int_equal(yield_by_stage(stage, 3, &share, each), STATUS_MISSING);
    assert_true(each[1].cost == -7);
}

static void more_water_never_lowers_the_yield_and_costs_add_up(void **state) {
    (void)state;
    struct hostile source = hostile_seed(33);
    for (int i = 0; i < 2000; i++) {
        struct yield_water stage[YIELD_STAGES_MAX];
        struct yield_stage each[YIELD_STAGES_MAX];
        struct yield_share less, more;
        double cost = 0;
        for (int k = 0; k < YIELD_STAGES_MAX; k++) {
            double etc = hostile_between(&source, 10, 200);
            stage[k] = (struct yield_water){hostile_between(&source, 0, 1.5), etc,
                                            etc * hostile_between(&source, 0.3, 0.9)};
        }
        assert_int_equal(yield_by_stage(stage, YIELD_STAGES_MAX, &less, each), STATUS_OK);
        for (int k = 0; k < YIELD_STAGES_MAX; k++)
            cost += each[k].cost;
        assert_near(cost, less.lost, 1e-12);
        stage[i % YIELD_STAGES_MAX].eta_mm *= 1.1;
        assert_int_equal(yield_by_stage(stage, YIELD_STAGES_MAX, &more, each), STATUS_OK);
        assert_true(more.relative >= less.relative);
        assert_true(less.relative >= 0 && more.relative <= 1);
    }
}

static void water_that_contradicts_itself_is_named(void **state) {
    (void)state;
    const struct {
        struct yield_water water;
        enum status status;
    } bad[] = {
        {{1, 100, 100.1}, STATUS_ORDER},
        {{-0.1, 100, 50}, STATUS_OUT_OF_RANGE},
        {{3.1, 100, 50}, STATUS_OUT_OF_RANGE},
        {{1, -1, -2}, STATUS_OUT_OF_RANGE},
        {{1, 100, -1}, STATUS_OUT_OF_RANGE},
        {{1, 100001, 50}, STATUS_OUT_OF_RANGE},
        {{INFINITY, 100, 50}, STATUS_NOT_FINITE},
        {{1, NAN, 50}, STATUS_NOT_FINITE},
        {{1, 100, NAN}, STATUS_NOT_FINITE},
        {{NAN, 100, 50}, STATUS_MISSING},
        {{1, 0, 0}, STATUS_MISSING},
        {{1, -1, 0}, STATUS_OUT_OF_RANGE},
    };
    struct yield_share share = {.relative = -1};
    struct yield_stage each;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(yield_season(&bad[i].water, &share), bad[i].status);
        assert_int_equal(yield_by_stage(&bad[i].water, 1, &share, &each), bad[i].status);
    }
    assert_int_equal(yield_by_stage(maize_full, 0, &share, &each), STATUS_NO_ROOM);
    assert_int_equal(yield_by_stage(maize_full, YIELD_STAGES_MAX + 1, &share, &each), STATUS_NO_ROOM);
    assert_true(share.relative == -1);
}

static void no_number_whatever_breaks_a_yield_function(void **state) {
    (void)state;
    struct hostile source = hostile_seed(90);
    int good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        struct yield_water stage[2];
        struct yield_stage each[2];
        for (int k = 0; k < 2; k++)
            stage[k] = (struct yield_water){hostile_number(&source, 0, 1.5), hostile_number(&source, 50, 200),
                                            hostile_number(&source, 0, 100)};
        struct yield_share share = {.relative = -1};
        enum status status = yield_by_stage(stage, 2, &share, each);
        assert_true(status == STATUS_OK ? share.relative >= 0 && share.relative <= 1 : share.relative == -1);
        assert_true(status != STATUS_OK || share.total_loss == (share.relative == 0));
        good += status == STATUS_OK;
    }
    assert_true(good > HOSTILE_ROUNDS / 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full_water_gives_full_yield),
        cmocka_unit_test(a_line_below_zero_is_total_loss_and_says_so),
        cmocka_unit_test(the_product_of_two_stages_is_as_by_hand),
        cmocka_unit_test(stages_without_a_factor_or_not_reached_are_left_out_and_say_so),
        cmocka_unit_test(more_water_never_lowers_the_yield_and_costs_add_up),
        cmocka_unit_test(water_that_contradicts_itself_is_named),
        cmocka_unit_test(no_number_whatever_breaks_a_yield_function),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
