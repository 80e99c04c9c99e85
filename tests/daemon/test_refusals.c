/* What the check of a farm finds, in the words of the pages: the English ones are those of the command line.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "core/base/calendar.h"
#include "daemon/farm/check.h"
#include "daemon/farm/farm_file.h"
#include "daemon/view/words.h"
#include "support/farms.h"

static struct words *english, *spanish;

static int open_all(void **state) {
    (void)state;
    english = words_open("en");
    spanish = words_open("es");
    return english == NULL || spanish == NULL;
}

static int close_all(void **state) {
    (void)state;
    words_close(english);
    words_close(spanish);
    return 0;
}

static void put(char name[FARM_NAME_SIZE], const char *value) {
    (void)snprintf(name, FARM_NAME_SIZE, "%s", value);
}

/* Each case spoils the demo farm in one way; the codes that it has to bring about. */
static const char *const codes[] = {
    "name_again",   "no_such_near",  "no_such",       "no_such_none",       "name_dots",
    "site",         "soil_water",    "soil_layer",    "soil_rew",           "soil",
    "value_unfit",  "value_missing", "values",        "record_stage",       "record_before",
    "overlap",      "start_late",    "stage_order",   "record_not_planted", "record_no_forage",
    "open_both",    "open_none",     "open_first",    "open_no_first",      "span",
    "turn_longest", "turn_hours",    "turn_no_system"};
#define CASES (sizeof codes / sizeof *codes)

static void spoil_places(struct farm *farm, const char *code) {
    struct soil *soil = &farm->soil[2].soil;
    if (strcmp(code, "name_again") == 0)
        put(farm->field[1].name, farm->field[0].name);
    else if (strcmp(code, "no_such_near") == 0)
        put(farm->field[0].soil, "river silk");
    else if (strcmp(code, "no_such") == 0)
        put(farm->field[0].supply, "Qqqqqqqq");
    else if (strcmp(code, "no_such_none") == 0)
        farm->supply_count = 0;
    else if (strcmp(code, "name_dots") == 0)
        put(farm->field[0].name, "..");
    else if (strcmp(code, "site") == 0)
        farm->station[0].site.angstrom_as = 0.9;
    else if (strcmp(code, "soil_water") == 0)
        soil->layer[0].field_capacity_m3_m3 = soil->layer[0].wilting_point_m3_m3;
    else if (strcmp(code, "soil_layer") == 0)
        soil->layer[1].bottom_m = soil->layer[0].bottom_m;
    else if (strcmp(code, "soil_rew") == 0)
        soil->rew_mm = soil->tew_mm;
    else if (strcmp(code, "soil") == 0)
        soil->layer[0].bottom_m = -1;
}

static void spoil_plantings(struct farm *farm, const char *code) {
    struct farm_planting *planting = &farm->planting[0];
    if (strcmp(code, "value_unfit") == 0)
        planting->crop.root_max_m = planting->crop.root_ini_m / 2;
    else if (strcmp(code, "value_missing") == 0)
        farm->planting[0].crop.clock = CLOCK_DEGREE_DAYS;
    else if (strcmp(code, "values") == 0)
        planting->crop.stage_days[1] = -1;
    else if (strcmp(code, "start_late") == 0)
        planting->start_date = planting->planting_date + 1;
    else if (strcmp(code, "overlap") == 0)
        put(farm->planting[1].field, planting->field);
    else if (strcmp(code, "stage_order") == 0)
        planting->stage_date[CROP_GROWING_STAGES - 1] = planting->planting_date;
}

static void spoil_records(struct farm *farm, const char *code) {
    struct farm_record *record = &farm->record[0];
    const struct farm_planting *planting = &farm->planting[0];
    put(record->field, planting->field);
    record->date = planting->planting_date + 10;
    record->stage = 1;
    if (strcmp(code, "record_stage") == 0)
        record->kind = RECORD_STAGE, record->stage = CROP_GROWING_STAGES;
    else if (strcmp(code, "record_before") == 0)
        record->date = planting->start_date - 1;
    else if (strcmp(code, "record_not_planted") == 0)
        record->kind = RECORD_STAGE, record->date = planting->planting_date - 1;
    else if (strcmp(code, "record_no_forage") == 0)
        record->kind = RECORD_CUTTING;
}

static void spoil_turns(struct farm *farm, const char *code) {
    struct farm_supply *supply = &farm->supply[0];
    struct farm_window *window = &supply->window[0];
    struct farm_field *field = &farm->field[0];
    if (strncmp(code, "open_", 5) == 0 && supply->window_count == 0)
        *window = (struct farm_window){.weekdays = 1, .first = CALENDAR_NONE, .hours = 8},
        supply->window_count = 1;
    if (strcmp(code, "open_both") == 0)
        window->weekdays = 1, window->every_days = 3;
    else if (strcmp(code, "open_none") == 0)
        window->weekdays = 0, window->every_days = 0;
    else if (strcmp(code, "open_first") == 0)
        window->first = 20000;
    else if (strcmp(code, "open_no_first") == 0)
        window->weekdays = 0, window->every_days = 3;
    else if (strcmp(code, "span") == 0)
        supply->season = (struct farm_span){20000, 19999};
    else if (strcmp(code, "turn_longest") == 0)
        field->turning.shortest_hours = 9, field->turning.longest_hours = 8;
    if (strncmp(code, "turn_", 5) != 0 || farm->turn_mark_count > 0)
        return;
    farm->turn_mark = calloc(1, sizeof *farm->turn_mark);
    assert_non_null(farm->turn_mark);
    farm->turn_mark_count = 1;
    farm_turn_mark_begin(farm->turn_mark);
    put(farm->turn_mark->field, field->name);
    farm->turn_mark->kind = TURN_PINNED;
    farm->turn_mark->date = 20000;
    farm->turn_mark->hours = strcmp(code, "turn_hours") == 0 ? FARM_TURN_HOURS_MAX + 1 : 3;
    if (strcmp(code, "turn_no_system") == 0)
        field->system = system_default(SYSTEM_NONE);
}

static void hold(const struct problem *problem) {
    struct text in[2];
    const struct words *const languages[] = {english, spanish};
    for (int i = 0; i < 2; i++) {
        text_init(&in[i], 0);
        words_problem(languages[i], problem, &in[i]);
    }
    /* The one that names a key of the farm file says on a page what a form can do. */
    if (strcmp(problem->said, "overlap") != 0)
        assert_string_equal(text_string(&in[0]), problem->message);
    assert_string_not_equal(text_string(&in[1]), text_string(&in[0]));
    assert_null(strstr(text_string(&in[1]), "found"));
    assert_null(strstr(text_string(&in[1]), "expected"));
    for (int i = 0; i < 2; i++) {
        assert_null(strchr(text_string(&in[i]), '{'));
        text_free(&in[i]);
    }
}

static void the_demo(struct farm *farm) {
    static struct problems problems;
    size_t size;
    char *text = farms_text("fixtures/demo/farm.json", &size);
    assert_non_null(text);
    problems_init(&problems);
    assert_int_equal(farm_file_read("farm.json", text, size, farm, &problems), STATUS_OK);
    free(text);
}

static void everything_that_the_check_tells_with_a_code_is_said_in_both_languages(void **state) {
    (void)state;
    static struct problems problems;
    for (size_t i = 0; i < CASES; i++) {
        struct farm farm;
        bool met = false;
        the_demo(&farm);
        spoil_places(&farm, codes[i]);
        spoil_plantings(&farm, codes[i]);
        if (strncmp(codes[i], "record_", 7) == 0)
            spoil_records(&farm, codes[i]);
        spoil_turns(&farm, codes[i]);
        problems_init(&problems);
        assert_int_equal(check_farm(&farm, NULL, NULL, &problems), STATUS_REFUSED);
        for (size_t k = 0; k < problems.kept; k++) {
            assert_non_null(problems.problem[k].said);
            hold(&problems.problem[k]);
            met = met || strcmp(problems.problem[k].said, codes[i]) == 0;
        }
        if (!met)
            fail_msg("no %s, but %s", codes[i], problems.problem[0].message);
        problems_free(&problems);
        farm_free(&farm);
    }
}

static void what_has_no_code_is_said_as_it_is(void **state) {
    (void)state;
    static struct problems problems;
    struct text said;
    problems_init(&problems);
    problem_add(&problems, "a file", 0, 0, NULL, "found %d, expected {two}", 1);
    text_init(&said, 0);
    words_problem(spanish, &problems.problem[0], &said);
    assert_string_equal(text_string(&said), "found 1, expected {two}");
    text_free(&said);
    problems_free(&problems);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_that_the_check_tells_with_a_code_is_said_in_both_languages),
        cmocka_unit_test(what_has_no_code_is_said_as_it_is),
    };
    return cmocka_run_group_tests(tests, open_all, close_all);
}
