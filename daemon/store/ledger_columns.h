/* Which member of a ledger row, a day ahead and a call goes into which column. */
#ifndef WATERTURN_STORE_LEDGER_COLUMNS_H
#define WATERTURN_STORE_LEDGER_COLUMNS_H

#include "daemon/store/columns.h"
#include "daemon/store/ledger_store.h"

const struct column *ledger_row_columns(int *count); /* of struct ledger_row */
const struct column *past_columns(int *count);       /* of struct past_day */
const struct column *ahead_columns(int *count);      /* of struct season_day */
const struct column *call_columns(int *count);       /* of struct call */

/* A day of the outlook of a field's call. */
struct outlook_row {
    int ahead; /* days after the call's */
    double chance, depletion_mm[OUTLOOK_LINES], rain_mm;
};
const struct column *outlook_columns(int *count);

/* The days ahead of the outlook of a field's call. */
#define CALL_OUTLOOK_SELECT                                                                                  \
    "SELECT chance, p10_mm, p50_mm, p90_mm, rain_mm FROM outlook WHERE field_id = ? AND day = ? ORDER BY "   \
    "ahead"
/* False: a row could not be read. */
bool call_outlook_read(sqlite3_stmt *select, long long field_id, int32_t day, struct call_outlook *out);

#endif
