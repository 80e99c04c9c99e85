/* Which member of the turns goes into which column; shared by their writer and their reader. */
#ifndef WATERTURN_TURNS_INSIDE_H
#define WATERTURN_TURNS_INSIDE_H

#include "daemon/store/db_inside.h"
#include "daemon/store/turns_store.h"

enum turns_table { TURNS_TABLE_PLAN, TURNS_TABLE_LIMIT, TURNS_TABLE_CHANGE, TURNS_TABLE_TURN };

/* Names that stand for other rows, ids and instants are not among the columns. */
const struct column *turns_columns(enum turns_table table, int *count);

#endif
