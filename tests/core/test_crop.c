#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "core/balance/crop.h"
#include "core/base/calendar.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"
#include "tests/support/plain_season.h"

#define PLANTED 20000

static const int32_t none[CROP_GROWING_STAGES] = {CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE};

static struct crop plain_crop(void) {
    struct crop crop = plain_setup().crop;
    crop.root_ini_m = 0.2;
    crop.root_max_m = 0.8;
    crop.salt_threshold_ds_m = NAN;
    crop.salt_slope_pct = NAN;
    return crop;
}

/* Walks to a date; a cutting on `cut_date`. */
static struct crop_position walk(const struct crop *crop, const int32_t *stage_date, int32_t date,
                                 int32_t cut_date) {
    struct crop_progress progress = crop_progress_start();
    struct crop_position position = {.stage = STAGE_BARE};
    for (int32_t d = PLANTED - 3; d <= date; d++) {
        struct crop_stage_input input = {d, PLANTED, stage_date, 25, 15, d == cut_date};
        assert_int_equal(crop_advance(crop, &input, &progress, &position), STATUS_OK);
    }
    return position;
}

static struct crop_day day_of(const struct crop *crop, struct crop_position position) {
    struct crop_climate climate = {2, 45, 2, 45};
    struct crop_day day;
    assert_int_equal(crop_day_at(crop, &position, &climate, crop->kc_ini, &day), STATUS_OK);
    return day;
}

static void stages_follow_their_lengths_in_days(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    static const struct {
        int day;
        enum crop_stage stage;
        double share;
    } row[] = {{-1, STAGE_BARE, 0},        {1, STAGE_INITIAL, 0.1},
               {10, STAGE_INITIAL, 1},     {11, STAGE_DEVELOPMENT, 0.05},
               {30, STAGE_DEVELOPMENT, 1}, {31, STAGE_MID, 1 / 30.0},
               {60, STAGE_MID, 1},         {61, STAGE_LATE, 0.1},
               {70, STAGE_LATE, 1},        {71, STAGE_ENDED, 0}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct crop_position at = walk(&crop, none, PLANTED + row[i].day - 1, CALENDAR_NONE);
        assert_int_equal(at.stage, row[i].stage);
        assert_near(at.share, row[i].share, 1e-12);
        assert_near(at.days_in_season, row[i].day > 0 ? row[i].day : 0, 0);
    }
}

static void stages_follow_degree_days(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    crop.clock = CLOCK_DEGREE_DAYS; /* 10 degC d a day: 10, 20, 30, 10 days again */
    for (int day = 1; day <= 75; day++) {
        struct crop_position by_heat = walk(&crop, none, PLANTED + day - 1, CALENDAR_NONE);
        crop.clock = CLOCK_DAYS;
        struct crop_position by_days = walk(&crop, none, PLANTED + day - 1, CALENDAR_NONE);
        assert_int_equal(by_heat.stage, by_days.stage);
        assert_near(by_heat.share, by_days.share, 1e-12);
        assert_near(day_of(&crop, by_heat).root_m, day_of(&crop, by_days).root_m, 1e-12);
        crop.clock = CLOCK_DEGREE_DAYS;
    }
    /* A warm day can pass more than one stage. */
    crop.stage_degree_days[0] = crop.stage_degree_days[1] = 3;
    assert_int_equal(walk(&crop, none, PLANTED + 1, CALENDAR_NONE).stage, STAGE_MID);
}

static void observed_dates_stretch_and_cut_the_stages_that_they_close(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    int32_t dates[CROP_GROWING_STAGES] = {PLANTED + 20, CALENDAR_NONE, PLANTED + 50, CALENDAR_NONE};
    struct crop_position at = walk(&crop, dates, PLANTED + 14, CALENDAR_NONE);
    assert_int_equal(at.stage, STAGE_INITIAL);
    assert_near(at.share, 15 / 20.0, 1e-12);
    assert_int_equal(walk(&crop, dates, PLANTED + 20, CALENDAR_NONE).stage, STAGE_DEVELOPMENT);
    assert_int_equal(walk(&crop, dates, PLANTED + 40, CALENDAR_NONE).stage, STAGE_MID); /* 20 days later */
    at = walk(&crop, dates, PLANTED + 49, CALENDAR_NONE);
    assert_int_equal(at.stage, STAGE_MID);
    assert_near(at.share, 1, 1e-12);
    assert_int_equal(walk(&crop, dates, PLANTED + 50, CALENDAR_NONE).stage, STAGE_LATE);
    assert_int_equal(walk(&crop, dates, PLANTED + 60, CALENDAR_NONE).stage, STAGE_ENDED);
    /* A date that comes before the stage would have begun skips what lies between. */
    int32_t early[CROP_GROWING_STAGES] = {CALENDAR_NONE, PLANTED + 5, CALENDAR_NONE, CALENDAR_NONE};
    assert_int_equal(walk(&crop, early, PLANTED + 4, CALENDAR_NONE).stage, STAGE_INITIAL);
    assert_int_equal(walk(&crop, early, PLANTED + 5, CALENDAR_NONE).stage, STAGE_MID);
}

static void an_observed_end_ends_the_season_and_bends_no_curve(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    int32_t early[CROP_GROWING_STAGES] = {CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE, PLANTED + 65};
    assert_near(walk(&crop, early, PLANTED + 64, CALENDAR_NONE).share, 0.5, 1e-12);
    assert_int_equal(walk(&crop, early, PLANTED + 65, CALENDAR_NONE).stage, STAGE_ENDED);
    int32_t late[CROP_GROWING_STAGES] = {CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE, PLANTED + 90};
    struct crop_position at = walk(&crop, late, PLANTED + 85, CALENDAR_NONE);
    assert_int_equal(at.stage, STAGE_LATE);
    assert_near(at.share, 1, 0);
    int32_t unripe[CROP_GROWING_STAGES] = {CALENDAR_NONE, CALENDAR_NONE, CALENDAR_NONE, PLANTED + 3};
    at = walk(&crop, unripe, PLANTED + 3, CALENDAR_NONE);
    assert_int_equal(at.stage, STAGE_ENDED);
    assert_near(day_of(&crop, at).root_m, crop.root_ini_m, 0);
}

static void a_cutting_begins_the_cycle_again_with_its_own_lengths(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    crop.forage = true;
    int32_t cut = PLANTED + 40;
    struct crop_position at = walk(&crop, none, cut, cut);
    assert_int_equal(at.stage, STAGE_INITIAL);
    assert_true(at.regrowth);
    assert_near(at.share, 0.25, 1e-12);
    assert_near(at.days_in_season, 41, 0);
    assert_near(day_of(&crop, at).height_m, 0.3, 1e-12);
    assert_near(day_of(&crop, at).root_m, 0.8, 1e-12);
    assert_int_equal(walk(&crop, none, cut + 4, cut).stage, STAGE_DEVELOPMENT);
    assert_int_equal(walk(&crop, none, cut + 12, cut).stage, STAGE_MID);
    assert_int_equal(walk(&crop, none, cut + 24, cut).stage, STAGE_LATE);
    /* Uncut, it stands. */
    at = walk(&crop, none, cut + 80, cut);
    assert_int_equal(at.stage, STAGE_LATE);
    assert_near(at.share, 1, 0);
    /* Dates of the first growth say nothing about the second; the end does. */
    int32_t dates[CROP_GROWING_STAGES] = {PLANTED + 8, PLANTED + 20, CALENDAR_NONE, PLANTED + 60};
    assert_int_equal(walk(&crop, dates, cut + 1, cut).stage, STAGE_INITIAL);
    assert_int_equal(walk(&crop, dates, PLANTED + 60, cut).stage, STAGE_ENDED);
}

static void a_cutting_of_what_cannot_be_cut_is_a_contradiction(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    struct crop_progress progress = crop_progress_start(), before = progress;
    struct crop_position position;
    struct crop_stage_input input = {PLANTED, PLANTED, none, 25, 15, true};
    assert_int_equal(crop_advance(&crop, &input, &progress, &position), STATUS_ORDER);
    crop.forage = true;
    input.date = PLANTED - 1;
    assert_int_equal(crop_advance(&crop, &input, &progress, &position), STATUS_ORDER);
    assert_memory_equal(&progress, &before, sizeof progress);
    input.cutting = false;
    input.date = PLANTED;
    input.tmax_c = NAN;
    crop.clock = CLOCK_DEGREE_DAYS;
    assert_int_equal(crop_advance(&crop, &input, &progress, &position), STATUS_MISSING);
    assert_memory_equal(&progress, &before, sizeof progress);
}

static void height_and_roots_grow_to_the_start_of_mid_season(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    double height_m = 0, root_m = 0;
    for (int day = 1; day <= 70; day++) {
        struct crop_day at = day_of(&crop, walk(&crop, none, PLANTED + day - 1, CALENDAR_NONE));
        assert_true(at.height_m >= height_m && at.root_m >= root_m);
        height_m = at.height_m;
        root_m = at.root_m;
        /* Linear from planting: 0.6 m in 30 days (FAO-56 chapter 8). */
        assert_near(at.root_m, 0.2 + 0.6 * fmin((day - 1) / 30.0, 1), 1e-12);
        if (day <= 10)
            assert_near(at.height_m, 0.1, 1e-12);
        if (day >= 30)
            assert_near(at.height_m, 0.9, 1e-12);
    }
}

static void the_climate_moves_only_coefficients_from_0_45_on(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    crop.kcb_end = 0.44;
    struct crop_position end = walk(&crop, none, PLANTED + 69, CALENDAR_NONE);
    struct crop_climate windy = {4, 30, 4, 30};
    struct crop_day day;
    assert_int_equal(crop_day_at(&crop, &end, &windy, 0.4, &day), STATUS_OK);
    /* [0.04 x 2 + 0.004 x 15] (0.9 / 3)^0.3 = 0.0976; FAO-56 eqs 65 and 70. */
    assert_near(day.kc, 0.6 + 0.09756, 5e-6);
    assert_near(day.kcb, 0.44, 1e-12);
    crop.reference = REFERENCE_ASCE_TALL;
    assert_int_equal(crop_day_at(&crop, &end, &windy, 0.4, &day), STATUS_OK);
    assert_near(day.kc, 0.6, 1e-12);
    assert_near(day.kc_max, 1, 1e-12);
}

static void the_climate_of_the_season_goes_into_kc_and_the_days_own_into_kc_max(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    struct crop_position mid = walk(&crop, none, PLANTED + 40, CALENDAR_NONE);
    struct crop_climate climate = {4, 30, 2, 45};
    struct crop_day day;
    assert_int_equal(crop_day_at(&crop, &mid, &climate, 0.4, &day), STATUS_OK);
    assert_near(day.kc, 1.2, 1e-12);
    assert_near(day.kc_max, 1.2 + 0.09756, 5e-6);
}

static void wind_and_humidity_stop_at_the_limits_of_the_equation(void **state) {
    (void)state;
    double inside, outside;
    assert_int_equal(crop_climate_term(6, 20, 2, &inside), STATUS_OK);
    assert_int_equal(crop_climate_term(9, 5, 2, &outside), STATUS_OK);
    assert_near(outside, inside, 0);
    assert_int_equal(crop_climate_term(1, 80, 2, &inside), STATUS_OK);
    assert_int_equal(crop_climate_term(0, 100, 2, &outside), STATUS_OK);
    assert_near(outside, inside, 0);
    assert_int_equal(crop_climate_term(2, 45, 2, &inside), STATUS_OK);
    assert_near(inside, 0, 0);
}

static void kc_max_is_never_below_kcb_and_five_hundredths(void **state) {
    (void)state;
    assert_near(crop_kc_max(REFERENCE_FAO56_GRASS, 1.3, 0), 1.35, 1e-12);
    assert_near(crop_kc_max(REFERENCE_FAO56_GRASS, 0.5, 0), 1.2, 1e-12);
    assert_near(crop_kc_max(REFERENCE_ASCE_TALL, 0.5, 0.1), 1.0, 1e-12);
}

static void cover_stays_between_nothing_and_0_99(void **state) {
    (void)state;
    for (double kcb = 0; kcb <= 1.3; kcb += 0.01) {
        double cover = crop_cover(kcb, fmax(1.2, kcb + 0.05), 0.5);
        assert_true(cover >= 0 && cover <= 0.99);
    }
    assert_near(crop_cover(0.15, 1.2, 0.5), pow(0.01 / 1.05, 1.25), 1e-12); /* eq. 76, the least of 0.01 */
    assert_true(isnan(crop_cover(NAN, 1.2, 0.5)));
}

static void kc_ini_falls_with_the_interval_and_rises_with_the_depth(void **state) {
    (void)state;
    for (int fine = 0; fine < 2; fine++)
        for (double et0 = 0.5; et0 < 10; et0 += 0.5) {
            double before = 2;
            for (double days = 0.5; days < 30; days += 0.5) {
                double thin, thick, part;
                assert_int_equal(crop_kc_ini(et0, days, 5, 1, !fine, &thin), STATUS_OK);
                assert_int_equal(crop_kc_ini(et0, days, 45, 1, !fine, &thick), STATUS_OK);
                assert_int_equal(crop_kc_ini(et0, days, 20, 1, !fine, &part), STATUS_OK);
                assert_true(thin <= before && thin > 0 && thick <= 1.15 + 1e-12);
                assert_true(part >= fmin(thin, thick) - 1e-12 && part <= fmax(thin, thick) + 1e-12);
                before = thin;
            }
        }
    double kc;
    assert_int_equal(crop_kc_ini(0, 4, 20, 0.5, true, &kc), STATUS_OK);
    assert_near(kc, 0.5 * 1.15, 1e-12);
}

static void a_thin_stand_has_less_kcb_and_less_cover(void **state) {
    (void)state;
    struct crop crop = plain_crop();
    struct crop_day day = day_of(&crop, walk(&crop, none, PLANTED + 40, CALENDAR_NONE)), seen = day;
    struct crop_density density = crop_density_seen(&day, day.cover / 2);
    crop_thin(&seen, density);
    assert_near(seen.cover, day.cover / 2, 1e-12);
    /* Eq. 98 by hand: 0.15 + 0.95 x min(1, 1, 0.5^(1 / 1.9)) */
    assert_near(seen.kcb, 0.15 + 0.95 * pow(0.5, 1 / 1.9), 1e-12);
    seen = day;
    crop_thin(&seen, crop_density_seen(&day, day.cover));
    assert_memory_equal(&seen, &day, sizeof day);
    /* A denser stand covers more and keeps its Kcb. */
    crop_thin(&seen, crop_density_seen(&day, 1));
    assert_near(seen.cover, 0.99, 0);
    assert_near(seen.kcb, day.kcb, 0);
}

static void equations_97_and_98_reach_full_kcb_at_full_cover(void **state) {
    (void)state;
    assert_near(crop_kcb_of_cover(1.1, 1, 2), 1.1, 1e-12);
    assert_near(crop_kcb_of_cover(1.1, 0, 2), 0.15, 1e-12);
    assert_near(crop_kcb_of_cover(1.1, 0.2, 2), 0.15 + 0.95 * 0.4, 1e-12); /* 2 fc */
    assert_near(crop_kcb_of_cover(0.1, 0.5, 2), 0.1, 0);
    assert_near(crop_kcb_of_leaf_area(1.1, 20), 1.1, 1e-5);
    assert_near(crop_kcb_of_leaf_area(1.1, 1), 0.15 + 0.95 * (1 - exp(-0.7)), 1e-12);
    assert_near(crop_kcb_of_leaf_area(0.1, 1), 0.1, 0);
    assert_true(isnan(crop_kcb_of_cover(1.1, 1.1, 2)) && isnan(crop_kcb_of_cover(1.1, NAN, 2)));
    assert_true(isnan(crop_kcb_of_cover(1.1, -0.1, 2)) && isnan(crop_kcb_of_cover(1.1, 0.5, -1)));
    assert_true(isnan(crop_kcb_of_cover(1.1, 0.5, 11)));
    assert_true(isnan(crop_kcb_of_leaf_area(1.1, -1)) && isnan(crop_kcb_of_leaf_area(1.1, 21)));
}

/* Table 22, footnote: p + 0.04 (5 - ETc), 0.1 to 0.8. */
static void p_is_adjusted_for_etc_within_its_limits(void **state) {
    (void)state;
    assert_near(crop_depletion_fraction(0.5, 5), 0.5, 0);
    assert_near(crop_depletion_fraction(0.5, 8), 0.38, 1e-12);
    assert_near(crop_depletion_fraction(0.5, 20), 0.1, 0);
    assert_near(crop_depletion_fraction(0.7, 1), 0.8, 0);
    assert_true(isnan(crop_depletion_fraction(NAN, 1)));
}

static void degree_days_count_between_base_and_ceiling(void **state) {
    (void)state;
    double sum;
    assert_int_equal(crop_degree_days(30, 20, 10, NAN, &sum), STATUS_OK);
    assert_near(sum, 15, 1e-12);
    assert_int_equal(crop_degree_days(40, 20, 10, 30, &sum), STATUS_OK);
    assert_near(sum, 15, 1e-12);
    assert_int_equal(crop_degree_days(16, 2, 10, 30, &sum), STATUS_OK);
    assert_near(sum, 3, 1e-12);
    assert_int_equal(crop_degree_days(5, 2, 10, 30, &sum), STATUS_OK);
    assert_near(sum, 0, 0);
    assert_int_equal(crop_degree_days(2, 5, 10, 30, &sum), STATUS_ORDER);
    assert_int_equal(crop_degree_days(20, 5, 30, 30, &sum), STATUS_ORDER);
    assert_int_equal(crop_degree_days(NAN, 5, 10, 30, &sum), STATUS_MISSING);
    assert_int_equal(crop_degree_days(20, INFINITY, 10, 30, &sum), STATUS_NOT_FINITE);
    assert_int_equal(crop_degree_days(20, 5, 100, 30, &sum), STATUS_OUT_OF_RANGE);
}

static void curve_and_names_cover_their_enums(void **state) {
    (void)state;
    assert_near(crop_curve(1, 2, 3, STAGE_BARE, 0.5), 0, 0);
    assert_near(crop_curve(1, 2, 3, STAGE_ENDED, 0.5), 0, 0);
    assert_near(crop_curve(1, 2, 3, STAGE_COUNT, 0.5), 0, 0);
    assert_near(crop_curve(1, 2, 3, (enum crop_stage)9, 0.5), 0, 0);
    for (int i = 0; i < STAGE_COUNT; i++)
        assert_non_null(crop_stage_name((enum crop_stage)i));
    assert_string_equal(crop_stage_name(STAGE_MID), "mid-season");
    assert_null(crop_stage_name(STAGE_COUNT));
    assert_false(crop_growing(STAGE_BARE) || crop_growing(STAGE_ENDED));
    assert_true(crop_growing(STAGE_INITIAL) && crop_growing(STAGE_LATE));
}

static void refused(struct crop crop, enum status wanted, const char *wanted_member) {
    const char *member = "none";
    assert_int_equal(crop_check_member(&crop, &member), wanted);
    assert_string_equal(member, wanted_member);
    assert_int_equal(crop_check(&crop), wanted);
}

static void a_wrong_crop_is_refused_by_the_name_of_its_member(void **state) {
    (void)state;
    struct crop good = plain_crop(), crop = good;
    assert_int_equal(crop_check(&good), STATUS_OK);
    good.kc_ini = NAN; /* by wetting */
    assert_int_equal(crop_check(&good), STATUS_OK);
#define WITH(change, status, member)                                                                         \
    do {                                                                                                     \
        crop = good;                                                                                         \
        change;                                                                                              \
        refused(crop, status, member);                                                                       \
    } while (0)
    WITH(crop.stage_days[2] = 0, STATUS_OUT_OF_RANGE, "stage_days");
    WITH(crop.stage_days[2] = NAN, STATUS_MISSING, "stage_days");
    WITH(crop.kcb_mid = -0.1, STATUS_OUT_OF_RANGE, "kcb_mid");
    WITH(crop.kc_mid = INFINITY, STATUS_NOT_FINITE, "kc_mid");
    WITH(crop.root_ini_m = 0, STATUS_OUT_OF_RANGE, "root_ini_m");
    WITH(crop.root_ini_m = 0.9, STATUS_ORDER, "root_max_m");
    WITH(crop.height_ini_m = 1, STATUS_ORDER, "height_max_m");
    WITH(crop.allowed_depletion[0] = 1.5, STATUS_OUT_OF_RANGE, "allowed_depletion");
    WITH(crop.reference = (enum reference_kind)7, STATUS_OUT_OF_RANGE, "reference");
    WITH(crop.clock = (enum crop_clock)2, STATUS_OUT_OF_RANGE, "clock");
    WITH(crop.clock = CLOCK_DEGREE_DAYS; crop.base_c = NAN, STATUS_MISSING, "base_c");
    WITH(crop.clock = CLOCK_DEGREE_DAYS; crop.ceiling_c = 10, STATUS_ORDER, "ceiling_c");
    WITH(crop.clock = CLOCK_DEGREE_DAYS;
         crop.stage_degree_days[1] = -5, STATUS_OUT_OF_RANGE, "stage_degree_days");
    WITH(crop.forage = true; crop.cut_stage_days[3] = 0, STATUS_OUT_OF_RANGE, "cut_stage_days");
    WITH(crop.forage = true; crop.cut_height_m = 2, STATUS_ORDER, "cut_height_m");
#undef WITH
    good.clock = CLOCK_DEGREE_DAYS;
    good.forage = true;
    good.ceiling_c = NAN;
    assert_int_equal(crop_check(&good), STATUS_OK);
}

static void hostile_numbers_give_a_status_or_a_finite_result(void **state) {
    (void)state;
    struct hostile source = hostile_seed(21);
    for (int n = 0; n < HOSTILE_ROUNDS; n++) {
        double a = hostile_number(&source, 0, 10), b = hostile_number(&source, 0, 100),
               c = hostile_number(&source, 0, 10), d = hostile_number(&source, 0, 1), out = 0;
        if (crop_climate_term(a, b, c, &out) == STATUS_OK)
            assert_true(isfinite(out));
        if (crop_alfalfa_ratio(a, b, &out) == STATUS_OK)
            assert_true(out > 1 && out < 1.6);
        if (crop_kc_ini(a, b, c, d, n % 2, &out) == STATUS_OK)
            assert_true(out > 0 && out <= 1.15 + 1e-12);
        if (crop_kc_ini_figure((enum crop_wetting)(n % 4), a, b, &out) == STATUS_OK)
            assert_true(n % 4 < 3 && out > 0 && out <= 1.15);
        if (crop_wetting_interval(b, a, c, &out) == STATUS_OK)
            assert_true(isfinite(out) && out > 0);
        if (crop_degree_days(b, a, c, 30, &out) == STATUS_OK)
            assert_true(out >= 0 && out <= 30);
        struct crop crop = plain_crop();
        struct crop_climate climate = {a, b, c, 100 * d};
        struct crop_position mid = {.stage = STAGE_MID, .share = 0.5, .share_morning = 0.5};
        struct crop_day day;
        if (crop_day_at(&crop, &mid, &climate, 0.4, &day) == STATUS_OK)
            assert_true(isfinite(day.kc + day.kcb + day.kc_max + day.cover));
    }
    double out;
    assert_int_equal(crop_wetting_interval(30, 0, 5, &out), STATUS_MISSING);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stages_follow_their_lengths_in_days),
        cmocka_unit_test(stages_follow_degree_days),
        cmocka_unit_test(observed_dates_stretch_and_cut_the_stages_that_they_close),
        cmocka_unit_test(an_observed_end_ends_the_season_and_bends_no_curve),
        cmocka_unit_test(a_cutting_begins_the_cycle_again_with_its_own_lengths),
        cmocka_unit_test(a_cutting_of_what_cannot_be_cut_is_a_contradiction),
        cmocka_unit_test(height_and_roots_grow_to_the_start_of_mid_season),
        cmocka_unit_test(the_climate_moves_only_coefficients_from_0_45_on),
        cmocka_unit_test(the_climate_of_the_season_goes_into_kc_and_the_days_own_into_kc_max),
        cmocka_unit_test(wind_and_humidity_stop_at_the_limits_of_the_equation),
        cmocka_unit_test(kc_max_is_never_below_kcb_and_five_hundredths),
        cmocka_unit_test(cover_stays_between_nothing_and_0_99),
        cmocka_unit_test(kc_ini_falls_with_the_interval_and_rises_with_the_depth),
        cmocka_unit_test(a_thin_stand_has_less_kcb_and_less_cover),
        cmocka_unit_test(equations_97_and_98_reach_full_kcb_at_full_cover),
        cmocka_unit_test(p_is_adjusted_for_etc_within_its_limits),
        cmocka_unit_test(degree_days_count_between_base_and_ceiling),
        cmocka_unit_test(curve_and_names_cover_their_enums),
        cmocka_unit_test(a_wrong_crop_is_refused_by_the_name_of_its_member),
        cmocka_unit_test(hostile_numbers_give_a_status_or_a_finite_result),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
