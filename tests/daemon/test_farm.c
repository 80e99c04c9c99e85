/* The farm in memory: look-ups, what the balance of a planting is set up with, what a day's records bring,
 * and whether one more record fits. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/check.h"
#include "daemon/farm/farm_file.h"
#include "support/farms.h"
#include "support/near.h"

static int32_t day(const char *iso) {
    int32_t date = CALENDAR_NONE;
    assert_int_equal(calendar_parse_iso(iso, &date), STATUS_OK);
    return date;
}

static void read_sample(const char *name, struct farm *farm) {
    char path[100];
    size_t size;
    struct problems problems;
    (void)snprintf(path, sizeof path, "fixtures/farms/good/%s.json", name);
    char *text = farms_text(path, &size);
    assert_non_null(text);
    problems_init(&problems);
    assert_int_equal(farm_file_read(path, text, size, farm, &problems), STATUS_OK);
    problems_free(&problems);
    free(text);
}

/* Puts records, in any order, in the place of a farm's own. */
static void put_records(struct farm *farm, const struct farm_record *records, size_t count, bool sorted) {
    free(farm->record);
    farm->record = calloc(count, sizeof *farm->record);
    memcpy(farm->record, records, count * sizeof *records);
    farm->record_count = count;
    farm->records_sorted = false;
    if (sorted)
        assert_int_equal(farm_sort_records(farm), STATUS_OK);
}

static struct farm_record record_of(const char *field, const char *date, enum record_kind kind,
                                    double amount) {
    struct farm_record record = {.date = day(date), .kind = kind, .amount = amount, .sd = NAN};
    (void)snprintf(record.field, sizeof record.field, "%s", field);
    return record;
}

static struct farm_record stage_of(const char *date, int stage) {
    struct farm_record record = record_of("Home 130", date, RECORD_STAGE, NAN);
    record.stage = stage;
    return record;
}

static void look_ups_find_names_and_nothing_else(void **state) {
    (void)state;
    struct farm farm;
    read_sample("us_units", &farm);
    assert_string_equal(farm_field_named(&farm, "Hay")->name, "Hay");
    assert_string_equal(farm_soil_named(&farm, "pit")->name, "pit");
    assert_string_equal(farm_supply_named(&farm, "canal")->name, "canal");
    assert_string_equal(farm_station_named(&farm, "barn")->name, "barn");
    assert_null(farm_field_named(&farm, "hay"));
    assert_null(farm_station_named(&farm, ""));
    farm_free(&farm);
    assert_null(farm_field_named(&farm, "Hay"));
}

static void the_planting_on_a_day_is_the_last_that_began(void **state) {
    (void)state;
    struct farm farm;
    read_sample("us_units", &farm);
    assert_null(farm_planting_on(&farm, "Home 130", day("2026-04-19")));
    assert_ptr_equal(farm_planting_on(&farm, "Home 130", day("2026-04-20")), &farm.planting[0]);
    assert_ptr_equal(farm_planting_on(&farm, "Home 130", day("2026-09-14")), &farm.planting[0]);
    assert_ptr_equal(farm_planting_on(&farm, "Home 130", day("2026-09-15")), &farm.planting[1]);
    assert_null(farm_planting_on(&farm, "nowhere", day("2026-09-15")));
    farm_free(&farm);
}

static void a_setup_holds_planting_soil_and_system(void **state) {
    (void)state;
    struct farm farm;
    struct season_setup setup;
    const char *member = NULL;
    read_sample("every_key", &farm);
    assert_int_equal(farm_planting_setup(&farm, &farm.planting[1], &setup), STATUS_OK);
    assert_int_equal(season_setup_check(&setup, &member), STATUS_OK);
    assert_int_equal(setup.method, COEFFICIENT_SINGLE);
    assert_int_equal(setup.planting_date, day("2025-10-10"));
    assert_int_equal(setup.first_date, day("2025-10-10"));
    assert_true(setup.system_wetted_fraction == farm.field[1].system.wetted_fraction);
    assert_memory_equal(&setup.soil, &farm.soil[1].soil, sizeof setup.soil);
    assert_true(setup.crop.height_max_m == 1.2);
    assert_int_equal(farm_planting_setup(&farm, &farm.planting[0], &setup), STATUS_OK);
    assert_true(setup.start_depletion == 0.2 && setup.water_table_m == 1.8 && setup.capillary_max_mm == 2);
    assert_true(setup.ece_ds_m == 2);
    assert_int_equal(setup.stage_date[1], day("2025-11-20"));
    assert_int_equal(setup.stage_date[2], day("2026-01-20")); /* recorded; the planting says 2026-01-15 */
    (void)snprintf(farm.planting[0].field, FARM_NAME_SIZE, "gone");
    assert_int_equal(farm_planting_setup(&farm, &farm.planting[0], &setup), STATUS_NOT_FOUND);
    farm_free(&farm);
}

static void stages_count_from_the_morning_on_which_they_are_known(void **state) {
    (void)state;
    struct farm farm;
    struct season_setup setup;
    read_sample("us_units", &farm);
    const struct farm_record records[] = {stage_of("2026-06-12", 1), stage_of("2026-06-09", 1),
                                          stage_of("2026-10-20", 0), stage_of("2026-05-15", 0)};
    for (int sorted = 0; sorted < 2; sorted++) {
        put_records(&farm, records, 4, sorted == 1);
        (void)farm_planting_setup_seen(&farm, &farm.planting[0], day("2026-06-08"), &setup);
        assert_int_equal(setup.stage_date[1], CALENDAR_NONE);
        (void)farm_planting_setup_seen(&farm, &farm.planting[0], day("2026-06-09"), &setup);
        assert_int_equal(setup.stage_date[1], day("2026-06-09"));
        (void)farm_planting_setup(&farm, &farm.planting[0], &setup);
        /* of 20 October is the wheat's */
        assert_int_equal(setup.stage_date[0], day("2026-05-15"));
        assert_int_equal(setup.stage_date[3], day("2026-08-30"));
        (void)farm_planting_setup(&farm, &farm.planting[1], &setup);
        assert_int_equal(setup.stage_date[0], day("2026-10-20"));
        (void)farm_planting_setup(&farm, &farm.planting[0], &setup);
        assert_int_equal(setup.stage_date[1], day("2026-06-12")); /* the later record of the two */
    }
    farm_free(&farm);
}

static const struct farm_field *field_of(const struct farm *farm, int planting) {
    return farm_field_named(farm, farm->planting[planting].field);
}

static void a_day_without_records_is_left_as_it_is(void **state) {
    (void)state;
    struct farm farm;
    read_sample("us_units", &farm);
    struct season_input input = season_input_empty(day("2026-05-30"));
    input.rain_mm = 3;
    assert_int_equal(farm_records_apply(&farm, field_of(&farm, 0), input.date, &input), 0);
    assert_true(input.rain_mm == 3 && input.irrigation_gross_mm == 0 && input.irrigation_net_mm == 0);
    assert_true(isnan(input.reading_m3_m3) && isnan(input.observed_cover) && !input.cutting);
    farm_free(&farm);
}

static void irrigations_of_a_day_add_up_and_become_net(void **state) {
    (void)state;
    struct farm farm;
    read_sample("us_units", &farm);
    struct season_input input = season_input_empty(day("2026-06-01"));
    input.rain_mm = 9;
    unsigned kinds = farm_records_apply(&farm, field_of(&farm, 0), input.date, &input);
    assert_int_equal(kinds, 1u << RECORD_IRRIGATION | 1u << RECORD_RAIN);
    /* 12 acre-inches on 130 acres: 12 / 130 in; 14 h of 800 gal/min: 672000 gal of 3.785411784 L on 526091.33
     * m2 */
    double gross_mm = 25.4 * 12 / 130 + 672000 * 3.785411784 / 526091.334912;
    assert_near(input.irrigation_gross_mm, gross_mm, 1e-9);
    assert_near(input.irrigation_net_mm, gross_mm * 0.82, 1e-9);
    assert_near(input.rain_mm, 2.54, 1e-12); /* the gauge in place of the station */
    farm_free(&farm);
}

static void readings_of_a_day_are_weighed_by_their_variances(void **state) {
    (void)state;
    struct farm farm;
    read_sample("small", &farm);
    struct farm_record records[] = {record_of("North", "2026-06-01", RECORD_READING, 0.20),
                                    record_of("North", "2026-06-01", RECORD_READING, 0.26)};
    records[0].sd = 0.01;
    records[1].sd = 0.02;
    put_records(&farm, records, 2, true);
    struct season_input input = season_input_empty(day("2026-06-01"));
    assert_int_equal(farm_records_apply(&farm, field_of(&farm, 0), input.date, &input), 1u << RECORD_READING);
    /* inverse-variance mean, (0.20 / 1 + 0.26 / 4) / (1 + 1/4), and 0.01 / sqrt(1.25) */
    assert_near(input.reading_m3_m3, 0.212, 1e-12);
    assert_near(input.reading_sd_m3_m3, 0.00894427190999916, 1e-12);
    records[1].sd = NAN; /* taken as it stands: it alone counts */
    put_records(&farm, records, 2, true);
    (void)farm_records_apply(&farm, field_of(&farm, 0), input.date, &input);
    assert_true(input.reading_m3_m3 == 0.26 && input.reading_sd_m3_m3 == 0);
    records[1].sd = 1e-200; /* its square is 0 */
    put_records(&farm, records, 2, true);
    (void)farm_records_apply(&farm, field_of(&farm, 0), input.date, &input);
    assert_true(input.reading_m3_m3 == 0.26 && input.reading_sd_m3_m3 == 0);
    farm_free(&farm);
}

static void cover_and_cutting_reach_the_day(void **state) {
    (void)state;
    struct farm farm;
    read_sample("us_units", &farm);
    struct season_input input = season_input_empty(day("2026-05-08"));
    assert_int_equal(farm_records_apply(&farm, field_of(&farm, 2), input.date, &input),
                     1u << RECORD_CUTTING | 1u << RECORD_NOTE);
    assert_true(input.cutting);
    farm_free(&farm);
    read_sample("every_key", &farm);
    input = season_input_empty(day("2025-11-25"));
    (void)farm_records_apply(&farm, field_of(&farm, 0), input.date, &input);
    assert_true(input.observed_cover == 0.45);
    farm_free(&farm);
}

static void sorted_and_unsorted_records_give_the_same_days(void **state) {
    (void)state;
    struct farm sorted, unsorted;
    farms_arbitrary(&sorted, 9);
    farms_arbitrary(&unsorted, 9);
    for (size_t i = 0; i < unsorted.record_count / 2; i++) {
        struct farm_record *a = &unsorted.record[i], *b = &unsorted.record[unsorted.record_count - 1 - i],
                           c = *a;
        *a = *b;
        *b = c;
    }
    unsorted.records_sorted = false;
    int days = 0;
    for (int32_t date = 20590; date < 20670; date++) {
        struct season_input one = season_input_empty(date), other = one;
        unsigned kinds = farm_records_apply(&sorted, field_of(&sorted, 1), date, &one);
        assert_int_equal(farm_records_apply(&unsorted, field_of(&unsorted, 1), date, &other), kinds);
        int32_t next = farm_next_record(&sorted, sorted.planting[1].field, date);
        assert_int_equal(next == date, kinds != 0);
        assert_int_equal(farm_next_record(&unsorted, unsorted.planting[1].field, date), next);
        assert_near(one.irrigation_gross_mm, other.irrigation_gross_mm, 1e-12);
        days += kinds != 0;
    }
    assert_true(days > 5);
    farm_free(&sorted);
    farm_free(&unsorted);
}

/* ---- one more record ---- */

static void expect_record(const struct farm *farm, const struct farm_record *record, const char *message) {
    struct problems problems;
    struct text words;
    problems_init(&problems);
    text_init(&words, 0);
    enum status status = check_record(farm, record, &problems);
    problems_print(&problems, &words);
    assert_int_equal(status, message[0] == '\0' ? STATUS_OK : STATUS_REFUSED);
    assert_string_equal(text_string(&words), message);
    text_free(&words);
    problems_free(&problems);
}

static void a_record_that_fits_is_taken_and_others_are_told(void **state) {
    (void)state;
    struct farm farm;
    read_sample("us_units", &farm);
    struct farm_record record = record_of("Home 130", "2026-06-01", RECORD_IRRIGATION, 20);
    expect_record(&farm, &record, "");
    record.date = day("2026-04-19");
    expect_record(
        &farm, &record,
        "records[1].date: found irrigation on 2026-04-19, expected 2026-04-20 or later, the first day of the "
        "balance on \"Home 130\"\n");
    record = record_of("Home 13", "2026-06-01", RECORD_NOTE, NAN);
    expect_record(&farm, &record, "records[0].field: found \"Home 13\", expected \"Home 130\"\n");
    record = record_of("Home 130", "2026-06-01", RECORD_CUTTING, NAN);
    expect_record(
        &farm, &record,
        "records[1].kind: found cutting on 2026-06-01, expected a planting of a forage crop on the field\n");
    record = stage_of("2026-06-01", 2); /* late, with mid-season from 9 June on */
    expect_record(&farm, &record,
                  "records[1].date: found 2026-06-01 for \"late\", expected a day after 2026-06-09 (mid)\n");
    record = stage_of("2026-06-20", 2);
    expect_record(&farm, &record, "");
    record.stage = 99;
    expect_record(&farm, &record,
                  "records[1].stage: found stage on 2026-06-20, expected development, mid, late or end\n");
    record.kind = RECORD_KIND_COUNT;
    expect_record(&farm, &record, "records[1].kind: found 8, expected a kind of record\n");
    farm_free(&farm);
}

static void a_field_without_plantings_takes_notes_from_any_day(void **state) {
    (void)state;
    struct farm farm;
    read_sample("every_key", &farm);
    struct farm_record record = record_of("C", "1999-01-01", RECORD_NOTE, NAN);
    expect_record(&farm, &record, "");
    farm_free(&farm);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(look_ups_find_names_and_nothing_else),
        cmocka_unit_test(the_planting_on_a_day_is_the_last_that_began),
        cmocka_unit_test(a_setup_holds_planting_soil_and_system),
        cmocka_unit_test(stages_count_from_the_morning_on_which_they_are_known),
        cmocka_unit_test(a_day_without_records_is_left_as_it_is),
        cmocka_unit_test(irrigations_of_a_day_add_up_and_become_net),
        cmocka_unit_test(readings_of_a_day_are_weighed_by_their_variances),
        cmocka_unit_test(cover_and_cutting_reach_the_day),
        cmocka_unit_test(sorted_and_unsorted_records_give_the_same_days),
        cmocka_unit_test(a_record_that_fits_is_taken_and_others_are_told),
        cmocka_unit_test(a_field_without_plantings_takes_notes_from_any_day),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
