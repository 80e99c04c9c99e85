/* The ledger as a view model and as CSV. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <csv.h>

#include "daemon/view/ledger_columns.h"
#include "daemon/view/view.h"
#include "support/sample_mornings.h"

#define ROWS 30

static struct words *words;
static struct farm_facts facts;
static struct ledger_row rows[ROWS];

static int prepare(void **state) {
    (void)state;
    words = words_open("en");
    facts = sample_facts();
    for (int i = 0; i < ROWS; i++)
        rows[i] = sample_row(1, i, ROWS);
    return words == NULL;
}

static int finish(void **state) {
    (void)state;
    words_close(words);
    return 0;
}

static cJSON *view_of(bool us_units, size_t count) {
    struct view_context context = {.facts = &facts, .us_units = us_units, .words = words};
    cJSON *view = view_ledger(&context, "North bottom", NULL, rows, count);
    assert_non_null(view);
    return view;
}

static const char *text_of(const cJSON *object, const char *key) {
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "(none)";
}

static const cJSON *list_of(const cJSON *object, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

/* The cell of a column in a row of the view. */
static const char *cell(const cJSON *view, const cJSON *row, const char *member) {
    int index = 0;
    const cJSON *column;
    cJSON_ArrayForEach(column, list_of(view, "columns")) {
        if (strcmp(text_of(column, "key"), member) == 0)
            return cJSON_GetArrayItem(list_of(row, "cells"), index)->valuestring;
        index++;
    }
    fail_msg("no column %s", member);
    return NULL;
}

static void the_newest_day_stands_first_with_all_its_terms(void **state) {
    (void)state;
    cJSON *view = view_of(false, ROWS);
    const cJSON *first = cJSON_GetArrayItem(list_of(view, "rows"), 0);
    assert_string_equal(text_of(first, "date"), "2026-06-04");
    assert_int_equal(cJSON_GetArraySize(list_of(view, "rows")), ROWS);
    assert_int_equal(cJSON_GetArraySize(list_of(first, "cells")),
                     cJSON_GetArraySize(list_of(view, "columns")));
    assert_string_equal(cell(view, first, "eta_mm"), "6.0");
    double depletion = cJSON_GetNumberValue(list_of(list_of(first, "values"), "depletion_mm"));
    assert_true(depletion == rows[ROWS - 1].day.depletion_mm); /* every digit */
    cJSON_Delete(view);
}

static void cells_follow_the_units_of_the_visitor_and_values_do_not(void **state) {
    (void)state;
    cJSON *view = view_of(true, ROWS);
    const cJSON *first = cJSON_GetArrayItem(list_of(view, "rows"), 0);
    assert_string_equal(cell(view, first, "eta_mm"), "0.24"); /* 6 mm / 25.4 */
    assert_string_equal(cell(view, first, "root_m"), "3.0");  /* 0.9 m / 0.3048 */
    assert_true(cJSON_GetNumberValue(list_of(list_of(first, "values"), "eta_mm")) == 6);
    cJSON_Delete(view);
}

static void totals_are_the_sums_of_the_rows(void **state) {
    (void)state;
    cJSON *view = view_of(false, ROWS);
    double rain = 0;
    for (int i = 0; i < ROWS; i++)
        rain += rows[i].day.rain_mm;
    const cJSON *totals = list_of(view, "totals");
    assert_true(fabs(cJSON_GetNumberValue(list_of(list_of(totals, "values"), "rain_mm")) - rain) < 1e-9);
    assert_string_equal(cell(view, totals, "depletion_mm"), "");
    cJSON_Delete(view);
}

static void a_day_that_does_not_add_up_is_told(void **state) {
    (void)state;
    cJSON *view = view_of(false, ROWS);
    assert_string_equal(text_of(view, "closure"), "The terms add up on each day.");
    cJSON_Delete(view);
    rows[4].day.depletion_mm += 0.25;
    view = view_of(false, ROWS);
    assert_string_equal(text_of(view, "closure"),
                        "The terms do not add up: the largest difference on a day is 0.250000 mm.");
    rows[4].day.depletion_mm -= 0.25;
    cJSON_Delete(view);
}

static void weather_that_was_not_measured_is_flagged_on_its_day(void **state) {
    (void)state;
    cJSON *view = view_of(false, ROWS);
    for (int i = 0; i < ROWS; i++) {
        const cJSON *row = cJSON_GetArrayItem(list_of(view, "rows"), ROWS - 1 - i);
        bool estimated = rows[i].origin.humidity == ORIGIN_ESTIMATED;
        assert_int_equal(cJSON_GetArraySize(list_of(row, "weather")), estimated ? 1 : 0);
    }
    cJSON_Delete(view);
}

static void an_empty_ledger_and_a_missing_morning_are_views_too(void **state) {
    (void)state;
    struct view_context context = {.facts = &facts, .words = words};
    cJSON *view = view_ledger(&context, "Fallow 3", NULL, NULL, 0);
    assert_string_equal(text_of(view, "no_rows"), "No day has been reckoned yet.");
    assert_null(list_of(view, "field"));
    cJSON_Delete(view);
}

static void what_is_not_known_is_a_dash_and_null(void **state) {
    (void)state;
    double kcb = rows[ROWS - 1].day.kcb;
    rows[ROWS - 1].day.kcb = NAN;
    cJSON *view = view_of(false, ROWS);
    const cJSON *first = cJSON_GetArrayItem(list_of(view, "rows"), 0);
    assert_string_equal(cell(view, first, "kcb"), "–");
    assert_true(cJSON_IsNull(list_of(list_of(first, "values"), "kcb")));
    rows[ROWS - 1].day.kcb = kcb;
    cJSON_Delete(view);
}

/* ---- CSV, read back with libcsv */

#define CELLS_MAX 4096

struct read_back {
    char *cell[CELLS_MAX];
    int cells, lines, first_line;
};

static void take_cell(void *bytes, size_t size, void *context) {
    struct read_back *back = context;
    assert_true(back->cells < CELLS_MAX);
    back->cell[back->cells++] = strndup(bytes != NULL ? bytes : "", size);
}

static void take_line(int c, void *context) {
    (void)c;
    struct read_back *back = context;
    if (back->lines++ == 0)
        back->first_line = back->cells;
}

static struct read_back *read_csv(const char *field) {
    struct text out;
    text_init(&out, 0);
    view_ledger_csv(field, rows, ROWS, &out);
    assert_false(text_failed(&out));
    struct read_back *back = calloc(1, sizeof *back);
    struct csv_parser parser;
    csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI);
    assert_int_equal(csv_parse(&parser, out.data, out.size, take_cell, take_line, back), out.size);
    csv_fini(&parser, take_cell, take_line, back);
    csv_free(&parser);
    text_free(&out);
    return back;
}

static void read_back_free(struct read_back *back) {
    for (int i = 0; i < back->cells; i++)
        free(back->cell[i]);
    free(back);
}

static void the_csv_reads_back_to_the_same_bits(void **state) {
    (void)state;
    struct read_back *back = read_csv("North bottom");
    assert_int_equal(back->lines, ROWS + 1);
    assert_int_equal(back->cells, (ROWS + 1) * back->first_line);
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++) {
        int at = 3 + (int)(column - ledger_columns);
        assert_string_equal(back->cell[at], column->member);
        for (int i = 0; i < ROWS; i++) {
            const char *number = back->cell[(i + 1) * back->first_line + at];
            assert_true(strtod(number, NULL) == ledger_value(&rows[i].day, column));
        }
    }
    read_back_free(back);
}

static void a_name_that_is_a_formula_becomes_text(void **state) {
    (void)state;
    static const char *const names[][2] = {{"=1+1", "'=1+1"},
                                           {"+1", "'+1"},
                                           {"-1", "'-1"},
                                           {"@SUM(A1)", "'@SUM(A1)"},
                                           {"\tx", "'\tx"},
                                           {"a=b", "a=b"},
                                           {"say \"hi\", now", "say \"hi\", now"}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct read_back *back = read_csv(names[i][0]);
        assert_string_equal(back->cell[back->first_line], names[i][1]);
        read_back_free(back);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_newest_day_stands_first_with_all_its_terms),
        cmocka_unit_test(cells_follow_the_units_of_the_visitor_and_values_do_not),
        cmocka_unit_test(totals_are_the_sums_of_the_rows),
        cmocka_unit_test(a_day_that_does_not_add_up_is_told),
        cmocka_unit_test(weather_that_was_not_measured_is_flagged_on_its_day),
        cmocka_unit_test(an_empty_ledger_and_a_missing_morning_are_views_too),
        cmocka_unit_test(what_is_not_known_is_a_dash_and_null),
        cmocka_unit_test(the_csv_reads_back_to_the_same_bits),
        cmocka_unit_test(a_name_that_is_a_formula_becomes_text),
    };
    return cmocka_run_group_tests(tests, prepare, finish);
}
