/* Numbers as text, without the locale. */
#ifndef WATERTURN_NUMBER_H
#define WATERTURN_NUMBER_H

#include "daemon/base/text.h"

/* The fewest digits that read back as the same number, laid out as ECMAScript's Number::toString does: "0.1",
 * "1e+21", "-0" as "0", "NaN", "Infinity". */
void number_add_shortest(struct text *out, double value);

#define NUMBER_SIZE 400 /* any double with three decimals */

/* The very characters of printf's "%.*f", with 0 to 3 decimals; what a page is full of without printf.
 * Returns `out`. */
char *number_fixed(double value, int decimals, char out[NUMBER_SIZE]);

#endif
