/* Cells of a CSV file (RFC 4180). */
#ifndef WATERTURN_CSV_CELL_H
#define WATERTURN_CSV_CELL_H

#include <stdint.h>

#include "daemon/base/text.h"

/* Text, quoted; what a spreadsheet would take for a formula (= + - @ tab return) gets an apostrophe before
 * it. */
void csv_add_text(struct text *out, const char *text);

/* A comma, then the number with every digit; an empty cell for a missing value. */
void csv_add_number(struct text *out, double value);

/* A comma, then "YYYY-MM-DD"; an empty cell for no date. */
void csv_add_date(struct text *out, int32_t date);

#endif
