/* The weather sources: how each stands, and what that means for the calls, in plain words. */
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/source/download.h"
#include "daemon/view/frame.h"
#include "daemon/view/neighbour_list.h"
#include "daemon/view/say.h"

/* A source that failed says so before anything else. */
static const char *state_key(const struct source_report *report) {
    bool forecast = report->state.kind == SOURCE_FORECAST;
    if (report->state.trouble[0] != '\0')
        return "failing";
    if (report->lag_days < 0)
        return "never";
    if (forecast && report->ahead_days == 0)
        return "ended";
    return report->lag_days > (forecast ? 1 : 0) ? "late" : "current";
}

/* What the calls make of it. */
static const char *meaning_key(const struct source_report *report) {
    if (report->state.kind == SOURCE_FORECAST)
        return report->lag_days < 0      ? "sources.means.no_forecast"
               : report->ahead_days == 0 ? "sources.means.ended"
               : report->lag_days > 1    ? "sources.means.old_forecast"
               : report->ahead_days == 1 ? "sources.means.forecast.one"
                                         : "sources.means.forecast";
    return report->lag_days < 0    ? "sources.means.never"
           : report->lag_days == 0 ? "sources.means.current"
           : report->lag_days == 1 ? "sources.means.late.one"
                                   : "sources.means.late";
}

static bool rain_missing(const struct source_report *report) {
    for (int i = 0; i < report->recent_count; i++) {
        if (report->recent[i].rain == ORIGIN_MISSING)
            return true;
    }
    return false;
}

static bool temperature_missing(const struct source_report *report) {
    for (int i = 0; i < report->recent_count; i++) {
        if (report->recent[i].temperature == ORIGIN_MISSING)
            return true;
    }
    return false;
}

static void add_meaning(const struct view_context *context, const struct source_report *report,
                        cJSON *source) {
    char days[SAY_SIZE], ahead[SAY_SIZE], on[SAY_SIZE], text[SAY_SIZE];
    const struct words_hole holes[] = {
        {"days", say_count(report->lag_days, days)},
        {"ahead", say_count(report->ahead_days, ahead)},
        {"on", say_day(context, "on", report->state.issued, on)},
    };
    cJSON_AddStringToObject(source, "means", say_words(context, meaning_key(report), holes, 3, text));
    if (report->state.kind == SOURCE_FORECAST)
        return;
    cJSON *instead = cJSON_AddArrayToObject(source, "instead");
    frame_origins(context, report->recent, (size_t)report->recent_count, instead);
    cJSON_AddBoolToObject(source, "has_instead", cJSON_GetArraySize(instead) > 0);
    cJSON_AddStringToObject(
        source, "instead_title",
        words_get(context->words, report->lag_days > 0 ? "sources.instead.late" : "sources.instead.recent"));
    const char *stops = temperature_missing(report) ? "sources.stops.weather"
                        : rain_missing(report)      ? "sources.stops.rain"
                                                    : NULL;
    if (stops != NULL)
        cJSON_AddStringToObject(source, "stops", words_get(context->words, stops));
}

/* "today at 4:30", or when it never was. */
static void add_time(const struct view_context *context, const char *key, const struct morning_time *time,
                     cJSON *source) {
    char day[SAY_SIZE], clock[16], text[SAY_SIZE], name[48];
    if (time->today == CALENDAR_NONE) {
        cJSON_AddNullToObject(source, key);
        snprintf(name, sizeof name, "%s_text", key);
        cJSON_AddStringToObject(source, name, words_get(context->words, "sources.never"));
        return;
    }
    snprintf(clock, sizeof clock, "%d:%02d", time->minute / 60, time->minute % 60);
    const struct words_hole holes[] = {{"on", say_day(context, "on", time->today, day)}, {"time", clock}};
    cJSON_AddNumberToObject(source, key, (double)time->at);
    snprintf(name, sizeof name, "%s_text", key);
    cJSON_AddStringToObject(source, name, say_words(context, "sources.at", holes, 2, text));
}

static void add_gaps(const struct view_context *context, const struct source_report *report, cJSON *source) {
    cJSON *list = cJSON_AddArrayToObject(source, "gaps");
    cJSON_AddNumberToObject(source, "gap_days", report->gap_days);
    cJSON_AddBoolToObject(source, "has_gaps", report->gap_count > 0);
    for (int i = 0; i < report->gap_count; i++) {
        const struct source_gap *gap = &report->gap[i];
        char first[SAY_SIZE], last[SAY_SIZE], text[SAY_SIZE];
        const struct words_hole holes[] = {{"first", say_date(context, gap->first, first)},
                                           {"last", say_date(context, gap->last, last)}};
        cJSON *item = cJSON_CreateObject();
        frame_date(item, "first", gap->first);
        frame_date(item, "last", gap->last);
        cJSON_AddStringToObject(
            item, "text",
            say_words(context, gap->first == gap->last ? "sources.gap.one" : "sources.gap", holes, 2, text));
        cJSON_AddItemToArray(list, item);
    }
}

static void add_finding(const struct view_context *context, const struct source_finding *finding,
                        cJSON *list) {
    char what_key[64], days[SAY_SIZE], on[SAY_SIZE], text[SAY_SIZE], whole[2 * SAY_SIZE];
    cJSON *item = cJSON_CreateObject();
    snprintf(what_key, sizeof what_key, "finding.%s", weather_finding_key(finding->kind));
    const struct words_hole holes[] = {{"what", words_get(context->words, what_key)},
                                       {"value", weather_element_name(finding->element)},
                                       {"days", say_count(finding->days, days)},
                                       {"on", say_day(context, "on", finding->newest, on)}};
    say_words(context, finding->days == 1 ? "sources.finding.one" : "sources.finding", holes, 4, text);
    snprintf(whole, sizeof whole, "%s%s", text,
             finding->suspect ? words_get(context->words, "sources.finding.unused") : "");
    cJSON_AddStringToObject(item, "kind", weather_finding_key(finding->kind));
    cJSON_AddStringToObject(item, "value", weather_element_name(finding->element));
    cJSON_AddNumberToObject(item, "days", finding->days);
    frame_date(item, "newest", finding->newest);
    frame_number(item, "found", finding->found);
    frame_number(item, "held_against", finding->held);
    cJSON_AddBoolToObject(item, "used", !finding->suspect);
    cJSON_AddStringToObject(item, "text", whole);
    cJSON_AddItemToArray(list, item);
}

static void add_lag(const struct view_context *context, const struct source_report *report, cJSON *source) {
    char days[SAY_SIZE], text[SAY_SIZE];
    const struct words_hole hole = {"days", say_count(report->lag_days, days)};
    const char *key = report->lag_days < 0    ? "sources.lag.none"
                      : report->lag_days == 0 ? "sources.lag.zero"
                      : report->lag_days == 1 ? "sources.lag.one"
                                              : "sources.lag";
    if (report->lag_days < 0)
        cJSON_AddNullToObject(source, "lag_days");
    else
        cJSON_AddNumberToObject(source, "lag_days", report->lag_days);
    cJSON_AddStringToObject(source, "lag_text", say_words(context, key, &hole, 1, text));
}

static cJSON *source_view(const struct view_context *context, const struct source_report *report) {
    const struct source_state *state = &report->state;
    cJSON *source = cJSON_CreateObject();
    if (source == NULL)
        return NULL;
    char key[64], shown[DOWNLOAD_ADDRESS_MAX];
    bool forecast = state->kind == SOURCE_FORECAST;
    cJSON_AddStringToObject(source, "name", state->name);
    cJSON_AddStringToObject(source, "station", state->station);
    cJSON_AddStringToObject(source, "kind", forecast ? "forecast" : "observed");
    cJSON_AddStringToObject(source, "kind_text",
                            words_get(context->words, forecast ? "sources.forecast" : "sources.observed"));
    cJSON_AddStringToObject(source, "layout", state->layout);
    cJSON_AddStringToObject(source, "address", download_shown(state->address, shown));
    cJSON_AddStringToObject(source, "state", state_key(report));
    snprintf(key, sizeof key, "sources.state.%s", state_key(report));
    cJSON_AddStringToObject(source, "state_text", words_get(context->words, key));
    cJSON_AddNumberToObject(source, "fields", report->fields);
    add_time(context, "taken_at", &report->taken, source);
    add_time(context, "tried_at", &report->tried, source);
    if (report->retry.today != CALENDAR_NONE)
        add_time(context, "retry_at", &report->retry, source);
    frame_date(source, "first_day", state->first_day);
    frame_date(source, "last_day", state->last_day);
    if (forecast)
        frame_date(source, "issued", state->issued);
    add_lag(context, report, source);
    struct text trouble;
    text_init(&trouble, 0);
    words_kept(context->words, state->trouble, &trouble);
    cJSON_AddStringToObject(source, "trouble", text_string(&trouble));
    text_free(&trouble);
    add_meaning(context, report, source);
    cJSON_AddBoolToObject(source, "has_neighbours", report->neighbour_count > 0);
    cJSON_AddItemToObject(source, "neighbours",
                          neighbour_list(context, report->neighbour, report->neighbour_count));
    add_gaps(context, report, source);
    cJSON *findings = cJSON_AddArrayToObject(source, "findings");
    for (int i = 0; i < report->finding_count; i++)
        add_finding(context, &report->finding[i], findings);
    cJSON_AddBoolToObject(source, "has_findings", report->finding_count > 0);
    return source;
}

cJSON *view_sources(const struct view_context *context, const struct source_report *reports, size_t count) {
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    char good[SAY_SIZE], all[SAY_SIZE], text[SAY_SIZE];
    int current = 0;
    cJSON_AddStringToObject(view, "title", words_get(context->words, "title.sources"));
    cJSON *sources = cJSON_AddArrayToObject(view, "sources");
    for (size_t i = 0; i < count; i++) {
        cJSON_AddItemToArray(sources, source_view(context, &reports[i]));
        current += strcmp(state_key(&reports[i]), "current") == 0;
    }
    const struct words_hole holes[] = {{"good", say_count(current, good)},
                                       {"all", say_count((int)count, all)}};
    cJSON_AddStringToObject(view, "summary",
                            say_words(context,
                                      count == 0                 ? "sources.summary.none"
                                      : (size_t)current == count ? "sources.summary.all"
                                                                 : "sources.summary.some",
                                      holes, 2, text));
    return view;
}
