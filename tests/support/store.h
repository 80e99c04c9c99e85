/* A database of its own for a test, with a small farm in it. */
#ifndef WATERTURN_TEST_STORE_H
#define WATERTURN_TEST_STORE_H

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"
#include "daemon/store/farm_store.h"

struct test_store {
    char path[600];
    struct db *db;
    struct farm farm;
    struct farm_ids ids;
    struct problems problems;
};

/* Makes the database and puts the farm of a farm file's text into it; 0, or -1 with the reason on standard
 * error. */
int test_store_open(struct test_store *store, const char *farm_json);
void test_store_close(struct test_store *store);

/* What the first source had told by the morning of `today`: days from `first` on, each of 16 to 33 degC, with
 * `rain_mm` on the first and on every `rain_every`th after it. */
enum status test_store_gauge(struct test_store *store, int32_t first, int32_t today, int rain_every,
                             double rain_mm);

/* Fails with what `problems` say, where cmocka.h was included before. */
#ifdef CMOCKA_H_
static inline void must(enum status status, const struct problems *problems) {
    struct text words;
    if (status == STATUS_OK)
        return;
    text_init(&words, 0);
    problems_print(problems, &words);
    fail_msg("%s\n%s", status_name(status), text_string(&words));
}
#endif

#endif
