/* The columns of the ledger: one table for the page, the API and the CSV. */
#ifndef WATERTURN_LEDGER_COLUMNS_H
#define WATERTURN_LEDGER_COLUMNS_H

#include <stddef.h>
#include <stdint.h>

#include "core/balance/season.h"

/* COLUMN_DATA: for the API and the CSV only; these stand after all others. */
enum ledger_column_kind { COLUMN_DEPTH, COLUMN_RATIO, COLUMN_LENGTH, COLUMN_DATA };

struct ledger_column {
    const char *name;   /* its words stand at symbol.NAME and column.NAME */
    const char *member; /* as in struct season_day, with the unit of core/ */
    enum ledger_column_kind kind;
    size_t offset;       /* of the double in struct season_day */
    size_t total_offset; /* of the sum in struct season_total, or NO_TOTAL */
};

#define NO_TOTAL SIZE_MAX

/* Ends with an entry without a name. */
extern const struct ledger_column ledger_columns[];

double ledger_value(const struct season_day *day, const struct ledger_column *column);

#endif
