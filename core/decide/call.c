#include "core/decide/call_inside.h"

#include <math.h>
#include <stddef.h>

static const struct {
    const char *name, *key;
} kind_words[CALL_KIND_COUNT] = {
    [CALL_WATER_TODAY] = {"water today", "water_today"},
    [CALL_WATER_BY] = {"water by", "water_by"},
    [CALL_RAIN_MAY_COVER] = {"rain may cover it", "rain_may_cover"},
    [CALL_HOLD] = {"hold", "hold"},
    [CALL_CANNOT_SAY] = {"cannot say", "cannot_say"},
};

static const char *const reason_words[CALL_REASON_COUNT] = {
    [CALL_REASON_PAST_ALLOWED] = "past_allowed",
    [CALL_REASON_PASSES_TODAY] = "passes_today",
    [CALL_REASON_PASSES_LATER] = "passes_later",
    [CALL_REASON_RAIN_EXPECTED] = "rain_expected",
    [CALL_REASON_ENOUGH] = "enough",
    [CALL_REASON_RAINFED] = "rainfed",
    [CALL_REASON_NOT_GROWING] = "not_growing",
    [CALL_REASON_RAIN_MISSING] = "rain_missing",
    [CALL_REASON_WEATHER_MISSING] = "weather_missing",
    [CALL_REASON_CARRIED] = "carried",
    [CALL_REASON_TO_HARVEST] = "to_harvest",
};

const char *call_kind_name(enum call_kind kind) {
    return (unsigned)kind < CALL_KIND_COUNT ? kind_words[kind].name : NULL;
}

const char *call_kind_key(enum call_kind kind) {
    return (unsigned)kind < CALL_KIND_COUNT ? kind_words[kind].key : NULL;
}

const char *call_reason_key(enum call_reason reason) {
    return (unsigned)reason < CALL_REASON_COUNT ? reason_words[reason] : NULL;
}

static enum status check_path(const struct call_input *input, const struct season_day *path) {
    if (path == NULL)
        return STATUS_MISSING;
    for (int i = 0; i < input->days; i++) {
        if (path[i].date != input->today + i)
            return STATUS_ORDER;
        if (!isfinite(path[i].depletion_start_mm + path[i].depletion_mm + path[i].allowed_mm +
                      path[i].taw_mm + path[i].rain_mm + path[i].runoff_mm))
            return STATUS_NOT_FINITE;
    }
    return STATUS_OK;
}

double call_start_mm(const struct call_input *input, const struct season_day *path, int day) {
    double settled_mm = day == 0 ? input->settled_mm : 0;
    return fmax(path[day].depletion_start_mm - settled_mm, 0);
}

int call_dry_day(const struct call_input *input, const struct season_day *path) {
    if (call_start_mm(input, path, 0) >= path[0].allowed_mm)
        return 0;
    for (int i = 0; i < input->days && crop_growing(path[i].stage); i++)
        if (path[i].depletion_mm >= path[i].allowed_mm)
            return i;
    return -1;
}

struct start {
    int day;
    bool rain_fills; /* nothing worth running is left for the system */
    struct application application;
};

static enum status plan_on(const struct call_input *input, const struct season_day *path, int day,
                           struct start *start) {
    int last = day + 1 < input->days ? day + 1 : day;
    double rain_mm = 0;
    for (int i = day == 0 && input->rain_settled ? 1 : day; i <= last; i++)
        rain_mm += path[i].rain_mm - path[i].runoff_mm;
    double net_mm = fmax(call_start_mm(input, path, day) - rain_mm, 0);
    bool relieved = path[last].depletion_mm < path[last].allowed_mm;
    start->day = day;
    start->rain_fills = rain_mm > 0 && (net_mm <= 0 || (net_mm < input->system->net_min_mm && relieved));
    return application_plan(input->system, net_mm, &start->application);
}

/* The latest start whose application ends on the dry day; today when there is none. */
static enum status latest_start(const struct call_input *input, const struct season_day *path, int dry,
                                struct start *start) {
    for (int day = dry; day >= 0; day--) {
        enum status status = plan_on(input, path, day, start);
        if (status != STATUS_OK)
            return status;
        double days = isnan(start->application.days) ? 1 : fmax(ceil(start->application.days), 1);
        if (day + days - 1 <= dry)
            break;
    }
    return STATUS_OK;
}

static void set_dates(const struct call_input *input, const struct start *start, int dry, struct call *call) {
    call->dry_date = input->today + dry;
    call->start_by = input->today + start->day;
    call->application = start->application;
}

static double rain_until_mm(const struct call_input *input, int last) {
    double rain_mm = 0;
    for (int i = input->rain_settled ? 1 : 0; i <= last; i++)
        rain_mm += input->with_rain[i].rain_mm;
    return rain_mm;
}

/* Rain is what the field waits for: dates and depth as if it stayed away. */
enum status call_await_rain(const struct call_input *input, int dry, struct call *call) {
    struct start start;
    enum status status = latest_start(input, input->without_rain, dry, &start);
    if (status != STATUS_OK)
        return status;
    call->kind = CALL_RAIN_MAY_COVER;
    call->reason = CALL_REASON_RAIN_EXPECTED;
    set_dates(input, &start, dry, call);
    call->rain_expected_mm = rain_until_mm(input, dry);
    return STATUS_OK;
}

static enum status decide(const struct call_input *input, struct call *call) {
    int dry = call_dry_day(input, input->with_rain), dry_without = call_dry_day(input, input->without_rain);
    if (dry < 0 && dry_without < 0) {
        call->reason = CALL_REASON_ENOUGH;
        call->rain_expected_mm = rain_until_mm(input, input->days - 1);
        return STATUS_OK;
    }
    if (dry < 0)
        return call_await_rain(input, dry_without, call);
    struct start start;
    enum status status = latest_start(input, input->with_rain, dry, &start);
    if (status != STATUS_OK)
        return status;
    if (start.rain_fills) {
        /* The rain that fills it may come on the day after. */
        int last = start.day + 1 < input->days ? start.day + 1 : start.day;
        status = call_await_rain(input, dry_without < 0 ? dry : dry_without, call);
        call->rain_expected_mm = fmax(call->rain_expected_mm, rain_until_mm(input, last));
        return status;
    }
    call->kind = start.day == 0 ? CALL_WATER_TODAY : CALL_WATER_BY;
    call->reason = CALL_REASON_PASSES_LATER;
    if (dry == 0)
        call->reason = call_start_mm(input, input->with_rain, 0) >= input->with_rain[0].allowed_mm
                           ? CALL_REASON_PAST_ALLOWED
                           : CALL_REASON_PASSES_TODAY;
    set_dates(input, &start, dry, call);
    call->rain_expected_mm = rain_until_mm(input, dry);
    return STATUS_OK;
}

enum status call_make(const struct call_input *input, struct call *out) {
    bool rainfed = input->rainfed || (input->system != NULL && input->system->kind == SYSTEM_NONE);
    bool missing = input->missing != CALL_REASON_COUNT;
    bool no_path = (rainfed || missing) && input->days == 0;
    if ((missing && input->missing != CALL_REASON_RAIN_MISSING &&
         input->missing != CALL_REASON_WEATHER_MISSING) ||
        input->days < (no_path ? 0 : 1) || input->days > CALL_DAYS_MAX)
        return STATUS_OUT_OF_RANGE;
    enum status status = no_path ? STATUS_OK : check_path(input, input->with_rain);
    if (status == STATUS_OK && !no_path)
        status = check_path(input, input->without_rain);
    if (status == STATUS_OK && !isfinite(input->settled_mm))
        status = STATUS_NOT_FINITE;
    if (status != STATUS_OK)
        return status;
    if (input->system == NULL && !rainfed)
        return STATUS_MISSING;
    struct call call = {.kind = CALL_HOLD,
                        .date = input->today,
                        .start_by = CALENDAR_NONE,
                        .dry_date = CALENDAR_NONE,
                        .depletion_mm = no_path ? NAN : call_start_mm(input, input->with_rain, 0),
                        .allowed_mm = no_path ? NAN : input->with_rain[0].allowed_mm,
                        .taw_mm = no_path ? NAN : input->with_rain[0].taw_mm,
                        .dry_chance = NAN,
                        .cover_chance = NAN,
                        .lost_chance = NAN,
                        .lost_mm = NAN,
                        .spared_mm = NAN};
    if (rainfed) {
        call.reason = CALL_REASON_RAINFED;
        call.rain_expected_mm = no_path ? NAN : rain_until_mm(input, input->days - 1);
    } else if (missing) {
        call.kind = CALL_CANNOT_SAY;
        call.reason = input->missing;
    } else if (!crop_growing(input->with_rain[0].stage)) {
        call.reason = CALL_REASON_NOT_GROWING;
    } else {
        status = decide(input, &call);
    }
    if (status == STATUS_OK)
        *out = call;
    return status;
}
