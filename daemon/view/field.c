/* One field as a person meets it in the morning: the call in a sentence, why, and what to know about the
 * data. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/chance.h"
#include "daemon/view/frame.h"
#include "daemon/view/ribbon.h"
#include "daemon/view/say.h"
#include "daemon/view/turns_say.h"

/* "by Thursday"; a day that has gone by is "at once". */
static char *say_by(const struct view_context *context, const struct call *call, char out[SAY_SIZE]) {
    int32_t gone = context->facts->today - 1;
    bool late = calendar_valid(call->start_by) && call->start_by < gone;
    return say_day(context, "by", late ? gone : call->start_by, out);
}

/* The sentence is the head ("Water today:") and what follows it. */
static char *say_head(const struct view_context *context, const struct call *call, char out[SAY_SIZE]) {
    static const char *const keys[CALL_KIND_COUNT] = {"head.water_today", "head.water_by",
                                                      "head.rain_may_cover", "head.hold", "head.cannot_say"};
    char by[SAY_SIZE];
    const struct words_hole hole = {"by", say_by(context, call, by)};
    return say_words(context, call->kind < CALL_KIND_COUNT ? keys[call->kind] : "head.cannot_say", &hole, 1,
                     out);
}

/* "run 9½ hours for 38 mm gross, 32 mm net" in the form that goes with what is known. */
static char *say_run(const struct view_context *context, const struct call *call, const char *prefix,
                     char out[SAY_SIZE]) {
    const struct application *application = &call->application;
    bool many_days = isfinite(application->days) && application->days > 1;
    char hours[SAY_SIZE], days[SAY_SIZE], gross[SAY_SIZE], net[SAY_SIZE], by[SAY_SIZE], rain[SAY_SIZE],
        key[48];
    const struct words_hole holes[] = {
        {"hours", say_hours(context, application->hours, hours)},
        {"days", say_number(context, ceil(application->days), 0, days)},
        {"gross", say_depth(context, application->gross_mm, gross)},
        {"net", say_depth(context, application->net_mm, net)},
        {"by", say_by(context, call, by)},
        {"rain", say_depth(context, call->rain_expected_mm, rain)},
    };
    snprintf(key, sizeof key, "tail.%s.%s", prefix,
             !isfinite(application->hours) ? "depth"
             : many_days                   ? "days"
                                           : "hours");
    return say_words(context, key, holes, sizeof holes / sizeof *holes, out);
}

static char *say_tail(const struct view_context *context, const struct field_morning *morning,
                      char out[SAY_SIZE]) {
    const struct call *call = &morning->call;
    const char *key = "tail.cannot_say";
    switch (call->kind) {
    case CALL_WATER_TODAY:
    case CALL_WATER_BY:
        return say_run(context, call, "water", out);
    case CALL_RAIN_MAY_COVER:
        return say_run(context, call, "rain", out);
    case CALL_HOLD:
        key = call->reason == CALL_REASON_RAINFED       ? "tail.hold.rainfed"
              : morning->planting_date == CALENDAR_NONE ? "tail.hold.not_planted"
              : call->reason == CALL_REASON_NOT_GROWING ? "tail.hold.not_growing"
              : call->reason == CALL_REASON_CARRIED     ? "tail.hold.carried"
                                                        : "tail.hold.enough";
        break;
    case CALL_CANNOT_SAY:
    case CALL_KIND_COUNT:
        key = call->reason == CALL_REASON_RAIN_MISSING      ? "tail.cannot_say.rain"
              : call->reason == CALL_REASON_WEATHER_MISSING ? "tail.cannot_say.weather"
                                                            : "tail.cannot_say";
        break;
    }
    return say_words(context, key, NULL, 0, out);
}

static const char *why_key(const struct view_context *context, const struct field_morning *morning) {
    const struct call *call = &morning->call;
    bool share_known = isfinite(say_share_of(call->depletion_mm, call->allowed_mm));
    switch (call->reason) {
    case CALL_REASON_PAST_ALLOWED:
        return "why.past_allowed";
    case CALL_REASON_PASSES_TODAY: /* of an older call "today" is another day */
        return call->date == context->facts->today ? "why.passes_today" : "why.passes_later";
    case CALL_REASON_PASSES_LATER:
        return calendar_valid(call->dry_date) ? "why.passes_later" : "why.used";
    case CALL_REASON_RAIN_EXPECTED:
        return calendar_valid(call->dry_date) ? "why.rain_expected" : "why.used";
    case CALL_REASON_NOT_GROWING:
        return morning->planting_date == CALENDAR_NONE          ? NULL
               : morning->planting_date > context->facts->today ? "why.before_planting"
                                                                : "why.ended";
    case CALL_REASON_RAIN_MISSING:
        return "why.rain_missing";
    case CALL_REASON_WEATHER_MISSING:
        return "why.weather_missing";
    case CALL_REASON_TO_HARVEST:
        return calendar_valid(call->dry_date) ? "why.to_harvest" : "why.used";
    case CALL_REASON_ENOUGH:
    case CALL_REASON_CARRIED:
    case CALL_REASON_RAINFED:
    case CALL_REASON_COUNT:
        break;
    }
    return share_known ? "why.used" : NULL;
}

/* How long the rain of the call is counted: to the dry day, or as far as the forecast goes. */
static const char *rain_key(const struct view_context *context, const struct call *call) {
    bool any = call->rain_expected_mm > 0;
    bool today = call->reason == CALL_REASON_PAST_ALLOWED || call->reason == CALL_REASON_PASSES_TODAY;
    if (today && call->date == context->facts->today)
        return any ? "why.and_rain.today" : "why.and_no_rain.today";
    if (today || call->reason == CALL_REASON_PASSES_LATER || call->reason == CALL_REASON_TO_HARVEST)
        return any ? "why.and_rain.then" : "why.and_no_rain.then";
    return any ? "why.and_rain.days" : "why.and_no_rain.days";
}

/* Rain is told where the sentence has not told it and where it matters. */
static bool tells_rain(const struct view_context *context, const struct call *call) {
    if (call->reason == CALL_REASON_PAST_ALLOWED && call->date != context->facts->today)
        return false;
    return call->kind != CALL_RAIN_MAY_COVER && call->kind != CALL_CANNOT_SAY &&
           call->reason != CALL_REASON_NOT_GROWING && isfinite(call->rain_expected_mm);
}

static void add_why(const struct view_context *context, const struct field_morning *morning, cJSON *field) {
    const struct call *call = &morning->call;
    char used[SAY_SIZE], allowed[SAY_SIZE], share[SAY_SIZE], on[SAY_SIZE], rain[SAY_SIZE], days[SAY_SIZE],
        why[SAY_SIZE], whole[3 * SAY_SIZE];
    int32_t day = call->reason == CALL_REASON_NOT_GROWING ? morning->planting_date : call->dry_date;
    const struct words_hole holes[] = {
        {"used", say_depth(context, call->depletion_mm, used)},
        {"allowed", say_depth(context, call->allowed_mm, allowed)},
        {"share", say_share(context, say_share_of(call->depletion_mm, call->allowed_mm), share)},
        {"on", say_day(context, "on", day, on)},
        {"rain", say_depth(context, call->rain_expected_mm, rain)},
        {"days", say_count(morning->ahead_count, days)},
    };
    size_t count = sizeof holes / sizeof *holes;
    const char *key = why_key(context, morning);
    if (key == NULL)
        return;
    size_t size = (size_t)snprintf(whole, sizeof whole, "%s", say_words(context, key, holes, count, why));
    snprintf(whole + size, sizeof whole - size, "%s", chance_clause(context, morning, why));
    if (tells_rain(context, call)) {
        size = strlen(whole);
        snprintf(whole + size, sizeof whole - size, "%s",
                 say_words(context, rain_key(context, call), holes, count, why));
    }
    cJSON_AddStringToObject(field, "why", whole);
    char dates[DATES_SIZE];
    if (chance_dates(context, morning, dates) != NULL)
        cJSON_AddStringToObject(field, "dry_dates", dates);
}

static void add_note(cJSON *notes, const char *note) {
    cJSON_AddItemToArray(notes, cJSON_CreateString(note));
}

/* What is stale, missing or estimated behind the call. */
static void add_notes(const struct view_context *context, const struct field_morning *morning, cJSON *field) {
    char day[SAY_SIZE], note[SAY_SIZE];
    int32_t today = context->facts->today;
    cJSON *notes = cJSON_AddArrayToObject(field, "notes");
    if (morning->planting_date == CALENDAR_NONE)
        return;
    struct words_hole hole = {"on", say_day(context, "on", morning->call.date, day)};
    if (calendar_valid(morning->call.date) && morning->call.date != today)
        add_note(notes, say_words(context, "note.old_call", &hole, 1, note));
    hole = (struct words_hole){"until", say_day(context, "until", morning->weather_until, day)};
    if (!calendar_valid(morning->weather_until))
        add_note(notes, words_get(context->words, "note.no_weather"));
    else if (morning->weather_until < today - 1)
        add_note(notes, say_words(context, "note.weather_until", &hole, 1, note));
    struct ledger_origins past[MORNING_PAST];
    int count = morning->past_count < MORNING_PAST ? morning->past_count : MORNING_PAST;
    for (int i = 0; i < count; i++)
        past[i] = morning->past[i].origin;
    if (count > 0)
        frame_origins(context, past, (size_t)count, notes);
    hole = (struct words_hole){"on", say_day(context, "on", morning->forecast_issued, day)};
    if (!calendar_valid(morning->forecast_issued))
        add_note(notes, words_get(context->words, "note.no_forecast"));
    else if (morning->forecast_issued < today - 1)
        add_note(notes, say_words(context, "note.old_forecast", &hole, 1, note));
    if (chance_loss(context, morning, note) != NULL)
        add_note(notes, note);
    if (morning->call.application.limited)
        add_note(notes, words_get(context->words, "note.limited"));
}

static enum crop_stage stage_today(const struct field_morning *morning) {
    if (morning->ahead_count > 0)
        return morning->ahead[0].stage;
    if (morning->past_count > 0 && morning->past_count <= MORNING_PAST)
        return morning->past[morning->past_count - 1].stage;
    return STAGE_COUNT;
}

/* "Maize, mid-season", "trial Deficit, treatment half". */
static void add_labels(const struct view_context *context, const struct field_morning *morning,
                       cJSON *field) {
    char text[SAY_SIZE];
    const char *stage = frame_stage(context, stage_today(morning));
    const char *crop_name = words_crop(context->words, morning->crop_name);
    const struct words_hole crop[] = {{"crop", crop_name}, {"stage", stage}};
    if (morning->crop_name[0] != '\0')
        cJSON_AddStringToObject(
            field, "crop", stage[0] != '\0' ? say_words(context, "field.crop", crop, 2, text) : crop_name);
    const struct words_hole trial[] = {{"trial", morning->trial}, {"treatment", morning->treatment}};
    if (morning->trial[0] != '\0')
        cJSON_AddStringToObject(field, "trial", say_words(context, "field.trial", trial, 2, text));
    if (morning->supply[0] != '\0')
        cJSON_AddStringToObject(field, "supply", morning->supply);
}

/* The figures behind the sentence, in the units of core/. */
static void add_figures(const struct field_morning *morning, cJSON *field) {
    const struct call *call = &morning->call;
    frame_date(field, "start_by", call->start_by);
    frame_date(field, "dry_date", call->dry_date);
    frame_date(field, "weather_until", morning->weather_until);
    frame_date(field, "forecast_issued", morning->forecast_issued);
    frame_number(field, "depletion_mm", call->depletion_mm);
    frame_number(field, "allowed_mm", call->allowed_mm);
    frame_number(field, "taw_mm", call->taw_mm);
    frame_number(field, "rain_expected_mm", call->rain_expected_mm);
    frame_number(field, "net_mm", call->application.net_mm);
    frame_number(field, "gross_mm", call->application.gross_mm);
    frame_number(field, "volume_m3", call->application.volume_m3);
    frame_number(field, "hours", call->application.hours);
    chance_figures(morning, field);
}

char *frame_sentence(const struct view_context *context, const struct field_morning *morning,
                     char out[2 * SAY_SIZE + 1]) {
    char head[SAY_SIZE], tail[SAY_SIZE];
    (void)snprintf(out, 2 * SAY_SIZE + 1, "%s %s", say_head(context, &morning->call, head),
                   say_tail(context, morning, tail));
    return out;
}

/* When it comes, and the page of it; and one that is over, of which nobody said what became. */
static void add_turn(const struct view_context *context, const struct field_morning *morning, cJSON *field) {
    char turn[TURNS_SAY_SIZE], href[40];
    if (turns_say_over(context, morning, turn)[0] != '\0') {
        (void)snprintf(href, sizeof href, "/turn/%lld", (long long)morning->over.id);
        cJSON_AddStringToObject(field, "turn_over", turn);
        cJSON_AddStringToObject(field, "turn_over_href", href);
    }
    if (turns_say_next(context, morning, turn)[0] == '\0')
        return;
    if (morning->turn.left_out)
        (void)snprintf(href, sizeof href, "/turns");
    else
        (void)snprintf(href, sizeof href, "/turn/%lld", (long long)morning->turn.id);
    cJSON_AddStringToObject(field, "turn", turn);
    cJSON_AddStringToObject(field, "turn_href", href);
    cJSON_AddBoolToObject(field, "turn_under_way", morning->turn.under_way);
}

cJSON *frame_field(const struct view_context *context, const struct field_morning *morning, int id) {
    cJSON *field = cJSON_CreateObject();
    if (field == NULL)
        return NULL;
    char head[SAY_SIZE], tail[SAY_SIZE], sentence[2 * SAY_SIZE + 1];
    say_head(context, &morning->call, head);
    say_tail(context, morning, tail);
    snprintf(sentence, sizeof sentence, "%s %s", head, tail);
    cJSON_AddStringToObject(field, "name", morning->field);
    frame_link(field, "href", morning->field, "");
    cJSON_AddStringToObject(field, "call", call_kind_key(morning->call.kind));
    cJSON_AddStringToObject(field, "reason", call_reason_key(morning->call.reason));
    cJSON_AddStringToObject(field, "sentence", sentence);
    cJSON_AddStringToObject(field, "head", head);
    cJSON_AddStringToObject(field, "tail", tail);
    add_why(context, morning, field);
    add_labels(context, morning, field);
    add_notes(context, morning, field);
    add_turn(context, morning, field);
    add_figures(morning, field);
    if (morning->planting_date != CALENDAR_NONE) {
        struct text ribbon;
        text_init(&ribbon, 0);
        ribbon_add(context, morning, id, &ribbon);
        cJSON_AddStringToObject(field, "ribbon", text_string(&ribbon));
        text_free(&ribbon);
    }
    return field;
}
