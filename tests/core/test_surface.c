#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/balance/surface.h"
#include "tests/support/hostile.h"
#include "tests/support/near.h"

static void irrigation_with_more_than_3_mm_of_rain_wets_the_whole_ground(void **state) {
    (void)state;
    struct surface surface = {.depletion_mm = 10, .wetted_fraction = 1};
    struct surface_wetting drip = {.irrigation_mm = 2, .system_wetted_fraction = 0.4};
    /* Errata of FAO-56, page 149: irrigation alone, or with rain up to 3 to 4 mm, has the system's fw. */
    assert_near(surface_wet(&surface, &drip), 0, 0);
    assert_near(surface.wetted_fraction, 0.4, 0);
    assert_true(surface.by_system);
    assert_near(surface.depletion_mm, 10 - 2 / 0.4, 1e-12);
    drip.rain_mm = drip.infiltration_mm = 3;
    (void)surface_wet(&surface, &drip);
    assert_near(surface.wetted_fraction, 0.4, 0);
    drip.rain_mm = 3.1;
    (void)surface_wet(&surface, &drip);
    assert_near(surface.wetted_fraction, 1, 0);
    assert_false(surface.by_system);
    /* Rain alone up to 3 mm leaves fw as it was. */
    surface.wetted_fraction = 0.4;
    (void)surface_wet(
        &surface, &(struct surface_wetting){.rain_mm = 2, .infiltration_mm = 2, .system_wetted_fraction = 1});
    assert_near(surface.wetted_fraction, 0.4, 0);
}

static void water_past_field_capacity_leaves_the_surface_layer(void **state) {
    (void)state;
    struct surface surface = {.depletion_mm = 8, .wetted_fraction = 1};
    struct surface_wetting rain = {.rain_mm = 20, .infiltration_mm = 15, .system_wetted_fraction = 1};
    assert_near(surface_wet(&surface, &rain), 7, 1e-12); /* eq. 79 */
    assert_near(surface.depletion_mm, 0, 0);
}

static void the_surface_layer_never_dries_past_tew(void **state) {
    (void)state;
    struct hostile source = hostile_seed(31);
    for (int n = 0; n < HOSTILE_ROUNDS; n++) {
        double tew_mm = hostile_between(&source, 2, 40);
        struct surface surface = {hostile_between(&source, 0, tew_mm), hostile_between(&source, 0.05, 1),
                                  n % 2};
        struct surface_demand demand = {.kcb = hostile_between(&source, 0, 1.1),
                                        .kc_max = 1.2,
                                        .cover = hostile_between(&source, 0, 0.99),
                                        .et0_mm = hostile_between(&source, 0, 15),
                                        .rew_mm = tew_mm * hostile_between(&source, 0, 0.99),
                                        .tew_mm = tew_mm,
                                        .drip_under_canopy = n % 3 == 0};
        struct surface_evaporation out = {.ke = NAN};
        assert_int_equal(surface_evaporate(&surface, &demand, &out), STATUS_OK);
        double de_mm = surface.depletion_mm + out.evaporation_mm / out.exposed_fraction;
        assert_true(de_mm <= tew_mm + 1e-9);
        assert_near(out.ke * demand.et0_mm, out.evaporation_mm, 1e-9);
        assert_true(out.ke + demand.kcb <= demand.kc_max + 1e-12);
        surface_dry(&surface, out.evaporation_mm, 5, out.exposed_fraction, tew_mm);
        assert_true(surface.depletion_mm <= tew_mm);
    }
}

static void the_surface_layer_names_what_is_wrong(void **state) {
    (void)state;
    const struct surface wet = {.depletion_mm = 2, .wetted_fraction = 0.5};
    const struct surface_demand good = {
        .kcb = 0.3, .kc_max = 1.2, .cover = 0.1, .et0_mm = 5, .rew_mm = 8, .tew_mm = 20};
    struct surface_evaporation out = {.ke = 7};
    struct surface surface;
    struct surface_demand demand;
#define REFUSED(change, wanted)                                                                              \
    do {                                                                                                     \
        surface = wet;                                                                                       \
        demand = good;                                                                                       \
        change;                                                                                              \
        assert_int_equal(surface_evaporate(&surface, &demand, &out), wanted);                                \
    } while (0)
    REFUSED(demand.et0_mm = NAN, STATUS_MISSING);
    REFUSED(demand.et0_mm = INFINITY, STATUS_NOT_FINITE);
    REFUSED(demand.et0_mm = -1, STATUS_OUT_OF_RANGE);
    REFUSED(demand.kcb = -0.1, STATUS_OUT_OF_RANGE);
    REFUSED(demand.cover = 1, STATUS_OUT_OF_RANGE);
    REFUSED(demand.cover = -0.1, STATUS_OUT_OF_RANGE);
    REFUSED(demand.rew_mm = -1, STATUS_OUT_OF_RANGE);
    REFUSED(demand.rew_mm = 20, STATUS_OUT_OF_RANGE);
    REFUSED(surface.wetted_fraction = 0, STATUS_OUT_OF_RANGE);
    REFUSED(surface.wetted_fraction = 1.1, STATUS_OUT_OF_RANGE);
    REFUSED(surface.depletion_mm = -1, STATUS_OUT_OF_RANGE);
    REFUSED(surface.depletion_mm = 21, STATUS_OUT_OF_RANGE);
    REFUSED(demand.kcb = 1.3, STATUS_ORDER);
#undef REFUSED
    assert_near(out.ke, 7, 0);
    assert_true(isnan(surface_kr(5, 8, 8)) && isnan(surface_kr(-1, 8, 20)) && isnan(surface_kr(5, -1, 20)) &&
                isnan(surface_kr(NAN, 8, 20)));
    assert_true(isnan(surface_exposed(-0.1, 1, false)) && isnan(surface_exposed(0.5, 0, false)) &&
                isnan(surface_exposed(0.5, 1.1, true)));
    /* Eq. 71: by the energy, and by the wetted and exposed ground. */
    assert_near(surface_ke(0.5, 0.3, 1.2, 0.9), 0.45, 1e-12);
    assert_near(surface_ke(1, 0.3, 1.2, 0.4), 0.48, 1e-12);
    assert_true(isnan(surface_ke(1.1, 0.3, 1.2, 1)) && isnan(surface_ke(-0.1, 0.3, 1.2, 1)) &&
                isnan(surface_ke(1, -0.3, 1.2, 1)) && isnan(surface_ke(1, 1.3, 1.2, 1)) &&
                isnan(surface_ke(1, 0.3, 1.2, 1.1)) && isnan(surface_ke(1, 0.3, 1.2, -0.1)));
}

static void roots_take_less_from_a_dry_surface_layer(void **state) {
    (void)state;
    /* (1 / 0.5) (0.1 / 0.4)^0.6 = 0.870 */
    assert_near(surface_root_share(0, 0.5, 0.1, 0.4), 2 * pow(0.25, 0.6), 1e-12);
    assert_near(surface_root_share(1, 0.5, 0.1, 0.4), 0, 0);
    assert_near(surface_root_share(0, 0.9, 0.1, 0.4), 1, 0);
    assert_true(isnan(surface_root_share(1.1, 0.5, 0.1, 0.4)) &&
                isnan(surface_root_share(-0.1, 0.5, 0.1, 0.4)));
    assert_true(isnan(surface_root_share(0.1, 1, 0.1, 0.4)) && isnan(surface_root_share(0.1, -1, 0.1, 0.4)));
    assert_true(isnan(surface_root_share(0.1, 0.5, 0, 0.4)) && isnan(surface_root_share(0.1, 0.5, 0.5, 0.4)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(irrigation_with_more_than_3_mm_of_rain_wets_the_whole_ground),
        cmocka_unit_test(water_past_field_capacity_leaves_the_surface_layer),
        cmocka_unit_test(the_surface_layer_never_dries_past_tew),
        cmocka_unit_test(the_surface_layer_names_what_is_wrong),
        cmocka_unit_test(roots_take_less_from_a_dry_surface_layer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
