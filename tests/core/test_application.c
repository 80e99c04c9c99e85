#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "core/decide/application.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"
#include "tests/support/table.h"

/* A pivot over 50 ha: 180 m3/h, 20 h a day. At full speed it turns in 14 h and leaves 5.04 mm. */
static struct system pivot(void) {
    struct system system = system_default(SYSTEM_CENTRE_PIVOT);
    system.area_m2 = 500000;
    system.flow_m3_h = 180;
    system.hours_per_day = 20;
    return system;
}

static void every_kind_has_a_name_that_leads_back(void **state) {
    (void)state;
    for (int kind = 0; kind < SYSTEM_COUNT; kind++)
        assert_int_equal(system_kind_of(system_kind_name((enum system_kind)kind)), kind);
    assert_null(system_kind_name(SYSTEM_COUNT));
    assert_null(system_kind_name((enum system_kind) - 1));
    assert_int_equal(system_kind_of("bucket"), SYSTEM_COUNT);
}

/* FAO-56 Table 20, by row: sprinkler, border, every furrow with narrow beds, trickle. */
static void usual_wetted_fractions_lie_in_the_range_of_table_20(void **state) {
    (void)state;
    static const struct {
        enum system_kind kind;
        const char *event;
    } row_of[] = {
        {SYSTEM_CENTRE_PIVOT, "Sprinkler irrigation"},
        {SYSTEM_LINEAR_MOVE, "Sprinkler irrigation"},
        {SYSTEM_SOLID_SET, "Sprinkler irrigation"},
        {SYSTEM_HAND_MOVED, "Sprinkler irrigation"},
        {SYSTEM_BORDER, "Border irrigation"},
        {SYSTEM_FURROW, "Furrow irrigation (every furrow), narrow bed"},
        {SYSTEM_DRIP, "Trickle irrigation"},
    };
    struct table *table = table_read("fixtures/published/fao56_table20_fw.csv");
    int found = 0;
    for (size_t i = 0; i < sizeof row_of / sizeof row_of[0]; i++)
        for (int row = 0; row < table_rows(table); row++) {
            if (strcmp(table_text(table, row, "wetting_event"), row_of[i].event) != 0)
                continue;
            double wetted = system_default(row_of[i].kind).wetted_fraction;
            assert_true(wetted >= table_number(table, row, "fw_low"));
            assert_true(wetted <= table_number(table, row, "fw_high"));
            found++;
        }
    assert_int_equal(found, 7);
    table_free(table);
}

/* FAO Training Manual 4 (from memory): surface 0.60, sprinkler 0.75, drip 0.90. */
static void usual_efficiencies_are_those_of_training_manual_4(void **state) {
    (void)state;
    assert_true(system_default(SYSTEM_FURROW).efficiency == 0.60);
    assert_true(system_default(SYSTEM_BORDER).efficiency == 0.60);
    assert_true(system_default(SYSTEM_SOLID_SET).efficiency == 0.75);
    assert_true(system_default(SYSTEM_HAND_MOVED).efficiency == 0.75);
    assert_true(system_default(SYSTEM_DRIP).efficiency == 0.90);
}

static void a_default_lacks_only_its_area(void **state) {
    (void)state;
    for (int kind = 0; kind < SYSTEM_NONE; kind++) {
        struct system system = system_default((enum system_kind)kind);
        const char *member = NULL;
        assert_int_equal(system_check(&system, &member), STATUS_MISSING);
        assert_string_equal(member, "area_m2");
        system.area_m2 = 10000;
        member = NULL;
        assert_int_equal(system_check(&system, &member), STATUS_OK);
        assert_null(member);
    }
    struct system none = system_default(SYSTEM_NONE), unknown = system_default(SYSTEM_COUNT);
    const char *member = NULL;
    assert_int_equal(system_check(&none, NULL), STATUS_OK);
    assert_int_equal(system_check(&unknown, &member), STATUS_OUT_OF_RANGE);
    assert_string_equal(member, "kind");
}

static void each_member_at_fault_is_named(void **state) {
    (void)state;
#define AT(member) offsetof(struct system, member), #member
    static const struct {
        size_t offset;
        const char *member;
        double value;
        enum status status;
    } bad[] = {
        {AT(efficiency), 0.19, STATUS_OUT_OF_RANGE},
        {AT(efficiency), 1.01, STATUS_OUT_OF_RANGE},
        {AT(efficiency), NAN, STATUS_MISSING},
        {AT(efficiency), INFINITY, STATUS_NOT_FINITE},
        {AT(area_m2), 0, STATUS_OUT_OF_RANGE},
        {AT(area_m2), 2e10, STATUS_OUT_OF_RANGE},
        {AT(flow_m3_h), 0, STATUS_OUT_OF_RANGE},
        {AT(flow_m3_h), -INFINITY, STATUS_NOT_FINITE},
        {AT(hours_per_day), -1, STATUS_OUT_OF_RANGE},
        {AT(hours_per_day), 24.1, STATUS_OUT_OF_RANGE},
        {AT(hours_per_day), NAN, STATUS_MISSING},
        {AT(net_min_mm), -1, STATUS_OUT_OF_RANGE},
        {AT(net_min_mm), 41, STATUS_ORDER},
        {AT(net_max_mm), 0, STATUS_OUT_OF_RANGE},
        {AT(wetted_fraction), 0.04, STATUS_OUT_OF_RANGE},
        {AT(wetted_fraction), 1.01, STATUS_OUT_OF_RANGE},
        {AT(wetted_fraction), NAN, STATUS_MISSING},
    };
#undef AT
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct system system = pivot();
        system.net_max_mm = 40;
        memcpy((char *)&system + bad[i].offset, &bad[i].value, sizeof bad[i].value);
        const char *member = "none";
        struct application plan = {.net_mm = -1};
        assert_int_equal(system_check(&system, &member), bad[i].status);
        assert_string_equal(member, bad[i].member);
        assert_int_equal(system_check(&system, NULL), bad[i].status);
        assert_int_equal(application_plan(&system, 20, &plan), bad[i].status);
        assert_true(plan.net_mm == -1);
        assert_true(isnan(application_gross_of_hours_mm(&system, 10)));
        assert_true(isnan(application_gross_of_volume_mm(&system, 10)));
        assert_true(isnan(application_net_of_gross_mm(&system, 10)));
    }
}

static void a_net_depth_becomes_gross_volume_hours_and_days(void **state) {
    (void)state;
    struct system system = pivot();
    struct application plan;
    /* By hand: 20 / 0.85 mm over 50 ha is 11764.7 m3, at 180 m3/h 65.36 h, at 20 h a day 3.27 days. */
    assert_int_equal(application_plan(&system, 20, &plan), STATUS_OK);
    assert_true(plan.net_mm == 20 && !plan.limited);
    assert_near(plan.gross_mm, 23.5294, 1e-4);
    assert_near(plan.volume_m3, 11764.7, 0.05);
    assert_near(plan.hours, 65.3595, 1e-4);
    assert_near(plan.days, 3.26797, 1e-5);
}

static void without_a_flow_there_are_no_hours(void **state) {
    (void)state;
    struct system system = pivot();
    struct application plan;
    system.flow_m3_h = NAN;
    assert_int_equal(application_plan(&system, 20, &plan), STATUS_OK);
    assert_near(plan.gross_mm, 23.5294, 1e-4);
    assert_true(isnan(plan.hours) && isnan(plan.days));
    assert_true(isnan(application_gross_of_hours_mm(&system, 10)));
    assert_near(application_gross_of_volume_mm(&system, 5000), 10, 1e-12);
    system = pivot();
    system.hours_per_day = 0;
    assert_int_equal(application_plan(&system, 20, &plan), STATUS_OK);
    assert_true(plan.hours > 0 && isnan(plan.days));
}

static void depths_are_raised_and_cut_to_the_limits_of_the_system(void **state) {
    (void)state;
    struct system system = pivot();
    struct application plan;
    system.net_min_mm = 8;
    system.net_max_mm = 25;
    assert_int_equal(application_plan(&system, 3, &plan), STATUS_OK);
    assert_true(plan.net_mm == 8 && !plan.limited);
    assert_int_equal(application_plan(&system, 40, &plan), STATUS_OK);
    assert_true(plan.net_mm == 25 && plan.limited);
    assert_int_equal(application_plan(&system, 25, &plan), STATUS_OK);
    assert_true(plan.net_mm == 25 && !plan.limited);
    assert_int_equal(application_plan(&system, 0, &plan), STATUS_OK);
    assert_true(plan.net_mm == 0 && plan.gross_mm == 0 && plan.hours == 0 && plan.days == 0);
}

static void depths_that_cannot_be_and_fields_without_a_system_are_refused(void **state) {
    (void)state;
    struct system system = pivot(), none = system_default(SYSTEM_NONE);
    struct application plan = {.net_mm = -1};
    struct application_pass pass = {.hours = -1};
    none.area_m2 = 10000;
    none.flow_m3_h = 10;
    assert_int_equal(application_plan(&system, -0.1, &plan), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_plan(&system, 2000.1, &plan), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_plan(&system, NAN, &plan), STATUS_NOT_FINITE);
    assert_int_equal(application_plan(&none, 10, &plan), STATUS_MISSING);
    assert_int_equal(application_pivot_pass(&none, 14, 20, &pass), STATUS_MISSING);
    assert_true(plan.net_mm == -1 && pass.hours == -1);
    assert_true(isnan(application_gross_of_hours_mm(&none, 10)));
    assert_true(isnan(application_gross_of_hours_mm(&system, -1)));
    assert_true(isnan(application_gross_of_hours_mm(&system, NAN)));
    assert_true(isnan(application_gross_of_volume_mm(&system, -1)));
    assert_true(isnan(application_gross_of_volume_mm(&system, INFINITY)));
    assert_true(isnan(application_net_of_gross_mm(&system, -1)));
}

static void hours_and_volume_lead_back_to_the_depth(void **state) {
    (void)state;
    struct hostile source = hostile_seed(4);
    for (int i = 0; i < 2000; i++) {
        struct system system = pivot();
        struct application plan;
        system.efficiency = hostile_between(&source, 0.2, 1);
        system.area_m2 = hostile_between(&source, 100, 1e7);
        system.flow_m3_h = hostile_between(&source, 1, 1000);
        double net = hostile_between(&source, 0.1, 100);
        assert_int_equal(application_plan(&system, net, &plan), STATUS_OK);
        assert_true(plan.gross_mm >= net);
        assert_near(application_gross_of_volume_mm(&system, plan.volume_m3), plan.gross_mm, 1e-9);
        assert_near(application_net_of_gross_mm(&system, plan.gross_mm), net, 1e-9);
        if (plan.hours <= 10000)
            assert_near(application_gross_of_hours_mm(&system, plan.hours), plan.gross_mm, 1e-9);
    }
}

static void a_pass_takes_the_time_that_its_flow_takes(void **state) {
    (void)state;
    struct system system = pivot();
    struct application_pass pass;
    /* 5.04 mm at full speed: 20.16 mm is a quarter of the speed and four times 14 h. */
    assert_int_equal(application_pivot_pass(&system, 14, 20.16, &pass), STATUS_OK);
    assert_near(pass.timer_pct, 25, 1e-10);
    assert_near(pass.hours, 56, 1e-10);
    assert_near(application_gross_of_hours_mm(&system, pass.hours), 20.16, 1e-10);
    double full_mm = application_gross_of_hours_mm(&system, 14);
    assert_int_equal(application_pivot_pass(&system, 14, full_mm, &pass), STATUS_OK);
    assert_true(pass.timer_pct == 100 && pass.hours == 14);
}

static void a_pass_that_the_timer_cannot_give_is_refused(void **state) {
    (void)state;
    struct system system = pivot();
    struct application_pass pass = {.hours = -1};
    assert_int_equal(application_pivot_pass(&system, 14, 5, &pass), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_pass(&system, 14, 505, &pass), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_pass(&system, 14, NAN, &pass), STATUS_NOT_FINITE);
    assert_int_equal(application_pivot_pass(&system, 0, 20, &pass), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_pass(&system, NAN, 20, &pass), STATUS_NOT_FINITE);
    system.flow_m3_h = NAN;
    assert_int_equal(application_pivot_pass(&system, 14, 20, &pass), STATUS_MISSING);
    system.efficiency = 2;
    assert_int_equal(application_pivot_pass(&system, 14, 20, &pass), STATUS_OUT_OF_RANGE);
    assert_true(pass.hours == -1);
}

static void a_pivot_waters_fastest_at_its_end(void **state) {
    (void)state;
    double rate = NAN, before = -1;
    for (int r = 0; r <= 400; r += 10) {
        assert_int_equal(application_pivot_rate_mm_h(180, 400, r, 15, &rate), STATUS_OK);
        assert_true(rate > before);
        before = rate;
    }
    /* By hand: 2 x 400 m x 180 m3/h / (400^2 x 15 m2 m) = 0.06 m/h. */
    assert_near(rate, 60, 1e-10);
    rate = -1;
    assert_int_equal(application_pivot_rate_mm_h(180, 400, 401, 15, &rate), STATUS_ORDER);
    assert_int_equal(application_pivot_rate_mm_h(0, 400, 10, 15, &rate), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_rate_mm_h(180, 0, 0, 15, &rate), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_rate_mm_h(180, 400, -1, 15, &rate), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_rate_mm_h(180, 400, 10, 0, &rate), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_pivot_rate_mm_h(NAN, 400, 10, 15, &rate), STATUS_NOT_FINITE);
    assert_true(rate == -1);
}

static void drip_hours_are_depth_over_rate(void **state) {
    (void)state;
    double hours = NAN;
    /* By hand: 1.6 l/h on 0.3 m x 1.5 m is 3.556 mm/h; 8 mm take 2.25 h. */
    assert_int_equal(application_drip_hours(8, 1.6, 0.3, 1.5, &hours), STATUS_OK);
    assert_near(hours, 2.25, 1e-12);
    assert_int_equal(application_drip_hours(0, 1.6, 0.3, 1.5, &hours), STATUS_OK);
    assert_true(hours == 0);
    hours = -1;
    assert_int_equal(application_drip_hours(-1, 1.6, 0.3, 1.5, &hours), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_drip_hours(8, 0, 0.3, 1.5, &hours), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_drip_hours(8, 1.6, 0, 1.5, &hours), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_drip_hours(8, 1.6, 0.3, 21, &hours), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_drip_hours(8, NAN, 0.3, 1.5, &hours), STATUS_NOT_FINITE);
    assert_true(hours == -1);
}

static void soil_that_takes_in_all_has_no_limit_and_a_slower_one_a_smaller_depth(void **state) {
    (void)state;
    double depth = NAN, before = 0;
    /* By hand: 5 mm of storage filling at 40 - 15 mm/h for 0.2 h, in which 8 mm fall. */
    assert_int_equal(application_depth_before_runoff_mm(15, 40, 5, &depth), STATUS_OK);
    assert_near(depth, 8, 1e-12);
    for (int intake = 1; intake < 40; intake++) {
        assert_int_equal(application_depth_before_runoff_mm(intake, 40, 5, &depth), STATUS_OK);
        assert_true(depth > before);
        before = depth;
    }
    assert_int_equal(application_depth_before_runoff_mm(40, 40, 5, &depth), STATUS_OK);
    assert_true(isnan(depth));
    assert_int_equal(application_depth_before_runoff_mm(15, 40, 0, &depth), STATUS_OK);
    assert_true(depth == 0);
    depth = -1;
    assert_int_equal(application_depth_before_runoff_mm(0, 40, 5, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_depth_before_runoff_mm(15, 0, 5, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_depth_before_runoff_mm(15, -1, 5, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_depth_before_runoff_mm(NAN, 40, 5, &depth), STATUS_NOT_FINITE);
    assert_int_equal(application_depth_before_runoff_mm(15, 40, INFINITY, &depth), STATUS_NOT_FINITE);
    assert_true(depth == -1);
}

static void leaching_adds_its_share_to_the_depth(void **state) {
    (void)state;
    double depth = NAN;
    assert_int_equal(application_with_leaching_mm(20, 0.2, &depth), STATUS_OK);
    assert_near(depth, 25, 1e-12);
    assert_int_equal(application_with_leaching_mm(20, 0, &depth), STATUS_OK);
    assert_true(depth == 20);
    depth = -1;
    assert_int_equal(application_with_leaching_mm(20, 1, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_with_leaching_mm(0, 1, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_with_leaching_mm(20, 0.995, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_with_leaching_mm(20, -0.1, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_with_leaching_mm(-1, 0.1, &depth), STATUS_OUT_OF_RANGE);
    assert_int_equal(application_with_leaching_mm(NAN, 0.1, &depth), STATUS_NOT_FINITE);
    assert_true(depth == -1);
}

static void no_number_whatever_breaks_an_application_function(void **state) {
    (void)state;
    struct hostile source = hostile_seed(20);
    int good = 0;
    for (int i = 0; i < HOSTILE_ROUNDS; i++) {
        struct system system = {
            .kind = (enum system_kind)(i % (SYSTEM_COUNT + 1)),
            .efficiency = hostile_number(&source, 0.2, 1),
            .area_m2 = hostile_number(&source, 1, 1e6),
            .flow_m3_h = hostile_number(&source, 1, 500),
            .hours_per_day = hostile_number(&source, 0, 24),
            .net_min_mm = NAN,
            .net_max_mm = hostile_number(&source, 1, 50),
            .wetted_fraction = hostile_number(&source, 0.05, 1),
        };
        struct application plan = {.net_mm = -1};
        struct application_pass pass = {.hours = -1};
        double a = hostile_number(&source, 0, 100), b = hostile_number(&source, 0, 40);
        enum status status = application_plan(&system, a, &plan);
        assert_true(status == STATUS_OK ? plan.gross_mm >= plan.net_mm && isfinite(plan.volume_m3)
                                        : plan.net_mm == -1);
        good += status == STATUS_OK;
        status = application_pivot_pass(&system, b, a, &pass);
        assert_true(status == STATUS_OK ? pass.timer_pct >= 1 - 1e-9 && pass.timer_pct <= 100
                                        : pass.hours == -1);
        double out = -1;
        status =
            application_drip_hours(a, b, hostile_number(&source, 0, 2), hostile_number(&source, 0, 2), &out);
        assert_true(status == STATUS_OK ? out >= 0 && isfinite(out) : out == -1);
        out = -1;
        status = application_depth_before_runoff_mm(a, b, hostile_number(&source, 0, 10), &out);
        assert_true(status == STATUS_OK ? isnan(out) || out >= 0 : out == -1);
        out = -1;
        status = application_with_leaching_mm(a, hostile_number(&source, 0, 1), &out);
        assert_true(status == STATUS_OK ? out >= a : out == -1);
        out = -1;
        status = application_pivot_rate_mm_h(a, b, hostile_number(&source, 0, 40), 10, &out);
        assert_true(status == STATUS_OK ? out >= 0 && isfinite(out) : out == -1);
        assert_true(!(application_gross_of_hours_mm(&system, a) < 0));
        assert_true(!(application_gross_of_volume_mm(&system, a) < 0));
        assert_true(!(application_net_of_gross_mm(&system, a) > a));
    }
    assert_true(good > HOSTILE_ROUNDS / 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_has_a_name_that_leads_back),
        cmocka_unit_test(usual_wetted_fractions_lie_in_the_range_of_table_20),
        cmocka_unit_test(usual_efficiencies_are_those_of_training_manual_4),
        cmocka_unit_test(a_default_lacks_only_its_area),
        cmocka_unit_test(each_member_at_fault_is_named),
        cmocka_unit_test(a_net_depth_becomes_gross_volume_hours_and_days),
        cmocka_unit_test(without_a_flow_there_are_no_hours),
        cmocka_unit_test(depths_are_raised_and_cut_to_the_limits_of_the_system),
        cmocka_unit_test(depths_that_cannot_be_and_fields_without_a_system_are_refused),
        cmocka_unit_test(hours_and_volume_lead_back_to_the_depth),
        cmocka_unit_test(a_pass_takes_the_time_that_its_flow_takes),
        cmocka_unit_test(a_pass_that_the_timer_cannot_give_is_refused),
        cmocka_unit_test(a_pivot_waters_fastest_at_its_end),
        cmocka_unit_test(drip_hours_are_depth_over_rate),
        cmocka_unit_test(soil_that_takes_in_all_has_no_limit_and_a_slower_one_a_smaller_depth),
        cmocka_unit_test(leaching_adds_its_share_to_the_depth),
        cmocka_unit_test(no_number_whatever_breaks_an_application_function),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
