/* Judges plans of turns from the words of core/decide/turns.h alone: hour by hour, in plain loops, sharing no
 * code with the planner. */
#ifndef TESTS_TURNS_CHECKER_H
#define TESTS_TURNS_CHECKER_H

#include "core/decide/turns.h"

#define CHECKER_TEXT 200

/* True when the plan keeps every limit and all that it reports (hours, volumes, depths, money) is so. `what`
 * tells the first fault. */
bool checker_accepts(const struct turns_problem *problem, const struct turns_plan *plan,
                     char what[CHECKER_TEXT]);

/* Money of turns, whatever limits they break. */
double checker_cost(const struct turns_problem *problem, const struct turn *turn, int count);

/* What the simple rule costs, for a problem without pins. */
double checker_rule(const struct turns_problem *problem, enum turns_rule rule);

/* The least cost of all plans there are, by trying every one: only for tiny problems with one supply and no
 * pins. `plans`: how many there were. */
double checker_best(const struct turns_problem *problem, long *plans);

#endif
