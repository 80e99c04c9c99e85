/* The lists within a supply: its hours, closures and allotments. Only daemon/store/ includes this. */
#ifndef WATERTURN_SUPPLY_PARTS_H
#define WATERTURN_SUPPLY_PARTS_H

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* Writes those of all supplies in place of what is there, within the caller's transaction. */
enum status supply_parts_save(struct db *db, const struct farm *farm, struct problems *problems);
/* Reads them into the supplies that are there. */
enum status supply_parts_load(struct db *db, struct farm *farm, struct problems *problems);

#endif
