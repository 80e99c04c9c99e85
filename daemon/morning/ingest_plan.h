/* What a morning asks its sources for: one request for a whole file, or one for each span or year of days
 * that are still missing. */
#ifndef WATERTURN_INGEST_PLAN_H
#define WATERTURN_INGEST_PLAN_H

#include "daemon/source/credentials.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/weather_store.h"

struct ingest_request {
    size_t source; /* index in farm->source */
    long long station_id;
    const struct farm_station *station;
    int32_t start, end; /* CALENDAR_NONE: whatever the file has */
    char *address;      /* with its key, for the request alone */
    char *shown;        /* without, for all else */
    struct source_memory memory;
};

struct ingest_plan {
    struct ingest_request *request;
    size_t count, room;
};

/* The first day whose weather a station has to tell: for the plantings at it and at the stations that it is a
 * neighbour of, with WEATHER_BEFORE_D days before them. */
#define WEATHER_BEFORE_D 14
enum status weather_first_needed(struct db *db, const char *station, int32_t today, int32_t *first,
                                 struct problems *problems);

/* Adds the requests of all sources, those of one source beside each other, in the order of the farm. */
enum status ingest_plan_make(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                             const struct credentials *credentials, int32_t today, struct ingest_plan *plan,
                             struct problems *problems);
void ingest_plan_free(struct ingest_plan *plan);

#endif
