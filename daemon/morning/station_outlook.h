/* The weather of the days to come at one station, as an ensemble: from its stored past, its stored forecasts
 * beside what came, and the newest forecast. A function of what is known on the morning, and of nothing else.
 */
#ifndef WATERTURN_STATION_OUTLOOK_H
#define WATERTURN_STATION_OUTLOOK_H

#include "core/decide/outlook_cost.h"
#include "daemon/morning/station_days.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"

#define STATION_MEMBERS       500
#define STATION_HISTORY_YEARS 15
#define STATION_ISSUES        400 /* mornings whose forecasts are learnt from */
#define STATION_KINDS         (REFERENCE_ASCE_TALL + 1)

/* Past days of a station with what the balance takes of them. */
struct station_history {
    struct station_days days;
    double *et0_mm[STATION_KINDS], *rain_mm; /* of each of the days; NaN: not known */
};

struct station_outlook {
    struct station_history history;
    struct outlook_errors errors; /* of the first source in preference that has forecasts */
    bool has_errors, corrected;
    struct outlook_weather weather[STATION_KINDS]; /* days 0: none can be made */
    struct outlook_usual usual[STATION_KINDS];     /* the usual year from the morning on */
    double *store;
};

/* The past days up to the day before `today`, at most STATION_HISTORY_YEARS of them. No neighbours, no
 * forecasts: a day that the station did not see is not history. */
enum status station_history_load(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                 size_t station, int32_t today, struct station_history *out,
                                 struct problems *problems);
void station_history_free(struct station_history *history);

/* What runs through an outlook's weather need, one after the other: each thread has its own. */
struct outlook_rooms {
    struct outlook_room room;
    struct outlook_cost_room cost;
    double *store;
};
enum status outlook_rooms_open(struct outlook_rooms *rooms);
void outlook_rooms_free(struct outlook_rooms *rooms);

/* NULL history arrays are of no days. */
struct outlook_history station_history_of(const struct station_history *history, enum reference_kind kind);

/* The share of wet days at this time of the year and their mean depth, mm: of the history where it is long
 * enough, else stated defaults. */
void station_climate(const struct outlook_weather_input *season, double *wet_share, double *wet_amount_mm);

/* Forecasts of a station that were taken before `today`, beside what came, as pairs by issue and day: of the
 * source `source_id`, or (0) of the first in preference that has any. A malloc'd array; *source gets its id.
 */
enum status station_pairs(struct db *db, const struct farm_station *station, long long station_id,
                          const struct station_history *history, int32_t today, long long *source_id,
                          struct outlook_pair **out, size_t *count, struct problems *problems);

/* `days` are those of the morning, with the newest forecast on the days from `today` on. */
enum status station_outlook_load(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                 size_t station, int32_t today, const struct station_days *days,
                                 struct station_outlook *out, struct problems *problems);
void station_outlook_free(struct station_outlook *outlook);

#endif
