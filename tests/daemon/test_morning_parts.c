/* A morning that is stored in parts, and what others write between two of them: the farm and its weather are
 * invented; what has to come out is what the same forms leave before a morning in one piece. */
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
#include "daemon/morning/book.h"
#include "daemon/morning/run.h"
#include "daemon/morning/turns_book.h"
#include "daemon/store/db_inside.h"
#include "daemon/store/ledger_store.h"
#include "support/well_farm.h"

#define DAYS   60
#define TODAY  (WELL_FARM_FIRST + DAYS)
#define FIELDS 5
#define GAPS   (FIELDS + 1) /* behind each of them, and behind the plans of the turns */

/* Turns of one length: plans are soon made. */
static const struct well_farm farm_of_five = {
    .fields = "ABCDE", .at_well = "ACE", .planted = "ABCD", .shortest_h = 40, .longest_h = 40};

/* ---- what others write */

static struct book_form form_of(int number) {
    static char token[ENTRY_TOKEN_SIZE];
    (void)snprintf(token, sizeof token, "%032d", number);
    return (struct book_form){
        .token = token, .at = 86400LL * TODAY + number, .today = TODAY, .minute = 301, .who = "somebody"};
}

static void record(struct db *db, const char *field, int32_t day, int number) {
    static struct problems problems;
    struct farm_record one = {.date = day, .kind = RECORD_IRRIGATION, .amount = 25, .sd = NAN};
    const struct book_form form = form_of(number);
    problems_init(&problems);
    (void)snprintf(one.field, sizeof one.field, "%s", field);
    must(book_record(db, &form, &one, 0, &problems), &problems);
}

static enum status plant_later(void *context, struct farm *farm, size_t *planting,
                               struct problems *problems) {
    (void)problems;
    for (size_t i = 0; i < farm->planting_count; i++)
        if (strcmp(farm->planting[i].field, context) == 0) {
            *planting = i;
            farm->planting[i].crop.kcb_mid -= 0.2;
            farm->planting[i].crop.root_max_m -= 0.3;
        }
    return STATUS_OK;
}

static enum status thin_soil(void *context, struct farm *farm, size_t *planting, struct problems *problems) {
    (void)context, (void)planting, (void)problems;
    farm->soil[0].soil.layer[0].field_capacity_m3_m3 -= 0.05;
    return STATUS_OK;
}

static void change(struct db *db, const char *field, enum farm_mark mark,
                   enum status (*apply)(void *, struct farm *, size_t *, struct problems *)) {
    static struct problems problems;
    const struct book_form form = form_of(7);
    char name[FARM_NAME_SIZE];
    problems_init(&problems);
    (void)snprintf(name, sizeof name, "%s", field);
    const struct book_edit edit = {.act = mark == FARM_MARK_SOIL ? ENTRY_FIELD : ENTRY_PLANTING,
                                   .field = name,
                                   .moved_from = CALENDAR_NONE,
                                   .mark = mark,
                                   .marked = mark == FARM_MARK_SOIL ? "loam" : name,
                                   .apply = apply,
                                   .context = name};
    must(book_change(db, &form, &edit, &problems), &problems);
}

static void record_water_on_a(struct db *db) {
    record(db, "A", TODAY - 3, 1);
}
static void record_water_on_all(struct db *db) {
    record(db, "A", TODAY - 1, 1);
    record(db, "B", TODAY - 2, 2);
    record(db, "C", TODAY, 3);
    record(db, "D", TODAY - 20, 4);
}
static void keep_c_dry(struct db *db) {
    static struct problems problems;
    const struct book_form form = form_of(8);
    struct turns_word word = {.count = 1};
    problems_init(&problems);
    word.mark[0] = (struct farm_turn_mark){.kind = TURN_KEPT_DRY, .date = TODAY + 1, .hours = 30};
    (void)snprintf(word.mark[0].field, sizeof word.mark[0].field, "C");
    must(turns_book_mark(db, &form, &word, &problems), &problems);
}

static enum status give_less(void *context, struct farm *farm, size_t *planting, struct problems *problems) {
    (void)context, (void)planting, (void)problems;
    farm->supply[0].hours_per_day = 20;
    return STATUS_OK;
}

static void change_the_well(struct db *db) {
    static struct problems problems;
    const struct book_form form = form_of(9);
    problems_init(&problems);
    const struct book_edit edit = {.act = ENTRY_SUPPLY,
                                   .field = "",
                                   .supply = "well",
                                   .moved_from = CALENDAR_NONE,
                                   .mark = FARM_MARK_NONE,
                                   .apply = give_less};
    must(book_change(db, &form, &edit, &problems), &problems);
}

static void change_planting_of_b(struct db *db) {
    change(db, "B", FARM_MARK_FIELD, plant_later);
}
static void change_the_soil(struct db *db) {
    change(db, "", FARM_MARK_SOIL, thin_soil);
}
static void import_another_farm(struct db *db) {
    static struct problems problems;
    struct farm farm;
    problems_init(&problems);
    must(farm_store_load(db, &farm, &problems), &problems);
    for (size_t i = 0; i < farm.planting_count; i++)
        farm.planting[i].start_depletion = 0.3;
    must(farm_store_save(db, &farm, false, &problems), &problems);
    farm_free(&farm);
}

/* ---- two books */

struct between {
    const char *path;
    void (*write)(struct db *db);
    int gap, gaps; /* where it is written (-1: in all of them), and how many there were */
};

static void write_between(void *context) {
    struct between *between = context;
    static struct problems problems;
    struct db *db;
    problems_init(&problems);
    if (between->gaps++ != between->gap && between->gap >= 0)
        return;
    must(db_open(between->path, DB_WRITE, &db, &problems), &problems);
    db_patience(db, 0); /* nobody holds it */
    between->write(db);
    db_close(db);
}

static void morning(struct test_store *store, int32_t day, size_t at_once, struct between *between) {
    struct morning_result result;
    must(test_store_gauge(store, WELL_FARM_FIRST - 10, day, 9, 16), &store->problems);
    const struct morning_time now = {day, 86400LL * day, 300};
    const struct morning_how how = {
        .at_once = at_once, .between = between != NULL ? write_between : NULL, .context = between};
    must(morning_run(store->db, &now, &how, &result, &store->problems), &store->problems);
    assert_int_equal(result.fields, FIELDS);
    assert_int_equal(result.plantings, FIELDS - 1);
}

static void open_book(struct test_store *store, bool first) {
    assert_int_equal(well_farm_make(store, &farm_of_five), 0);
    if (!first)
        morning(store, TODAY - 1, 0, NULL);
}

static long long number_of(struct db *db, const char *sql) {
    static struct problems problems;
    problems_init(&problems);
    sqlite3_stmt *statement = db_prepare(db, sql, &problems);
    must(statement != NULL ? STATUS_OK : STATUS_STORE, &problems);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    long long number = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return number;
}

/* Rows that only one of two books has, of every table. */
static void expect_same(struct test_store *found, struct test_store *expected, const char *what) {
    static const char *const tables[] = {
        "farm",    "field", "planting",  "record",    "ledger",     "ahead", "call",       "outlook",
        "morning", "entry", "turn_plan", "turn_path", "soil_layer", "turn",  "turn_limit", "turn_change"};
    char sql[800];
    (void)snprintf(sql, sizeof sql, "ATTACH '%s' AS expected", expected->path);
    must(db_exec(found->db, sql, &found->problems), &found->problems);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        (void)snprintf(sql, sizeof sql,
                       "SELECT (SELECT count(*) FROM (SELECT * FROM main.%1$s EXCEPT SELECT * FROM "
                       "expected.%1$s)) + (SELECT count(*) FROM (SELECT * FROM expected.%1$s EXCEPT SELECT * "
                       "FROM main.%1$s))",
                       tables[i]);
        long long rows = number_of(found->db, sql);
        if (rows != 0)
            fail_msg("%s: %lld rows of %s are others", what, rows, tables[i]);
    }
    must(db_exec(found->db, "DETACH expected", &found->problems), &found->problems);
}

/* In each gap of a morning, the `first` of the book or one after another. `all`: it bears on all fields, so
 * that each part is done again. `replans`: it bears on the well. */
static void try_all(const char *what, void (*write)(struct db *db), bool first, bool all, bool replans) {
    struct test_store plain, parts;
    open_book(&plain, first);
    write(plain.db);
    morning(&plain, TODAY, 0, NULL);
    assert_true(number_of(plain.db, "SELECT count(*) FROM turn") > 0);
    for (int gap = 0; gap < GAPS; gap++) {
        char name[100];
        struct between between = {.write = write, .gap = gap};
        (void)snprintf(name, sizeof name, "%s in gap %d", what, gap);
        open_book(&parts, first);
        between.path = parts.path;
        morning(&parts, TODAY, 1, &between);
        /* A plan that was ready, and is of another book now, is made beside the book once more. */
        int once_more = replans && gap == GAPS - 1;
        assert_int_equal(between.gaps, all ? gap + 1 + GAPS : GAPS + once_more);
        expect_same(&parts, &plain, name);
        test_store_close(&parts);
    }
    test_store_close(&plain);
}

static void a_record_between_two_parts_is_in_the_morning(void **state) {
    (void)state;
    try_all("a record", record_water_on_a, false, false, true);
    try_all("a record before the first morning", record_water_on_a, true, false, true);
}

static void records_of_many_fields_between_two_parts_are_in_the_morning(void **state) {
    (void)state;
    try_all("records", record_water_on_all, false, false, true);
}

static void a_planting_changed_between_two_parts_is_in_the_morning(void **state) {
    (void)state;
    try_all("a planting", change_planting_of_b, false, false, false);
    try_all("a planting before the first morning", change_planting_of_b, true, false, false);
}

static void hours_kept_dry_between_two_parts_are_in_the_plans(void **state) {
    (void)state;
    try_all("hours kept dry", keep_c_dry, false, false, true);
    try_all("hours kept dry before the first morning", keep_c_dry, true, false, true);
}

static void a_supply_changed_between_two_parts_is_in_the_plans(void **state) {
    (void)state;
    try_all("a supply", change_the_well, false, false, true);
    try_all("a supply before the first morning", change_the_well, true, false, true);
}

static void record_again(struct db *db) {
    static int number = 100;
    static const char *const fields[] = {"A", "C"};
    record(db, fields[number % 2], TODAY - 1 - number % 30, number);
    number++;
}

/* However often somebody writes, a morning ends: the last time it plans within the book. */
static void writing_that_does_not_cease_does_not_hold_up_a_morning(void **state) {
    (void)state;
    struct test_store plain, parts;
    struct between between = {.write = record_again, .gap = -1};
    open_book(&parts, false);
    between.path = parts.path;
    morning(&parts, TODAY, 0, &between);
    assert_int_equal(between.gaps, 3);
    open_book(&plain, false);
    for (int i = 0; i < between.gaps; i++) {
        static const char *const fields[] = {"A", "C"};
        record(plain.db, fields[i % 2], TODAY - 1 - (100 + i) % 30, 100 + i);
    }
    morning(&plain, TODAY, 0, NULL);
    expect_same(&parts, &plain, "a record in every gap");
    test_store_close(&plain);
    test_store_close(&parts);
}

static void a_soil_changed_between_two_parts_begins_the_morning_again(void **state) {
    (void)state;
    try_all("a soil", change_the_soil, false, true, false);
    try_all("a soil before the first morning", change_the_soil, true, true, false);
}

static void a_farm_file_imported_between_two_parts_begins_the_morning_again(void **state) {
    (void)state;
    try_all("a farm file", import_another_farm, false, true, false);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_record_between_two_parts_is_in_the_morning),
        cmocka_unit_test(records_of_many_fields_between_two_parts_are_in_the_morning),
        cmocka_unit_test(a_planting_changed_between_two_parts_is_in_the_morning),
        cmocka_unit_test(hours_kept_dry_between_two_parts_are_in_the_plans),
        cmocka_unit_test(a_supply_changed_between_two_parts_is_in_the_plans),
        cmocka_unit_test(writing_that_does_not_cease_does_not_hold_up_a_morning),
        cmocka_unit_test(a_soil_changed_between_two_parts_begins_the_morning_again),
        cmocka_unit_test(a_farm_file_imported_between_two_parts_begins_the_morning_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
