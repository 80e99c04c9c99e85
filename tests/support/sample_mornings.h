/* Invented mornings for the tests of what people see: eight fields, all kinds of call, long and hostile
 * names. */
#ifndef WATERTURN_SAMPLE_MORNINGS_H
#define WATERTURN_SAMPLE_MORNINGS_H

#include "daemon/view/view.h"

#define SAMPLE_FIELDS 8

/* Friday 2026-06-05. */
int32_t sample_today(void);

struct farm_facts sample_facts(void);

/* The morning of field `index`, 0..SAMPLE_FIELDS-1. */
struct field_morning sample_morning(int index);

/* What else is known of it; nothing in it is to be freed. */
struct field_facts sample_field_facts(int index);

/* Row `index` (0 the oldest) of `count` rows of the ledger of field `field`, the last of them yesterday. */
struct ledger_row sample_row(int field, int index, int count);

#endif
