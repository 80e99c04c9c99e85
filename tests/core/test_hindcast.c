/* Past seasons once more: what a hindcast hands on, and what it refuses. The reliability of what it says is
 * tests/published/test_outlook_hindcast.c's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "core/decide/hindcast.h"
#include "tests/support/near.h"
#include "tests/support/outlook_case.h"

#define FIRST   20200
#define PAST    1500
#define MEMBERS 20
#define DAYS    60

static double weather_store[2][HINDCAST_DAYS * MEMBERS], outlook_store[HINDCAST_DAYS * MEMBERS],
    cost_store[2][HINDCAST_DAYS * MEMBERS], scratch[2 * MEMBERS], past_et0[PAST], past_rain[PAST];
static struct outlook_state states[(HINDCAST_DAYS + 1) * MEMBERS];

struct one {
    struct season_setup setup;
    struct season_input day[DAYS + HINDCAST_DAYS];
    struct system system;
    struct outlook_prices prices;
    struct outlook_history history;
    struct hindcast_room room;
    struct hindcast_input input;
    int mornings, called;
    bool forecast_wind_missing, forecast_rain_missing;
    int forecasts;
};

static void count_morning(void *context, const struct hindcast_morning *morning) {
    struct one *one = context;
    one->mornings++;
    one->called += morning->call->kind == CALL_WATER_TODAY;
    assert_true(isfinite(morning->share_morning) != 0);
    for (int i = 1; i < HINDCAST_DAYS; i++)
        assert_true(morning->passed[i] >= morning->passed[i - 1]);
}

static void count_dry(void *context, const struct hindcast_morning *morning) {
    struct one *one = context;
    if (morning->share_morning < 1 || morning->call->kind == CALL_HOLD)
        return;
    one->called++;
    assert_true(morning->passed[0] && morning->passed_path[0]);
}

/* The weather itself, on two mornings of three. */
static bool tell(void *context, int32_t issued, int days, struct season_input *out) {
    struct one *one = context;
    if (issued % 3 == 0)
        return false;
    memcpy(out, &one->day[issued - FIRST], (size_t)days * sizeof *out);
    if (one->forecast_wind_missing)
        out[2].wind_2m_m_s = NAN;
    if (one->forecast_rain_missing)
        out[2].rain_mm = NAN;
    one->forecasts++;
    return true;
}

static void learn(void *context, int32_t today, struct outlook_errors *errors) {
    (void)context;
    (void)today;
    assert_int_equal(outlook_errors_default(0.2, 8, errors), STATUS_OK);
}

/* 60 days of a thirsty crop under a fast solid set, and four years of weather behind it. */
static void make_one(struct one *one) {
    struct hostile source = hostile_seed(8);
    memset(one, 0, sizeof *one);
    one->setup = outlook_case_setup(&source, FIRST);
    one->setup.planting_date = FIRST;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        one->setup.crop.stage_days[k] = 14;
    for (int i = 0; i < DAYS + HINDCAST_DAYS; i++) {
        one->day[i] = outlook_case_day(&source, FIRST + i);
        one->day[i].et0_mm = 6;
        one->day[i].rain_mm = i % 9 == 0 ? 12 : 0;
    }
    for (int i = 0; i < PAST; i++) {
        past_et0[i] = 5 + i % 3;
        past_rain[i] = i % 9 == 0 ? 12 : 0;
    }
    one->system = system_default(SYSTEM_SOLID_SET);
    one->system.area_m2 = 10000;
    one->system.flow_m3_h = 60;
    one->system.hours_per_day = 12;
    one->prices = outlook_prices_default();
    one->history = (struct outlook_history){FIRST - PAST, PAST, past_et0, past_rain};
    one->room = (struct hindcast_room){.weather = {.et0_mm = weather_store[0], .rain_mm = weather_store[1]},
                                       .outlook = {outlook_store, scratch},
                                       .cost = {states, cost_store[0], cost_store[1]}};
    one->input = (struct hindcast_input){.setup = &one->setup,
                                         .weather = one->day,
                                         .days = DAYS,
                                         .system = &one->system,
                                         .prices = &one->prices,
                                         .history = &one->history,
                                         .learn = learn,
                                         .forecast_context = one,
                                         .members = MEMBERS,
                                         .seen_context = one};
}

static void calls_are_obeyed_by_both_rules_and_the_last_days_are_not_judged(void **state) {
    (void)state;
    for (int round = 0; round < 4; round++) {
        struct one one;
        struct hindcast_season season;
        make_one(&one);
        one.input.by_cost = round % 2 == 1;
        one.input.forecast = round >= 2 ? tell : NULL;
        one.input.seen = count_morning;
        one.input.outcomes = round >= 2;
        assert_int_equal(hindcast_run(&one.input, &one.room, &season), STATUS_OK);
        assert_int_equal(season.mornings, 56);
        assert_int_equal(one.mornings, DAYS - HINDCAST_DAYS + 1);
        assert_true(season.turns >= one.called && one.called > 0);
        assert_true(season.total.irrigation_gross_mm > 0 && season.yield > 0.9);
        assert_int_equal(one.forecasts > 0, round >= 2);
    }
}

static void a_day_gives_no_more_than_the_system_can_and_all_of_it_without_a_flow(void **state) {
    (void)state;
    struct one one;
    struct hindcast_season slow, fast;
    make_one(&one);
    one.input.days = DAYS / 2;
    one.system.flow_m3_h = 5;
    assert_int_equal(hindcast_run(&one.input, &one.room, &slow), STATUS_OK);
    one.system.flow_m3_h = NAN;
    assert_int_equal(hindcast_run(&one.input, &one.room, &fast), STATUS_OK);
    /* 5 m3/h for 12 h over 1 ha is 6 mm a day, as delivered. */
    assert_true(slow.turns > fast.turns && slow.total.irrigation_gross_mm <= 6 * slow.turns + 1e-9);
    assert_true(fast.total.irrigation_gross_mm > 6 * fast.turns);
}

/* FAO-56 eq. 90 over the season and by stages; without a Ky there is nothing to say. */
static void yields_are_told_where_there_is_a_ky(void **state) {
    (void)state;
    struct one one;
    struct hindcast_season season;
    make_one(&one);
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        one.setup.crop.ky_stage[k] = 0.5;
    assert_int_equal(hindcast_run(&one.input, &one.room, &season), STATUS_OK);
    assert_true(season.yield > 0.9 && season.by_stage > 0.9 && season.by_stage <= 1);
    one.setup.crop.ky_season = NAN;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        one.setup.crop.ky_stage[k] = NAN;
    assert_int_equal(hindcast_run(&one.input, &one.room, &season), STATUS_OK);
    assert_true(isnan(season.yield) != 0);
    assert_true(isnan(season.by_stage) != 0);
}

/* Dry ground in the morning counts from the first evening on, in what came and on the single path. */
static void a_field_dry_in_the_morning_is_dry_on_the_first_day(void **state) {
    (void)state;
    struct one one;
    struct hindcast_season season;
    make_one(&one);
    one.system.flow_m3_h = 0.1;
    one.setup.start_depletion = 0.95;
    one.setup.planting_date = FIRST + 4; /* bare ground before it is never dry */
    one.input.seen = count_dry;
    one.input.outcomes = true;
    assert_int_equal(hindcast_run(&one.input, &one.room, &season), STATUS_OK);
    assert_true(one.called > 20);
}

static void what_cannot_be_run_has_its_status_and_writes_nothing(void **state) {
    (void)state;
    static const struct {
        int days, members, wrong_day;
        bool outcomes, no_history, no_wind, no_rain, bad_setup;
        enum status status;
    } cases[] = {
        {0, MEMBERS, -1, false, false, false, false, false, STATUS_OUT_OF_RANGE},
        {DAYS, 0, -1, false, false, false, false, false, STATUS_OUT_OF_RANGE},
        {DAYS, OUTLOOK_MEMBERS_MAX + 1, -1, false, false, false, false, false, STATUS_OUT_OF_RANGE},
        {DAYS, MEMBERS, 20, false, false, false, false, false, STATUS_MISSING}, /* when that day comes */
        {DAYS, MEMBERS, 20, true, false, false, false, false,
         STATUS_MISSING}, /* when it is looked ahead to */
        {DAYS, MEMBERS, -1, false, true, false, false, false, STATUS_MISSING},
        {DAYS, MEMBERS, -1, false, false, true, false, false, STATUS_MISSING},
        {DAYS, MEMBERS, -1, false, false, false, true, false, STATUS_MISSING},
        {DAYS, MEMBERS, -1, false, false, false, false, true, STATUS_OUT_OF_RANGE},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct one one;
        struct hindcast_season season = {.turns = 77};
        make_one(&one);
        one.input.days = cases[i].days;
        one.input.members = cases[i].members;
        if (cases[i].wrong_day >= 0)
            one.day[cases[i].wrong_day].wind_2m_m_s = NAN;
        one.input.seen = cases[i].outcomes ? count_morning : NULL;
        one.input.outcomes = cases[i].outcomes;
        one.input.history = cases[i].no_history ? NULL : &one.history;
        one.forecast_wind_missing = cases[i].no_wind;
        one.forecast_rain_missing = cases[i].no_rain;
        one.input.forecast = cases[i].no_wind || cases[i].no_rain ? tell : NULL;
        if (cases[i].bad_setup)
            one.setup.start_depletion = 3;
        assert_int_equal(hindcast_run(&one.input, &one.room, &season), cases[i].status);
        assert_int_equal(season.turns, 77);
    }
    struct one one;
    struct hindcast_season season = {.turns = 77};
    make_one(&one);
    one.input.by_cost = true;
    one.prices.start = NAN;
    assert_int_equal(hindcast_run(&one.input, &one.room, &season), STATUS_MISSING);
    assert_int_equal(season.turns, 77);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(calls_are_obeyed_by_both_rules_and_the_last_days_are_not_judged),
        cmocka_unit_test(a_day_gives_no_more_than_the_system_can_and_all_of_it_without_a_flow),
        cmocka_unit_test(yields_are_told_where_there_is_a_ky),
        cmocka_unit_test(a_field_dry_in_the_morning_is_dry_on_the_first_day),
        cmocka_unit_test(what_cannot_be_run_has_its_status_and_writes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
