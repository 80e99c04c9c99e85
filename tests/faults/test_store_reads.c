/* Rows that cannot be read are never taken for rows that are not there. */
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
#include "daemon/farm/farm_file.h"
#include "daemon/store/farm_store.h"
#include "support/farms.h"

static char directory[] = "/tmp/waterturn-reads-XXXXXX";
static char path[128];

static void write_bytes(const char *bytes, size_t size) {
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, size, file), size);
    assert_int_equal(fclose(file), 0);
}

/* The farm file of what the database holds; NULL when it says that it cannot be read. */
static char *exported(struct problems *problems) {
    struct db *db = NULL;
    struct farm farm;
    char *text = NULL;
    if (db_open(path, DB_READ, &db, problems) != STATUS_OK)
        return NULL;
    if (farm_store_load(db, &farm, problems) == STATUS_OK) {
        text = farm_file_write(&farm);
        farm_free(&farm);
    }
    db_close(db);
    return text;
}

static void make_database(struct problems *problems) {
    struct farm farm;
    struct db *db = NULL;
    size_t size = 0;
    char *text = farms_text("fixtures/farms/good/every_key.json", &size);
    assert_non_null(text);
    assert_int_equal(farm_file_read("every_key.json", text, size, &farm, problems), STATUS_OK);
    free(text);
    assert_int_equal(db_open(path, DB_CREATE, &db, problems), STATUS_OK);
    assert_int_equal(farm_store_save(db, &farm, false, problems), STATUS_OK);
    farm_free(&farm);
    db_close(db);
}

/* Each page in turn is overwritten: the farm is told to be unreadable, or it is whole (the page is not one of
 * its). What no case may give is a farm that lacks something. */
static void a_page_that_is_spoilt_never_makes_a_smaller_farm(void **state) {
    (void)state;
    enum { PAGE = 4096 };
    static struct problems problems;
    size_t size = 0;
    char *bytes = NULL;
    int refused = 0, whole = 0;
    problems_init(&problems);
    make_database(&problems);
    char *before = exported(&problems);
    assert_non_null(before);
    assert_int_equal(file_read(path, (size_t)16 << 20, &bytes, &size, &problems), STATUS_OK);
    for (size_t page = 0; page < size / PAGE; page++) {
        char kept[PAGE];
        memcpy(kept, bytes + page * PAGE, PAGE);
        memset(bytes + page * PAGE, 0xff, PAGE);
        write_bytes(bytes, size);
        memcpy(bytes + page * PAGE, kept, PAGE);
        size_t told = problems.count;
        char *after = exported(&problems);
        if (after == NULL) {
            assert_true(problems.count > told);
            refused++;
        } else {
            assert_string_equal(after, before);
            whole++;
        }
        free(after);
    }
    printf("# measured %d pages spoilt in turn: %d times refused, %d times whole\n", refused + whole, refused,
           whole);
    assert_true(refused >= 10);
    assert_true(whole >= 1);
    free(bytes);
    free(before);
    problems_free(&problems);
}

static int open_directory(void **state) {
    (void)state;
    if (mkdtemp(directory) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/farm.db", directory);
    return 0;
}

static int remove_directory(void **state) {
    (void)state;
    char other[160];
    static const char *const tails[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        (void)snprintf(other, sizeof other, "%s%s", path, tails[i]);
        (void)unlink(other);
    }
    return rmdir(directory);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_page_that_is_spoilt_never_makes_a_smaller_farm),
    };
    return cmocka_run_group_tests(tests, open_directory, remove_directory);
}
