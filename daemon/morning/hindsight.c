#include "daemon/morning/hindsight.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/morning/planting_run.h"
#include "daemon/morning/station_load.h"
#include "daemon/store/weather_store.h"

/* What everything in here works on. */
struct work {
    struct db *db;
    const struct farm *farm;
    const struct farm_ids *ids;
    int32_t today;
    struct station_days *days; /* of each station; built when the first field asks */
    struct hindsight *hindsight;
    struct problems *problems;
};

static int32_t first_start(const struct farm *farm, int32_t today) {
    int32_t first = today;
    for (size_t i = 0; i < farm->planting_count; i++)
        first = farm->planting[i].start_date < first ? farm->planting[i].start_date : first;
    return first;
}

static enum status days_of(struct work *work, const char *station, const struct station_days **out) {
    for (size_t i = 0; i < work->farm->station_count; i++) {
        if (strcmp(work->farm->station[i].name, station) != 0)
            continue;
        *out = &work->days[i];
        return work->days[i].day != NULL
                   ? STATUS_OK
                   : station_days_load(work->db, work->farm, work->ids, i,
                                       first_start(work->farm, work->today), work->today, work->today,
                                       &work->days[i], work->problems);
    }
    return STATUS_NOT_FOUND;
}

/* ---- one planting, day by day */

struct walk {
    const struct work *work;
    const struct farm_field *field;
    const struct farm_planting *planting;
    const struct station_days *days;
    struct season_prepared prepared;
    struct season_state state;
};

/* The day as it was observed, with the records of the field. False: it is not known. */
static bool day_input(const struct walk *walk, int32_t date, struct season_input *input) {
    const struct station_day *day = date < walk->work->today ? station_days_at(walk->days, date) : NULL;
    if (day == NULL || isnan(day->et0_mm[walk->planting->crop.reference]))
        return false;
    *input = season_input_empty(date);
    input->et0_mm = day->et0_mm[walk->planting->crop.reference];
    input->wind_2m_m_s = day->full.wind_2m_m_s.value;
    input->rh_min_pct = day->full.rh_min_pct;
    input->tmax_c = day->full.tmax_c.value;
    input->tmin_c = day->full.tmin_c.value;
    input->rain_mm = day->full.rain_mm.value;
    (void)farm_records_apply(walk->work->farm, walk->field, date, input);
    return true;
}

static bool is_dry(const struct season_day *day, bool morning) {
    double depletion_mm = morning ? day->depletion_start_mm : day->depletion_mm;
    return crop_growing(day->stage) && depletion_mm >= day->allowed_mm;
}

/* Whether the call knew what is recorded for its own day: its depletion is then the morning's less that. */
static bool knew_records(const struct walk *walk, const struct call *said, const struct season_input *today) {
    double taken_mm = walk->state.root_zone.depletion_mm - said->depletion_mm;
    return today->irrigation_net_mm > 0 && taken_mm >= 0.5 * today->irrigation_net_mm;
}

/* What came of a morning when nothing was given but what its call knew of. A reading of those days knows of
 * turns: it is left out. */
static enum status look_on(const struct walk *walk, struct hindsight_call *call) {
    struct season_state state = walk->state;
    bool dry = false;
    call->came_dry = CALENDAR_NONE;
    for (int i = 0; i < MORNING_AHEAD; i++) {
        struct season_input input;
        struct season_day day;
        if (!day_input(walk, call->said.call.date + i, &input) || isnan(input.rain_mm))
            return STATUS_OK;
        if (i > 0 || !knew_records(walk, &call->said.call, &input))
            input.irrigation_gross_mm = input.irrigation_net_mm = 0;
        input.reading_m3_m3 = input.reading_sd_m3_m3 = (double)NAN;
        enum status status = season_step(&walk->prepared, &state, &input, &day);
        if (status != STATUS_OK)
            return status;
        dry = dry || is_dry(&day, false) || (i == 0 && is_dry(&day, true));
        if (dry && call->came_dry == CALENDAR_NONE)
            call->came_dry = call->said.call.date + i;
        call->dry[i] = dry;
        call->known_days = i + 1;
    }
    return STATUS_OK;
}

/* What was given and what was missing from each open call on up to its date. */
static void add_as_it_was(struct hindsight_call *call, const struct season_day *day) {
    const struct call *said = &call->said.call;
    int32_t last = said->dry_date != CALENDAR_NONE ? said->dry_date : said->date + MORNING_AHEAD - 1;
    if (day->date < said->date || day->date > last)
        return;
    call->given_mm += day->irrigation_gross_mm;
    call->missing_mm += day->etc_mm - day->eta_mm;
    call->rain_mm = (isnan(call->rain_mm) ? 0 : call->rain_mm) + day->rain_mm;
}

/* `calls` are those of the planting's field, by date. */
static enum status walk_planting(struct walk *walk, struct hindsight_call *calls, size_t count,
                                 int32_t until) {
    struct season_setup setup;
    enum status status =
        farm_planting_setup_seen(walk->work->farm, walk->planting, walk->work->today, &setup);
    if (status == STATUS_OK)
        status = season_prepare(&setup, &walk->prepared);
    if (status == STATUS_OK)
        status = season_begin(&walk->prepared, &walk->state);
    size_t next = 0;
    for (int32_t date = walk->planting->start_date; status == STATUS_OK && date < until; date++) {
        struct season_input input;
        struct season_day day;
        while (next < count && calls[next].said.call.date < date)
            next++;
        if (next < count && calls[next].said.call.date == date)
            status = look_on(walk, &calls[next]);
        if (status != STATUS_OK || !day_input(walk, date, &input))
            break;
        if (isnan(input.rain_mm))
            input.rain_mm = 0;
        status = season_step(&walk->prepared, &walk->state, &input, &day);
        if (status != STATUS_OK || day.stage == STAGE_ENDED)
            break;
        for (size_t i = next < MORNING_AHEAD ? 0 : next - MORNING_AHEAD; i <= next && i < count; i++)
            add_as_it_was(&calls[i], &day);
    }
    /* Records that contradict each other are told by the morning; here the field has no hindsight. */
    return status == STATUS_NO_MEMORY || status == STATUS_STORE ? status : STATUS_OK;
}

static enum status walk_field(struct work *work, const char *name, struct hindsight_call *calls,
                              size_t count) {
    const struct farm_field *field = farm_field_named(work->farm, name);
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && field != NULL && i < work->farm->planting_count; i++) {
        struct walk walk = {.work = work, .field = field, .planting = &work->farm->planting[i]};
        if (strcmp(walk.planting->field, name) != 0 || walk.planting->start_date >= work->today)
            continue;
        int32_t until = planting_until(work->farm, i);
        status = days_of(work, field->station, &walk.days);
        if (status == STATUS_OK)
            status = walk_planting(&walk, calls, count, until == CALENDAR_NONE ? work->today : until);
    }
    return status;
}

/* ---- scores */

static void score_call(const struct hindsight_call *call, struct hindsight *hindsight) {
    const struct call *said = &call->said.call;
    for (int i = 0; i < call->said.outlook.days && i < call->known_days; i++)
        outlook_score_add(&hindsight->score, i, call->said.outlook.chance[i], call->dry[i]);
    if (said->dry_date == CALENDAR_NONE || said->reason == CALL_REASON_RAIN_EXPECTED)
        return;
    int ahead = said->dry_date - said->date;
    if (ahead < 0 || ahead >= MORNING_AHEAD)
        return;
    struct hindsight_lead *lead = &hindsight->lead[ahead];
    lead->calls++;
    if (call->came_dry == CALENDAR_NONE && call->known_days < MORNING_AHEAD)
        return;
    lead->settled++;
    if (call->came_dry != CALENDAR_NONE) {
        lead->dried++;
        lead->days_off += call->came_dry - said->dry_date;
    }
    if (call->came_dry == said->dry_date)
        lead->on_day++;
    else if (call->came_dry != CALENDAR_NONE && call->came_dry < said->dry_date)
        lead->early++;
    else
        lead->late++;
}

static bool waits(const struct hindsight_call *call) {
    return call->said.call.kind == CALL_RAIN_MAY_COVER;
}

/* Mornings in a row that wait are one wait; its first morning counts. */
static void score_waits(struct hindsight *hindsight) {
    struct hindsight_waits *all = &hindsight->waits;
    for (size_t i = 0; i < hindsight->call_count; i++) {
        const struct hindsight_call *call = &hindsight->call[i];
        bool follows = i > 0 && waits(&call[-1]) && strcmp(call[-1].said.field, call->said.field) == 0 &&
                       call[-1].said.call.date == call->said.call.date - 1;
        if (!waits(call) || follows || call->said.call.dry_date == CALENDAR_NONE)
            continue;
        int ahead = call->said.call.dry_date - call->said.call.date;
        if (ahead < 0 || ahead >= call->known_days)
            continue;
        all->waits++;
        if (call->dry[ahead]) {
            all->missed++;
            all->missing_mm += call->missing_mm;
        } else {
            all->covered++;
            all->saved_mm += fmax(call->said.call.application.gross_mm - call->given_mm, 0);
        }
    }
}

/* ---- forecasts */

static enum status judge_source(struct work *work, const struct source_state *state, size_t station,
                                const struct station_history *history, bool learnt_from,
                                struct hindsight_source *out) {
    struct outlook_pair *pairs = NULL;
    size_t count = 0;
    long long source_id = state->source_id;
    double wet_share, amount_mm;
    struct outlook_history past = station_history_of(history, REFERENCE_FAO56_GRASS);
    const struct outlook_weather_input season = {
        .today = work->today, .history = past.count > 0 ? &past : NULL, .skip_from = CALENDAR_NONE};
    memset(out, 0, sizeof *out);
    memcpy(out->station, state->station, sizeof out->station);
    memcpy(out->source, state->name, sizeof out->source);
    station_climate(&season, &wet_share, &amount_mm);
    enum status status = outlook_errors_default(wet_share, amount_mm, &out->errors);
    if (status == STATUS_OK)
        status = station_pairs(work->db, &work->farm->station[station], state->station_id, history,
                               work->today, &source_id, &pairs, &count, work->problems);
    if (status == STATUS_OK) {
        outlook_errors_learn(pairs, count, &out->errors);
        out->learnt_from = learnt_from && out->errors.pairs > 0;
        status = hindsight_store_corrected(work->db, state->station_id, &out->corrected, work->problems);
    }
    free(pairs);
    return status;
}

static size_t station_of(const struct work *work, long long station_id) {
    size_t i = 0;
    while (i < work->farm->station_count && work->ids->station[i] != station_id)
        i++;
    return i;
}

static enum status judge_sources(struct work *work) {
    struct source_state *states = NULL;
    size_t count = 0, last = work->farm->station_count;
    struct station_history history = {.rain_mm = NULL};
    struct hindsight *hindsight = work->hindsight;
    bool learnt = false;
    enum status status = weather_store_sources(work->db, work->today, &states, &count, work->problems);
    hindsight->source = calloc(count + 1, sizeof *hindsight->source);
    if (status == STATUS_OK && hindsight->source == NULL)
        status = STATUS_NO_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        size_t station = station_of(work, states[i].station_id);
        if (states[i].kind != SOURCE_FORECAST || station == work->farm->station_count)
            continue;
        if (station != last) {
            station_history_free(&history);
            status = station_history_load(work->db, work->farm, work->ids, station, work->today, &history,
                                          work->problems);
            learnt = false;
            last = station;
        }
        struct hindsight_source *source = &hindsight->source[hindsight->source_count];
        if (status == STATUS_OK)
            status = judge_source(work, &states[i], station, &history, !learnt, source);
        learnt = learnt || source->learnt_from;
        hindsight->source_count += status == STATUS_OK;
    }
    station_history_free(&history);
    free(states);
    return status;
}

/* ---- all */

static enum status load_calls(struct work *work, const char *field, int32_t first) {
    struct stored_call *stored = NULL;
    size_t count = 0;
    struct hindsight *hindsight = work->hindsight;
    enum status status =
        hindsight_store_calls(work->db, field, first, work->today - 1, &stored, &count, work->problems);
    if (status != STATUS_OK)
        return status;
    hindsight->call = calloc(count + 1, sizeof *hindsight->call);
    for (size_t i = 0; hindsight->call != NULL && i < count; i++) {
        hindsight->call[i].said = stored[i];
        hindsight->call[i].came_dry = CALENDAR_NONE;
        hindsight->call[i].rain_mm = (double)NAN;
    }
    free(stored);
    hindsight->call_count = hindsight->call != NULL ? count : 0;
    return hindsight->call != NULL ? STATUS_OK : STATUS_NO_MEMORY;
}

static enum status make(struct work *work, const char *field, int32_t first) {
    struct hindsight *hindsight = work->hindsight;
    enum status status = load_calls(work, field, first);
    for (size_t i = 0; status == STATUS_OK && i < hindsight->call_count;) {
        size_t end = i;
        while (end < hindsight->call_count &&
               strcmp(hindsight->call[end].said.field, hindsight->call[i].said.field) == 0)
            end++;
        status = walk_field(work, hindsight->call[i].said.field, &hindsight->call[i], end - i);
        i = end;
    }
    for (size_t i = 0; status == STATUS_OK && i < hindsight->call_count; i++)
        score_call(&hindsight->call[i], hindsight);
    score_waits(hindsight);
    return status == STATUS_OK ? judge_sources(work) : status;
}

enum status hindsight_make(struct db *db, const char *field, int32_t first, int32_t today,
                           struct hindsight *out, struct problems *problems) {
    struct farm farm;
    struct farm_ids ids;
    memset(out, 0, sizeof *out);
    out->first = first;
    out->last = today - 1;
    enum status status = farm_store_load(db, &farm, problems);
    if (status != STATUS_OK)
        return status;
    struct work work = {
        .db = db, .farm = &farm, .ids = &ids, .today = today, .hindsight = out, .problems = problems};
    status = farm_store_ids(db, &farm, &ids, problems);
    work.days = calloc(farm.station_count + 1, sizeof *work.days);
    if (work.days == NULL)
        status = STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = make(&work, field, first);
    for (size_t i = 0; work.days != NULL && i < farm.station_count; i++)
        station_days_free(&work.days[i]);
    free(work.days);
    farm_ids_free(&ids);
    farm_free(&farm);
    if (status != STATUS_OK)
        hindsight_free(out);
    return status;
}

void hindsight_free(struct hindsight *hindsight) {
    free(hindsight->call);
    free(hindsight->source);
    free(hindsight->year);
    memset(hindsight, 0, sizeof *hindsight);
}
