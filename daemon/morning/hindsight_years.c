/* The half of hindsight.h that runs past years again. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/decide/hindcast.h"
#include "daemon/morning/hindsight.h"
#include "daemon/morning/planting_run.h"

#define YEAR_MEMBERS 200

struct work {
    struct db *db;
    const struct farm *farm;
    const struct farm_ids *ids;
    int32_t today;
    struct hindsight *hindsight;
    struct hindcast_room room;
    double *store;
    struct season_input *weather; /* of the season that is run */
    struct problems *problems;
};

static enum status rooms_open(struct work *work) {
    size_t days = (size_t)YEAR_MEMBERS * HINDCAST_DAYS;
    double *store = calloc(5 * days + 2 * (size_t)YEAR_MEMBERS, sizeof *store);
    work->store = store;
    work->room.cost.state = calloc(days + YEAR_MEMBERS, sizeof *work->room.cost.state);
    if (store == NULL || work->room.cost.state == NULL)
        return STATUS_NO_MEMORY;
    work->room.weather = (struct outlook_weather){.et0_mm = store, .rain_mm = store + days};
    work->room.outlook = (struct outlook_room){store + 2 * days, store + 5 * days};
    work->room.cost.stress_mm = store + 3 * days;
    work->room.cost.leached_mm = store + 4 * days;
    return STATUS_OK;
}

static void add_morning(void *context, const struct hindcast_morning *morning) {
    struct hindsight *hindsight = context;
    if (morning->share_morning >= 1)
        return;
    for (int i = 0; i < HINDCAST_DAYS; i++) {
        outlook_score_add(&hindsight->year_score, i, morning->outlook->passes[i], morning->passed[i]);
        outlook_score_add(&hindsight->year_path_score, i, morning->passed_path[i], morning->passed[i]);
    }
}

/* Shifts the planting to a year; its observed stages are that season's own. */
static void setup_of_year(const struct season_setup *setup, int32_t shift, struct season_setup *out) {
    *out = *setup;
    out->first_date += shift;
    out->planting_date += shift;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        out->stage_date[k] = CALENDAR_NONE;
}

/* The weather of a season. False: a day of it is not known. */
static bool season_weather(const struct work *work, const struct station_history *history,
                           enum reference_kind kind, int32_t first, int days) {
    for (int i = 0; i < days; i++) {
        const struct station_day *day = station_days_at(&history->days, first + i);
        int at = first + i - history->days.first;
        if (day == NULL || isnan(history->et0_mm[kind][at]) || isnan(history->rain_mm[at]))
            return false;
        struct season_input *input = &work->weather[i];
        *input = season_input_empty(first + i);
        input->et0_mm = history->et0_mm[kind][at];
        input->wind_2m_m_s = day->full.wind_2m_m_s.value;
        input->rh_min_pct = day->full.rh_min_pct;
        input->tmax_c = day->full.tmax_c.value;
        input->tmin_c = day->full.tmin_c.value;
        input->rain_mm = history->rain_mm[at];
    }
    return true;
}

static enum status add_year(struct work *work, const char *field, int year, bool by_cost,
                            const struct hindcast_season *season) {
    struct hindsight *hindsight = work->hindsight;
    struct hindsight_year *grown =
        realloc(hindsight->year, (hindsight->year_count + 1) * sizeof *hindsight->year);
    if (grown == NULL)
        return STATUS_NO_MEMORY;
    hindsight->year = grown;
    struct hindsight_year *row = &grown[hindsight->year_count++];
    memset(row, 0, sizeof *row);
    memcpy(row->field, field, strlen(field) < sizeof row->field ? strlen(field) : sizeof row->field - 1);
    row->year = year;
    row->by_cost = by_cost;
    row->turns = season->turns;
    row->gross_mm = season->total.irrigation_gross_mm;
    row->percolation_mm = season->total.percolation_mm;
    row->yield = season->yield;
    return STATUS_OK;
}

static int season_days(const struct crop *crop) {
    double days = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        days += isnan(crop->stage_days[k]) ? 0 : crop->stage_days[k];
    return (int)days + HINDCAST_DAYS;
}

static enum status run_year(struct work *work, const struct farm_field *field,
                            const struct season_setup *setup, const struct station_history *history,
                            enum reference_kind kind, int days) {
    struct outlook_prices prices = outlook_prices_default();
    struct outlook_history past = station_history_of(history, kind);
    if (!season_weather(work, history, kind, setup->first_date, days))
        return STATUS_OK;
    struct hindcast_input input = {.setup = setup,
                                   .weather = work->weather,
                                   .days = days,
                                   .system = &field->system,
                                   .prices = &prices,
                                   .history = &past,
                                   .members = YEAR_MEMBERS,
                                   .seed = (uint64_t)setup->first_date,
                                   .seen_context = work->hindsight};
    enum status status = STATUS_OK;
    for (int by_cost = 0; status == STATUS_OK && by_cost < 2; by_cost++) {
        struct hindcast_season season;
        input.by_cost = by_cost == 1;
        input.seen = by_cost == 1 ? add_morning : NULL;
        input.outcomes = by_cost == 1;
        status = hindcast_run(&input, &work->room, &season);
        /* A year that cannot be run (no other year to look at, degree-days never reached) is left out. */
        if (status == STATUS_OK)
            status = add_year(work, field->name, calendar_to_civil(setup->planting_date).year, by_cost == 1,
                              &season);
        else if (status != STATUS_NO_MEMORY)
            return STATUS_OK;
    }
    return status;
}

static enum status run_field(struct work *work, const struct farm_field *field) {
    int index = planting_current(work->farm, field->name, work->today);
    size_t station = 0;
    while (station < work->farm->station_count &&
           strcmp(work->farm->station[station].name, field->station) != 0)
        station++;
    if (index < 0 || field->system.kind == SYSTEM_NONE || station == work->farm->station_count)
        return STATUS_OK;
    const struct farm_planting *planting = &work->farm->planting[index];
    struct season_setup setup, shifted;
    struct station_history history;
    enum status status = farm_planting_setup_seen(work->farm, planting, work->today, &setup);
    if (status == STATUS_OK)
        status = station_history_load(work->db, work->farm, work->ids, station, work->today, &history,
                                      work->problems);
    if (status != STATUS_OK)
        return status;
    int days = season_days(&planting->crop) + planting->planting_date - planting->start_date;
    work->weather = calloc((size_t)days, sizeof *work->weather);
    if (work->weather == NULL)
        status = STATUS_NO_MEMORY;
    for (int back = STATION_HISTORY_YEARS; status == STATUS_OK && back > 0; back--) {
        setup_of_year(&setup, -(int32_t)lround(back * 365.2425), &shifted);
        status = run_year(work, field, &shifted, &history, planting->crop.reference, days);
    }
    free(work->weather);
    station_history_free(&history);
    return status;
}

enum status hindsight_years(struct db *db, const char *field, int32_t today, struct hindsight *hindsight,
                            struct problems *problems) {
    struct farm farm;
    struct farm_ids ids;
    enum status status = farm_store_load(db, &farm, problems);
    if (status != STATUS_OK)
        return status;
    struct work work = {
        .db = db, .farm = &farm, .ids = &ids, .today = today, .hindsight = hindsight, .problems = problems};
    status = farm_store_ids(db, &farm, &ids, problems);
    if (status == STATUS_OK)
        status = rooms_open(&work);
    for (size_t i = 0; status == STATUS_OK && i < farm.field_count; i++) {
        if (field == NULL || strcmp(farm.field[i].name, field) == 0)
            status = run_field(&work, &farm.field[i]);
    }
    free(work.store);
    free(work.room.cost.state);
    farm_ids_free(&ids);
    farm_free(&farm);
    return status;
}
