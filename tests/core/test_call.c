#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "core/decide/call.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

#define TODAY 20100
#define DAYS  10

/* A field with 100 mm of TAW, 50 mm allowed, that loses `use_mm` a day; rain per day for the path with rain.
 */
struct field {
    struct season_day with_rain[DAYS], without_rain[DAYS];
    struct system system;
    struct call_input input;
};

static void make_path(struct season_day *path, double depletion_mm, double allowed_mm, double use_mm,
                      const double *rain_mm) {
    for (int i = 0; i < DAYS; i++) {
        double rain = rain_mm == NULL ? 0 : rain_mm[i], evening_mm = depletion_mm - rain + use_mm;
        evening_mm = fmin(fmax(evening_mm, 0), 100);
        path[i] = (struct season_day){.date = TODAY + i,
                                      .stage = STAGE_MID,
                                      .taw_mm = 100,
                                      .allowed_mm = allowed_mm,
                                      .rain_mm = rain,
                                      .depletion_start_mm = depletion_mm,
                                      .depletion_mm = evening_mm};
        depletion_mm = evening_mm;
    }
}

/* A centre pivot of 50 ha: 25 mm net takes 147 h at 100 m3/h, or 7.4 h at 2000. */
static void make_field(struct field *field, double depletion_mm, double allowed_mm, const double *rain_mm) {
    make_path(field->with_rain, depletion_mm, allowed_mm, 5, rain_mm);
    make_path(field->without_rain, depletion_mm, allowed_mm, 5, NULL);
    field->system = system_default(SYSTEM_CENTRE_PIVOT);
    field->system.area_m2 = 500000;
    field->input = (struct call_input){.today = TODAY,
                                       .days = DAYS,
                                       .with_rain = field->with_rain,
                                       .without_rain = field->without_rain,
                                       .system = &field->system,
                                       .missing = CALL_REASON_COUNT};
}

static struct call call_of(const struct field *field) {
    struct call call;
    assert_int_equal(call_make(&field->input, &call), STATUS_OK);
    return call;
}

static void past_the_allowed_depletion_this_morning_is_water_today(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 52, 50, NULL);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PAST_ALLOWED);
    assert_int_equal(call.date, TODAY);
    assert_int_equal(call.dry_date, TODAY);
    assert_int_equal(call.start_by, TODAY);
    assert_near(call.application.net_mm, 52, 0);
    assert_near(call.depletion_mm, 52, 0);
    assert_near(call.allowed_mm, 50, 0);
    assert_near(call.taw_mm, 100, 0);
}

static void exactly_at_the_allowed_depletion_counts_as_past(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 50, 50, NULL);
    assert_int_equal(call_of(&field).reason, CALL_REASON_PAST_ALLOWED);
    make_field(&field, 45, 50, NULL);
    assert_int_equal(call_of(&field).reason, CALL_REASON_PASSES_TODAY);
}

static void passing_by_this_evening_is_water_today_with_this_mornings_depletion(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 47, 50, NULL);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PASSES_TODAY);
    assert_near(call.application.net_mm, 47, 0);
    assert_near(call.application.gross_mm, 47 / 0.85, 1e-9);
}

static void passing_later_is_water_by_the_day_it_passes(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 33, 50, NULL); /* evenings 38, 43, 48, 53: the fourth day */
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_BY);
    assert_int_equal(call.reason, CALL_REASON_PASSES_LATER);
    assert_int_equal(call.dry_date, TODAY + 3);
    assert_int_equal(call.start_by, TODAY + 3);
    assert_near(call.application.net_mm, 48, 0); /* the depletion of that morning */
}

static void an_application_of_several_days_starts_so_that_its_last_part_is_in_time(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 23, 50, NULL); /* mornings 23, 28, 33, 38, 43, 48: dry on the sixth day */
    field.system.flow_m3_h = 500;     /* 38 mm: 22,353 m3, 44.7 h; 43 mm: 50.6 h; 48 mm: 56.5 h */
    field.system.hours_per_day = 24;
    struct call call = call_of(&field);
    assert_int_equal(call.dry_date, TODAY + 5);
    /* From the fourth day two days suffice, from the fifth three are needed. */
    assert_int_equal(call.start_by, TODAY + 3);
    assert_near(call.application.net_mm, 38, 0);
    assert_true(call.application.days > 1 && call.application.days < 2);
}

static void an_application_that_cannot_end_in_time_starts_today(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 38, 50, NULL); /* dry on the third day */
    field.system.flow_m3_h = 100;     /* nine days */
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_int_equal(call.reason, CALL_REASON_PASSES_LATER);
    assert_int_equal(call.start_by, TODAY);
    assert_int_equal(call.dry_date, TODAY + 2);
    assert_near(call.application.net_mm, 38, 0);
}

static void enough_water_for_the_days_ahead_is_hold(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {0, 0, 3, 0, 0, 0, 0, 2, 0, 0};
    make_field(&field, 0, 90, rain);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_HOLD);
    assert_int_equal(call.reason, CALL_REASON_ENOUGH);
    assert_int_equal(call.start_by, CALENDAR_NONE);
    assert_int_equal(call.dry_date, CALENDAR_NONE);
    assert_near(call.rain_expected_mm, 5, 1e-12);
    assert_near(call.application.net_mm, 0, 0);
}

static void rain_that_keeps_it_under_the_allowed_depletion_may_cover_it(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {0, 0, 30, 0, 0, 0, 0, 0, 0, 0};
    make_field(&field, 33, 50, rain); /* without rain dry on the fourth day; with it not in ten */
    make_path(field.with_rain, 33, 50, 5, (const double[DAYS]){0, 0, 40, 0, 0, 0, 0, 0, 0, 0});
    field.with_rain[9].depletion_mm = 49;
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_int_equal(call.reason, CALL_REASON_RAIN_EXPECTED);
    assert_int_equal(call.dry_date, TODAY + 3); /* what to do if it stays away */
    assert_int_equal(call.start_by, TODAY + 3);
    assert_near(call.application.net_mm, 48, 0);
    assert_near(call.rain_expected_mm, 40, 0);
}

static void rain_that_only_delays_the_dry_day_is_water_by_the_later_day(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {0, 10, 0, 0, 0, 0, 0, 0, 0, 0};
    make_field(&field, 33, 50, rain);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_BY);
    assert_int_equal(call.dry_date, TODAY + 5);
    assert_near(call.rain_expected_mm, 10, 0);
}

static void rain_of_today_and_tomorrow_is_left_room_for(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {4, 8, 0, 0, 0, 0, 0, 0, 0, 0};
    make_field(&field, 52, 50, rain);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_WATER_TODAY);
    assert_near(call.application.net_mm, 40, 0);
    /* What runs off fills nothing. */
    field.with_rain[1].runoff_mm = 3;
    assert_near(call_of(&field).application.net_mm, 43, 0);
}

static void rain_that_fills_the_root_zone_by_tomorrow_is_waited_for(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {0, 60, 0, 0, 0, 0, 0, 0, 0, 0};
    make_field(&field, 52, 50, rain);
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_int_equal(call.dry_date, TODAY);
    assert_near(call.application.net_mm, 52, 0); /* if it stays away */
    assert_near(call.rain_expected_mm, 60, 0);   /* tomorrow's, though it is dry today */
    /* And where without rain nothing is dry (a path without it that is wetter): the dry day is that of the
     * path with rain. */
    make_path(field.without_rain, 0, 90, 1, NULL);
    assert_int_equal(call_of(&field).kind, CALL_RAIN_MAY_COVER);
    assert_int_equal(call_of(&field).dry_date, TODAY);
}

static void rain_of_the_last_day_ahead_is_counted_once(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 4, 50, NULL); /* dry on the last of the ten evenings */
    field.with_rain[DAYS - 1].rain_mm = 90;
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_int_equal(call.dry_date, TODAY + DAYS - 1);
    assert_near(call.rain_expected_mm, 90, 0);
}

static void rain_that_comes_after_the_dry_day_has_no_chance_to_cover_it(void **state) {
    (void)state;
    struct field field;
    struct outlook outlook = {.days = DAYS};
    static const double today[DAYS] = {60, 0, 0, 0, 0, 0, 0, 0, 0, 0},
                        tomorrow[DAYS] = {0, 60, 0, 0, 0, 0, 0, 0, 0, 0};
    for (int i = 0; i < DAYS; i++)
        outlook.passes[i] = 0.9;
    make_field(&field, 52, 50, tomorrow);
    struct call call = call_of(&field);
    call_add_chances(&field.input, &outlook, &call);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_true(isnan(call.cover_chance));
    call.by_cost = true; /* which has asked the outlook itself */
    call_add_chances(&field.input, &outlook, &call);
    assert_near(call.cover_chance, 0.1, 1e-12);
    make_field(&field, 52, 50, today);
    call = call_of(&field);
    call_add_chances(&field.input, &outlook, &call);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_near(call.cover_chance, 0.1, 1e-12);
    make_field(&field, 33, 50, today); /* not dry with it */
    call = call_of(&field);
    call_add_chances(&field.input, &outlook, &call);
    assert_int_equal(call.kind, CALL_RAIN_MAY_COVER);
    assert_near(call.cover_chance, 0.1, 1e-12);
    make_field(&field, 52, 50, NULL);
    call = call_of(&field);
    call_add_chances(&field.input, &outlook, &call);
    assert_near(call.cover_chance, 0.1, 1e-12);
}

static void a_remainder_below_the_smallest_depth_waits_only_when_rain_relieves_the_field(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {25, 0, 0, 0, 0, 0, 0, 0, 0, 0};
    make_field(&field, 30, 28, rain); /* 5 mm are left to run after the rain */
    field.system.net_min_mm = 8;
    assert_int_equal(call_of(&field).kind, CALL_RAIN_MAY_COVER);
    field.system.net_min_mm = 4;
    assert_int_equal(call_of(&field).kind, CALL_WATER_TODAY);
    assert_near(call_of(&field).application.net_mm, 5, 0);
    /* A drizzle on a field whose allowed depletion is less than the smallest depth. */
    static const double drizzle[DAYS] = {0.2, 0, 0, 0, 0, 0, 0, 0, 0, 0};
    make_field(&field, 7, 6, drizzle);
    field.system.net_min_mm = 8;
    assert_int_equal(call_of(&field).kind, CALL_WATER_TODAY);
    assert_near(call_of(&field).application.net_mm, 8, 0); /* raised by the system */
}

static void a_watering_never_overfills_when_the_rain_of_a_day_falls(void **state) {
    (void)state;
    struct hostile source = hostile_seed(11);
    int watered = 0;
    for (int n = 0; n < 10000; n++) {
        double rain[DAYS];
        for (int i = 0; i < DAYS; i++)
            rain[i] = hostile_between(&source, 0, 4) < 1 ? hostile_between(&source, 0, 60) : 0;
        struct field field;
        make_field(&field, hostile_between(&source, 0, 100), hostile_between(&source, 5, 95), rain);
        struct call call = call_of(&field);
        if (call.kind != CALL_WATER_TODAY && call.kind != CALL_WATER_BY)
            continue;
        int day = call.start_by - TODAY;
        double near_mm = rain[day] + (day + 1 < DAYS ? rain[day + 1] : 0);
        assert_true(call.application.net_mm + near_mm <= field.with_rain[day].depletion_start_mm + 1e-9);
        watered++;
    }
    assert_true(watered > 1000);
}

static void a_deeper_allowed_depletion_never_calls_earlier(void **state) {
    (void)state;
    struct hostile source = hostile_seed(12);
    int waterings = 0;
    for (int n = 0; n < 10000; n++) {
        double rain[DAYS], depletion_mm = hostile_between(&source, 0, 100),
                           allowed_mm = hostile_between(&source, 5, 90);
        for (int i = 0; i < DAYS; i++)
            rain[i] = hostile_between(&source, 0, 5) < 1 ? hostile_between(&source, 0, 40) : 0;
        double flow_m3_h = hostile_between(&source, 0, 2) < 1 ? NAN : hostile_between(&source, 100, 2000);
        struct field shallow, deep;
        make_field(&shallow, depletion_mm, allowed_mm, rain);
        make_field(&deep, depletion_mm, allowed_mm + hostile_between(&source, 0, 10), rain);
        shallow.system.flow_m3_h = deep.system.flow_m3_h = flow_m3_h;
        struct call first = call_of(&shallow), second = call_of(&deep);
        bool second_waters = second.kind == CALL_WATER_TODAY || second.kind == CALL_WATER_BY;
        /* Dates of "rain may cover it" are those of the path without rain: they compare with their like, and
         * with any later watering. */
        if (second_waters || first.kind == second.kind) {
            assert_true(second.kind == CALL_HOLD || first.dry_date <= second.dry_date);
            assert_true(second.kind == CALL_HOLD || first.start_by <= second.start_by);
            assert_true(!second_waters || first.kind != CALL_HOLD);
            waterings += second_waters;
        }
        assert_true(second.kind != CALL_RAIN_MAY_COVER || first.kind != CALL_HOLD);
    }
    assert_true(waterings > 1000);
}

static void a_rainfed_field_holds(void **state) {
    (void)state;
    struct field field;
    static const double rain[DAYS] = {0, 0, 3, 0, 0, 0, 0, 2, 0, 1};
    make_field(&field, 80, 50, rain);
    field.input.rainfed = true;
    assert_int_equal(call_of(&field).kind, CALL_HOLD);
    assert_near(call_of(&field).rain_expected_mm, 6, 1e-12); /* over all days ahead */
    assert_int_equal(call_of(&field).reason, CALL_REASON_RAINFED);
    assert_near(call_of(&field).depletion_mm, 80, 0);
    field.input.rainfed = false;
    field.system.kind = SYSTEM_NONE;
    assert_int_equal(call_of(&field).reason, CALL_REASON_RAINFED);
    field.input = (struct call_input){.today = TODAY, .rainfed = true, .missing = CALL_REASON_COUNT};
    struct call call = call_of(&field);
    assert_int_equal(call.reason, CALL_REASON_RAINFED);
    assert_true(isnan(call.depletion_mm) && isnan(call.allowed_mm) && isnan(call.taw_mm));
    assert_true(isnan(call.rain_expected_mm));
}

static void nothing_growing_holds(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 80, 50, NULL);
    field.with_rain[0].stage = STAGE_BARE;
    assert_int_equal(call_of(&field).reason, CALL_REASON_NOT_GROWING);
    field.with_rain[0].stage = STAGE_ENDED;
    assert_int_equal(call_of(&field).kind, CALL_HOLD);
    assert_int_equal(call_of(&field).reason, CALL_REASON_NOT_GROWING);
}

static void a_crop_that_ends_before_it_is_dry_is_not_watered(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 33, 50, NULL);
    for (int i = 2; i < DAYS; i++)
        field.with_rain[i].stage = field.without_rain[i].stage = STAGE_ENDED;
    assert_int_equal(call_of(&field).reason, CALL_REASON_ENOUGH);
}

static void what_is_missing_is_said(void **state) {
    (void)state;
    struct field field;
    make_field(&field, 80, 50, NULL);
    field.input.missing = CALL_REASON_RAIN_MISSING;
    struct call call = call_of(&field);
    assert_int_equal(call.kind, CALL_CANNOT_SAY);
    assert_int_equal(call.reason, CALL_REASON_RAIN_MISSING);
    assert_int_equal(call.start_by, CALENDAR_NONE);
    field.input.missing = CALL_REASON_WEATHER_MISSING;
    field.input.with_rain = field.input.without_rain = NULL;
    field.input.days = 0;
    assert_int_equal(call_of(&field).reason, CALL_REASON_WEATHER_MISSING);
    assert_true(isnan(call_of(&field).depletion_mm));
}

static void wrong_input_has_a_named_status_and_writes_nothing(void **state) {
    (void)state;
    struct field field;
    struct call call = {.kind = CALL_KIND_COUNT}, before = call;
    make_field(&field, 40, 50, NULL);
    const struct call_input good = field.input;
#define REFUSED(wanted)                                                                                      \
    do {                                                                                                     \
        assert_int_equal(call_make(&field.input, &call), wanted);                                            \
        assert_memory_equal(&call, &before, sizeof call);                                                    \
        make_field(&field, 40, 50, NULL);                                                                    \
        field.input = good;                                                                                  \
    } while (0)
    field.input.days = 0;
    REFUSED(STATUS_OUT_OF_RANGE);
    field.input.days = CALL_DAYS_MAX + 1;
    REFUSED(STATUS_OUT_OF_RANGE);
    field.input.days = -1;
    field.input.rainfed = true;
    REFUSED(STATUS_OUT_OF_RANGE);
    field.input.missing = CALL_REASON_ENOUGH;
    REFUSED(STATUS_OUT_OF_RANGE);
    field.input.with_rain = NULL;
    REFUSED(STATUS_MISSING);
    field.input.without_rain = NULL;
    REFUSED(STATUS_MISSING);
    field.input.system = NULL;
    REFUSED(STATUS_MISSING);
    field.with_rain[3].date++;
    REFUSED(STATUS_ORDER);
    field.without_rain[2].allowed_mm = NAN;
    REFUSED(STATUS_NOT_FINITE);
    field.with_rain[2].rain_mm = INFINITY;
    REFUSED(STATUS_NOT_FINITE);
    field.system.efficiency = NAN;
    REFUSED(STATUS_MISSING);
    make_path(field.with_rain, 0, 90, 1, NULL);
    field.system.efficiency = 2;
    REFUSED(STATUS_OUT_OF_RANGE);
#undef REFUSED
}

static void names_and_keys_cover_their_enums(void **state) {
    (void)state;
    assert_string_equal(call_kind_name(CALL_WATER_BY), "water by");
    assert_string_equal(call_kind_key(CALL_RAIN_MAY_COVER), "rain_may_cover");
    assert_string_equal(call_reason_key(CALL_REASON_NOT_GROWING), "not_growing");
    for (int i = 0; i < CALL_KIND_COUNT; i++) {
        assert_non_null(call_kind_name((enum call_kind)i));
        assert_non_null(call_kind_key((enum call_kind)i));
    }
    for (int i = 0; i < CALL_REASON_COUNT; i++)
        assert_non_null(call_reason_key((enum call_reason)i));
    assert_null(call_kind_name(CALL_KIND_COUNT));
    assert_null(call_kind_key(CALL_KIND_COUNT));
    assert_null(call_reason_key(CALL_REASON_COUNT));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(past_the_allowed_depletion_this_morning_is_water_today),
        cmocka_unit_test(exactly_at_the_allowed_depletion_counts_as_past),
        cmocka_unit_test(passing_by_this_evening_is_water_today_with_this_mornings_depletion),
        cmocka_unit_test(passing_later_is_water_by_the_day_it_passes),
        cmocka_unit_test(an_application_of_several_days_starts_so_that_its_last_part_is_in_time),
        cmocka_unit_test(an_application_that_cannot_end_in_time_starts_today),
        cmocka_unit_test(enough_water_for_the_days_ahead_is_hold),
        cmocka_unit_test(rain_that_keeps_it_under_the_allowed_depletion_may_cover_it),
        cmocka_unit_test(rain_that_only_delays_the_dry_day_is_water_by_the_later_day),
        cmocka_unit_test(rain_of_today_and_tomorrow_is_left_room_for),
        cmocka_unit_test(rain_that_fills_the_root_zone_by_tomorrow_is_waited_for),
        cmocka_unit_test(rain_of_the_last_day_ahead_is_counted_once),
        cmocka_unit_test(rain_that_comes_after_the_dry_day_has_no_chance_to_cover_it),
        cmocka_unit_test(a_remainder_below_the_smallest_depth_waits_only_when_rain_relieves_the_field),
        cmocka_unit_test(a_watering_never_overfills_when_the_rain_of_a_day_falls),
        cmocka_unit_test(a_deeper_allowed_depletion_never_calls_earlier),
        cmocka_unit_test(a_rainfed_field_holds),
        cmocka_unit_test(nothing_growing_holds),
        cmocka_unit_test(a_crop_that_ends_before_it_is_dry_is_not_watered),
        cmocka_unit_test(what_is_missing_is_said),
        cmocka_unit_test(wrong_input_has_a_named_status_and_writes_nothing),
        cmocka_unit_test(names_and_keys_cover_their_enums),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
