/* The library: names, regions, what no table gives, and the values that reach the balance. The values of the
 * files themselves are held against the published tables in tests/published. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include <cjson/cJSON.h>

#include "daemon/base/asset.h"
#include "daemon/base/nearest.h"
#include "daemon/farm/library.h"
#include "daemon/view/words.h"

static struct library *library;

static int open_library(void **state) {
    (void)state;
    struct problems problems;
    problems_init(&problems);
    enum status status = library_open(&library, &problems);
    problems_free(&problems);
    return status == STATUS_OK ? 0 : -1;
}

static int close_library(void **state) {
    (void)state;
    library_free(library);
    return 0;
}

/* The files print the decimals that the tables print: nothing but rounding of the mid-points may differ. */
#define expect_number(got, expected)                                                                         \
    do {                                                                                                     \
        double got_ = (got), expected_ = (expected);                                                         \
        if (!(fabs(got_ - expected_) < 1e-12))                                                               \
            fail_msg("%s: got %.17g, expected %.17g", #got, got_, expected_);                                \
    } while (0)

static void expect_stages(const struct crop *crop, double ini, double dev, double mid, double late) {
    expect_number(crop->stage_days[0], ini);
    expect_number(crop->stage_days[1], dev);
    expect_number(crop->stage_days[2], mid);
    expect_number(crop->stage_days[3], late);
}

static void sweet_potato_is_as_printed(void **state) {
    (void)state;
    struct crop crop;
    assert_int_equal(library_crop(library, "sweet potato", "", &crop), STATUS_OK);
    expect_stages(&crop, 20, 30, 60, 40); /* FAO-56 Table 11, Mediterranean, April */
    expect_number(crop.kc_ini, 0.5);      /* Table 12: blank, that of roots and tubers */
    expect_number(crop.kc_mid, 1.15);
    expect_number(crop.kc_end, 0.65);
    expect_number(crop.kcb_ini, 0.15); /* Table 17 */
    expect_number(crop.kcb_mid, 1.10);
    expect_number(crop.kcb_end, 0.55);
    expect_number(crop.height_max_m, 0.4);  /* Table 12 */
    expect_number(crop.height_ini_m, 0.05); /* common practice, no source */
    expect_number(crop.root_ini_m, 0.2);    /* FAO-56: 0.15 to 0.20 m for seedlings */
    expect_number(crop.root_max_m, 1.0);    /* Table 22: 1.0 to 1.5, the smaller for scheduling */
    expect_number(crop.depletion_fraction, 0.65);
    expect_number(crop.salt_threshold_ds_m, 1.5); /* Table 23: 1.5 to 2.5, the cautious end */
    expect_number(crop.salt_slope_pct, 10);
    assert_true(isnan(crop.ky_season)); /* none is published */
    assert_true(isnan(crop.ky_stage[2]));
    assert_int_equal(crop.reference, REFERENCE_FAO56_GRASS);
    assert_int_equal(crop.clock, CLOCK_DAYS);
    assert_false(crop.forage);
    assert_false(crop.depletion_fixed);
    assert_true(isnan(crop.allowed_depletion[0]));
}

static void a_crop_is_found_by_any_of_its_names_in_any_case(void **state) {
    (void)state;
    struct crop corn, maize;
    assert_int_equal(library_crop(library, "Corn", NULL, &corn), STATUS_OK);
    assert_int_equal(library_crop(library, "MAIZE, grain", "", &maize), STATUS_OK);
    expect_number(corn.stage_days[3], maize.stage_days[3]);
    expect_number(corn.kc_mid, 1.20); /* FAO-56 Table 12 */
    expect_number(maize.kc_mid, 1.20);
    assert_string_equal(library_crop_canonical(library, "corn"), "maize, grain");
    assert_null(library_crop_canonical(library, "corm"));
    assert_int_equal(library_crop(library, "", "", &corn), STATUS_NOT_FOUND);
}

static void a_region_picks_its_row_of_stage_lengths(void **state) {
    (void)state;
    struct crop crop;
    /* FAO-56 Table 11, tomato and sweet potato. */
    assert_int_equal(library_crop(library, "tomato", "arid region, oct/nov", &crop), STATUS_OK);
    expect_stages(&crop, 35, 45, 70, 30);
    assert_int_equal(library_crop(library, "tomato", "Arid Region", &crop), STATUS_OK);
    expect_stages(&crop, 30, 40, 40, 25);
    assert_int_equal(library_crop(library, "sweet potato", "Tropical regions", &crop), STATUS_OK);
    expect_stages(&crop, 15, 30, 50, 30);
}

static void an_unknown_region_is_not_replaced_by_another(void **state) {
    (void)state;
    struct crop crop = {.kc_mid = -1};
    assert_int_equal(library_crop(library, "tomato", "Atlantis", &crop), STATUS_NOT_FOUND);
    assert_int_equal(library_crop(library, "garlic", "Mediterranean", &crop), STATUS_NOT_FOUND);
    expect_number(crop.kc_mid, -1);
    assert_string_equal(library_region_nearest(library, "tomato", "Mediteranean"), "Mediterranean");
    assert_null(library_region_nearest(library, "tomato", "Atlantis"));
    assert_null(library_region_nearest(library, "garlic", "Mediterranean"));
}

/* All gaps of a crop, as "stage_days (why); root_depth (why)"; each reason has Spanish words. */
static void gaps_of(const char *name, struct text *out) {
    const char *key, *why;
    size_t at = 0;
    struct words *spanish = words_open("es");
    assert_non_null(spanish);
    while ((key = library_crop_gap(library, name, &at, &why)) != NULL) {
        text_printf(out, "%s%s (%s)", out->size > 0 ? "; " : "", key, why);
        assert_string_not_equal(words_phrase(spanish, why), why);
    }
    words_close(spanish);
}

static void what_no_table_gives_is_missing_and_said(void **state) {
    (void)state;
    struct crop crop;
    struct text text;
    text_init(&text, 0);
    assert_int_equal(library_crop(library, "garlic", "", &crop), STATUS_MISSING);
    assert_true(isnan(crop.stage_days[0]));
    expect_number(crop.kc_end, 0.70); /* FAO-56 Table 12 */
    gaps_of("garlic", &text);
    assert_string_equal(text_string(&text), "stage_days (FAO-56 Table 11 has no complete row for it)");
    text_clear(&text);
    assert_int_equal(library_crop(library, "reed swamp, moist soil", "", &crop), STATUS_MISSING);
    assert_true(isnan(crop.root_max_m) && isnan(crop.root_ini_m));
    gaps_of("reed swamp, moist soil", &text);
    assert_non_null(strstr(text_string(&text), "; root_depth (FAO-56 Table 22"));
    text_clear(&text);
    gaps_of("sweet potato", &text);
    assert_string_equal(text_string(&text), "");
    assert_non_null(strstr(library_crop_open(library, "sweet potato", "ky"), "take 1"));
    assert_null(library_crop_open(library, "sweet potato", "root_depth"));
    text_free(&text);
}

/* Missing, in the sense of the status, is exactly what the file leaves open or NaN. */
static void every_crop_is_complete_or_says_what_is_missing(void **state) {
    (void)state;
    for (size_t i = 0; i < library_crop_count(library); i++) {
        const char *name = library_crop_name(library, i);
        struct crop crop;
        struct text gaps;
        text_init(&gaps, 0);
        gaps_of(name, &gaps);
        enum status status = library_crop(library, name, "", &crop);
        if ((status == STATUS_MISSING) != (text_string(&gaps)[0] != '\0') ||
            (status != STATUS_OK && status != STATUS_MISSING))
            fail_msg("%s: %s, but its gaps are \"%s\"", name, status_name(status), text_string(&gaps));
        assert_int_equal(isnan(crop.ky_season), library_crop_open(library, name, "ky") != NULL);
        assert_int_equal(isnan(crop.salt_threshold_ds_m), library_crop_open(library, name, "salt") != NULL);
        text_free(&gaps);
    }
}

static void every_region_of_every_crop_can_be_picked(void **state) {
    (void)state;
    size_t regions = 0;
    for (size_t i = 0; i < library_crop_count(library); i++) {
        const char *name = library_crop_name(library, i);
        for (size_t j = 0; j < library_region_count(library, name); j++, regions++) {
            struct crop crop;
            enum status status = library_crop(library, name, library_region_name(library, name, j), &crop);
            assert_true(status == STATUS_OK || status == STATUS_MISSING);
            for (int stage = 0; stage < CROP_GROWING_STAGES; stage++)
                assert_true(crop.stage_days[stage] >= 1);
        }
        assert_null(library_region_name(library, name, library_region_count(library, name)));
    }
    assert_true(regions > 150);
    assert_null(library_crop_name(library, library_crop_count(library)));
    assert_int_equal(library_region_count(library, "no such crop"), 0);
}

/* Of crops that no table gives stage lengths the check is made with lengths of the reader's own, as a farm
 * file gives them. Reeds and rushes have no rooting depth, so they cannot be checked. */
static void every_crop_passes_the_check_of_the_balance(void **state) {
    (void)state;
    size_t checked = 0;
    for (size_t i = 0; i < library_crop_count(library); i++) {
        const char *name = library_crop_name(library, i), *member = "";
        struct crop crop;
        (void)library_crop(library, name, "", &crop);
        for (int stage = 0; library_crop_open(library, name, "stage_days") != NULL && stage < 4; stage++)
            crop.stage_days[stage] = crop.cut_stage_days[stage] = 20;
        enum status status = crop_check_member(&crop, &member);
        if (library_crop_open(library, name, "root_depth") != NULL) {
            assert_int_equal(status, STATUS_MISSING);
            assert_string_equal(member, "root_ini_m");
            continue;
        }
        if (status != STATUS_OK)
            fail_msg("%s: %s is %s", name, member, status_name(status));
        checked++;
    }
    assert_int_equal(checked, library_crop_count(library) - 5);
}

static void every_region_passes_the_check_of_the_balance(void **state) {
    (void)state;
    for (size_t i = 0; i < library_crop_count(library); i++) {
        const char *name = library_crop_name(library, i), *region, *member = "";
        for (size_t j = 0; (region = library_region_name(library, name, j)) != NULL; j++) {
            struct crop crop;
            if (library_crop(library, name, region, &crop) == STATUS_MISSING)
                continue;
            if (crop_check_member(&crop, &member) != STATUS_OK)
                fail_msg("%s, %s: %s", name, region, member);
        }
    }
}

static void a_range_gives_the_value_that_is_taken(void **state) {
    (void)state;
    struct crop crop;
    /* FAO-56 Table 12: tomato 0.70-0.90, sunflower 1.0-1.15 with the lower for rainfed crops, maize 0.60,
     * 0.35. */
    assert_int_equal(library_crop(library, "tomato", "", &crop), STATUS_OK);
    expect_number(crop.kc_end, 0.80);
    assert_int_equal(library_crop(library, "sunflower", "", &crop), STATUS_OK);
    expect_number(crop.kc_mid, 1.15);
    assert_int_equal(library_crop(library, "maize, grain", "", &crop), STATUS_OK);
    expect_number(crop.kc_end, 0.60);
    expect_number(crop.kcb_end, 0.50);
}

static void an_averaged_forage_takes_basal_coefficients_from_the_single_ones(void **state) {
    (void)state;
    struct crop crop;
    /* FAO-56 Table 12: 0.40, 0.95, 0.90; Table 18: less 0.1, 0.05, 0.05. */
    assert_int_equal(library_crop(library, "alfalfa, averaged over cuttings", "", &crop), STATUS_MISSING);
    expect_number(crop.kcb_ini, 0.30);
    expect_number(crop.kcb_mid, 0.90);
    expect_number(crop.kcb_end, 0.85);
}

static void yield_response_follows_the_stages(void **state) {
    (void)state;
    struct crop crop;
    /* Season: FAO-56 Table 24. Stages: FAO-33 from memory; maize 0.4, 1.5, 0.5, 0.2. */
    assert_int_equal(library_crop(library, "maize, grain", "", &crop), STATUS_OK);
    expect_number(crop.ky_season, 1.25);
    expect_number(crop.ky_stage[0], 0.4);
    expect_number(crop.ky_stage[1], 0.4);
    expect_number(crop.ky_stage[2], 1.5);
    expect_number(crop.ky_stage[3], 0.2);
    /* Potato: early 0.45 and late 0.8 vegetative period, no flowering, yield formation 0.7. */
    assert_int_equal(library_crop(library, "potato", "", &crop), STATUS_OK);
    expect_number(crop.ky_stage[0], 0.45);
    expect_number(crop.ky_stage[1], 0.8);
    expect_number(crop.ky_stage[2], 0.7);
    /* Grapes: Table 24 0.85, nothing by period. */
    assert_int_equal(library_crop(library, "grapes", "", &crop), STATUS_OK);
    expect_number(crop.ky_season, 0.85);
    assert_true(isnan(crop.ky_stage[0]) && isnan(crop.ky_stage[3]));
}

static void alfalfa_starts_again_after_a_cutting(void **state) {
    (void)state;
    struct crop crop;
    assert_int_equal(library_crop(library, "lucerne", "Idaho, USA", &crop), STATUS_OK);
    assert_true(crop.forage);
    expect_stages(&crop, 10, 30, 25, 10); /* FAO-56 Table 11: 1st cutting cycle, then the others */
    expect_number(crop.cut_stage_days[0], 5);
    expect_number(crop.cut_stage_days[1], 20);
    expect_number(crop.cut_stage_days[2], 10);
    expect_number(crop.cut_stage_days[3], 10);
    expect_number(crop.cut_height_m, 0.10); /* common practice, no source */
    expect_number(crop.root_ini_m, crop.root_max_m);
}

static void trees_stand_with_full_roots_and_height_from_the_first_day(void **state) {
    (void)state;
    struct crop crop;
    assert_int_equal(library_crop(library, "citrus; no ground cover, 50% canopy", "", &crop), STATUS_OK);
    expect_number(crop.height_max_m, 3); /* FAO-56 Table 12 */
    expect_number(crop.height_ini_m, 3);
    expect_number(crop.root_max_m, 1.1); /* Table 22: 1.1 to 1.5 */
    expect_number(crop.root_ini_m, 1.1);
}

static void mistyped_names_find_their_neighbour(void **state) {
    (void)state;
    assert_string_equal(library_crop_nearest(library, "sweet potatoe"), "sweet potato");
    assert_string_equal(library_crop_nearest(library, "Tomatoe"), "tomato");
    assert_string_equal(library_crop_nearest(library, "coton"), "cotton");
    assert_string_equal(library_texture_nearest(library, "snady loam"), "sandy loam");
    assert_null(library_crop_nearest(library, "xylophone"));
    assert_null(library_crop_nearest(library, ""));
}

static void edit_distance_counts_slips_of_the_pen(void **state) {
    (void)state;
    /* The textbook pair for Levenshtein's distance; from memory. */
    assert_int_equal(nearest_distance("kitten", "sitting"), 3);
    assert_int_equal(nearest_distance("barely", "barley"), 1); /* neighbours swapped */
    assert_int_equal(nearest_distance("CORN", "corn"), 0);
    assert_int_equal(nearest_distance("", "corn"), 4);
    char longer[80];
    memset(longer, 'a', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    assert_int_equal(nearest_distance(longer, longer), NEAREST_LENGTH_MAX + 1);
}

static void a_texture_gives_its_soil(void **state) {
    (void)state;
    struct soil soil;
    /* FAO-56 Table 19, sandy loam: 0.18-0.28, 0.06-0.16, 6-10 mm, 15-20 mm; mid-points. */
    assert_int_equal(library_soil(library, "Sandy Loam", &soil), STATUS_OK);
    assert_int_equal(soil.layer_count, 1);
    expect_number(soil.layer[0].field_capacity_m3_m3, 0.23);
    expect_number(soil.layer[0].wilting_point_m3_m3, 0.11);
    expect_number(soil.rew_mm, 8);
    expect_number(soil.tew_mm, 17.5);
    expect_number(soil.evaporation_depth_m, 0.10);
    assert_true(isnan(soil.curve_number) && isnan(soil.intake_mm_h));
    /* Saxton and Rawls (2006) Table 3, clay loam: 36 and 22%; eq. 73: 1000 (0.36 - 0.11) 0.10. */
    assert_int_equal(library_soil(library, "clay loam", &soil), STATUS_OK);
    expect_number(soil.layer[0].field_capacity_m3_m3, 0.36);
    expect_number(soil.layer[0].wilting_point_m3_m3, 0.22);
    expect_number(soil.tew_mm, 25);
    /* The name that Table 19 prints. */
    assert_int_equal(library_soil(library, "silt clay loam", &soil), STATUS_OK);
    assert_int_equal(library_soil(library, "peat", &soil), STATUS_NOT_FOUND);
}

static void every_texture_gives_an_ordered_soil(void **state) {
    (void)state;
    assert_int_equal(library_texture_count(library), TEXTURE_COUNT);
    assert_null(library_texture_name(library, TEXTURE_COUNT));
    for (size_t i = 0; i < TEXTURE_COUNT; i++) {
        struct soil soil;
        assert_int_equal(library_soil(library, library_texture_name(library, i), &soil), STATUS_OK);
        assert_true(soil.layer[0].wilting_point_m3_m3 > 0);
        assert_true(soil.layer[0].field_capacity_m3_m3 > soil.layer[0].wilting_point_m3_m3);
        assert_true(soil.rew_mm > 0 && soil.rew_mm < soil.tew_mm);
        assert_int_equal(soil_check(&soil), STATUS_OK);
        assert_string_equal(library_texture_name(library, i), soil_texture_name((enum soil_texture)i));
    }
}

static void curve_numbers_go_by_cover_and_soil_group(void **state) {
    (void)state;
    double number = 0;
    /* NRCS: row crops, straight row, good: 67 78 85 89. */
    assert_int_equal(library_curve_number(library, "row crops, straight row, good", 'B', &number), STATUS_OK);
    expect_number(number, 78);
    assert_int_equal(library_curve_number(library, "Row crops, straight row, good", 'd', &number), STATUS_OK);
    expect_number(number, 89);
    assert_int_equal(library_curve_number(library, "row crops, straight row, good", 'E', &number),
                     STATUS_NOT_FOUND);
    assert_int_equal(library_curve_number(library, "row crops, straight row, good", '\0', &number),
                     STATUS_NOT_FOUND);
    assert_int_equal(library_curve_number(library, "asphalt", 'A', &number), STATUS_NOT_FOUND);
    expect_number(number, 89);
    assert_int_equal(library_cover_count(library), 49);
    assert_null(library_cover_name(library, 49));
}

/* Wetter ground sheds more: group A never above B, B never above C, C never above D. */
static void curve_numbers_rise_from_group_a_to_d(void **state) {
    (void)state;
    for (size_t i = 0; i < library_cover_count(library); i++) {
        double before = 0;
        for (const char *group = "ABCD"; *group != '\0'; group++) {
            double number = NAN;
            assert_int_equal(library_curve_number(library, library_cover_name(library, i), *group, &number),
                             STATUS_OK);
            assert_true(number > before && number <= 100);
            before = number;
        }
    }
}

static void expect_no_twice(const char *file, const cJSON *item) {
    for (const cJSON *child = item->child; child != NULL; child = child->next) {
        for (const cJSON *later = child->next; cJSON_IsObject(item) && later != NULL; later = later->next) {
            if (strcmp(child->string, later->string) == 0)
                fail_msg("%s: \"%s\" stands twice in one object", file, child->string);
        }
        expect_no_twice(file, child);
    }
}

static void no_object_of_the_files_has_a_key_twice(void **state) {
    (void)state;
    static const char *const files[] = {"config/crops.json", "config/soils.json"};
    for (size_t i = 0; i < 2; i++) {
        const struct asset *asset = asset_find(files[i]);
        assert_non_null(asset);
        cJSON *json = cJSON_ParseWithLength((const char *)asset->bytes, asset->size);
        assert_non_null(json);
        expect_no_twice(files[i], json);
        cJSON_Delete(json);
    }
}

static void the_library_opens_within_five_milliseconds(void **state) {
    (void)state;
    double best_ms = INFINITY;
    for (int i = 0; i < 20; i++) {
        struct library *again = NULL;
        struct problems problems;
        struct timespec from, to;
        problems_init(&problems);
        clock_gettime(CLOCK_MONOTONIC, &from);
        assert_int_equal(library_open(&again, &problems), STATUS_OK);
        clock_gettime(CLOCK_MONOTONIC, &to);
        library_free(again);
        assert_int_equal(problems.count, 0);
        best_ms = fmin(best_ms,
                       (double)(to.tv_sec - from.tv_sec) * 1e3 + (double)(to.tv_nsec - from.tv_nsec) / 1e6);
    }
    printf("# library: opens in %.2f ms, %zu crops\n", best_ms, library_crop_count(library));
    assert_true(best_ms < 5);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sweet_potato_is_as_printed),
        cmocka_unit_test(a_crop_is_found_by_any_of_its_names_in_any_case),
        cmocka_unit_test(a_region_picks_its_row_of_stage_lengths),
        cmocka_unit_test(an_unknown_region_is_not_replaced_by_another),
        cmocka_unit_test(what_no_table_gives_is_missing_and_said),
        cmocka_unit_test(every_crop_is_complete_or_says_what_is_missing),
        cmocka_unit_test(every_region_of_every_crop_can_be_picked),
        cmocka_unit_test(every_crop_passes_the_check_of_the_balance),
        cmocka_unit_test(every_region_passes_the_check_of_the_balance),
        cmocka_unit_test(a_range_gives_the_value_that_is_taken),
        cmocka_unit_test(an_averaged_forage_takes_basal_coefficients_from_the_single_ones),
        cmocka_unit_test(yield_response_follows_the_stages),
        cmocka_unit_test(alfalfa_starts_again_after_a_cutting),
        cmocka_unit_test(trees_stand_with_full_roots_and_height_from_the_first_day),
        cmocka_unit_test(mistyped_names_find_their_neighbour),
        cmocka_unit_test(edit_distance_counts_slips_of_the_pen),
        cmocka_unit_test(a_texture_gives_its_soil),
        cmocka_unit_test(every_texture_gives_an_ordered_soil),
        cmocka_unit_test(curve_numbers_go_by_cover_and_soil_group),
        cmocka_unit_test(curve_numbers_rise_from_group_a_to_d),
        cmocka_unit_test(no_object_of_the_files_has_a_key_twice),
        cmocka_unit_test(the_library_opens_within_five_milliseconds),
    };
    return cmocka_run_group_tests(tests, open_library, close_library);
}
