/* A database is taken only with the tables that its version has. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/base/file.h"
#include "daemon/store/schema.h"
#include "support/store.h"

static char directory[] = "/tmp/waterturn-schema-XXXXXX";
static char path[128];

/* A database of a version by its scripts, and then `sql`. */
static void make(int version, const char *sql) {
    sqlite3 *db = NULL;
    char marks[100];
    (void)unlink(path);
    (void)snprintf(marks, sizeof marks, "PRAGMA application_id = 2004120174; PRAGMA user_version = %d",
                   version);
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    for (int i = 1; i <= version; i++)
        assert_int_equal(sqlite3_exec(db, schema_script(i), NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, marks, NULL, NULL, NULL), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

/* What opening says; "" when it is taken. */
static enum status opened(enum db_mode mode, struct text *words) {
    struct db *db = NULL;
    struct problems problems;
    problems_init(&problems);
    text_init(words, 0);
    enum status status = db_open(path, mode, &db, &problems);
    problems_print(&problems, words);
    problems_free(&problems);
    db_close(db);
    return status;
}

static char *bytes_of(const char *name, size_t *size) {
    struct problems problems;
    char *bytes = NULL;
    problems_init(&problems);
    must(file_read(name, (size_t)1 << 24, &bytes, size, &problems), &problems);
    return bytes;
}

/* No mode takes it, its words have `said`, and neither the file nor what stands beside it is changed. */
static void must_refuse(const char *said) {
    size_t before_size, after_size;
    char *before = bytes_of(path, &before_size), copy[sizeof path + 16];
    for (enum db_mode mode = DB_READ; mode <= DB_CREATE; mode++) {
        struct text words;
        assert_int_equal(opened(mode, &words), STATUS_REFUSED);
        if (strstr(text_string(&words), said) == NULL)
            fail_msg("found \"%s\", expected \"%s\" in it", text_string(&words), said);
        text_free(&words);
    }
    char *after = bytes_of(path, &after_size);
    assert_int_equal(before_size, after_size);
    assert_memory_equal(before, after, before_size);
    free(before);
    free(after);
    for (int version = 1; version <= DB_VERSION; version++) {
        (void)snprintf(copy, sizeof copy, "%s.version-%d", path, version);
        assert_int_not_equal(access(copy, F_OK), 0);
    }
}

static void must_take(void) {
    struct text words;
    if (opened(DB_WRITE, &words) != STATUS_OK)
        fail_msg("%s", text_string(&words));
    text_free(&words);
}

static void each_versions_scripts_make_the_schema_that_its_mark_is_of(void **state) {
    (void)state;
    for (int version = 1; version <= DB_VERSION; version++) {
        struct problems problems;
        struct db db = {.path = path};
        uint64_t mark = 0;
        problems_init(&problems);
        make(version, "");
        assert_int_equal(sqlite3_open(path, &db.handle), SQLITE_OK);
        must(schema_mark(&db, &mark, &problems), &problems);
        sqlite3_close(db.handle);
        if (mark != schema_mark_of(version))
            fail_msg("version %d: found the mark 0x%016llx, expected 0x%016llx", version,
                     (unsigned long long)mark, (unsigned long long)schema_mark_of(version));
    }
}

static void a_table_that_is_not_as_its_version_has_it_is_refused_and_left_alone(void **state) {
    static const struct {
        int version;
        const char *sql, *said;
    } cases[] = {
        {DB_VERSION, "ALTER TABLE station DROP COLUMN krs", "found no column station.krs, expected one"},
        {DB_VERSION, "ALTER TABLE station ADD COLUMN fog REAL", "found a column station.fog, expected none"},
        {DB_VERSION, "ALTER TABLE weather RENAME COLUMN hours TO hour",
         "found no column weather.hours, expected one"},
        {DB_VERSION, "DROP TABLE turn_change", "found no table turn_change, expected one"},
        {DB_VERSION, "DROP VIEW call_dated", "found no view call_dated, expected one"},
        {DB_VERSION, "DROP INDEX record_by_field", "found no index record_by_field, expected one"},
        {DB_VERSION, "DROP TABLE told; CREATE TABLE told (person, field_id, day, kind INTEGER NOT NULL)",
         "found told.day as a column , expected a column INTEGER NOT NULL"},
        {DB_VERSION, "CREATE TABLE mine (a, b, c)", "found a table mine, expected none"},
        {DB_VERSION, "CREATE TRIGGER mine AFTER INSERT ON field BEGIN DELETE FROM record; END",
         "found a trigger mine, expected none"},
        {5, "DROP TABLE turn_plan_day",
         "its tables are not those of database version 5, and it was not changed"},
        {3, "ALTER TABLE ledger DROP COLUMN et0_from_hours",
         "found no column ledger.et0_from_hours, expected one"},
        /* A version that its tables have not reached yet, and one that they have left behind. */
        {4, "PRAGMA user_version = 5", "found no table turn, expected one"},
        {5, "PRAGMA user_version = 4", "found a table turn, expected none"},
        {1, "PRAGMA user_version = 0", "found database version 0, expected 1 to "},
        {1, "PRAGMA user_version = -3", "found database version -3, expected 1 to "},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        make(cases[i].version, cases[i].sql);
        must_refuse(cases[i].said);
    }
}

static void a_table_that_lacks_is_told_without_its_columns(void **state) {
    struct text words;
    (void)state;
    make(DB_VERSION, "DROP TABLE turn; CREATE TABLE mine (a, b, c)");
    assert_int_equal(opened(DB_READ, &words), STATUS_REFUSED);
    assert_non_null(strstr(text_string(&words), "found no table turn, expected one\n"));
    assert_non_null(strstr(text_string(&words), "found a table mine, expected none\n"));
    assert_null(strstr(text_string(&words), "turn.hours"));
    assert_null(strstr(text_string(&words), "mine.a"));
    assert_non_null(strstr(text_string(&words), "`waterturn restore BACKUP --db "));
    text_free(&words);
}

static void what_changes_no_table_is_let_be(void **state) {
    static const char *const cases[] = {
        "CREATE INDEX mine ON record (at)",
        "CREATE VIEW mine AS SELECT * FROM record",
        "ANALYZE",
        /* A morning in parts: one that was broken off, and one that went through. */
        "CREATE TABLE ahead_beside (planting_id INTEGER)",
        "CREATE TABLE ahead_beside AS SELECT * FROM ahead; DROP TABLE ahead_beside; ALTER TABLE ahead RENAME "
        "TO "
        "ahead_beside; ALTER TABLE ahead_beside RENAME TO ahead",
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        make(DB_VERSION, cases[i]);
        must_take();
    }
    make(3, "CREATE VIEW mine AS SELECT * FROM record");
    must_take();
}

static void a_renamed_table_keeps_the_mark(void **state) {
    struct problems problems;
    struct db db = {.path = path};
    uint64_t mark = 0;
    (void)state;
    problems_init(&problems);
    make(DB_VERSION, "ALTER TABLE ahead RENAME TO ahead_beside; ALTER TABLE ahead_beside RENAME TO ahead");
    assert_int_equal(sqlite3_open(path, &db.handle), SQLITE_OK);
    must(schema_mark(&db, &mark, &problems), &problems);
    sqlite3_close(db.handle);
    assert_true(mark == schema_mark_of(DB_VERSION));
}

static int make_directory(void **state) {
    (void)state;
    if (mkdtemp(directory) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/farm.db", directory);
    return 0;
}

static int remove_directory(void **state) {
    static const char *const tails[] = {"", "-wal", "-shm", ".version-3"};
    (void)state;
    for (size_t i = 0; i < sizeof tails / sizeof *tails; i++) {
        char name[sizeof path + 16];
        (void)snprintf(name, sizeof name, "%s%s", path, tails[i]);
        (void)unlink(name);
    }
    return rmdir(directory);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_versions_scripts_make_the_schema_that_its_mark_is_of),
        cmocka_unit_test(a_table_that_is_not_as_its_version_has_it_is_refused_and_left_alone),
        cmocka_unit_test(a_table_that_lacks_is_told_without_its_columns),
        cmocka_unit_test(what_changes_no_table_is_let_be),
        cmocka_unit_test(a_renamed_table_keeps_the_mark),
    };
    return cmocka_run_group_tests(tests, make_directory, remove_directory);
}
