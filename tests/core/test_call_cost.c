/* The call by expected cost at the ends of its ranges, and what the weighing takes a field's system for. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "tests/support/cost_case.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

static struct call call_of(const struct cost_case *one, struct outlook_cost *cost) {
    struct call call;
    assert_int_equal(call_by_cost(&one->input, &one->outlook, &one->weigh, &cost_case_cost_room, &call, cost),
                     STATUS_OK);
    return call;
}

static struct outlook_cost cost_of(const struct cost_case *one) {
    struct outlook_cost cost;
    assert_int_equal(outlook_cost_run(&one->weigh, &cost_case_cost_room, &cost), STATUS_OK);
    return cost;
}

/* Chances and days of a weather that reaches `days` ahead while the paths reach ten. */
static void shorten(struct cost_case *one, int days) {
    one->weather.days = days;
    assert_int_equal(outlook_run(&one->field, &one->weather, 0, &cost_case_room, &one->outlook), STATUS_OK);
    assert_int_equal(one->outlook.days, days);
}

/* ---- the call */

static void what_was_weighed_is_told(void **state) {
    (void)state;
    struct cost_case one;
    struct outlook_cost cost;
    cost_case_make(&one, 60, -1, 0, 0);
    struct call call = call_of(&one, &cost);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_near(call.spared_mm, cost.gross_now_mm - cost.gross_wait_mm, 0);
    assert_true(cost.now < cost.wait);
}

/* At 2.3 mm a day, half of what the crop uses, every morning that is waited for is stress later on. */
static void a_slow_system_starts_before_the_field_is_dry(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 44, -1, 0, 0);
    one.system.flow_m3_h = 1.5;
    struct call call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PASSES_LATER);
    assert_int_equal(call.dry_date, COST_CASE_TODAY + 1);
    cost_case_make(&one, 46, -1, 0, 0);
    one.system.flow_m3_h = 1.5;
    call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PASSES_TODAY);
}

static void a_field_that_no_member_has_dry_in_time_is_not_watered_today(void **state) {
    (void)state;
    struct cost_case one;
    /* Evenings 25, 30, ..., 50 mm: dry on the sixth; water is free and stress dear. */
    cost_case_make(&one, 20, -1, 0, 0);
    one.prices.gross_per_mm = one.prices.leached_per_mm = one.prices.start = 0;
    struct call call = call_of(&one, NULL);
    assert_true(call.kind != CALL_WATER_TODAY);
    assert_near(call.depletion_mm, 20, 0);
}

/* The outlook ends before the path is dry: its last day stands for the days after it. */
static void an_outlook_shorter_than_the_path_still_gives_dates_and_chances(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 30, -1, 0, 0);
    shorten(&one, 3);
    struct call call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_near(call.dry_chance, 0, 0);
    assert_near(call.cover_chance, 1, 0);
    /* Evenings 35, 40, 45, 50: the path without rain is dry on the fourth day. */
    assert_int_equal(call.dry_date, COST_CASE_TODAY + 3);
}

/* A fifth of the members uses 9 mm a day and has the field dry on the second day, too soon for a slow system.
 * The path is dry after the outlook's end, and no date is as likely as not: the path's is named. */
static void a_few_hot_members_call_for_water_before_any_date_is_likely(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 34, -1, 0, 0);
    for (int i = 0; i < COST_CASE_DAYS * COST_CASE_MEMBERS; i++)
        one.weather.et0_mm[i] = i % 5 == 0 ? 9 : 5;
    shorten(&one, 3);
    one.system.flow_m3_h = 1.5;
    struct call call = call_of(&one, NULL);
    assert_int_equal(one.outlook.dry_date[OUTLOOK_P50], CALENDAR_NONE);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.dry_date, COST_CASE_TODAY + 3);
}

static void with_dear_water_a_dry_field_is_held_when_the_season_ends(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 48, -1, 0, 0);
    one.weigh.later.etc_mm = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        one.prices.yield_per_mm[k] = 0;
    struct call call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_HOLD);
    assert_int_equal(call.reason, CALL_REASON_ENOUGH);
    assert_int_equal(call.dry_date, CALENDAR_NONE);
    assert_near(call.rain_expected_mm, 0, 0);
}

static void make_any(struct hostile *source, struct cost_case *one) {
    double depletion_mm = hostile_between(source, 0, 60), rain_mm = hostile_between(source, 5, 60);
    double share = hostile_between(source, 0, 1), dear = exp(hostile_between(source, -3, 6));
    cost_case_make(one, depletion_mm, (int)hostile_between(source, 0, 5), rain_mm, share);
    for (int i = 0; i < COST_CASE_DAYS * COST_CASE_MEMBERS; i++)
        one->weather.et0_mm[i] = hostile_between(source, 3, 7);
    shorten(one, 2 + (int)hostile_between(source, 0, 8.99));
    one->prices.gross_per_mm *= dear;
    one->prices.leached_per_mm *= dear * hostile_between(source, 0, 5);
    one->prices.start *= dear * hostile_between(source, 0, 20);
    one->system.flow_m3_h = exp(hostile_between(source, 0, 4.6));
    one->weigh.later.etc_mm = hostile_between(source, 0, 100);
}

/* Cheap water or dear, slow systems or fast, rain or none: no turn today without a member that would be dry
 * before one that starts tomorrow ends, and no turn by a day that is not ahead. */
static void whatever_the_prices_water_is_called_for_where_and_when_it_can_be_needed(void **state) {
    (void)state;
    struct hostile source = hostile_seed(12);
    int kinds[CALL_KIND_COUNT] = {0}, restrained = 0, dry_today = 0, last_day = 0;
    for (int i = 0; i < 4000; i++) {
        struct cost_case one;
        struct outlook_cost cost = {.wait_day = 0};
        make_any(&source, &one);
        struct call call = call_of(&one, &cost);
        int last = one.outlook.days - 1;
        kinds[call.kind]++;
        if (cost.wait_day == 0)
            continue; /* nothing was weighed */
        int tomorrows_end = cost.days_now < last ? (int)cost.days_now : last;
        bool needed = one.outlook.passes[tomorrows_end] > 0;
        assert_true(call.kind != CALL_WATER_TODAY || needed);
        assert_int_equal(call.kind == CALL_WATER_TODAY, cost.water_now && needed);
        restrained += cost.water_now && !needed;
        if (call.kind != CALL_WATER_BY)
            continue;
        assert_true(call.start_by > COST_CASE_TODAY && call.start_by <= COST_CASE_TODAY + last);
        dry_today += call.dry_date == COST_CASE_TODAY;
        last_day += call.start_by == COST_CASE_TODAY + last;
    }
    assert_true(kinds[CALL_WATER_TODAY] > 100 && kinds[CALL_WATER_BY] > 100 && kinds[CALL_HOLD] > 100 &&
                kinds[CALL_RAIN_MAY_COVER] > 100);
    assert_true(restrained > 0 && dry_today > 0 && last_day > 0);
}

static struct outlook_cost cost_against(struct cost_case *one, enum outlook_plain plain, double dear) {
    struct cost_case other = *one;
    other.prices.gross_per_mm *= dear;
    other.prices.leached_per_mm *= dear;
    other.prices.start *= dear;
    other.weigh.prices = &other.prices;
    other.weigh.plain = plain;
    return cost_of(&other);
}

static bool same_turn(struct outlook_cost a, struct outlook_cost b) {
    return a.water_now == b.water_now && a.net_now_mm == b.net_now_mm;
}

/* A turn that is due by the allowed depletion is weighed as if water was ten times as cheap, one that is not
 * as if it was ten times as dear; what is told is at the prices as they are. */
static void the_weighing_departs_from_the_plain_rule_only_where_that_is_clearly_right(void **state) {
    (void)state;
    struct hostile source = hostile_seed(15);
    int kept = 0, waiting = 0, put_off = 0, early = 0;
    for (int i = 0; i < 1000; i++) {
        struct cost_case one;
        struct call plain;
        struct outlook_cost told = {.wait_day = 0};
        make_any(&source, &one);
        one.weigh.later.goes_on = true;
        struct outlook_cost even = cost_against(&one, OUTLOOK_PLAIN_UNKNOWN, 1);
        struct outlook_cost due = cost_against(&one, OUTLOOK_PLAIN_WATERS, 1);
        struct outlook_cost waits = cost_against(&one, OUTLOOK_PLAIN_WAITS, 1);
        assert_true(same_turn(due, cost_against(&one, OUTLOOK_PLAIN_UNKNOWN, 0.1)));
        assert_true(same_turn(waits, cost_against(&one, OUTLOOK_PLAIN_UNKNOWN, 10)));
        assert_near(waits.wait, even.wait, 0);
        assert_int_equal(waits.wait_day, even.wait_day);
        assert_int_equal(even.water_now, even.now < even.wait);
        kept += due.water_now && !even.water_now;
        waiting += even.water_now && !waits.water_now;
        put_off += !due.water_now;
        early += waits.water_now;
        assert_int_equal(call_make(&one.input, &plain), STATUS_OK);
        (void)call_of(&one, &told);
        if (told.wait_day > 0)
            assert_true(same_turn(told, plain.kind == CALL_WATER_TODAY ? due : waits));
    }
    assert_true(kept > 0 && waiting > 0 && put_off > 0 && early > 0);
}

static void a_field_on_which_nothing_grows_is_not_weighed(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 60, -1, 0, 0);
    for (int i = 0; i < COST_CASE_DAYS; i++)
        one.with_rain[i].stage = one.without_rain[i].stage = STAGE_ENDED;
    struct call call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_HOLD);
    assert_int_equal(call.reason, CALL_REASON_NOT_GROWING);
    assert_false(call.by_cost);
}

static void what_cannot_be_called_or_weighed_has_its_status_and_writes_nothing(void **state) {
    (void)state;
    struct cost_case one;
    struct call call = {.date = 77};
    cost_case_make(&one, 60, -1, 0, 0);
    one.input.days = 0;
    assert_int_equal(call_by_cost(&one.input, &one.outlook, &one.weigh, &cost_case_cost_room, &call, NULL),
                     STATUS_OUT_OF_RANGE);
    cost_case_make(&one, 60, -1, 0, 0);
    one.prices.start = NAN;
    assert_int_equal(call_by_cost(&one.input, &one.outlook, &one.weigh, &cost_case_cost_room, &call, NULL),
                     STATUS_MISSING);
    assert_int_equal(call.date, 77);
}

/* ---- the end of the season */

/* The crop ends after `days` days. */
static void end_after(struct cost_case *one, int days) {
    one->weigh.later.etc_mm = 0;
    for (int i = days; i < COST_CASE_DAYS; i++) {
        one->field.day[i].growing = false;
        one->field.day[i].stage = one->with_rain[i].stage = one->without_rain[i].stage = STAGE_ENDED;
    }
    assert_int_equal(outlook_run(&one->field, &one->weather, 0, &cost_case_room, &one->outlook), STATUS_OK);
}

static void what_the_crop_needs_to_its_end_is_twice_its_use_past_the_allowed_depletion(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 40, -1, 0, 0);
    /* 50 mm allowed, 5 mm a day: 10 days and 200 mm after them. */
    assert_near(outlook_harvest_need_mm(&one.weigh, 0, 40), 40 + 2 * (50 + 200) - 50, 1e-9);
    one.weigh.later.rain_mm = 30;
    assert_near(outlook_harvest_need_mm(&one.weigh, 9, 40), 40 + 2 * (5 + 200) - 30 - 50, 1e-9);
    end_after(&one, 3);
    assert_near(outlook_harvest_need_mm(&one.weigh, 0, 40), 40 + 2 * 15 - 50, 1e-9);
    assert_true(outlook_harvest_need_mm(&one.weigh, 3, 40) < 0);
    assert_true(isnan(outlook_harvest_need_mm(&one.weigh, -1, 40)) != 0);
    assert_true(isnan(outlook_harvest_need_mm(&one.weigh, COST_CASE_DAYS, 40)) != 0);
}

static void a_turn_is_no_deeper_than_the_crop_needs_to_its_harvest(void **state) {
    (void)state;
    struct cost_case one;
    struct outlook_cost cost;
    cost_case_make(&one, 52, -1, 0, 0);
    struct call call = call_of(&one, &cost);
    assert_int_equal(call.reason, CALL_REASON_PAST_ALLOWED);
    assert_false(cost.to_harvest);
    end_after(&one, 3);
    call = call_of(&one, &cost);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_TO_HARVEST);
    assert_true(cost.to_harvest);
    assert_near(call.application.net_mm, 52 + 2 * 15 - 50, 1e-9);
    /* A forage grows on. */
    one.weigh.later.goes_on = true;
    call = call_of(&one, &cost);
    assert_int_equal(call.reason, CALL_REASON_PAST_ALLOWED);
    assert_near(call.application.net_mm, 52, 1e-9);
}

static void a_later_turn_is_cut_to_what_the_crop_needs_too(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 30, -1, 0, 0);
    end_after(&one, 7);
    struct call call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_WATER_BY);
    assert_int_equal(call.reason, CALL_REASON_TO_HARVEST);
    int day = call.start_by - COST_CASE_TODAY;
    double depletion_mm = one.outlook.depletion_mm[day - 1][OUTLOOK_P50];
    assert_near(call.application.net_mm, depletion_mm + 2 * 5 * (7 - day) - 50, 1e-9);
    assert_true(call.application.net_mm < depletion_mm);
    /* So is what to run if the rain stays away. */
    cost_case_make(&one, 44, 1, 60, 1);
    end_after(&one, 5);
    call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_int_equal(call.reason, CALL_REASON_RAIN_EXPECTED);
    day = call.start_by - COST_CASE_TODAY;
    assert_near(call.application.net_mm, 44 + 5 * day + 2 * 5 * (5 - day) - 50, 1e-9);
}

static void a_field_that_is_not_dry_again_is_told_that_the_soil_carries_it(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 10, -1, 0, 0);
    end_after(&one, 3);
    for (int i = 0; i < COST_CASE_DAYS; i++)
        one.with_rain[i].depletion_mm = one.without_rain[i].depletion_mm = 25;
    struct call call = call_of(&one, NULL);
    assert_int_equal(call.kind, CALL_HOLD);
    assert_int_equal(call.reason, CALL_REASON_CARRIED);
    one.weigh.later.goes_on = true;
    assert_int_equal(call_of(&one, NULL).reason, CALL_REASON_ENOUGH);
}

static void a_depth_that_cannot_be_planned_is_refused(void **state) {
    (void)state;
    struct cost_case one;
    struct call call;
    cost_case_make(&one, 30, -1, 0, 0);
    for (int i = 0; i < COST_CASE_DAYS; i++)
        one.outlook.depletion_mm[i][OUTLOOK_P50] = 3000;
    assert_int_equal(call_by_cost(&one.input, &one.outlook, &one.weigh, &cost_case_cost_room, &call, NULL),
                     STATUS_OUT_OF_RANGE);
    cost_case_make(&one, 44, 1, 60, 1);
    one.with_rain[0].depletion_start_mm = one.without_rain[0].depletion_start_mm = 2500;
    one.with_rain[0].rain_mm = 2400;
    assert_int_equal(call_by_cost(&one.input, &one.outlook, &one.weigh, &cost_case_cost_room, &call, NULL),
                     STATUS_OUT_OF_RANGE);
}

/* ---- the weighing */

static void days_without_a_crop_cost_nothing_and_end_the_turns(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 44, -1, 0, 0);
    for (int i = 2; i < COST_CASE_DAYS; i++) {
        one.field.day[i].growing = false;
        one.field.day[i].stage = STAGE_ENDED;
    }
    one.weigh.later.etc_mm = 0;
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.wait <= cost.now);
    assert_near(cost.gross_wait_mm, 0, 0);
}

/* The allowed depletion of a planting stands in place of p; p follows each day's ETc (FAO-56 Table 22). */
static void the_allowed_depletion_is_the_plantings_own_or_follows_p(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 30, -1, 0, 0);
    double turned[3];
    for (int round = 0; round < 3; round++) {
        for (int i = 0; i < COST_CASE_DAYS; i++)
            one.field.day[i].allowed_share = round == 1 ? 0.9 : (double)NAN;
        one.field.p_fixed = round != 2;
        one.field.p = round == 2 ? 0.3 : 0.5;
        one.weigh.later.etc_mm = 0;
        turned[round] = cost_of(&one).gross_wait_mm;
    }
    assert_true(turned[1] < turned[0] && turned[2] > turned[0]);
}

static void a_turn_keeps_to_the_least_and_the_most_that_the_system_gives(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 52, -1, 0, 0);
    one.system.net_min_mm = 70;
    assert_near(cost_of(&one).net_now_mm, 70, 0);
    one.system.net_min_mm = NAN;
    one.system.net_max_mm = 12;
    assert_near(cost_of(&one).net_now_mm, 12, 0);
    /* Without a flow a turn is through on its day. */
    one.system.net_max_mm = NAN;
    one.system.flow_m3_h = NAN;
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.net_now_mm > 12 && cost.net_now_mm <= 52);
    assert_near(cost.stress_now_mm, 0, 1e-9);
}

/* At full field capacity there is nothing to give this morning, so waiting is what is left. */
static void nothing_can_be_given_to_a_full_field(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 0, -1, 0, 0);
    struct outlook_cost cost = cost_of(&one);
    assert_true(cost.wait < cost.now && isinf(cost.now));
    assert_near(cost.net_now_mm, 0, 0);
}

static void rain_that_was_read_today_is_not_expected_again_and_no_use_is_no_harm(void **state) {
    (void)state;
    struct cost_case one;
    cost_case_make(&one, 52, 0, 30, 1);
    one.field.day[0].rain_known = true;
    one.field.day[0].rain_mm = 0;
    assert_true(cost_of(&one).net_now_mm > 22);
    for (int i = 0; i < COST_CASE_DAYS; i++)
        one.field.day[i].etc_mm = 0;
    assert_true(isfinite(cost_of(&one).wait) != 0);
    /* Nothing used, and a turn of many days is not due while the field is moist: waiting gives nothing. */
    cost_case_make(&one, 30, -1, 0, 0);
    for (int i = 0; i < COST_CASE_DAYS; i++)
        one.field.day[i].etc_mm = 0;
    for (int i = 0; i < COST_CASE_DAYS * COST_CASE_MEMBERS; i++)
        one.weather.et0_mm[i] = 0;
    one.system.flow_m3_h = 0.5;
    assert_near(cost_of(&one).gross_wait_mm, 0, 0);
}

static void no_system_no_day_a_share_below_zero_and_no_plain_rule_are_refused(void **state) {
    (void)state;
    struct cost_case one;
    struct outlook_cost cost = {.wait_day = 77};
    cost_case_make(&one, 52, -1, 0, 0);
    one.system.kind = SYSTEM_NONE;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_MISSING);
    cost_case_make(&one, 52, -1, 0, 0);
    one.field.days = 0;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    cost_case_make(&one, 52, -1, 0, 0);
    one.prices.yield_per_mm[STAGE_MID - STAGE_INITIAL] = -0.1;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    cost_case_make(&one, 52, -1, 0, 0);
    one.weigh.plain = OUTLOOK_PLAIN_WAITS + 1;
    assert_int_equal(outlook_cost_run(&one.weigh, &cost_case_cost_room, &cost), STATUS_OUT_OF_RANGE);
    assert_int_equal(cost.wait_day, 77);
}

/* What a stage will still use: its days left at the mean ET0 of the days to come, by its mean Kcb and some
 * evaporation (the project's own figures, no source). */
static void a_seasons_water_is_what_was_used_and_what_is_to_come(void **state) {
    (void)state;
    struct cost_case one;
    struct season_setup setup = season_setup_default();
    struct season_total total = season_total_empty();
    struct outlook_later later;
    cost_case_make(&one, 20, -1, 0, 0);
    setup.crop = (struct crop){.kcb_ini = 0.2, .kcb_mid = 1, .kcb_end = 0.4, .ky_season = 1.2};
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        setup.crop.stage_days[k] = 20;
        setup.crop.ky_stage[k] = NAN;
    }
    setup.crop.ky_stage[2] = 1.5;
    one.field.days_in_season = 30;
    total.etc_stage_mm[0] = 40;
    total.etc_stage_mm[1] = 25;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    /* 10 days at 0.7, those of the outlook, 20 at 1.05 and 20 at 0.75, of 5 mm. */
    double left_mm = 10 * 5 * 0.7 + 20 * 5 * 1.05 + 20 * 5 * 0.75;
    assert_near(later.etc_mm, left_mm - 10 * 5 * 0.7, 1e-9);
    assert_near(later.rain_mm, 0, 0);
    assert_false(later.goes_on);
    assert_near(one.prices.yield_per_mm[0], 1.2 / (65 + left_mm), 1e-12);
    assert_near(one.prices.yield_per_mm[2], 1.5 / (20 * 5 * 1.05), 1e-12);
    /* Days after the harvest use nothing; before planting all four stages are to come. */
    for (int i = 0; i < COST_CASE_DAYS; i++)
        one.field.day[i].growing = false;
    one.field.days_in_season = 0;
    outlook_prices_for(&setup, &total, &one.field, NULL, &one.prices, &later);
    assert_near(later.etc_mm, 20 * 5 * (0.4 + 0.7 + 1.05 + 0.75), 1e-9);
    /* A stage of no ETc is judged by the season. */
    assert_near(outlook_yield_per_mm(1.5, 0, 1.2, 600), 0.002, 1e-15);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_depth_that_cannot_be_planned_is_refused),
        cmocka_unit_test(what_the_crop_needs_to_its_end_is_twice_its_use_past_the_allowed_depletion),
        cmocka_unit_test(a_turn_is_no_deeper_than_the_crop_needs_to_its_harvest),
        cmocka_unit_test(a_later_turn_is_cut_to_what_the_crop_needs_too),
        cmocka_unit_test(a_field_that_is_not_dry_again_is_told_that_the_soil_carries_it),
        cmocka_unit_test(what_was_weighed_is_told),
        cmocka_unit_test(a_slow_system_starts_before_the_field_is_dry),
        cmocka_unit_test(a_field_that_no_member_has_dry_in_time_is_not_watered_today),
        cmocka_unit_test(an_outlook_shorter_than_the_path_still_gives_dates_and_chances),
        cmocka_unit_test(a_few_hot_members_call_for_water_before_any_date_is_likely),
        cmocka_unit_test(with_dear_water_a_dry_field_is_held_when_the_season_ends),
        cmocka_unit_test(whatever_the_prices_water_is_called_for_where_and_when_it_can_be_needed),
        cmocka_unit_test(the_weighing_departs_from_the_plain_rule_only_where_that_is_clearly_right),
        cmocka_unit_test(a_field_on_which_nothing_grows_is_not_weighed),
        cmocka_unit_test(what_cannot_be_called_or_weighed_has_its_status_and_writes_nothing),
        cmocka_unit_test(days_without_a_crop_cost_nothing_and_end_the_turns),
        cmocka_unit_test(the_allowed_depletion_is_the_plantings_own_or_follows_p),
        cmocka_unit_test(a_turn_keeps_to_the_least_and_the_most_that_the_system_gives),
        cmocka_unit_test(nothing_can_be_given_to_a_full_field),
        cmocka_unit_test(rain_that_was_read_today_is_not_expected_again_and_no_use_is_no_harm),
        cmocka_unit_test(no_system_no_day_a_share_below_zero_and_no_plain_rule_are_refused),
        cmocka_unit_test(a_seasons_water_is_what_was_used_and_what_is_to_come),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
