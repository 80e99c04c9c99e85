/* Days side by side: the same bits, statuses, origins and rules as each day by itself, and the same on every
 * machine. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "core/weather/day_block.h"
#include "tests/support/bits.h"
#include "tests/support/hostile.h"

#define KINDS     (REFERENCE_ASCE_TALL + 1)
#define ALL_KINDS ((1u << KINDS) - 1)
#define DAYS      200
#define BLOCKS    150

struct made {
    struct weather_full full;
    double et_mm[KINDS];
    enum status status;
};

static double share(struct hostile *source) {
    return hostile_between(source, 0.0, 1.0);
}

/* `wild`: of how many values one is any number at all, or of any origin; 0: none. */
static struct weather_day some_day(struct hostile *source, int32_t date, double there, double wild) {
    static const double low[WEATHER_ELEMENT_COUNT] = {20.0, -20.0, -10.0, -20.0, 0.0, -5.0, 40.0, 5.0,
                                                      20.0, 0.0,   90.0,  0.0,   0.0, 0.0,  0.0};
    static const double high[WEATHER_ELEMENT_COUNT] = {45.0,  19.0, 35.0,  25.0, 40.0, 25.0, 105.0, 70.0,
                                                       100.0, 4.0,  103.0, 3.0,  30.0, 14.0, 80.0};
    struct weather_day day = weather_day_empty(date);
    for (int i = 0; i < WEATHER_ELEMENT_COUNT; i++) {
        if (i > WEATHER_TMIN_C && share(source) > there)
            continue;
        bool any = share(source) < wild;
        day.value[i] = any ? hostile_number(source, -100.0, 120.0) : hostile_between(source, low[i], high[i]);
        day.origin[i] = (uint8_t)(share(source) < wild ? hostile_between(source, 0.0, 9.0)
                                                       : hostile_between(source, 1.0, 6.99));
    }
    return day;
}

static struct made alone(const struct weather_day *day, const struct weather_findings *findings,
                         struct weather_place *place) {
    struct made made;
    memset(&made, 0x55, sizeof made);
    made.status = weather_complete_at(day, place, findings, &made.full);
    for (int kind = 0; kind < KINDS && made.status == STATUS_OK; kind++)
        assert_int_equal(
            reference_et_day(&made.full, &place->site, (enum reference_kind)kind, NULL, &made.et_mm[kind]),
            STATUS_OK);
    return made;
}

/* Completes the days in pieces of `size`. */
static void side_by_side(const struct weather_day *day, const unsigned *suspect, struct weather_place *place,
                         int size, struct made *made) {
    static struct day_block_day block[DAYS];
    memset(made, 0x55, DAYS * sizeof *made);
    for (int i = 0; i < DAYS; i++)
        block[i] = (struct day_block_day){
            .reported = &day[i], .suspect = suspect[i], .full = &made[i].full, .et_mm = made[i].et_mm};
    for (int i = 0; i < DAYS; i += size)
        day_block_complete(place, ALL_KINDS, &block[i], i + size <= DAYS ? size : DAYS - i);
    for (int i = 0; i < DAYS; i++)
        made[i].status = block[i].status;
}

static void a_block_gives_what_each_day_gives_to_the_last_bit(void **state) {
    (void)state;
    static const int sizes[] = {1, 31, 32, 64, 97, DAYS};
    static struct weather_day day[DAYS];
    static struct made made[DAYS];
    struct hostile source = hostile_seed(21);
    int counts[32] = {0}, good = 0;
    for (int round = 0; round < BLOCKS; round++) {
        struct weather_site site =
            weather_site_default(hostile_between(&source, -90, 90), hostile_between(&source, -430, 6000));
        struct weather_place one, other;
        unsigned suspect[DAYS];
        site.wind_height_m = round % 2 == 0 ? 2.0 : 10.0;
        assert_int_equal(weather_place_open(&site, &one), STATUS_OK);
        assert_int_equal(weather_place_open(&site, &other), STATUS_OK);
        int32_t first = (int32_t)hostile_between(&source, -100000, 300000);
        for (int i = 0; i < DAYS; i++) {
            int32_t date = share(&source) < 0.01 ? CALENDAR_NONE : first + 3 * i;
            day[i] = some_day(&source, date, 0.1 * (round % 10), round % 3 == 0 ? 0.02 : 0);
            struct weather_findings findings = {0};
            if (round % 2 == 0)
                (void)weather_check(&day[i], NULL, NULL, NULL, 0, &site, &findings);
            suspect[i] = weather_suspects(&findings);
        }
        side_by_side(day, suspect, &other, sizes[round % 6], made);
        for (int i = 0; i < DAYS; i++) {
            struct weather_findings findings = {0};
            if (round % 2 == 0)
                (void)weather_check(&day[i], NULL, NULL, NULL, 0, &site, &findings);
            struct made want = alone(&day[i], &findings, &one);
            assert_int_equal(made[i].status, want.status);
            assert_memory_equal(&made[i].full, &want.full, sizeof want.full);
            assert_memory_equal(made[i].et_mm, want.et_mm, sizeof want.et_mm);
            good += want.status == STATUS_OK;
            counts[want.status]++;
        }
    }
    print_message("# measured %d days completed side by side as by themselves, %d refused alike\n", good,
                  BLOCKS * DAYS - good);
    assert_true(good > BLOCKS * DAYS / 2);
    assert_true(counts[STATUS_MISSING] > 0 && counts[STATUS_ORDER] > 0 && counts[STATUS_NOT_FINITE] > 0 &&
                counts[STATUS_OUT_OF_RANGE] > 0);
}

static void only_the_kinds_that_are_asked_for_are_written(void **state) {
    (void)state;
    struct hostile source = hostile_seed(22);
    struct weather_site site = weather_site_default(40, 300);
    struct weather_place place;
    struct weather_day day[33];
    struct day_block_day block[33];
    static struct weather_full full[33];
    double et_mm[33][KINDS];
    assert_int_equal(weather_place_open(&site, &place), STATUS_OK);
    for (int i = 0; i < 33; i++) {
        day[i] = some_day(&source, 20000 + i, 0.5, 0);
        block[i] = (struct day_block_day){.reported = &day[i], .full = &full[i], .et_mm = et_mm[i]};
        for (int kind = 0; kind < KINDS; kind++)
            et_mm[i][kind] = -77;
    }
    day_block_complete(&place, 1u << REFERENCE_ASCE_TALL, block, 0);
    assert_true(et_mm[0][REFERENCE_ASCE_TALL] == -77);
    day_block_complete(&place, 1u << REFERENCE_ASCE_TALL, block, 33);
    for (int i = 0; i < 33; i++) {
        assert_int_equal(block[i].status, STATUS_OK);
        assert_true(et_mm[i][REFERENCE_FAO56_GRASS] == -77 && et_mm[i][REFERENCE_ASCE_SHORT] == -77);
        assert_true(et_mm[i][REFERENCE_ASCE_TALL] > -10);
    }
}

/* With the sun's table and the pressure given, nothing but additions, multiplications, divisions and square
 * roots is left, which IEEE 754 rounds in one way alone. The hash was made by gcc 12 with -O2; every
 * compiler, option, processor and size of block must come to it. */
static void its_bits_are_the_same_everywhere(void **state) {
    (void)state;
    static const int sizes[] = {1, 64, DAYS};
    static struct weather_day day[DAYS];
    static struct made made[DAYS];
    static const unsigned suspect[DAYS];
    struct weather_site site = weather_site_default(40, 300);
    for (int s = 0; s < 3; s++) {
        struct hostile source = hostile_seed(23);
        struct weather_place place;
        uint64_t hash = BITS_SEED;
        assert_int_equal(weather_place_open(&site, &place), STATUS_OK);
        for (int i = 0; i < 366; i++)
            place.sun[i].ra_mj_m2 = 15 + i % 29, place.sun[i].daylight_h = 8 + i % 9;
        for (int i = 0; i < DAYS; i++) {
            day[i] = some_day(&source, 20000 + i, 0.4, 0);
            day[i].value[WEATHER_PRESSURE_KPA] = 97.3;
            day[i].origin[WEATHER_PRESSURE_KPA] = ORIGIN_MEASURED;
        }
        side_by_side(day, suspect, &place, sizes[s], made);
        for (int i = 0; i < DAYS; i++) {
            assert_int_equal(made[i].status, STATUS_OK);
            hash = bits_add(bits_add(hash, made[i].full.ea_kpa.value), made[i].full.rn_mj_m2);
            for (int kind = 0; kind < KINDS; kind++)
                hash = bits_add(hash, made[i].et_mm[kind]);
        }
        assert_int_equal(hash, UINT64_C(0x841a50fecbf41c45));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_block_gives_what_each_day_gives_to_the_last_bit),
        cmocka_unit_test(only_the_kinds_that_are_asked_for_are_written),
        cmocka_unit_test(its_bits_are_the_same_everywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
