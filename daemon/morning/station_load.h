/* The days of a station out of the database, with those of its neighbours. */
#ifndef WATERTURN_STATION_LOAD_H
#define WATERTURN_STATION_LOAD_H

#include "daemon/morning/station_days.h"
#include "daemon/store/farm_store.h"

/* station_days_build() for a station of a loaded farm, as it is known on the morning of `today`. */
enum status station_days_load(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                              size_t station, int32_t first, int32_t today, int32_t last,
                              struct station_days *out, struct problems *problems);

#endif
