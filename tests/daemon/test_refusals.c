/* What the check of a farm finds, in the words of the pages: the English ones are those of the command line.
 */
#include <ctype.h>
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
#include "daemon/farm/farm_file_inside.h"
#include "daemon/replay/farm_change.h"
#include "daemon/replay/scenario.h"
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
        const char *hole = strchr(text_string(&in[i]), '{'); /* no letter stands behind that of JSON */
        assert_true(hole == NULL || !islower((unsigned char)hole[1]));
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

static const struct setting {
    const char *code, *words;
} settings[] = {
    {"setting", "irrigation"},
    {"expected", "irrigation = sometimes"},
    {"expected", "irrigation.share = much"},
    {"expected", "irrigation.stop = [1]"},
    {"expected", "irrigation.days = 5"},
    {"expected", "irrigation.from = May"},
    {"expected", "readings = 1"},
    {"expected", "field:East pivot.turns.may_pause = 5"},
    {"expected", "planting:East pivot.planted = May"},
    {"expected", "planting:East pivot.kcb = 1,2"},
    {"expected", "field:East pivot.area = 5"},
    {"expected", "field:East pivot.name = [1, 2]"},
    {"range", "irrigation.share = 600.5 %"},
    {"range", "irrigation.refill = 5"},
    {"range", "planting:East pivot.allowed_depletion = 600.5 %"},
    {"system_never", "field:East pivot.system.hours_per_day = 0 h"},
    {"above", "supply:Mill well.hours_per_day = 0 h"},
    {"more", "supply:Mill well.flow = 0 m3/h"},
    {"least", "supply:Mill well.allotment = -1 m3"},
    {"whole", "weather.years = 1.5"},
    {"whole_hours", "field:East pivot.turns.longest = 0.5 h"},
    {"choice", "planting:East pivot.method = 5"},
    {"key", "planting:East pivot.zzzzzzzzzzzz = 1"},
    {"key_near", "planting:East pivot.plantet = 2026-05-20"},
    {"key_missing", "planting:East pivot.crop = null"},
    {"setting_unknown", "nonsense = 1"},
    {"setting_irrigation", "irrigation.nonsense = 1"},
    {"setting_field", "irrigation:Nowhere = none"},
    {"setting_depth", "irrigation.every = 3"},
    {"setting_days", "irrigation.depth = 20 mm"},
    {"setting_named", "planting:Nowhere.planted = 2026-06-01"},
    {"setting_key", "planting:East pivot.crop.x = 1"},
};

/* A scenario of the demo farm with these settings. */
static enum status scenario_of(const char *words, struct problems *problems) {
    static struct scenario scenario;
    size_t size;
    char *text = farms_text("fixtures/demo/farm.json", &size);
    cJSON *file = NULL, *changes = NULL;
    problems_init(problems);
    assert_int_equal(change_parse("farm.json", text, size, &file, problems), STATUS_OK);
    enum status status = change_of_words(words, &changes, problems);
    if (status == STATUS_OK)
        status = scenario_make(words, file, changes, &scenario, problems);
    if (status == STATUS_OK)
        scenario_free(&scenario);
    cJSON_Delete(file);
    free(text);
    return status;
}

static void what_settings_are_refused_for_is_said_in_both_languages(void **state) {
    (void)state;
    static struct problems problems;
    for (size_t i = 0; i < sizeof settings / sizeof *settings; i++) {
        bool met = false;
        if (scenario_of(settings[i].words, &problems) == STATUS_OK)
            fail_msg("%s was taken", settings[i].words);
        for (size_t k = 0; k < problems.kept; k++) {
            if (problems.problem[k].said == NULL)
                fail_msg("%s: %s", settings[i].words, problems.problem[k].message);
            hold(&problems.problem[k]);
            met = met || strcmp(problems.problem[k].said, settings[i].code) == 0;
        }
        if (!met)
            fail_msg("%s: no %s, but %s", settings[i].words, settings[i].code, problems.problem[0].message);
        problems_free(&problems);
    }
}

static void every_phrase_of_what_a_value_may_be_has_spanish_words(void **state) {
    (void)state;
    static const struct key *const tables[] = {
        farm_file_root_keys, farm_file_farm_keys,   farm_file_station_keys, farm_file_source_keys,
        farm_file_soil_keys, farm_file_supply_keys, farm_file_field_keys,   farm_file_planting_keys,
        farm_file_turn_keys, farm_file_trial_keys};
    char key[QUANTITY_WORDS_SIZE + 32], words[QUANTITY_WORDS_SIZE];
    int count = 0;
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        for (const struct key *at = tables[i]; at->name != NULL; at++) {
            (void)snprintf(key, sizeof key, "problem.said.%s", at->expected != NULL ? at->expected : "");
            if (at->expected != NULL && words_find(spanish, key) == NULL)
                fail_msg("no Spanish words for: %s", at->expected);
            count += at->expected != NULL;
        }
    }
    assert_true(count > 20);
    for (int kind = 0; kind < QUANTITY_KIND_COUNT; kind++) {
        quantity_expected((enum quantity_kind)kind, words);
        (void)snprintf(key, sizeof key, "problem.said.%s", words);
        if (words_find(spanish, key) == NULL)
            fail_msg("no Spanish words for: %s", words);
    }
}

/* The first problem in the words of a language holds a text. */
static void assert_said(const struct words *words, const struct problems *problems, const char *part) {
    struct text said;
    text_init(&said, 0);
    words_problem(words, &problems->problem[0], &said);
    if (strstr(text_string(&said), part) == NULL)
        fail_msg("no \"%s\" in: %s", part, text_string(&said));
    text_free(&said);
}

static void numbers_have_the_decimal_sign_of_the_language(void **state) {
    (void)state;
    static struct problems problems;
    struct farm farm;
    the_demo(&farm);
    farm.soil[2].soil.layer[0].field_capacity_m3_m3 = 0.125;
    farm.soil[2].soil.layer[0].wilting_point_m3_m3 = 0.25;
    problems_init(&problems);
    assert_int_equal(check_farm(&farm, NULL, NULL, &problems), STATUS_REFUSED);
    assert_said(english, &problems, "found 0.125, expected more than the wilting point, 0.25");
    assert_said(spanish, &problems, "es 0,125 y tiene que pasar del punto de marchitez, 0,25");
    problems_free(&problems);
    farm_free(&farm);
    assert_int_equal(scenario_of("irrigation.refill = 5", &problems), STATUS_REFUSED);
    assert_said(english, &problems, "found 5, expected 0.01 to 1, or per cent as \"85 %\"");
    assert_said(spanish, &problems, "dice 5 y se espera de 0,01 a 1, o por ciento como \"85 %\"");
    problems_free(&problems);
    /* What is no number stays as it is. */
    problem_tell(&problems, "no_such", "found {found}", "found", "Plot 1.5", "what/number.decimal",
                 "a number that is much longer than any that is written in a form, as 0.1234567890",
                 PROBLEM_END);
    assert_said(spanish, &problems, "«Plot 1.5»; hace falta a number that is much longer");
    problems_free(&problems);
}

static void a_sentence_without_a_code_is_its_own(void **state) {
    (void)state;
    static struct problems problems;
    problems_init(&problems);
    problem_add(&problems, "days.csv", 0, 0, "tmax_c",
                "found %zu of %zu days outside %g to %g %s, the first %g on %s; %s", (size_t)3, (size_t)5,
                -90.0, 57.5, "degC", 101.25, "2026-07-01",
                "they look like degrees Fahrenheit, or tenths of a degree");
    assert_said(english, &problems,
                "found 3 of 5 days outside -90 to 57.5 degC, the first 101.25 on 2026-07-01; they");
    assert_said(spanish, &problems,
                "3 de 5 días están fuera de -90 a 57,5 degC; el primero, 101,25 el 2026-07-01; parecen "
                "grados Fahrenheit");
    problems_free(&problems);
    /* Conversions side by side are one; the text behind the last one stands at the end. */
    problem_add(&problems, NULL, 0, 0, NULL, "found %s, expected %s%s", "X, expected Y", "a date as 20210630",
                "");
    assert_said(spanish, &problems, "dice X y se espera Y, expected a date as 20210630");
    problems_free(&problems);
    problem_add(&problems, NULL, 0, 0, NULL, "%s", "not enough memory for this download");
    assert_said(spanish, &problems, "no hay memoria bastante para esta descarga");
    /* A message that is not of its format, whatever brought it about, stays as it is. */
    (void)strcpy(problems.problem[0].message, "something else");
    free(problems.problem[0].said);
    static const char format[] = "no answer (%s); is the line up?";
    problems.problem[0].said = calloc(1, sizeof format + 1);
    assert_non_null(problems.problem[0].said);
    memcpy(problems.problem[0].said, format, sizeof format);
    assert_said(spanish, &problems, "something else");
    problems_free(&problems);
}

/* What is kept of problems, in a language. */
static void assert_kept(const struct words *words, const char *kept, const char *expected) {
    struct text said;
    text_init(&said, 0);
    words_kept(words, kept, &said);
    assert_string_equal(text_string(&said), expected);
    text_free(&said);
}

static void what_is_kept_of_problems_is_said_in_both_languages(void **state) {
    (void)state;
    static struct problems problems;
    struct text kept;
    text_init(&kept, 0);
    problems_init(&problems);
    for (int line = 8; line < 20; line++)
        problem_add(&problems, "a.csv", line, 1, "date", "found %s, expected %s%s", "x", "a date as 20210630",
                    "");
    problems_keep_first(&problems, &kept);
    assert_kept(english, text_string(&kept),
                "a.csv:8:1: date: found x, expected a date as 20210630 (and 11 more in lines 9 to 19)");
    assert_kept(
        spanish, text_string(&kept),
        "a.csv:8:1: date: dice x y se espera una fecha como 20210630 (y 11 más en las líneas 9 a 19)");
    problems_free(&problems);
    text_clear(&kept);
    problem_tell(&problems, "turn_hour", "found {found} o'clock, expected 0 to 23", "found", "25",
                 PROBLEM_END);
    problem_add(&problems, NULL, 0, 0, NULL, "another");
    problems_keep_first(&problems, &kept);
    assert_kept(english, text_string(&kept), "found 25 o'clock, expected 0 to 23 (and 1 more)");
    assert_kept(spanish, text_string(&kept), "la hora 25 tiene que ser de 0 a 23 (y 1 más)");
    /* Of an older program, or cut short, there is the line alone. */
    assert_kept(spanish, "it is down", "it is down");
    assert_kept(spanish, "", "");
    assert_kept(spanish, "it is down\x1Fplace\x1Fit is", "it is down");
    problems_free(&problems);
    text_clear(&kept);
    static char long_name[PROBLEM_KEPT_SIZE];
    memset(long_name, 'n', sizeof long_name - 1);
    problem_add(&problems, long_name, 0, 0, NULL, "%s", "not enough memory for this download");
    problems_keep_first(&problems, &kept);
    assert_null(strchr(text_string(&kept), PROBLEM_KEPT));
    text_free(&kept);
    problems_free(&problems);
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
        cmocka_unit_test(what_settings_are_refused_for_is_said_in_both_languages),
        cmocka_unit_test(every_phrase_of_what_a_value_may_be_has_spanish_words),
        cmocka_unit_test(numbers_have_the_decimal_sign_of_the_language),
        cmocka_unit_test(a_sentence_without_a_code_is_its_own),
        cmocka_unit_test(what_is_kept_of_problems_is_said_in_both_languages),
        cmocka_unit_test(what_has_no_code_is_said_as_it_is),
    };
    return cmocka_run_group_tests(tests, open_all, close_all);
}
