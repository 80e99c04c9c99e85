/* The book on a disk that is full, locked or spoilt: a clear message, no damage, and reading goes on where it
 * can. */
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
#include "daemon/store/db_inside.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/weather_store.h"
#include "support/store.h"

#define FIRST 20580 /* 2026-05-07 */
#define DAYS  60
#define TODAY (FIRST + DAYS)

static const char farm_json[] =
    "{\"farm\": {\"name\": \"F\"}, \"stations\": [{\"name\": \"yard\", \"latitude\": 38, \"longitude\": -98, "
    "\"elevation\": \"500 m\"}], \"sources\": [{\"name\": \"gauge\", \"station\": \"yard\", \"layout\": "
    "\"plain\", \"address\": \"file:a\", \"kind\": \"observed\"}], \"soils\": [{\"name\": \"loam\", "
    "\"texture\": \"loam\"}], \"fields\": [{\"name\": \"A\", \"area\": \"1 ha\", \"station\": \"yard\", "
    "\"soil\": \"loam\", \"system\": {\"kind\": \"furrow\"}}], \"plantings\": [{\"field\": \"A\", "
    "\"crop\": \"corn\", \"planted\": \"2026-05-07\"}]}";

static void take_weather(struct test_store *store) {
    struct weather_days days;
    weather_days_init(&days);
    for (int i = 0; i < DAYS + 10; i++) {
        struct weather_day day = weather_day_empty(FIRST - 10 + i);
        day.value[WEATHER_TMAX_C] = 30;
        day.value[WEATHER_TMIN_C] = 15;
        day.value[WEATHER_RAIN_MM] = i % 9 == 0 ? 6 : 0;
        assert_int_equal(weather_days_add(&days, &day, NULL), STATUS_OK);
    }
    const struct weather_fetch fetch = {.source_id = store->ids.source[0],
                                        .station_id = store->ids.station[0],
                                        .kind = SOURCE_OBSERVED,
                                        .at = 1000,
                                        .day = TODAY,
                                        .address = "file:a",
                                        .layout = "plain",
                                        .size = 1,
                                        .sha256 = "0"};
    must(weather_store_take(store->db, &fetch, &days, NULL, &store->problems), &store->problems);
    weather_days_free(&days);
}

static int open_book(void **state) {
    static struct test_store store;
    struct morning_result result;
    if (test_store_open(&store, farm_json) != 0)
        return -1;
    take_weather(&store);
    const struct morning_time now = {TODAY, 2000, 300};
    must(morning_run(store.db, &now, &(struct morning_how){0}, &result, &store.problems), &store.problems);
    *state = &store;
    return 0;
}

static int close_book(void **state) {
    test_store_close(*state);
    return 0;
}

/* A record of a day within the season; `number` makes its token. */
static enum status record(struct db *db, int number, enum record_kind kind, struct problems *problems) {
    char token[ENTRY_TOKEN_SIZE];
    struct farm_record one = {.date = FIRST + 5 + number % 40, .kind = kind, .amount = 10, .sd = NAN};
    (void)snprintf(token, sizeof token, "%032d", number);
    (void)snprintf(one.field, sizeof one.field, "A");
    if (kind == RECORD_NOTE) {
        one.amount = NAN;
        memset(one.text, 'n', sizeof one.text - 1);
    }
    const struct book_form form = {.token = token, .at = 3000 + number, .who = "somebody"};
    return book_record(db, &form, &one, 0, problems);
}

static long long count_of(struct db *db, const char *sql) {
    struct problems problems;
    problems_init(&problems);
    sqlite3_stmt *statement = db_prepare(db, sql, &problems);
    assert_non_null(statement);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    long long count = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return count;
}

static bool is_whole(struct db *db) {
    return count_of(db, "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'") == 0 &&
           count_of(db, "SELECT count(*) FROM pragma_foreign_key_check") == 0;
}

static void expect_words(const struct problems *problems, const char *words) {
    struct text all;
    text_init(&all, 0);
    problems_print(problems, &all);
    if (strstr(text_string(&all), words) == NULL)
        fail_msg("found \"%s\", expected it to say \"%s\"", text_string(&all), words);
    text_free(&all);
}

static void a_full_disk_refuses_what_does_not_fit_and_keeps_the_rest(void **state) {
    struct test_store *store = *state;
    char sql[80];
    struct call call;
    (void)snprintf(sql, sizeof sql, "PRAGMA max_page_count = %lld",
                   count_of(store->db, "SELECT page_count FROM pragma_page_count") + 12);
    must(db_exec(store->db, sql, &store->problems), &store->problems);
    int kept = 0;
    enum status status;
    while ((status = record(store->db, kept, RECORD_NOTE, &store->problems)) == STATUS_OK)
        kept++;
    assert_int_equal(status, STATUS_IO);
    expect_words(&store->problems, "full");
    assert_true(kept > 0);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM record"), kept);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM entry"), kept);
    assert_true(is_whole(store->db));
    must(ledger_store_call(store->db, "A", &call, &store->problems), &store->problems);
    assert_int_equal(call.date, TODAY);
    /* With room again the same form goes through. */
    must(db_exec(store->db, "PRAGMA max_page_count = 100000", &store->problems), &store->problems);
    must(record(store->db, kept, RECORD_NOTE, &store->problems), &store->problems);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM record"), kept + 1);
}

static enum status take_source(void *context, struct farm *farm, size_t *planting,
                               struct problems *problems) {
    (void)context;
    (void)planting;
    (void)problems;
    farm->source_count = 0;
    return STATUS_OK;
}

static enum status take_field(void *context, struct farm *farm, size_t *planting, struct problems *problems) {
    (void)context;
    (void)planting;
    (void)problems;
    farm->field_count = farm->planting_count = farm->record_count = 0;
    return STATUS_OK;
}

static enum status take_out(struct test_store *store, bool source) {
    const struct book_form form = {
        .token = source ? "source" : "field", .at = 5000, .today = TODAY, .who = ""};
    const struct book_edit edit = {.act = source ? ENTRY_SOURCE : ENTRY_FIELD,
                                   .field = "",
                                   .moved_from = CALENDAR_NONE,
                                   .moved_to = CALENDAR_NONE,
                                   .source_gone = source ? "gauge" : NULL,
                                   .field_gone = source ? NULL : "A",
                                   .apply = source ? take_source : take_field};
    return book_change(store->db, &form, &edit, &store->problems);
}

static const char *const kept_counts =
    "SELECT (SELECT count(*) FROM weather) * 1000000 + (SELECT count(*) FROM ledger) * 1000 + (SELECT "
    "count(*) "
    "FROM field) * 100 + (SELECT count(*) FROM record) * 10 + (SELECT count(*) FROM entry)";

/* The index that the removal of a source makes for itself is what finds no room. */
static void a_removal_on_a_full_disk_leaves_the_book_as_it_was(void **state) {
    struct test_store *store = *state;
    char sql[80];
    must(record(store->db, 1, RECORD_RAIN, &store->problems), &store->problems);
    long long before = count_of(store->db, kept_counts);
    (void)snprintf(sql, sizeof sql, "PRAGMA max_page_count = %lld",
                   count_of(store->db, "SELECT page_count FROM pragma_page_count"));
    must(db_exec(store->db, sql, &store->problems), &store->problems);
    assert_int_equal(take_out(store, true), STATUS_IO);
    assert_int_equal(count_of(store->db, kept_counts), before);
    assert_int_equal(
        count_of(store->db, "SELECT count(*) FROM sqlite_schema WHERE name = 'weather_by_fetch'"), 0);
    assert_true(is_whole(store->db));
    must(db_exec(store->db, "PRAGMA max_page_count = 100000", &store->problems), &store->problems);
    must(take_out(store, true), &store->problems);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM weather"), 0);
    assert_int_equal(
        count_of(store->db, "SELECT count(*) FROM sqlite_schema WHERE name = 'weather_by_fetch'"), 0);
    must(take_out(store, false), &store->problems);
    assert_int_equal(count_of(store->db, kept_counts),
                     2); /* the two forms; that of the record went with it */
    assert_true(is_whole(store->db));
}

static void a_locked_book_hands_the_form_back_and_is_read_meanwhile(void **state) {
    struct test_store *store = *state;
    struct db *other = NULL, *reader = NULL;
    struct call call;
    must(db_open(store->path, DB_WRITE, &other, &store->problems), &store->problems);
    must(db_open(store->path, DB_READ, &reader, &store->problems), &store->problems);
    must(db_begin(other, &store->problems), &store->problems);
    db_patience(store->db, 50);
    assert_int_equal(record(store->db, 1, RECORD_IRRIGATION, &store->problems), STATUS_BUSY);
    expect_words(&store->problems, "locked: another program was writing to it");
    must(ledger_store_call(reader, "A", &call, &store->problems), &store->problems);
    assert_int_equal(call.date, TODAY);
    must(db_end(other, STATUS_OK, &store->problems), &store->problems);
    must(record(store->db, 1, RECORD_IRRIGATION, &store->problems), &store->problems);
    assert_int_equal(count_of(reader, "SELECT count(*) FROM record"), 1);
    db_close(other);
    db_close(reader);
}

/* Overwrites the first page of a table with what is no page. */
static void spoil(struct test_store *store, const char *table) {
    char sql[120];
    unsigned char junk[512];
    (void)snprintf(sql, sizeof sql, "SELECT rootpage FROM sqlite_schema WHERE name = '%s'", table);
    long long page = count_of(store->db, sql);
    long size = (long)count_of(store->db, "SELECT page_size FROM pragma_page_size");
    must(db_exec(store->db, "PRAGMA wal_checkpoint(TRUNCATE)", &store->problems), &store->problems);
    db_close(store->db);
    memset(junk, 0xA5, sizeof junk);
    FILE *file = fopen(store->path, "r+b");
    assert_non_null(file);
    assert_int_equal(fseek(file, size * (long)(page - 1), SEEK_SET), 0);
    assert_int_equal(fwrite(junk, sizeof junk, 1, file), 1);
    assert_int_equal(fclose(file), 0);
    must(db_open(store->path, DB_WRITE, &store->db, &store->problems), &store->problems);
}

static void a_spoilt_page_is_told_and_the_rest_of_the_book_is_read(void **state) {
    struct test_store *store = *state;
    struct ledger_row *rows = NULL;
    struct farm farm;
    struct call call;
    size_t count = 0;
    must(record(store->db, 1, RECORD_IRRIGATION, &store->problems), &store->problems);
    spoil(store, "ledger");
    assert_int_equal(ledger_store_rows(store->db, "A", TODAY, &rows, &count, &store->problems),
                     STATUS_REFUSED);
    expect_words(&store->problems, "malformed");
    assert_int_equal(record(store->db, 2, RECORD_IRRIGATION, &store->problems), STATUS_REFUSED);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM record"), 1);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM entry"), 1);
    must(farm_store_load(store->db, &farm, &store->problems), &store->problems);
    assert_int_equal(farm.record_count, 1);
    farm_free(&farm);
    must(ledger_store_call(store->db, "A", &call, &store->problems), &store->problems);
    assert_int_equal(call.date, TODAY);
}

static void a_record_that_does_not_fit_leaves_nothing(void **state) {
    struct test_store *store = *state;
    struct farm_record early = {
        .field = "A", .date = FIRST - 30, .kind = RECORD_IRRIGATION, .amount = 10, .sd = NAN};
    const struct book_form form = {.token = "00000000000000000000000000000009", .at = 1, .who = ""};
    assert_int_equal(book_record(store->db, &form, &early, 0, &store->problems), STATUS_REFUSED);
    expect_words(&store->problems, "2026-05-07 or later");
    early.date = FIRST;
    (void)snprintf(early.field, sizeof early.field, "B");
    assert_int_equal(book_record(store->db, &form, &early, 0, &store->problems), STATUS_REFUSED);
    (void)snprintf(early.field, sizeof early.field, "A");
    assert_int_equal(book_record(store->db, &form, &early, 77, &store->problems), STATUS_NOT_FOUND);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM record"), 0);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM entry"), 0);
}

static void what_a_record_replaced_and_who_wrote_it_stay(void **state) {
    struct test_store *store = *state;
    struct record_kept kept, *recent = NULL;
    struct farm_record better = {
        .field = "A", .date = FIRST + 6, .kind = RECORD_IRRIGATION, .amount = 33, .sd = NAN};
    const struct book_form correct = {
        .token = "0000000000000000000000000000000c", .at = 4000, .who = "another"};
    const struct book_form undo = {.token = "0000000000000000000000000000000d", .at = 5000, .who = "third"};
    size_t count = 0;
    must(record(store->db, 1, RECORD_IRRIGATION, &store->problems), &store->problems);
    must(book_record(store->db, &correct, &better, 1, &store->problems), &store->problems);
    must(record_store_get(store->db, 1, &kept, &store->problems), &store->problems);
    assert_string_equal(kept.who, "somebody");
    assert_int_equal(kept.at, 3001);
    assert_int_equal(kept.withdrawn_at, 4000);
    assert_int_equal(kept.replaced_by, 2);
    /* Corrected once, it cannot be corrected again. */
    const struct book_form late = {.token = "0000000000000000000000000000000e", .at = 4500, .who = ""};
    assert_int_equal(book_record(store->db, &late, &better, 1, &store->problems), STATUS_NOT_FOUND);

    must(book_undo(store->db, &undo, 2, &store->problems), &store->problems);
    must(book_undo(store->db, &undo, 2, &store->problems), &store->problems);
    must(record_store_get(store->db, 2, &kept, &store->problems), &store->problems);
    assert_int_equal(kept.withdrawn_at, 5000);
    assert_int_equal(kept.replaced_by, 3);
    must(record_store_recent(store->db, "A", 10, &recent, &count, &store->problems), &store->problems);
    assert_int_equal(count, 1);
    assert_int_equal(recent[0].id, 3);
    assert_string_equal(recent[0].who, "third");
    assert_true(recent[0].record.amount == 10);
    free(recent);
    assert_int_equal(count_of(store->db, "SELECT count(*) FROM record"), 3);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_full_disk_refuses_what_does_not_fit_and_keeps_the_rest, open_book,
                                        close_book),
        cmocka_unit_test_setup_teardown(a_removal_on_a_full_disk_leaves_the_book_as_it_was, open_book,
                                        close_book),
        cmocka_unit_test_setup_teardown(a_locked_book_hands_the_form_back_and_is_read_meanwhile, open_book,
                                        close_book),
        cmocka_unit_test_setup_teardown(a_spoilt_page_is_told_and_the_rest_of_the_book_is_read, open_book,
                                        close_book),
        cmocka_unit_test_setup_teardown(a_record_that_does_not_fit_leaves_nothing, open_book, close_book),
        cmocka_unit_test_setup_teardown(what_a_record_replaced_and_who_wrote_it_stay, open_book, close_book),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
