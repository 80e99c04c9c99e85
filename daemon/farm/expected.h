/* "found X, expected Y" of a value that somebody wrote: in English, and with the code and the parts by which
 * other languages say it (problem_tell()). */
#ifndef WATERTURN_EXPECTED_H
#define WATERTURN_EXPECTED_H

#include "daemon/base/problem.h"
#include "daemon/farm/quantity.h"

/* `expected`: a phrase, as from quantity_expected(); other languages have it under the phrase itself. */
void expected_tell(struct problems *problems, const struct problem_place *place, const char *found,
                   const char *expected);
/* A value outside its limits. */
void expected_tell_limits(struct problems *problems, const struct problem_place *place, const char *found,
                          const struct quantity *quantity, enum quantity_kind kind,
                          const struct quantity_limits *limits);
/* No whole number, or one outside its limits. */
void expected_tell_whole(struct problems *problems, const struct problem_place *place, const char *found,
                         bool hours, double low, double high);
/* Another word than those of a list, which ends with NULL. */
void expected_tell_choice(struct problems *problems, const struct problem_place *place, const char *found,
                          const char *(*choice)(int index));

#endif
