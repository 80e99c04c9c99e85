#include "core/decide/hindcast.h"

#include <math.h>
#include <stddef.h>

#include "core/balance/yield.h"

#define RECENT_DAYS 7

struct work {
    const struct hindcast_input *input;
    struct hindcast_room *room;
    struct season_prepared prepared;
    struct season_state state;
    struct hindcast_season season;
    struct outlook_prices prices;
    struct season_input ahead[HINDCAST_DAYS]; /* what is known of the days to come */
    bool told;                                /* by a forecast */
    struct outlook_errors errors;
    struct outlook_field field;
    struct outlook_usual usual; /* with calls by cost */
    struct season_day with_rain[HINDCAST_DAYS], without_rain[HINDCAST_DAYS];
    struct outlook outlook;
    struct call call;
};

/* Without a forecast the days to come are like the last week, with no rain, as the daemon takes them. */
static void recent_means(struct work *work, int index) {
    struct season_input mean = season_input_empty(CALENDAR_NONE);
    int first = index > RECENT_DAYS ? index - RECENT_DAYS : 0, count = index - first;
    mean.et0_mm = mean.wind_2m_m_s = mean.rh_min_pct = mean.tmax_c = mean.tmin_c = mean.rain_mm = 0;
    for (int i = first; i < index; i++) {
        const struct season_input *day = &work->input->weather[i];
        mean.et0_mm += day->et0_mm / count;
        mean.wind_2m_m_s += day->wind_2m_m_s / count;
        mean.rh_min_pct += day->rh_min_pct / count;
        mean.tmax_c += day->tmax_c / count;
        mean.tmin_c += day->tmin_c / count;
    }
    /* On the first morning there is no week behind it. */
    if (count == 0) {
        mean = work->input->weather[0];
        mean.rain_mm = 0;
    }
    for (int i = 0; i < HINDCAST_DAYS; i++) {
        work->ahead[i] = mean;
        work->ahead[i].date = work->state.next_date + i;
    }
}

static void known_ahead(struct work *work, int index) {
    const struct hindcast_input *input = work->input;
    int32_t today = work->state.next_date;
    for (int i = 0; i < HINDCAST_DAYS; i++)
        work->ahead[i] = season_input_empty(today + i);
    work->told = input->forecast != NULL &&
                 input->forecast(input->forecast_context, today, HINDCAST_DAYS, work->ahead);
    if (!work->told)
        recent_means(work, index);
}

static enum status make_weather(struct work *work) {
    const struct hindcast_input *input = work->input;
    double et0_mm[HINDCAST_DAYS], rain_mm[HINDCAST_DAYS];
    for (int i = 0; i < HINDCAST_DAYS; i++) {
        et0_mm[i] = work->ahead[i].et0_mm;
        rain_mm[i] = work->ahead[i].rain_mm;
    }
    int32_t first = input->setup->first_date;
    if (work->told)
        input->learn(input->forecast_context, work->state.next_date, &work->errors);
    const struct outlook_weather_input make = {
        .today = work->state.next_date,
        .days = HINDCAST_DAYS,
        .members = input->members,
        .seed = input->seed + (uint64_t)work->state.next_date,
        .issued = work->state.next_date,
        .et0_mm = work->told ? et0_mm : NULL,
        .rain_mm = work->told ? rain_mm : NULL,
        .correct = true,
        .errors = &work->errors,
        .history = input->history,
        .skip_from = work->state.next_date,
        .skip_to = first + input->days + HINDCAST_DAYS,
        .use_future = true,
    };
    if (input->by_cost)
        outlook_usual_fill(&make, &work->usual);
    return outlook_weather_make(&make, &work->room->weather);
}

/* Without a forecast the path's reference ET is the ensemble's mean rather than last week's. */
static void path_of_ensemble(struct work *work) {
    const struct outlook_weather *weather = &work->room->weather;
    for (int i = 0; i < HINDCAST_DAYS && !work->told; i++) {
        double sum_mm = 0;
        for (int m = 0; m < weather->members; m++)
            sum_mm += weather->et0_mm[i * weather->members + m];
        work->ahead[i].et0_mm = sum_mm / weather->members;
    }
}

static enum status walk(const struct work *work, bool rain, struct season_day *out) {
    struct season_state state = work->state;
    struct season_input input[HINDCAST_DAYS];
    int done;
    for (int i = 0; i < HINDCAST_DAYS; i++) {
        input[i] = work->ahead[i];
        if (!rain)
            input[i].rain_mm = 0;
    }
    return season_run(&work->prepared, &state, input, HINDCAST_DAYS, out, &done);
}

static enum status decide(struct work *work) {
    const struct hindcast_input *input = work->input;
    const struct call_input question = {.today = work->state.next_date,
                                        .days = HINDCAST_DAYS,
                                        .with_rain = work->with_rain,
                                        .without_rain = work->without_rain,
                                        .system = input->system,
                                        .missing = CALL_REASON_COUNT};
    if (!input->by_cost)
        return call_make(&question, &work->call);
    struct outlook_cost_input weigh = {.field = &work->field,
                                       .weather = &work->room->weather,
                                       .system = input->system,
                                       .prices = &work->prices};
    work->prices = *input->prices;
    outlook_prices_for(input->setup, &work->season.total, &work->field, &work->usual, &work->prices,
                       &weigh.later);
    return call_by_cost(&question, &work->outlook, &weigh, &work->room->cost, &work->call, NULL);
}

/* What came of the morning when nothing was given. */
static enum status outcome(const struct work *work, int index, struct hindcast_morning *morning) {
    struct season_state state = work->state;
    bool passed = false, path = false;
    for (int i = 0; i < HINDCAST_DAYS; i++) {
        struct season_day day;
        struct season_input input = work->input->weather[index + i];
        enum status status = season_step(&work->prepared, &state, &input, &day);
        if (status != STATUS_OK)
            return status;
        const struct season_day *said = &work->with_rain[i];
        passed = passed || (crop_growing(day.stage) && day.depletion_mm >= day.allowed_mm) ||
                 (i == 0 && crop_growing(day.stage) && day.depletion_start_mm >= day.allowed_mm);
        path = path || (crop_growing(said->stage) && said->depletion_mm >= said->allowed_mm) ||
               (i == 0 && crop_growing(said->stage) && said->depletion_start_mm >= said->allowed_mm);
        morning->passed[i] = passed;
        morning->passed_path[i] = path;
    }
    return STATUS_OK;
}

static enum status tell(const struct work *work, int index) {
    const struct hindcast_input *input = work->input;
    if (input->seen == NULL || index + HINDCAST_DAYS > input->days)
        return STATUS_OK;
    struct hindcast_morning morning = {.date = work->state.next_date,
                                       .call = &work->call,
                                       .outlook = &work->outlook,
                                       .share_morning = work->with_rain[0].depletion_start_mm /
                                                        work->with_rain[0].allowed_mm};
    enum status status = input->outcomes ? outcome(work, index, &morning) : STATUS_OK;
    if (status == STATUS_OK)
        input->seen(input->seen_context, &morning);
    return status;
}

/* The call of one morning. */
static enum status morning(struct work *work, int index) {
    known_ahead(work, index);
    enum status status = make_weather(work);
    if (status != STATUS_OK)
        return status;
    path_of_ensemble(work);
    status = walk(work, false, work->without_rain);
    if (status == STATUS_OK)
        status = walk(work, true, work->with_rain);
    if (status != STATUS_OK)
        return status;
    /* The same days have just been walked, and neither days nor members are out of range. */
    (void)outlook_field_prepare(&work->prepared, &work->state, work->ahead, HINDCAST_DAYS, &work->field);
    (void)outlook_run(&work->field, &work->room->weather, 0, &work->room->outlook, &work->outlook);
    status = decide(work);
    return status == STATUS_OK ? tell(work, index) : status;
}

/* The net depth that is given today of what was called for. */
static double given_mm(const struct work *work) {
    const struct system *system = work->input->system;
    if (work->call.kind != CALL_WATER_TODAY)
        return 0;
    double daily_mm = application_gross_of_hours_mm(system, system->hours_per_day) * system->efficiency;
    double net_mm = work->call.application.net_mm;
    return daily_mm > 0 && daily_mm < net_mm ? daily_mm : net_mm;
}

static void close_season(const struct work *work, struct hindcast_season *season) {
    const struct crop *crop = &work->input->setup->crop;
    const struct season_total *total = &season->total;
    struct yield_water stage[CROP_GROWING_STAGES];
    struct yield_stage each[CROP_GROWING_STAGES];
    struct yield_share share;
    double etc_mm = 0, eta_mm = 0;
    for (int k = 0; k < CROP_GROWING_STAGES; k++) {
        etc_mm += total->etc_stage_mm[k];
        eta_mm += total->eta_stage_mm[k];
        stage[k] = (struct yield_water){crop->ky_stage[k], total->etc_stage_mm[k],
                                        fmin(total->eta_stage_mm[k], total->etc_stage_mm[k])};
    }
    const struct yield_water whole = {crop->ky_season, etc_mm, fmin(eta_mm, etc_mm)};
    season->yield = yield_season(&whole, &share) == STATUS_OK ? share.relative : NAN;
    season->by_stage =
        yield_by_stage(stage, CROP_GROWING_STAGES, &share, each) == STATUS_OK ? share.relative : NAN;
}

enum status hindcast_run(const struct hindcast_input *input, struct hindcast_room *room,
                         struct hindcast_season *out) {
    struct work work = {.input = input, .room = room};
    if (input->days < 1 || input->members < 1 || input->members > OUTLOOK_MEMBERS_MAX)
        return STATUS_OUT_OF_RANGE;
    work.season.total = season_total_empty();
    enum status status = season_prepare(input->setup, &work.prepared);
    if (status == STATUS_OK)
        status = season_begin(&work.prepared, &work.state);
    for (int i = 0; status == STATUS_OK && i < input->days; i++) {
        struct season_day day;
        status = morning(&work, i);
        if (status != STATUS_OK)
            break;
        struct season_input given = input->weather[i];
        given.irrigation_net_mm = given_mm(&work);
        given.irrigation_gross_mm = given.irrigation_net_mm / input->system->efficiency;
        status = season_step(&work.prepared, &work.state, &given, &day);
        if (status != STATUS_OK || day.stage == STAGE_ENDED)
            break;
        work.season.mornings++;
        work.season.turns += given.irrigation_net_mm > 0;
        season_total_add(&work.season.total, &day);
    }
    if (status != STATUS_OK)
        return status;
    close_season(&work, &work.season);
    *out = work.season;
    return STATUS_OK;
}
