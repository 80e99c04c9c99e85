/* What the database has and a farm lacks, for farm_store_save(). */
#ifndef WATERTURN_FARM_SWEEP_H
#define WATERTURN_FARM_SWEEP_H

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* STATUS_REFUSED, with a problem for each, when fields that hold records are not in the farm. */
enum status farm_sweep_judge(struct db *db, const struct farm *farm, struct problems *problems);

/* Removes plantings, fields, sources, supplies, soils and stations that are not in the farm. */
enum status farm_sweep(struct db *db, const struct farm *farm, struct problems *problems);

#endif
