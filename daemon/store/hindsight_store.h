/* What hindsight looks back on: forecasts as they were issued, calls as they were given with what the outlook
 * said, and whether a station's forecasts are corrected. All SQL is behind this. */
#ifndef WATERTURN_HINDSIGHT_STORE_H
#define WATERTURN_HINDSIGHT_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/source/weather_days.h"
#include "daemon/store/ledger_store.h"

/* One day of one stored forecast. */
struct stored_forecast {
    long long source_id;
    char source[FARM_NAME_SIZE];
    int32_t issued; /* the morning for which it was taken */
    struct weather_day day;
};

/* The forecasts of a station that were taken for the mornings `first` to `last`: by source in their order of
 * preference, then by issue and by day; of several downloads for a morning the newest. A malloc'd array. */
enum status hindsight_store_forecasts(struct db *db, long long station_id, int32_t first, int32_t last,
                                      struct stored_forecast **out, size_t *count, struct problems *problems);

/* Whether forecasts of a station are corrected by what was learnt of their errors; they are until somebody
 * says otherwise. */
enum status hindsight_store_corrected(struct db *db, long long station_id, bool *corrected,
                                      struct problems *problems);
enum status hindsight_store_correct(struct db *db, long long station_id, bool corrected,
                                    struct problems *problems);

/* A call as it was given. */
struct stored_call {
    char field[FARM_NAME_SIZE];
    long long planting_id; /* 0: none */
    struct call call;
    struct call_outlook outlook;
};

/* The calls of a field, or of all (NULL), given from `first` to `last`, in the order of the farm file and
 * then of the mornings. A malloc'd array. */
enum status hindsight_store_calls(struct db *db, const char *field, int32_t first, int32_t last,
                                  struct stored_call **out, size_t *count, struct problems *problems);

#endif
