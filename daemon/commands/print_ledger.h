/* The ledger in a terminal. */
#ifndef WATERTURN_PRINT_LEDGER_H
#define WATERTURN_PRINT_LEDGER_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/store/ledger_store.h"

void print_ledger(const char *field, const struct ledger_row *rows, size_t count, bool us_units);
void print_ledger_csv(const char *field, const struct ledger_row *rows, size_t count);

#endif
