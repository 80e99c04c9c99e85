#include "daemon/morning/planting_run.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int planting_current(const struct farm *farm, const char *field, int32_t today) {
    int current = -1, next = -1;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *planting = &farm->planting[i];
        if (strcmp(planting->field, field) != 0)
            continue;
        if (planting->start_date <= today &&
            (current < 0 || planting->start_date > farm->planting[current].start_date))
            current = (int)i;
        if (planting->start_date > today &&
            (next < 0 || planting->start_date < farm->planting[next].start_date))
            next = (int)i;
    }
    return current >= 0 ? current : next;
}

int32_t planting_until(const struct farm *farm, size_t planting) {
    const struct farm_planting *self = &farm->planting[planting];
    int32_t until = CALENDAR_NONE;
    for (size_t i = 0; i < farm->planting_count; i++) {
        const struct farm_planting *other = &farm->planting[i];
        if (strcmp(other->field, self->field) == 0 && other->start_date > self->start_date &&
            (until == CALENDAR_NONE || other->start_date < until))
            until = other->start_date;
    }
    return until;
}

static enum status row_add(struct planting_run *run, const struct ledger_row *row) {
    if (run->row_count == run->row_room) {
        size_t room = run->row_room == 0 ? 256 : run->row_room * 2;
        struct ledger_row *grown = realloc(run->row, room * sizeof *grown);
        if (grown == NULL)
            return STATUS_NO_MEMORY;
        run->row = grown;
        run->row_room = room;
    }
    run->row[run->row_count++] = *row;
    return STATUS_OK;
}

/* What everything in here works on. */
struct work {
    const struct farm *farm;
    const struct farm_planting *planting;
    const struct station_days *days;
    const struct farm_field *field;
    struct problems *problems;
    struct season_prepared prepared;
    struct season_state state;
    struct planting_run *run;
    bool rain_settled; /* today's rain is recorded */
    bool rain_told;    /* some day ahead expects rain */
    int32_t wanted;    /* a day to be kept with all that went into it, in `seen` (NULL: none) */
    struct planting_day *seen;
    bool found;
    int32_t recorded; /* the next day of which the field has a record */
    struct season_input
        ahead[MORNING_AHEAD]; /* what is known of the days ahead, with the rain that is expected */
};

static void input_weather(const struct work *work, const struct station_day *day,
                          struct season_input *input) {
    input->et0_mm = day->et0_mm[work->planting->crop.reference];
    input->wind_2m_m_s = day->full.wind_2m_m_s.value;
    input->rh_min_pct = day->full.rh_min_pct;
    input->tmax_c = day->full.tmax_c.value;
    input->tmin_c = day->full.tmin_c.value;
    input->rain_mm = day->full.rain_mm.value;
}

static void row_flags(const struct station_day *day, bool gauge, struct ledger_row *row) {
    const struct weather_full *full = &day->full;
    row->origin.temperature = (uint8_t)full->tmax_c.origin;
    row->origin.humidity = (uint8_t)full->ea_kpa.origin;
    row->origin.radiation = (uint8_t)full->rs_mj_m2.origin;
    row->origin.wind = (uint8_t)full->wind_2m_m_s.origin;
    row->origin.rain = gauge ? ORIGIN_MEASURED : (uint8_t)full->rain_mm.origin;
    row->rule_humidity = (uint8_t)full->ea_kpa.rule;
    row->rule_radiation = (uint8_t)full->rs_mj_m2.rule;
    row->rule_wind = (uint8_t)full->wind_2m_m_s.rule;
    row->et0_from_hours = day->hours > 0;
}

/* As farm_records_apply(), for days in their order. */
static unsigned apply_records(struct work *work, int32_t date, struct season_input *input) {
    if (date > work->recorded)
        work->recorded = farm_next_record(work->farm, work->field->name, date);
    return date == work->recorded ? farm_records_apply(work->farm, work->field, date, input) : 0;
}

/* Days that follow one another, as they are known. */
#define WALK_DAYS 64
struct walk {
    int days, done; /* known, and gone through */
    const struct station_day *weather[WALK_DAYS];
    unsigned kinds[WALK_DAYS]; /* of the day's records */
    bool rain_known[WALK_DAYS];
    struct season_input input[WALK_DAYS];
    struct season_day out[WALK_DAYS];
};

/* Adds a day as it is known from weather and records; false: its weather is not, or there is no room. */
static bool walk_add(struct work *work, int32_t date, bool records, struct walk *walk) {
    const struct station_day *weather = walk->days < WALK_DAYS ? station_days_at(work->days, date) : NULL;
    if (weather == NULL || isnan(weather->et0_mm[work->planting->crop.reference]))
        return false;
    int i = walk->days++;
    struct season_input *input = &walk->input[i];
    *input = season_input_empty(date);
    input_weather(work, weather, input);
    walk->weather[i] = weather;
    walk->kinds[i] = records ? apply_records(work, date, input) : 0;
    walk->rain_known[i] = !isnan(input->rain_mm);
    if (!walk->rain_known[i])
        input->rain_mm = 0;
    return true;
}

/* One day, kept with what went into it. */
static enum status see_day(struct work *work, const struct walk *walk, int i, struct season_state *state,
                           struct season_day *out) {
    struct planting_day *seen = work->seen;
    const struct station_day *weather = walk->weather[i];
    seen->before = *state;
    seen->input = walk->input[i];
    seen->weather = *weather;
    if (weather->hours > 0)
        seen->hours = work->days->hours[weather->hours - 1];
    seen->records = walk->kinds[i];
    enum status status = season_step_traced(&work->prepared, state, &walk->input[i], out, &seen->trace);
    seen->after = *state;
    seen->row.day = *out;
    row_flags(weather, (walk->kinds[i] & (1U << RECORD_RAIN)) != 0, &seen->row);
    work->found = status == STATUS_OK;
    return status;
}

/* Goes through the days of a walk; `state` is then that of the evening of the last, or of the morning of the
 * one that is refused. */
static enum status walk_through(struct work *work, struct season_state *state, struct walk *walk) {
    int wanted = walk->days, done = 0;
    if (work->seen != NULL && !work->found && walk->days > 0 && work->wanted >= walk->input[0].date &&
        work->wanted - walk->input[0].date < walk->days)
        wanted = work->wanted - walk->input[0].date;
    enum status status = season_run(&work->prepared, state, walk->input, wanted, walk->out, &walk->done);
    if (status != STATUS_OK || wanted == walk->days)
        return status;
    status = see_day(work, walk, wanted, state, &walk->out[wanted]);
    if (status != STATUS_OK)
        return status;
    int after = wanted + 1;
    status =
        season_run(&work->prepared, state, &walk->input[after], walk->days - after, &walk->out[after], &done);
    walk->done = after + done;
    return status;
}

static enum status step_refused(const struct work *work, int32_t date, enum status status) {
    char iso[CALENDAR_ISO_SIZE];
    problem_add(work->problems, NULL, 0, 0, work->planting->field,
                "the balance of %s cannot be kept on %s: %s", work->planting->crop_name,
                calendar_format_iso(date, iso), status_name(status));
    return status;
}

/* A past day that was gone through. */
static enum status keep_past_day(struct work *work, const struct walk *walk, int i, int32_t today) {
    struct planting_run *run = work->run;
    int32_t date = walk->input[i].date;
    struct ledger_row row;
    memset(&row, 0, sizeof row);
    row.day = walk->out[i];
    row_flags(walk->weather[i], (walk->kinds[i] & (1U << RECORD_RAIN)) != 0, &row);
    if (!walk->rain_known[i] && date >= today - RAIN_KNOWN_DAYS && run->rain_missing == CALENDAR_NONE)
        run->rain_missing = date;
    season_total_add(&run->total, &row.day);
    return row_add(run, &row);
}

/* Keeps them up to the end of the season, which ends before the first day on which it is over. */
static enum status keep_past_days(struct work *work, const struct walk *walk, int32_t today, bool *ended) {
    for (int i = 0; i < walk->done; i++) {
        if (walk->out[i].stage == STAGE_ENDED) {
            *ended = true;
            work->found = work->found && work->wanted < walk->input[i].date;
            return STATUS_OK;
        }
        enum status status = keep_past_day(work, walk, i, today);
        if (status != STATUS_OK)
            return status;
    }
    return STATUS_OK;
}

static enum status past_days(struct work *work, int32_t today, int32_t until, bool *ended) {
    int32_t end = until != CALENDAR_NONE && until < today ? until : today;
    int32_t date = work->planting->start_date;
    bool known = true;
    while (date < end && !*ended && known) {
        struct walk walk;
        walk.days = walk.done = 0; /* the rest is written as days come */
        while (date < end && walk_add(work, date, true, &walk))
            date++;
        known = date == end || walk.days == WALK_DAYS;
        enum status went = walk_through(work, &work->state, &walk);
        enum status status = keep_past_days(work, &walk, today, ended);
        if (status != STATUS_OK)
            return status;
        /* What is refused or not known after the end of the season is no part of it. */
        if (went != STATUS_OK && !*ended)
            return step_refused(work, walk.input[walk.done].date, went);
        if (!known && !*ended)
            work->run->weather_missing = date;
    }
    return STATUS_OK;
}

/* The days ahead from the state of this morning, on a copy of it. What was done and seen today already
 * counts. */
static enum status look_ahead(struct work *work, int32_t today, bool rain, struct season_day *out,
                              int *count) {
    struct season_state state = work->state;
    struct walk walk;
    walk.days = walk.done = 0;
    while (walk.days < MORNING_AHEAD && walk_add(work, today + walk.days, walk.days == 0, &walk))
        continue;
    for (int i = 0; i < walk.days; i++) {
        bool recorded = (walk.kinds[i] & (1U << RECORD_RAIN)) != 0;
        work->rain_told = work->rain_told || walk.weather[i]->full.rain_mm.value > 0;
        if (!rain && !recorded)
            walk.input[i].rain_mm = 0;
        if (i == 0)
            work->rain_settled = recorded;
    }
    enum status status = walk_through(work, &state, &walk);
    *count = walk.done;
    memcpy(out, walk.out, (size_t)walk.done * sizeof *out);
    if (rain)
        memcpy(work->ahead, walk.input, (size_t)walk.done * sizeof *work->ahead);
    return status == STATUS_OK ? STATUS_OK : step_refused(work, walk.input[walk.done].date, status);
}

/* The call of a field on which nothing stands, or of which nothing can be said. */
static void call_without_path(int32_t today, enum call_kind kind, enum call_reason reason,
                              struct call *call) {
    memset(call, 0, sizeof *call);
    call->kind = kind;
    call->reason = reason;
    call->date = today;
    call->start_by = CALENDAR_NONE;
    call->dry_date = CALENDAR_NONE;
    call->dry_chance = call->cover_chance = call->lost_chance = call->lost_mm = call->spared_mm = (double)NAN;
}

/* What today's records take off this morning's depletion. */
static double settled_mm(const struct work *work) {
    const struct season_day *day = &work->run->ahead[0];
    double rain_mm = work->rain_settled ? day->rain_mm - day->runoff_mm : 0;
    return day->irrigation_net_mm + rain_mm - day->reading_shift_mm;
}

static bool outlook_known(const struct work *work) {
    const struct station_outlook *station = work->run->station_outlook;
    return station != NULL && station->weather[work->planting->crop.reference].days > 0;
}

/* In the user's money where both prices are given, for 1 ha. */
static struct outlook_prices prices_given(const struct work *work) {
    struct outlook_prices prices = outlook_prices_default();
    if (isnan(work->farm->water_price) || isnan(work->planting->yield_value))
        return prices;
    /* 1 mm on 1 ha is 10 m3. */
    double scale = 10 * work->farm->water_price / prices.gross_per_mm;
    prices.yield = work->planting->yield_value;
    prices.gross_per_mm *= scale;
    prices.leached_per_mm *= scale;
    prices.start *= scale;
    return prices;
}

static void keep_outlook(const struct outlook *outlook, struct call_outlook *out) {
    out->days = outlook->days;
    for (int i = 0; i < outlook->days; i++) {
        out->chance[i] = outlook->passes[i];
        out->rain_mm[i] = outlook->rain_mean_mm[i];
        for (int line = 0; line < OUTLOOK_LINES; line++)
            out->depletion_mm[i][line] = outlook->depletion_mm[i][line];
    }
}

/* The net depth of a turn this morning, to be weighed against rain. */
static double turn_today_mm(const struct call *call) {
    return call->kind == CALL_WATER_TODAY ? call->application.net_mm : fmax(call->depletion_mm, 0);
}

/* The days ahead as the outlook and the turns walk them. */
static enum status prepare_field(struct work *work, const struct call_input *input) {
    struct planting_run *run = work->run;
    enum status status = outlook_field_of_path(&work->prepared, &work->state, work->ahead, run->ahead,
                                               run->ahead_count, &run->field);
    if (status != STATUS_OK)
        return status;
    run->field.settled_mm = input->settled_mm;
    run->field.day[0].rain_known = input->rain_settled;
    run->prices = prices_given(work);
    const struct station_outlook *station = run->station_outlook;
    outlook_prices_for(&work->prepared.setup, &run->total, &run->field,
                       station != NULL ? &station->usual[work->planting->crop.reference] : NULL, &run->prices,
                       &run->later);
    return STATUS_OK;
}

static enum status call_with_outlook(struct work *work, const struct call_input *input) {
    struct planting_run *run = work->run;
    const struct outlook_weather *weather = &run->station_outlook->weather[work->planting->crop.reference];
    const struct outlook_field *field = &run->field;
    struct outlook outlook;
    const struct outlook_cost_input weigh = {.field = field,
                                             .weather = weather,
                                             .system = input->system,
                                             .prices = &run->prices,
                                             .later = run->later};
    enum status status = outlook_run(field, weather, 0, &run->rooms->room, &outlook);
    if (status == STATUS_OK)
        status = work->farm->call_rule == CALL_RULE_COST
                     ? call_by_cost(input, &outlook, &weigh, &run->rooms->cost, &run->call, NULL)
                     : call_make(input, &run->call);
    if (status == STATUS_OK && !input->rainfed)
        status = outlook_add_turn(field, weather, turn_today_mm(&run->call), &run->rooms->room, &outlook);
    if (status != STATUS_OK)
        return status;
    keep_outlook(&outlook, &run->outlook);
    if (run->call.reason != CALL_REASON_NOT_GROWING)
        call_add_chances(input, &outlook, &run->call);
    return STATUS_OK;
}

static enum status make_call(struct work *work, int32_t today, bool ended) {
    struct planting_run *run = work->run;
    if (ended || today < work->planting->start_date) {
        call_without_path(today, CALL_HOLD, CALL_REASON_NOT_GROWING, &run->call);
        return STATUS_OK;
    }
    int dry_count = 0;
    enum status status = STATUS_OK;
    if (run->weather_missing == CALENDAR_NONE)
        status = look_ahead(work, today, true, run->ahead, &run->ahead_count);
    if (status == STATUS_OK && run->ahead_count > 0 && work->rain_told)
        status = look_ahead(work, today, false, run->ahead_dry, &dry_count);
    else if (status == STATUS_OK) /* without rain the days are the same days */
        memcpy(run->ahead_dry, run->ahead, sizeof run->ahead);
    if (status != STATUS_OK)
        return status;
    if (run->ahead_count == 0) {
        call_without_path(today, CALL_CANNOT_SAY, CALL_REASON_WEATHER_MISSING, &run->call);
        return STATUS_OK;
    }
    const struct call_input input = {
        .today = today,
        .rainfed = work->field->system.kind == SYSTEM_NONE,
        .days = run->ahead_count,
        .with_rain = run->ahead,
        .without_rain = run->ahead_dry,
        .system = &work->field->system,
        .settled_mm = settled_mm(work),
        .rain_settled = work->rain_settled,
        .missing = run->rain_missing != CALENDAR_NONE ? CALL_REASON_RAIN_MISSING : CALL_REASON_COUNT,
    };
    if (input.missing == CALL_REASON_COUNT && (outlook_known(work) || work->field->supply[0] != '\0'))
        status = prepare_field(work, &input);
    if (status != STATUS_OK)
        return status;
    if (input.missing != CALL_REASON_COUNT || !outlook_known(work))
        return call_make(&input, &run->call);
    return call_with_outlook(work, &input);
}

static enum status run_through(struct work *work, int32_t today, int32_t until) {
    struct planting_run *run = work->run;
    bool ended = false;
    run->row_count = 0;
    run->ahead_count = 0;
    run->outlook.days = 0;
    run->field.days = 0;
    run->total = season_total_empty();
    run->rain_missing = CALENDAR_NONE;
    run->weather_missing = CALENDAR_NONE;
    work->recorded = CALENDAR_NONE;
    work->field = farm_field_named(work->farm, work->planting->field);
    if (work->field == NULL)
        return STATUS_NOT_FOUND;
    struct season_setup setup;
    enum status status = farm_planting_setup_seen(work->farm, work->planting, today, &setup);
    if (status == STATUS_OK)
        status = season_prepare(&setup, &work->prepared);
    if (status == STATUS_OK)
        status = season_begin(&work->prepared, &work->state);
    if (status != STATUS_OK)
        return step_refused(work, work->planting->start_date, status);
    status = past_days(work, today, until, &ended);
    return status == STATUS_OK ? make_call(work, today, ended) : status;
}

enum status planting_run(const struct farm *farm, const struct farm_planting *planting,
                         const struct station_days *days, int32_t today, int32_t until,
                         struct planting_run *run, struct problems *problems) {
    struct work work = {.farm = farm, .planting = planting, .days = days, .problems = problems, .run = run};
    return run_through(&work, today, until);
}

enum status planting_run_day(const struct farm *farm, const struct farm_planting *planting,
                             const struct station_days *days, int32_t today, int32_t until, int32_t date,
                             struct planting_day *out, struct problems *problems) {
    struct planting_run run = {0};
    struct work work = {.farm = farm,
                        .planting = planting,
                        .days = days,
                        .problems = problems,
                        .run = &run,
                        .wanted = date,
                        .seen = out};
    memset(out, 0, sizeof *out);
    enum status status = run_through(&work, today, until);
    planting_run_free(&run);
    /* Inputs that contradict each other on a later day are that day's trouble. */
    if (!work.found || status == STATUS_NO_MEMORY)
        return status == STATUS_OK ? STATUS_NOT_FOUND : status;
    out->setup = work.prepared.setup;
    out->ahead = date >= today;
    out->reference = planting->crop.reference;
    return STATUS_OK;
}

void planting_run_free(struct planting_run *run) {
    free(run->row);
    memset(run, 0, sizeof *run);
}
