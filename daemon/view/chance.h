/* What the outlook of a call says, in plain words: "7 in 10". */
#ifndef WATERTURN_CHANCE_H
#define WATERTURN_CHANCE_H

#include "daemon/view/say.h"

#define DATES_SIZE (4 * SAY_SIZE)

/* "7 in 10"; "under 1 in 100" and "over 99 in 100" at the ends; "not known" when not finite. */
char *say_chance(const struct view_context *context, double chance, char out[SAY_SIZE]);

/* How likely a call's reason is, to be put after it: ", 9 in 10 that it is"; "" when there is no outlook or
 * no more to say. */
char *chance_clause(const struct view_context *context, const struct field_morning *morning,
                    char out[SAY_SIZE]);

/* By when the field is dry with 1, 5 and 9 chances in 10, as far as the outlook reaches: "Dry by Thursday
 * (1 in 10), by Sunday (5 in 10)"; NULL without such a day, when it is dry this morning, and when the three
 * are one day. */
char *chance_dates(const struct view_context *context, const struct field_morning *morning,
                   char out[DATES_SIZE]);

/* What of a turn rain may carry below the roots, when that is likely enough to matter; NULL otherwise. */
char *chance_loss(const struct view_context *context, const struct field_morning *morning,
                  char out[SAY_SIZE]);

/* The figures, and the days of the outlook as a list "outlook". */
void chance_figures(const struct field_morning *morning, cJSON *field);

#endif
