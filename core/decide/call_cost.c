/* The half of call.h that weighs costs. */
#include <math.h>
#include <stddef.h>

#include "core/decide/call_inside.h"

#define AS_LIKELY_AS_NOT 0.5

static double chance_by(const struct outlook *outlook, int32_t today, int32_t date) {
    int last = outlook->days - 1;
    int day = date == CALENDAR_NONE || date - today > last ? last : date - today;
    return outlook->passes[day];
}

/* Whether the rain that is waited for comes later than the evening on which the field is dry with it. */
static bool comes_late(const struct call_input *input, const struct call *call) {
    int dry =
        call->kind == CALL_RAIN_MAY_COVER && !call->by_cost ? call_dry_day(input, input->with_rain) : -1;
    return dry >= 0 && input->with_rain[dry].depletion_mm >= input->with_rain[dry].allowed_mm;
}

void call_add_chances(const struct call_input *input, const struct outlook *outlook, struct call *call) {
    int dry = call_dry_day(input, input->without_rain);
    call->dry_chance = chance_by(outlook, call->date, call->dry_date);
    call->cover_chance =
        dry >= 0 && !comes_late(input, call) ? 1 - chance_by(outlook, call->date, call->date + dry) : NAN;
    call->lost_chance = outlook->lost_chance;
    call->lost_mm = outlook->lost_mm;
}

static double rain_until_mm(const struct outlook *outlook, int last) {
    double rain_mm = 0;
    for (int i = 0; i <= last && i < outlook->days; i++)
        rain_mm += outlook->rain_mean_mm[i];
    return rain_mm;
}

/* The date by which it is as likely dry as not; else the path's without rain. */
static int32_t likely_dry(const struct call_input *input, const struct outlook *outlook) {
    if (outlook->dry_date[OUTLOOK_P50] != CALENDAR_NONE)
        return outlook->dry_date[OUTLOOK_P50];
    return input->today + call_dry_day(input, input->without_rain);
}

static enum call_reason why_water(const struct call_input *input, int32_t dry_date) {
    if (call_start_mm(input, input->with_rain, 0) >= input->with_rain[0].allowed_mm)
        return CALL_REASON_PAST_ALLOWED;
    return dry_date == input->today ? CALL_REASON_PASSES_TODAY : CALL_REASON_PASSES_LATER;
}

/* What to run when the turn starts on a later day: the likely depletion of its morning less the rain expected
 * on it and the next day. */
static double net_on(const struct outlook *outlook, int day) {
    double net_mm = outlook->depletion_mm[day - 1][OUTLOOK_P50];
    for (int i = day; i <= day + 1 && i < outlook->days; i++)
        net_mm -= outlook->rain_mean_mm[i];
    return fmax(net_mm, 0);
}

static enum status set_turn(const struct call_input *input, const struct outlook *outlook, int day,
                            double net_mm, struct call *call) {
    call->start_by = input->today + day;
    call->dry_date = likely_dry(input, outlook);
    call->rain_expected_mm = rain_until_mm(outlook, call->dry_date - input->today);
    return application_plan(input->system, net_mm, &call->application);
}

/* No turn is deeper than what the crop needs from its morning to its end. */
static enum status cut_to_harvest(const struct call_input *input, const struct outlook_cost_input *weigh,
                                  int day, double depletion_mm, struct call *call) {
    double need_mm = outlook_harvest_need_mm(weigh, day, depletion_mm);
    if (!(need_mm > 0 && need_mm < call->application.net_mm))
        return STATUS_OK;
    if (call->kind == CALL_WATER_BY)
        call->reason = CALL_REASON_TO_HARVEST;
    return application_plan(input->system, need_mm, &call->application);
}

static enum status await_rain(const struct call_input *input, const struct outlook_cost_input *weigh, int dry,
                              struct call *call) {
    enum status status = call_await_rain(input, dry, call);
    int day = status == STATUS_OK ? call->start_by - input->today : 0;
    return status == STATUS_OK
               ? cut_to_harvest(input, weigh, day, call_start_mm(input, input->without_rain, day), call)
               : status;
}

static void hold(const struct outlook *outlook, struct call *call) {
    *call = (struct call){.kind = CALL_HOLD,
                          .reason = CALL_REASON_ENOUGH,
                          .date = call->date,
                          .start_by = CALENDAR_NONE,
                          .dry_date = CALENDAR_NONE,
                          .depletion_mm = call->depletion_mm,
                          .allowed_mm = call->allowed_mm,
                          .taw_mm = call->taw_mm,
                          .rain_expected_mm = rain_until_mm(outlook, outlook->days - 1),
                          .by_cost = true,
                          .spared_mm = call->spared_mm};
}

/* Whether a turn that starts tomorrow may come too late: some member is dry by the evening on which it would
 * end. Else there is nothing to water for today, whatever it costs; just after a turn above all. */
static bool too_late_tomorrow(const struct outlook *outlook, const struct outlook_cost *cost) {
    return outlook->passes[(int)fmin(cost->days_now, outlook->days - 1)] > 0;
}

static enum status decide(const struct call_input *input, const struct outlook *outlook,
                          const struct outlook_cost_input *weigh, const struct outlook_cost *cost,
                          struct call *call) {
    call->by_cost = true;
    call->spared_mm = cost->gross_now_mm - cost->gross_wait_mm;
    if (cost->water_now && too_late_tomorrow(outlook, cost)) {
        call->kind = CALL_WATER_TODAY;
        enum status status = set_turn(input, outlook, 0, cost->net_now_mm, call);
        call->reason = cost->to_harvest ? CALL_REASON_TO_HARVEST : why_water(input, call->dry_date);
        return status;
    }
    int dry = call_dry_day(input, input->without_rain);
    if (1 - outlook->passes[dry < outlook->days ? dry : outlook->days - 1] >= AS_LIKELY_AS_NOT)
        return await_rain(input, weigh, dry, call);
    if (cost->wait_day >= outlook->days) {
        hold(outlook, call);
        return STATUS_OK;
    }
    call->kind = CALL_WATER_BY;
    call->reason = CALL_REASON_PASSES_LATER;
    /* A morning more may cost nothing (Ks counts after the day's water); the date that people are given is
     * not past the day on which the field is likely dry. */
    int likely = likely_dry(input, outlook) - input->today;
    int day = likely >= 1 && likely < cost->wait_day ? likely : cost->wait_day;
    enum status status = set_turn(input, outlook, day, net_on(outlook, day), call);
    return status == STATUS_OK
               ? cut_to_harvest(input, weigh, day, outlook->depletion_mm[day - 1][OUTLOOK_P50], call)
               : status;
}

enum status call_by_cost(const struct call_input *input, const struct outlook *outlook,
                         const struct outlook_cost_input *weigh, struct outlook_cost_room *room,
                         struct call *out, struct outlook_cost *cost) {
    struct call call;
    struct outlook_cost weighed;
    enum status status = call_make(input, &call);
    if (status != STATUS_OK)
        return status;
    bool settled = call.kind == CALL_CANNOT_SAY || call.reason == CALL_REASON_RAINFED ||
                   call.reason == CALL_REASON_NOT_GROWING;
    if (!settled && call_dry_day(input, input->without_rain) >= 0) {
        struct outlook_cost_input against_plain = *weigh;
        against_plain.plain = call.kind == CALL_WATER_TODAY ? OUTLOOK_PLAIN_WATERS : OUTLOOK_PLAIN_WAITS;
        status = outlook_cost_run(&against_plain, room, &weighed);
        if (status == STATUS_OK)
            status = decide(input, outlook, weigh, &weighed, &call);
        if (status != STATUS_OK)
            return status;
        if (cost != NULL)
            *cost = weighed;
    } else if (!settled && outlook_harvest_need_mm(weigh, 0, call.depletion_mm) <= 0) {
        call.reason = CALL_REASON_CARRIED;
    }
    call.by_cost = !settled;
    if (!settled)
        call_add_chances(input, outlook, &call);
    *out = call;
    return STATUS_OK;
}
