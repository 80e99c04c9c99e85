/* Reading a farm file: where values go, and what is said about those that are wrong. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/farm/farm_file.h"
#include "support/farms.h"
#include "support/hostile.h"
#include "support/near.h"

static enum status read_text(const char *name, const char *text, size_t size, struct farm *farm,
                             struct text *words) {
    struct problems problems;
    problems_init(&problems);
    enum status status = farm_file_read(name, text, size, farm, &problems);
    problems_print(&problems, words);
    problems_free(&problems);
    return status;
}

static void read_good(const char *path, struct farm *farm) {
    size_t size;
    char *text = farms_text(path, &size);
    struct text words;
    text_init(&words, 0);
    assert_non_null(text);
    if (read_text(path, text, size, farm, &words) != STATUS_OK)
        fail_msg("%s", text_string(&words));
    assert_string_equal(text_string(&words), "");
    text_free(&words);
    free(text);
}

static bool is_empty(const struct farm *farm) {
    const struct farm empty = {.name = "", .water_price = NAN};
    char where[100];
    return farms_same(farm, &empty, where) && farm->field == NULL && farm->record == NULL;
}

/* ---- where values go ---- */

static struct farm all, us;

static int read_samples(void **state) {
    (void)state;
    read_good("fixtures/farms/good/every_key.json", &all);
    read_good("fixtures/farms/good/us_units.json", &us);
    return 0;
}

static int free_samples(void **state) {
    (void)state;
    farm_free(&all);
    farm_free(&us);
    return 0;
}

static void stations_and_sources_are_read(void **state) {
    (void)state;
    const struct farm_station *coast = farm_station_named(&all, "coast"),
                              *barn = farm_station_named(&us, "barn");
    assert_string_equal(all.name, "All of It");
    assert_string_equal(all.time_zone, "Europe/Madrid");
    assert_false(all.us_units);
    assert_true(us.us_units);
    assert_true(coast->site.latitude_deg == -33.5 && coast->longitude_deg == 151.25);
    assert_true(coast->site.elevation_m == -2 && coast->site.wind_height_m == 3 && coast->site.coastal);
    assert_true(coast->site.aridity_c == 1.5 && coast->site.krs == 0.18);
    assert_true(coast->site.angstrom_as == 0.24 && coast->site.angstrom_bs == 0.51);
    assert_near(coast->site.wind_default_m_s, 8 / 3.6, 1e-12);
    assert_near(barn->site.elevation_m, 124.968, 1e-9);
    assert_near(barn->site.aridity_c, 2, 1e-12);
    assert_true(isnan(barn->site.krs) && barn->site.angstrom_as == 0.25 && !barn->site.coastal);
    assert_string_equal(us.source[1].address, "https://weather.example/days?x=1//y");
    assert_int_equal(us.source[1].kind, SOURCE_FORECAST);
    assert_string_equal(us.source[0].layout, "plain");
    assert_string_equal(us.source[0].station, "barn");
}

static void soils_are_read_from_layers_particles_and_textures(void **state) {
    (void)state;
    const struct farm_soil *measured = farm_soil_named(&all, "measured"), *pit = farm_soil_named(&us, "pit");
    const struct farm_soil *texture = farm_soil_named(&all, "by texture"),
                           *lab = farm_soil_named(&all, "by laboratory");
    assert_int_equal(measured->soil.layer_count, 3);
    assert_true(measured->soil.layer[1].bottom_m == 0.9 &&
                measured->soil.layer[1].wilting_point_m3_m3 == 0.13);
    assert_near(measured->soil.layer[2].field_capacity_m3_m3, 0.3, 1e-12);
    assert_near(measured->soil.layer[2].wilting_point_m3_m3, 0.07, 1e-12);
    assert_true(measured->soil.rew_mm == 9 && measured->soil.tew_mm == 20 &&
                measured->soil.curve_number == 78);
    assert_true(measured->soil.intake_mm_h == 12 && measured->soil.evaporation_depth_m == 0.12);
    /* FAO-56 eq. 73: 1000 (0.24 - 0.5 x 0.11) 0.10 = 18.5 mm */
    assert_near(pit->soil.tew_mm, 18.5, 1e-9);
    assert_near(pit->soil.rew_mm, 0.35 * 25.4, 1e-9);
    assert_near(pit->soil.layer[1].bottom_m, 0.9144, 1e-12);
    assert_near(pit->soil.layer[1].field_capacity_m3_m3, 2.6 / 12, 1e-12);
    assert_true(isnan(pit->soil.curve_number) && isnan(pit->soil.intake_mm_h));
    /* Another depth of evaporation: eq. 73 again, with the texture's water contents. */
    const struct soil_layer *layer = &texture->soil.layer[0];
    assert_near(texture->soil.tew_mm,
                soil_tew_mm(layer->field_capacity_m3_m3, layer->wilting_point_m3_m3, 0.15), 1e-12);
    /* By Saxton and Rawls (2006), Table 3 would round it to 0.36 and 0.19 for 2.5 % of organic matter; here
     * the same equations are called. The class of 20 % sand and 30 % clay: USDA texture triangle. */
    struct soil_hydraulic water;
    assert_int_equal(soil_saxton_rawls(20, 30, 3.5, &water), STATUS_OK);
    assert_near(lab->soil.layer[0].field_capacity_m3_m3, water.field_capacity_m3_m3, 1e-12);
    assert_near(lab->soil.layer[0].wilting_point_m3_m3, water.wilting_point_m3_m3, 1e-12);
    assert_string_equal(lab->texture, "silty clay loam");
    assert_string_equal(measured->texture, "");
}

static void fields_and_supplies_are_read(void **state) {
    (void)state;
    const struct farm_field *a = farm_field_named(&all, "A"), *b = farm_field_named(&all, "B");
    const struct farm_field *home = farm_field_named(&us, "Home 130"), *hay = farm_field_named(&us, "Hay");
    assert_int_equal(a->system.kind, SYSTEM_SOLID_SET);
    assert_true(a->system.area_m2 == 125000 && a->system.efficiency == 0.78 && a->system.flow_m3_h == 120);
    assert_true(a->system.hours_per_day == 18 && a->system.net_min_mm == 5 && a->system.net_max_mm == 30);
    assert_near(a->system.wetted_fraction, 0.95, 1e-15);
    assert_false(a->system.under_canopy);
    assert_string_equal(a->supply, "pump");
    assert_string_equal(b->supply, "");
    struct system furrow = system_default(SYSTEM_FURROW);
    assert_true(b->system.efficiency == furrow.efficiency &&
                b->system.wetted_fraction == furrow.wetted_fraction);
    assert_true(isnan(b->system.flow_m3_h) && isnan(b->system.net_max_mm));
    assert_near(home->system.area_m2, 526091.334912, 1e-6); /* 130 acres of 4046.8564224 m2 */
    assert_near(home->system.flow_m3_h, 181.699765632, 1e-9);
    assert_int_equal(hay->system.kind, SYSTEM_NONE);
    assert_non_null(farm_field_named(&us, "Caf\xC3\xA9 \xC3\x89toile \\ \"rows\""));
    assert_near(us.supply[0].allotment_m3, 240 * 1233.48183754752, 1e-6); /* 1 ac-ft of 1233.48183754752 m3 */
    assert_true(us.supply[0].hours_per_day == 20);
    assert_near(all.supply[0].flow_m3_h, 162, 1e-9);
}

static int32_t day(const char *iso) {
    int32_t date = CALENDAR_NONE;
    assert_int_equal(calendar_parse_iso(iso, &date), STATUS_OK);
    return date;
}

static void hours_closures_allotments_and_prices_of_a_supply_are_read(void **state) {
    (void)state;
    const struct farm_supply *pump = farm_supply_named(&all, "pump"),
                             *ditch = farm_supply_named(&all, "ditch");
    assert_int_equal(pump->users, 2);
    assert_true(pump->season.from == day("2025-09-01") && pump->season.to == day("2026-03-31"));
    assert_int_equal(pump->window_count, 3);
    const struct farm_window *week = &pump->window[0], *end = &pump->window[1], *canal = &pump->window[2];
    assert_true(week->weekdays == 0x1F && week->every_days == 0 && week->first == CALENDAR_NONE);
    assert_true(week->from_hour == 22 && week->hours == 8);
    assert_true(end->weekdays == 0x60 && end->from_hour == 0 && end->hours == 24);
    assert_true(canal->weekdays == 0 && canal->every_days == 7 && canal->first == day("2026-05-04"));
    assert_int_equal(pump->closed_count, 2);
    assert_true(pump->closed[0].from == day("2025-12-24") && pump->closed[0].to == day("2025-12-26"));
    assert_int_equal(pump->allotment_count, 2);
    assert_true(pump->allotment[0].volume_m3 == 40000 && pump->allotment[1].volume_m3 == 0);
    assert_true(pump->allotment[1].days.from == day("2026-01-01"));
    assert_true(pump->water_price == 0.04 && pump->hour_price == 6.5);
    assert_true(ditch->users == 0 && ditch->window_count == 0 && ditch->season.from == CALENDAR_NONE);
    assert_true(ditch->season.to == day("2026-02-28") && isnan(ditch->water_price));
}

static void how_a_field_takes_turns_and_peoples_word_on_them_are_read(void **state) {
    (void)state;
    const struct farm_turning *a = &farm_field_named(&all, "A")->turning;
    assert_true(a->setup_hours == 2 && a->shortest_hours == 4 && a->longest_hours == 72 && a->may_pause);
    const struct farm_turning *b = &farm_field_named(&all, "B")->turning;
    assert_true(b->setup_hours == 0 && b->shortest_hours == 0 && b->longest_hours == 0 && !b->may_pause);
    assert_int_equal(all.turn_mark_count, 2);
    const struct farm_turn_mark *pin = &all.turn_mark[0], *dry = &all.turn_mark[1];
    assert_true(pin->kind == TURN_PINNED && pin->date == day("2025-12-02") && pin->hour == 22);
    assert_true(pin->hours == 12 && pin->why[0] == '\0');
    assert_true(dry->kind == TURN_KEPT_DRY && dry->hour == 6 && dry->hours == 48);
    assert_string_equal(dry->why, "spraying");
    assert_string_equal(dry->field, "B");
}

static void a_planting_takes_the_tables_values_and_its_own_over_them(void **state) {
    (void)state;
    const struct farm_planting *corn = &us.planting[0], *cotton = &all.planting[1];
    assert_string_equal(corn->crop_name, "maize, grain");
    assert_true(corn->crop.kc_mid == 1.2); /* FAO-56 Table 12 */
    assert_true(corn->start_date == corn->planting_date);
    for (int i = 0; i < CROP_GROWING_STAGES; i++)
        assert_true(corn->crop.allowed_depletion[i] == 0.45 && cotton->crop.allowed_depletion[i] == 0.5);
    assert_int_equal(cotton->method, COEFFICIENT_SINGLE);
    assert_true(cotton->crop.height_max_m == 1.2 && cotton->crop.depletion_fraction == 0.65);
    assert_true(isnan(cotton->crop.ky_season));
    assert_true(cotton->crop.kc_mid > 1.1); /* Table 12: 1.15 to 1.20 */
    assert_true(us.planting[1].start_depletion == 0.35);
    assert_near(us.planting[2].crop.root_max_m, 1.2192, 1e-12);
    assert_true(us.planting[2].crop.forage);
}

static void a_crop_of_ones_own_needs_no_table(void **state) {
    (void)state;
    const struct farm_planting *own = &all.planting[0];
    const struct crop *crop = &own->crop;
    char date[CALENDAR_ISO_SIZE];
    assert_string_equal(own->crop_name, "blue panic for seed");
    assert_string_equal(own->region, "our own");
    assert_int_equal(crop->reference, REFERENCE_ASCE_SHORT);
    assert_int_equal(crop->clock, CLOCK_DEGREE_DAYS);
    assert_true(crop->stage_days[2] == 60.5 && crop->stage_degree_days[3] == 500);
    assert_near(crop->base_c, 10, 1e-12);
    assert_true(crop->ceiling_c == 32 && isnan(crop->kc_ini) && crop->kcb_end == 0.6);
    assert_near(crop->height_ini_m, 0.05, 1e-12);
    assert_true(crop->root_ini_m == 0.2 && crop->depletion_fixed && crop->depletion_fraction == 0.6);
    assert_true(crop->allowed_depletion[0] == 0.6 && isnan(crop->allowed_depletion[2]));
    assert_true(crop->ky_season == 0.9 && isnan(crop->ky_stage[3]) && crop->ky_stage[2] == 1.1);
    assert_true(crop->salt_threshold_ds_m == 1.7 && crop->salt_slope_pct == 12 && crop->forage);
    assert_true(crop->cut_stage_days[3] == 10 && crop->cut_height_m == 0.1);
    assert_true(own->water_table_m == 1.8 && own->capillary_max_mm == 2 && own->ece_ds_m == 2);
    assert_string_equal(calendar_format_iso(own->start_date, date), "2025-09-01");
    assert_string_equal(calendar_format_iso(own->stage_date[3], date), "2026-02-20");
}

static void records_are_sorted_and_become_gross_millimetres(void **state) {
    (void)state;
    char date[CALENDAR_ISO_SIZE];
    assert_true(all.records_sorted);
    assert_string_equal(calendar_format_iso(all.record[0].date, date), "2025-10-05");
    assert_near(all.record[0].amount, 14 * 120 / 125.0, 1e-9); /* 14 h of 120 m3/h on 12.5 ha: 13.44 mm */
    assert_near(all.record[1].amount, 9.6, 1e-12);             /* 1200 m3 on 12.5 ha */
    assert_true(all.record[2].amount == 25 && all.record[3].kind == RECORD_RAIN && all.record[3].amount == 0);
    assert_true(all.record[4].amount == 0.21 && all.record[4].sd == 0.02 && isnan(all.record[5].sd));
    const struct farm_record *grade = &us.record[us.record_count - 1];
    assert_string_equal(grade->text, "No. 2 \"yellow\"");
    assert_true(grade->amount == 198.5);
    assert_string_equal(us.record[1].text, "Raked wet.\n\tTwo windrows // left /* on purpose */");
    assert_string_equal(all.trial[0].treatment[1].field, "C");
    assert_int_equal(all.trial[0].treatment_count, 2);
}

/* ---- what is refused ---- */

static void expect_refusal(const char *path) {
    char expected_path[300];
    size_t size, expected_size, stem = strlen(path) - strlen(".json");
    (void)snprintf(expected_path, sizeof expected_path, "%.*s.expected", (int)stem, path);
    char *text = farms_text(path, &size), *expected = farms_text(expected_path, &expected_size);
    struct text words;
    struct farm farm;
    text_init(&words, 0);
    if (text == NULL || expected == NULL || expected_size == 0)
        fail_msg("%s has no expected message", path);
    enum status status = read_text(strrchr(path, '/') + 1, text, size, &farm, &words);
    if (status != STATUS_REFUSED || !is_empty(&farm))
        fail_msg("%s: %s", path, status_name(status));
    if (strcmp(text_string(&words), expected) != 0)
        fail_msg("%s says\n%snot\n%s", path, text_string(&words), expected);
    text_free(&words);
    free(text);
    free(expected);
}

static void every_bad_sample_is_refused_with_its_messages(void **state) {
    (void)state;
    char **paths = farms_paths("fixtures/farms/bad", ".json");
    size_t count = 0;
    for (; paths[count] != NULL; count++)
        expect_refusal(paths[count]);
    assert_true(count >= 60);
    print_message("# %zu hostile farm files refused\n", count);
    farms_paths_free(paths);
}

static void a_file_cut_anywhere_is_refused(void **state) {
    (void)state;
    size_t size;
    char *text = farms_text("fixtures/farms/good/every_key.json", &size);
    struct text words;
    text_init(&words, 0);
    for (size_t end = 0; end + 2 < size; end += 3) {
        struct farm farm;
        char *cut = malloc(end + 1); /* of its own, so that a memory checker sees reads past the end */
        memcpy(cut, text, end);
        text_clear(&words);
        if (read_text("cut", cut, end, &farm, &words) != STATUS_REFUSED || !is_empty(&farm) ||
            words.size == 0)
            fail_msg("cut at %zu", end);
        free(cut);
    }
    text_free(&words);
    free(text);
}

static void a_file_with_wrong_bytes_is_judged_and_never_half_taken(void **state) {
    (void)state;
    static const char bytes[] = "\"{}[]:,/*-0e9 aZ%\n\\\xC3";
    size_t size;
    char *text = farms_text("fixtures/farms/good/us_units.json", &size);
    struct hostile source = hostile_seed(5);
    struct text words;
    text_init(&words, 0);
    int refused = 0;
    for (int round = 0; round < 1500; round++) {
        struct farm farm;
        char *changed = malloc(size + 1);
        memcpy(changed, text, size + 1);
        for (int i = 0; i < 1 + round % 3; i++)
            changed[(size_t)hostile_between(&source, 0, (double)size - 0.01)] =
                bytes[(size_t)hostile_between(&source, 0, sizeof bytes - 1.01)];
        text_clear(&words);
        enum status status = read_text("changed", changed, size, &farm, &words);
        assert_true(status == STATUS_OK ? words.size == 0 : status == STATUS_REFUSED && words.size > 0);
        assert_true(status == STATUS_OK || is_empty(&farm));
        refused += status == STATUS_REFUSED;
        farm_free(&farm);
        free(changed);
    }
    assert_true(refused > 500);
    text_free(&words);
    free(text);
}

static void more_problems_than_are_kept_are_counted(void **state) {
    (void)state;
    struct text file, words;
    text_init(&file, 0);
    text_init(&words, 0);
    text_puts(&file, "{\"farm\": {\"name\": \"x\"}, \"fields\": [");
    for (int i = 0; i < 300; i++)
        text_printf(&file, "%s{\"k%d\": 1}", i > 0 ? "," : "", i);
    text_puts(&file, "]}");
    struct farm farm;
    assert_int_equal(read_text("many", text_string(&file), file.size, &farm, &words), STATUS_REFUSED);
    /* each field: its unknown key, and name, area, station, soil, system that are missing, of which five are
     * told */
    int counts = 0;
    for (const char *at = text_string(&words);
         (at = strstr(at, "\nmany: and 295 more of this kind in line 1\n")) != NULL; at++)
        counts++;
    assert_int_equal(counts, 6);
    text_free(&file);
    text_free(&words);
}

/* Lists of thousands that refer to one another must not take the square of their length. */
static void a_large_farm_is_read_in_seconds(void **state) {
    (void)state;
    struct text file, words;
    text_init(&file, 0);
    text_init(&words, 0);
    text_puts(
        &file,
        "{\"farm\": {\"name\": \"x\"}, \"stations\": [{\"name\": \"s\", \"latitude\": 1, \"longitude\": 1, "
        "\"elevation\": \"1 m\"}], \"soils\": [{\"name\": \"l\", \"texture\": \"loam\"}], \"fields\": [");
    for (int i = 0; i < 4000; i++)
        text_printf(
            &file,
            "%s{\"name\": \"f%d\", \"area\": \"1 ha\", \"station\": \"s\", \"soil\": \"l\", \"system\": "
            "{\"kind\": \"drip\", \"flow\": \"9 m3/h\"}}",
            i > 0 ? "," : "", i);
    text_puts(&file, "], \"plantings\": [");
    for (int i = 0; i < 4000; i++)
        text_printf(&file, "%s{\"field\": \"f%d\", \"crop\": \"cotton\", \"planted\": \"2026-05-01\"}",
                    i > 0 ? "," : "", i);
    text_puts(&file, "], \"records\": [");
    for (int i = 0; i < 60000; i++)
        text_printf(
            &file,
            "%s{\"field\": \"f%d\", \"date\": \"2026-06-%02d\", \"kind\": \"irrigation\", \"hours\": 2}",
            i > 0 ? "," : "", (i * 7919) % 4000, 1 + i % 30);
    text_puts(&file, "]}");
    struct farm farm;
    assert_int_equal(read_text("large", text_string(&file), file.size, &farm, &words), STATUS_OK);
    assert_int_equal(farm.record_count, 60000);
    farm_free(&farm);
    text_free(&file);
    text_free(&words);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stations_and_sources_are_read),
        cmocka_unit_test(soils_are_read_from_layers_particles_and_textures),
        cmocka_unit_test(fields_and_supplies_are_read),
        cmocka_unit_test(hours_closures_allotments_and_prices_of_a_supply_are_read),
        cmocka_unit_test(how_a_field_takes_turns_and_peoples_word_on_them_are_read),
        cmocka_unit_test(a_planting_takes_the_tables_values_and_its_own_over_them),
        cmocka_unit_test(a_crop_of_ones_own_needs_no_table),
        cmocka_unit_test(records_are_sorted_and_become_gross_millimetres),
        cmocka_unit_test(every_bad_sample_is_refused_with_its_messages),
        cmocka_unit_test(a_file_cut_anywhere_is_refused),
        cmocka_unit_test(a_file_with_wrong_bytes_is_judged_and_never_half_taken),
        cmocka_unit_test(more_problems_than_are_kept_are_counted),
        cmocka_unit_test(a_large_farm_is_read_in_seconds),
    };
    return cmocka_run_group_tests(tests, read_samples, free_samples);
}
