/* What the workings of a day are made from. */
#ifndef WATERTURN_WORKINGS_H
#define WATERTURN_WORKINGS_H

#include "daemon/farm/neighbours.h"
#include "daemon/morning/planting_run.h"

struct workings_facts {
    struct farm_field field;
    struct farm_station station;
    struct neighbour_place neighbour[FARM_NEIGHBOURS_MAX]; /* in the order of the station's list */
    char crop_name[FARM_NAME_SIZE];
    int32_t first, last;      /* of the days that have workings */
    struct planting_day day;  /* reckoned anew */
    bool stored;              /* the ledger has the day, */
    struct ledger_row ledger; /* and this is its row */
};

/* Whether the day's row and that of the ledger are the same to the last bit. */
bool workings_agree(const struct season_day *reckoned, const struct season_day *stored);

#endif
