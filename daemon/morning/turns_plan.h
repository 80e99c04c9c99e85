/* The plan of one supply, made from what a morning knows, and set beside the turns that stand. */
#ifndef WATERTURN_TURNS_PLAN_H
#define WATERTURN_TURNS_PLAN_H

#include "daemon/base/problem.h"
#include "daemon/morning/turns_problem.h"

/* `at`: the instant. STATUS_NO_MEMORY, and what turns_plan() returns. Freed with turns_made_free() whatever
 * is returned. */
enum status turns_make(const struct turns_ask *ask, const struct farm_supply *supply, int64_t at,
                       struct turns_made *out);
/* What the turns that stand cost as of now, with the pins and hours kept dry of `ask`; NaN when nothing can
 * be planned. */
enum status turns_cost_standing(const struct turns_ask *ask, const struct farm_supply *supply, double *cost);

/* ---- what turns_plan.c and turns_match.c share */

/* Sets a plan's turns beside those that stand: of one field those go together that are nearest in time, one
 * to one, and at most TURNS_SAME_HOURS apart (turns_change.h). Fills turns, what is gone, and the changes. */
#define TURNS_SAME_HOURS 72
enum status turns_match(const struct turns_ask *ask, const struct turns_task *task,
                        const struct turns_plan *plan, int64_t at, struct turns_made *out);

#endif
