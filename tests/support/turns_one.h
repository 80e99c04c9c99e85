/* The one case that a test of turns works on. For test programs: it asserts. */
#ifndef TESTS_TURNS_ONE_H
#define TESTS_TURNS_ONE_H

#include "tests/support/turns_cases.h"

extern struct turns_case *one;

/* A group's setup and teardown. */
int one_begin(void **state);
int one_end(void **state);

/* Plans it; the checker verifies every limit. */
void one_plan(void);

/* The first limit of a kind that the plan reports; NULL: none. */
const struct turns_limit *one_limit(enum turns_limit_kind kind);

#endif
