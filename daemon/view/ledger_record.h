/* The record of a field's waterings that water-management programmes ask for: field, soil, crop, method of
 * deciding, dates, depths, volumes. */
#ifndef WATERTURN_LEDGER_RECORD_H
#define WATERTURN_LEDGER_RECORD_H

#include <cjson/cJSON.h>

#include "daemon/view/view.h"

/* Adds "record" to a view: its facts, one entry for each day with irrigation, their sums. */
void ledger_record_add(const struct view_context *context, const struct field_facts *facts,
                       const struct ledger_row *rows, size_t count, cJSON *view);

#endif
