#include "daemon/morning/station_outlook.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/store/hindsight_store.h"
#include "daemon/store/weather_store.h"

#define CLIMATE_HALF_WIDTH 30
/* Where the past is too short to say: a day in four is wet, with 8 mm. Stated defaults, no source. */
#define WET_SHARE_USUAL  0.25
#define WET_AMOUNT_USUAL 8.0

/* ---- history */

static enum status history_arrays(struct station_history *history) {
    size_t count = (size_t)history->days.count;
    double *store = calloc((STATION_KINDS + 1) * count + 1, sizeof *store);
    if (store == NULL)
        return STATUS_NO_MEMORY;
    history->rain_mm = store + STATION_KINDS * count;
    for (int kind = 0; kind < STATION_KINDS; kind++)
        history->et0_mm[kind] = store + (size_t)kind * count;
    for (size_t i = 0; i < count; i++) {
        const struct station_day *day = &history->days.day[i];
        /* What stands in for a day that was not seen is no history. */
        bool seen = day->full.tmax_c.origin == ORIGIN_MEASURED || day->full.tmax_c.origin == ORIGIN_DERIVED;
        for (int kind = 0; kind < STATION_KINDS; kind++)
            history->et0_mm[kind][i] = seen ? day->et0_mm[kind] : (double)NAN;
        history->rain_mm[i] = day->full.rain_mm.value;
    }
    return STATUS_OK;
}

enum status station_history_load(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                 size_t station, int32_t today, struct station_history *out,
                                 struct problems *problems) {
    struct weather_days observed, forecast;
    int32_t issued, first = today - 366 * STATION_HISTORY_YEARS;
    memset(out, 0, sizeof *out);
    weather_days_init(&observed);
    weather_days_init(&forecast);
    enum status status = weather_store_load(db, ids->station[station], first, today, today, today, &observed,
                                            &forecast, &issued, problems);
    /* Building the days needs none of the forecast. */
    weather_days_free(&forecast);
    weather_days_init(&forecast);
    if (status == STATUS_OK && observed.count > 0 && observed.day[0].date < today) {
        const struct station_input input = {
            .station = &farm->station[station], .observed = &observed, .forecast = &forecast};
        status = station_days_build(&input, observed.day[0].date, today, today - 1, &out->days);
        if (status == STATUS_OK)
            status = history_arrays(out);
    }
    weather_days_free(&observed);
    weather_days_free(&forecast);
    return status;
}

void station_history_free(struct station_history *history) {
    free(history->et0_mm[0]);
    station_days_free(&history->days);
    memset(history, 0, sizeof *history);
}

struct outlook_history station_history_of(const struct station_history *history, enum reference_kind kind) {
    return (struct outlook_history){history->days.first, history->days.count, history->et0_mm[kind],
                                    history->rain_mm};
}

/* ---- forecasts beside what came */

static double forecast_et0_mm(const struct farm_station *station, const struct weather_day *day) {
    struct weather_full full;
    double et0_mm;
    if (weather_complete(day, &station->site, NULL, &full) != STATUS_OK ||
        reference_et_day(&full, &station->site, REFERENCE_FAO56_GRASS, NULL, &et0_mm) != STATUS_OK)
        return NAN;
    return et0_mm;
}

static bool pair_of(const struct farm_station *station, const struct stored_forecast *told,
                    const struct station_history *history, struct outlook_pair *pair) {
    int at = told->day.date - history->days.first;
    if (history->days.count == 0 || at < 0 || at >= history->days.count)
        return false;
    *pair = (struct outlook_pair){
        .issued = told->issued,
        .date = told->day.date,
        .et0_forecast_mm = forecast_et0_mm(station, &told->day),
        .et0_mm = history->et0_mm[REFERENCE_FAO56_GRASS][at],
        .rain_forecast_mm = told->day.value[WEATHER_RAIN_MM],
        .rain_mm = history->rain_mm[at],
    };
    return true;
}

enum status station_pairs(struct db *db, const struct farm_station *station, long long station_id,
                          const struct station_history *history, int32_t today, long long *source_id,
                          struct outlook_pair **out, size_t *count, struct problems *problems) {
    struct stored_forecast *told = NULL;
    size_t told_count = 0, found = 0;
    enum status status = hindsight_store_forecasts(db, station_id, today - STATION_ISSUES, today - 1, &told,
                                                   &told_count, problems);
    if (status != STATUS_OK)
        return status;
    struct outlook_pair *pairs = calloc(told_count + 1, sizeof *pairs);
    for (size_t i = 0; pairs != NULL && i < told_count; i++) {
        if (*source_id != 0 && told[i].source_id != *source_id)
            continue;
        if (pair_of(station, &told[i], history, &pairs[found])) {
            *source_id = told[i].source_id;
            found++;
        }
    }
    free(told);
    if (pairs == NULL)
        return STATUS_NO_MEMORY;
    *out = pairs;
    *count = found;
    return STATUS_OK;
}

/* ---- the ensemble */

struct work {
    struct db *db;
    const struct farm_station *station;
    long long station_id;
    int32_t today;
    const struct station_days *days;
    struct station_outlook *outlook;
    struct problems *problems;
};

void station_climate(const struct outlook_weather_input *season, double *wet_share, double *wet_amount_mm) {
    outlook_climate(season, CLIMATE_HALF_WIDTH, wet_share, wet_amount_mm);
    if (isnan(*wet_share))
        *wet_share = WET_SHARE_USUAL;
    /* 200 mm is the most that outlook_errors_default() takes. */
    *wet_amount_mm = isnan(*wet_amount_mm) ? WET_AMOUNT_USUAL : fmin(*wet_amount_mm, 200);
}

static enum status learn(const struct work *work) {
    struct station_outlook *outlook = work->outlook;
    struct outlook_history history = station_history_of(&outlook->history, REFERENCE_FAO56_GRASS);
    const struct outlook_weather_input season = {
        .today = work->today, .history = history.count > 0 ? &history : NULL, .skip_from = CALENDAR_NONE};
    double wet_share, amount_mm;
    station_climate(&season, &wet_share, &amount_mm);
    enum status status = outlook_errors_default(wet_share, amount_mm, &outlook->errors);
    struct outlook_pair *pairs = NULL;
    size_t count = 0;
    long long source_id = 0;
    if (status == STATUS_OK)
        status = station_pairs(work->db, work->station, work->station_id, &outlook->history, work->today,
                               &source_id, &pairs, &count, work->problems);
    if (status == STATUS_OK)
        outlook_errors_learn(pairs, count, &outlook->errors);
    free(pairs);
    return status;
}

/* FNV-1a of the station's name, and the day. */
static uint64_t seed_of(const struct work *work) {
    uint64_t seed = 0xcbf29ce484222325u;
    for (const char *c = work->station->name; *c != '\0'; c++)
        seed = (seed ^ (unsigned char)*c) * 0x100000001b3u;
    return seed ^ ((uint64_t)(uint32_t)work->today * 0x9e3779b97f4a7c15u);
}

static enum status make_weather(const struct work *work, enum reference_kind kind) {
    struct station_outlook *outlook = work->outlook;
    double et0_mm[MORNING_AHEAD], rain_mm[MORNING_AHEAD];
    bool told = false;
    for (int i = 0; i < MORNING_AHEAD; i++) {
        const struct station_day *day = station_days_at(work->days, work->today + i);
        bool forecast = day != NULL && day->full.tmax_c.origin == ORIGIN_FORECAST;
        et0_mm[i] = forecast ? day->et0_mm[kind] : (double)NAN;
        rain_mm[i] = forecast ? day->full.rain_mm.value : (double)NAN;
        told = told || !isnan(et0_mm[i]);
    }
    struct outlook_history history = station_history_of(&outlook->history, kind);
    const struct outlook_weather_input input = {
        .today = work->today,
        .days = MORNING_AHEAD,
        .members = STATION_MEMBERS,
        .seed = seed_of(work),
        .issued = work->days->forecast_issued != CALENDAR_NONE ? work->days->forecast_issued : work->today,
        .et0_mm = told ? et0_mm : NULL,
        .rain_mm = told ? rain_mm : NULL,
        .correct = outlook->corrected,
        .errors = &outlook->errors,
        .history = history.count > 0 ? &history : NULL,
        .skip_from = CALENDAR_NONE,
    };
    outlook_usual_fill(&input, &outlook->usual[kind]);
    enum status status = outlook_weather_make(&input, &outlook->weather[kind]);
    /* Days that cannot be told are no fault: then there are no chances. */
    if (status != STATUS_OK)
        outlook->weather[kind].days = 0;
    return STATUS_OK;
}

static enum status weather_open(struct station_outlook *outlook) {
    size_t days = (size_t)STATION_MEMBERS * MORNING_AHEAD;
    double *store = calloc(2 * STATION_KINDS * days, sizeof *store);
    outlook->store = store;
    if (store == NULL)
        return STATUS_NO_MEMORY;
    for (int kind = 0; kind < STATION_KINDS; kind++, store += 2 * days)
        outlook->weather[kind] = (struct outlook_weather){.et0_mm = store, .rain_mm = store + days};
    return STATUS_OK;
}

enum status outlook_rooms_open(struct outlook_rooms *rooms) {
    size_t days = (size_t)STATION_MEMBERS * MORNING_AHEAD;
    double *store = calloc(3 * days + 2 * (size_t)STATION_MEMBERS, sizeof *store);
    rooms->store = store;
    rooms->cost.state = calloc(days + STATION_MEMBERS, sizeof *rooms->cost.state);
    if (store == NULL || rooms->cost.state == NULL)
        return STATUS_NO_MEMORY;
    rooms->room = (struct outlook_room){store, store + 3 * days};
    rooms->cost.stress_mm = store + days;
    rooms->cost.leached_mm = store + 2 * days;
    return STATUS_OK;
}

void outlook_rooms_free(struct outlook_rooms *rooms) {
    free(rooms->store);
    free(rooms->cost.state);
    memset(rooms, 0, sizeof *rooms);
}

enum status station_outlook_load(struct db *db, const struct farm *farm, const struct farm_ids *ids,
                                 size_t station, int32_t today, const struct station_days *days,
                                 struct station_outlook *out, struct problems *problems) {
    const struct work work = {.db = db,
                              .station = &farm->station[station],
                              .station_id = ids->station[station],
                              .today = today,
                              .days = days,
                              .outlook = out,
                              .problems = problems};
    memset(out, 0, sizeof *out);
    enum status status = station_history_load(db, farm, ids, station, today, &out->history, problems);
    if (status == STATUS_OK)
        status = hindsight_store_corrected(db, work.station_id, &out->corrected, problems);
    if (status == STATUS_OK)
        status = learn(&work);
    if (status == STATUS_OK)
        status = weather_open(out);
    for (int kind = 0; status == STATUS_OK && kind < STATION_KINDS; kind++)
        status = make_weather(&work, (enum reference_kind)kind);
    return status;
}

void station_outlook_free(struct station_outlook *outlook) {
    station_history_free(&outlook->history);
    free(outlook->store);
    memset(outlook, 0, sizeof *outlook);
}
