/* The workings as a table: every quantity of a day in the order in which it is reckoned. */
#ifndef WATERTURN_WORKINGS_TABLE_H
#define WATERTURN_WORKINGS_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/view/workings_numbers.h"

/* A quantity that is given has a source in `from`, one that is reckoned has an equation, its formula and what
 * goes into it. Formulas are arithmetic as it is written: + − × / ^ ( ) √ exp ln sin cos tan arccos min max,
 * numbers, and the symbols of the inputs. */
struct workings_line {
    const char *section; /* words at work.section.NAME; NULL: that of the line before */
    const char *key;     /* its words stand at work.KEY */
    const char *symbol;
    const char *unit;
    int decimals;
    size_t offset; /* of the double in struct workings_numbers */
    enum workings_choice choice;
    int way;                      /* the line stands when choice[choice] is this */
    const char *equation;         /* "12": of FAO-56; else as it reads; NULL: given */
    const char *formula, *inputs; /* keys with blanks between */
    const char *from;             /* words at from.NAME; "element": by what the weather file said */
    int element;                  /* enum weather_element, for "element" */
    const char *member;           /* of struct season_day, when the ledger has it; NULL */
    bool quiet;                   /* not told as a line of its own where it is 0 */
};

/* Ends with a line without a key. */
extern const struct workings_line workings_table[];

#endif
