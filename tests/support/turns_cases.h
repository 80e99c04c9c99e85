/* Seeded instances of the turns, of all kinds and sizes. */
#ifndef TESTS_TURNS_CASES_H
#define TESTS_TURNS_CASES_H

#include "core/decide/turns.h"

#define CASE_FIELDS   220
#define CASE_SUPPLIES 12
#define CASE_DAYS     (CASE_FIELDS * 3 * TURNS_DAYS_MAX)

struct turns_case {
    uint64_t seed;
    struct turns_problem problem;
    struct turns_supply supply[CASE_SUPPLIES];
    struct turns_field field[CASE_FIELDS];
    struct turns_day day[CASE_DAYS];
    struct turns_pin pin[8];
    struct turns_forbid forbid[8];
    /* room for a plan */
    struct turn turn[CASE_FIELDS * TURNS_DAYS_MAX + 8];
    struct turns_supply_use supply_use[CASE_SUPPLIES];
    struct turns_field_use field_use[CASE_FIELDS];
    struct turns_limit limit[64];
    struct turns_plan plan;
};

/* A number in least..most; whole numbers in least..most, both in it. */
double case_number(struct turns_case *it, double least, double most);
int case_whole(struct turns_case *it, int least, int most);

/* No fields and no supplies yet: room for a plan, one course, the default effort. */
void case_empty(struct turns_case *it, uint64_t seed);
/* Small ones: 1..3 supplies, up to 6 fields, 2..8 days, all that the problem can hold switched on by chance.
 */
void case_any(struct turns_case *it, uint64_t seed);
/* Two or three fields, a few hours on two or three days. */
void case_tiny(struct turns_case *it, uint64_t seed);
/* Two fields of 10 ha on a well of 100 m3/h that serves one at a time, five days without rain: an hour leaves
 * 0.8 mm. Field 0 is dry, field 1 is not. */
void case_two_fields(struct turns_case *it);
/* Pivots on wells that serve one at a time, `share` of the peak need. */
void case_pivots(struct turns_case *it, uint64_t seed, int wells, int per_well, double share);
/* Fields on one canal, many at a time. */
void case_canal(struct turns_case *it, uint64_t seed, int fields, double share);

/* Plans with a workspace of its own; the plan is in it->plan. */
enum status case_plan(struct turns_case *it);
enum status case_rule(struct turns_case *it, enum turns_rule rule);

#endif
