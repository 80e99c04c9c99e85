#include "tests/support/turns_one.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/support/turns_checker.h"

struct turns_case *one;

int one_begin(void **state) {
    (void)state;
    one = malloc(sizeof *one);
    return one == NULL;
}

int one_end(void **state) {
    (void)state;
    free(one);
    return 0;
}

void one_plan(void) {
    char what[CHECKER_TEXT];
    assert_int_equal(case_plan(one), STATUS_OK);
    if (!checker_accepts(&one->problem, &one->plan, what))
        fail_msg("%s", what);
}

const struct turns_limit *one_limit(enum turns_limit_kind kind) {
    for (int i = 0; i < one->plan.limit_count; i++)
        if (one->limit[i].kind == kind)
            return &one->limit[i];
    return NULL;
}
