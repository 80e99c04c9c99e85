/* Which member of the farm book goes into which column. Shared by the writer and the reader of the book. */
#ifndef WATERTURN_FARM_COLUMNS_H
#define WATERTURN_FARM_COLUMNS_H

#include "daemon/farm/farm.h"
#include "daemon/store/columns.h"

enum farm_table {
    FARM_TABLE_FARM,
    FARM_TABLE_STATION,
    FARM_TABLE_SOURCE,
    FARM_TABLE_SOIL,
    FARM_TABLE_LAYER,
    FARM_TABLE_SUPPLY,
    FARM_TABLE_WINDOW,
    FARM_TABLE_CLOSURE,
    FARM_TABLE_ALLOTMENT,
    FARM_TABLE_FIELD,
    FARM_TABLE_PLANTING,
    FARM_TABLE_TURN_MARK,
    FARM_TABLE_RECORD,
    FARM_TABLE_TRIAL,
    FARM_TABLE_TREATMENT,
    FARM_TABLE_PLOT
};

/* Names that stand for other rows (station of a source, field of a planting) are not among the columns. */
const struct column *farm_columns(enum farm_table table, int *count);

#endif
