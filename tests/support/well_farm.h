/* Farms for tests of turns: some fields share a well that serves one at a time, others have their own water.
 * The farms and their weather are invented. */
#ifndef WATERTURN_TESTS_WELL_FARM_H
#define WATERTURN_TESTS_WELL_FARM_H

#include <stdint.h>

#include "daemon/morning/turns_book.h"
#include "support/store.h"

#define WELL_FARM_FIRST 20580 /* 2026-05-07 */
#define WELL_FARM_TODAY (WELL_FARM_FIRST + 70)

/* Fields are letters. They are alike: 10 ha at 100 m3/h, so 1 mm an hour as delivered, 0.8 mm of it net (by
 * hand), of one soil and station. */
struct well_farm {
    const char *fields, *at_well, *planted; /* all; those that draw from the well; those with corn */
    int shortest_h, longest_h;              /* a turn */
    int allotment_m3;                       /* of the well; 0: no limit */
};

/* A database of its own with such a farm in it; as test_store_open(). */
int well_farm_make(struct test_store *store, const struct well_farm *farm);

/* The farm of what stands below: A and B share the well, C has its own water. cmocka's set-up (with the
 * morning of WELL_FARM_TODAY) and tear-down; the state is the struct test_store. */
int well_farm_open(void **state);
int well_farm_close(void **state);

/* The morning of a day, at 5:00. */
void well_farm_morning(struct test_store *store, int32_t day);

/* All turns; freed with stored_turns_free(). */
struct stored_turns well_farm_turns(struct test_store *store);

/* A form filled in at an hour of WELL_FARM_TODAY; `number` makes its token. */
struct book_form well_farm_form(int hour, int number);

/* A word that pins a turn of so many hours. */
struct turns_word well_farm_pin(const char *field, int32_t date, int hour, int hours);

/* The hour at which a turn begins, from the midnight before WELL_FARM_TODAY on. */
int well_farm_begins(const struct stored_turn *turn);

/* Fails where turns that are to come overlap. */
void well_farm_no_two_overlap(struct test_store *store);

#endif
