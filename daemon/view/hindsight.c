/* Hindsight: calls beside what came, how often the chances held, forecasts' errors, waits, past years. */
#include "daemon/morning/hindsight.h"

#include <math.h>
#include <stdio.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/chance.h"
#include "daemon/view/frame.h"

#define CALLS_SHOWN 200

static void add_words(const struct view_context *context, cJSON *object, const char *name, const char *key,
                      const struct words_hole *holes, size_t count) {
    char text[SAY_SIZE];
    cJSON_AddStringToObject(object, name, say_words(context, key, holes, count, text));
}

static void add_depth(const struct view_context *context, cJSON *object, const char *name, double mm) {
    char key[48], text[SAY_SIZE];
    frame_number(object, name, mm);
    (void)snprintf(key, sizeof key, "%s_text", name);
    cJSON_AddStringToObject(
        object, key, isfinite(mm) ? say_depth(context, mm, text) : words_get(context->words, "number.none"));
}

static void add_text(const struct view_context *context, cJSON *object, const char *name, double value,
                     int decimals) {
    char key[48], text[SAY_SIZE];
    frame_number(object, name, value);
    (void)snprintf(key, sizeof key, "%s_text", name);
    cJSON_AddStringToObject(object, key, say_number(context, value, decimals, text));
}

static void add_share(const struct view_context *context, cJSON *object, const char *name, double share) {
    char key[48], text[SAY_SIZE];
    frame_number(object, name, share);
    (void)snprintf(key, sizeof key, "%s_text", name);
    cJSON_AddStringToObject(object, key,
                            isfinite(share) ? say_share(context, share, text)
                                            : words_get(context->words, "number.none"));
}

/* ---- calls */

/* "dry 3 days before", and the form for one day. */
static const char *came_key(const struct hindsight_call *call) {
    int32_t said = call->said.call.dry_date;
    if (call->came_dry == CALENDAR_NONE)
        return call->known_days < MORNING_AHEAD ? "hindsight.came.open" : "hindsight.came.never";
    if (said == CALENDAR_NONE)
        return "hindsight.came.dry";
    int off = call->came_dry - said;
    return off == 0    ? "hindsight.came.on"
           : off == -1 ? "hindsight.came.early.one"
           : off == 1  ? "hindsight.came.late.one"
           : off < 0   ? "hindsight.came.early"
                       : "hindsight.came.late";
}

static void add_came(const struct view_context *context, const struct hindsight_call *call, cJSON *row) {
    int32_t said = call->said.call.dry_date;
    char days[SAY_SIZE], on[SAY_SIZE];
    int off = call->came_dry != CALENDAR_NONE && said != CALENDAR_NONE ? call->came_dry - said : 0;
    const struct words_hole holes[] = {{"days", say_count(off < 0 ? -off : off, days)},
                                       {"on", say_date(context, call->came_dry, on)}};
    frame_date(row, "came_dry", call->came_dry);
    add_words(context, row, "came_text", came_key(call), holes, 2);
}

static cJSON *call_row(const struct view_context *context, const struct hindsight_call *call) {
    const struct call *said = &call->said.call;
    char text[SAY_SIZE], key[48];
    cJSON *row = cJSON_CreateObject();
    cJSON_AddStringToObject(row, "field", call->said.field);
    frame_date(row, "date", said->date);
    cJSON_AddStringToObject(row, "date_text", say_date(context, said->date, text));
    cJSON_AddStringToObject(row, "call", call_kind_key(said->kind));
    (void)snprintf(key, sizeof key, "hindsight.call.%s", call_kind_key(said->kind));
    cJSON_AddStringToObject(row, "call_text", words_get(context->words, key));
    frame_date(row, "start_by", said->start_by);
    frame_date(row, "dry_date", said->dry_date);
    cJSON_AddStringToObject(row, "dry_text",
                            said->dry_date != CALENDAR_NONE ? say_date(context, said->dry_date, text)
                                                            : words_get(context->words, "number.none"));
    frame_number(row, "dry_chance", said->dry_chance);
    cJSON_AddStringToObject(row, "chance_text",
                            isfinite(said->dry_chance) && call->said.outlook.days > 0
                                ? say_chance(context, said->dry_chance, text)
                                : words_get(context->words, "number.none"));
    add_came(context, call, row);
    cJSON_AddNumberToObject(row, "known_days", call->known_days);
    add_depth(context, row, "rain_expected_mm", said->rain_expected_mm);
    add_depth(context, row, "rain_mm", call->rain_mm);
    add_depth(context, row, "given_mm", call->given_mm);
    frame_number(row, "missing_mm", call->missing_mm);
    return row;
}

/* Where something was said of something that grows, there is something to look back at. */
static bool says_anything(const struct call *call) {
    return call->kind != CALL_CANNOT_SAY && call->reason != CALL_REASON_NOT_GROWING;
}

/* The newest first, as many as a page takes. */
static void add_calls(const struct view_context *context, const struct hindsight *hindsight, cJSON *view) {
    cJSON *calls = cJSON_AddArrayToObject(view, "calls");
    size_t shown = 0;
    for (int32_t day = hindsight->last; day >= hindsight->first && shown < CALLS_SHOWN; day--)
        for (size_t i = 0; i < hindsight->call_count && shown < CALLS_SHOWN; i++)
            if (hindsight->call[i].said.call.date == day && says_anything(&hindsight->call[i].said.call)) {
                cJSON_AddItemToArray(calls, call_row(context, &hindsight->call[i]));
                shown++;
            }
    cJSON_AddBoolToObject(view, "has_calls", shown > 0);
}

/* ---- scores */

static cJSON *score_model(const struct view_context *context, const struct outlook_score *score) {
    cJSON *model = cJSON_CreateObject();
    char from[SAY_SIZE], to[SAY_SIZE];
    cJSON_AddBoolToObject(model, "has_score", score->all > 0);
    cJSON_AddNumberToObject(model, "all", (double)score->all);
    add_text(context, model, "brier", outlook_score_brier(score), 3);
    add_text(context, model, "brier_climatology", outlook_score_climatology(score), 3);
    cJSON *tenths = cJSON_AddArrayToObject(model, "tenths");
    for (int i = 0; i < OUTLOOK_TENTHS; i++) {
        cJSON *row = cJSON_CreateObject();
        const struct words_hole holes[] = {{"from", say_count(10 * i, from)},
                                           {"to", say_count(10 * i + 10, to)}};
        add_words(context, row, "range", "hindsight.range", holes, 2);
        cJSON_AddNumberToObject(row, "count", (double)score->count[i]);
        add_share(context, row, "said",
                  score->count[i] > 0 ? score->said[i] / (double)score->count[i] : (double)NAN);
        add_share(context, row, "came",
                  score->count[i] > 0 ? (double)score->came[i] / (double)score->count[i] : (double)NAN);
        cJSON_AddItemToArray(tenths, row);
    }
    return model;
}

static void add_leads(const struct view_context *context, const struct hindsight *hindsight, cJSON *view) {
    cJSON *leads = cJSON_AddArrayToObject(view, "leads");
    for (int i = 0; i < MORNING_AHEAD; i++) {
        const struct hindsight_lead *lead = &hindsight->lead[i];
        if (lead->calls == 0)
            continue;
        cJSON *row = cJSON_CreateObject();
        cJSON_AddNumberToObject(row, "ahead", i);
        cJSON_AddNumberToObject(row, "calls", lead->calls);
        cJSON_AddNumberToObject(row, "settled", lead->settled);
        cJSON_AddNumberToObject(row, "early", lead->early);
        cJSON_AddNumberToObject(row, "on_day", lead->on_day);
        cJSON_AddNumberToObject(row, "late", lead->late);
        add_text(context, row, "days_off", lead->dried > 0 ? lead->days_off / lead->dried : (double)NAN, 1);
        cJSON_AddItemToArray(leads, row);
    }
    cJSON_AddBoolToObject(view, "has_leads", cJSON_GetArraySize(leads) > 0);
}

static void add_waits(const struct view_context *context, const struct hindsight *hindsight, cJSON *view) {
    const struct hindsight_waits *waits = &hindsight->waits;
    char all[SAY_SIZE], covered[SAY_SIZE], saved[SAY_SIZE], missed[SAY_SIZE], missing[SAY_SIZE];
    const struct words_hole holes[] = {{"waits", say_count(waits->waits, all)},
                                       {"covered", say_count(waits->covered, covered)},
                                       {"saved", say_depth(context, waits->saved_mm, saved)},
                                       {"missed", say_count(waits->missed, missed)},
                                       {"missing", say_depth(context, waits->missing_mm, missing)}};
    cJSON *model = cJSON_AddObjectToObject(view, "waits");
    cJSON_AddNumberToObject(model, "waits", waits->waits);
    cJSON_AddNumberToObject(model, "covered", waits->covered);
    cJSON_AddNumberToObject(model, "missed", waits->missed);
    frame_number(model, "saved_mm", waits->saved_mm);
    frame_number(model, "missing_mm", waits->missing_mm);
    const char *key = hindsight->call_count == 0 ? "hindsight.no_calls"
                      : waits->waits > 0         ? "hindsight.waits"
                                                 : "hindsight.waits.none";
    add_words(context, view, "waits_text", key, holes, 5);
}

/* ---- forecasts */

/* A difference of depths, in inches with one figure more. */
static void add_off(const struct view_context *context, cJSON *row, const char *name, double mm,
                    int decimals) {
    char key[48], text[SAY_SIZE];
    double shown = context->us_units ? units_from_si(mm, units_find("in")) : mm;
    frame_number(row, name, mm);
    (void)snprintf(key, sizeof key, "%s_text", name);
    cJSON_AddStringToObject(row, key,
                            say_number(context, shown, context->us_units ? decimals + 1 : decimals, text));
}

static cJSON *lead_row(const struct view_context *context, const struct outlook_lead *lead, int ahead) {
    cJSON *row = cJSON_CreateObject();
    cJSON_AddNumberToObject(row, "ahead", ahead);
    cJSON_AddNumberToObject(row, "et0_days", lead->et0_pairs);
    cJSON_AddNumberToObject(row, "rain_days", lead->rain_pairs);
    add_off(context, row, "et0_error_mm", lead->et0_error_mm, 2);
    add_off(context, row, "et0_abs_error_mm", lead->et0_abs_error_mm, 2);
    add_off(context, row, "rain_error_mm", lead->rain_error_mm, 1);
    add_off(context, row, "rain_abs_error_mm", lead->rain_abs_error_mm, 1);
    add_text(context, row, "et0_ratio", lead->et0_ratio, 2);
    add_share(context, row, "wet_if_none", lead->wet_chance[OUTLOOK_RAIN_NONE]);
    add_share(context, row, "wet_if_much", lead->wet_chance[OUTLOOK_RAIN_MUCH]);
    cJSON_AddBoolToObject(row, "judged", lead->judged);
    return row;
}

static const char *correction_key(const struct hindsight_source *source) {
    bool judged = false;
    for (int i = 0; i < MORNING_AHEAD; i++)
        judged = judged || source->errors.lead[i].judged;
    if (source->errors.pairs == 0)
        return "hindsight.correction.nothing";
    if (!source->learnt_from)
        return "hindsight.correction.other";
    if (!judged)
        return "hindsight.correction.few";
    return source->corrected ? "hindsight.correction.on" : "hindsight.correction.off";
}

static void add_sources(const struct view_context *context, const struct hindsight *hindsight, cJSON *view) {
    cJSON *sources = cJSON_AddArrayToObject(view, "forecasts");
    for (size_t i = 0; i < hindsight->source_count; i++) {
        const struct hindsight_source *source = &hindsight->source[i];
        cJSON *model = cJSON_CreateObject();
        char pairs[SAY_SIZE];
        const struct words_hole hole = {"least", say_count(OUTLOOK_JUDGE_PAIRS, pairs)};
        cJSON_AddStringToObject(model, "source", source->source);
        cJSON_AddStringToObject(model, "station", source->station);
        cJSON_AddNumberToObject(model, "days", (double)source->errors.pairs);
        cJSON_AddBoolToObject(model, "corrected", source->corrected);
        add_words(context, model, "correction", correction_key(source), &hole, 1);
        cJSON_AddBoolToObject(model, "has_days", source->errors.pairs > 0);
        cJSON *leads = cJSON_AddArrayToObject(model, "leads");
        for (int l = 0; l < MORNING_AHEAD && source->errors.pairs > 0; l++)
            cJSON_AddItemToArray(leads, lead_row(context, &source->errors.lead[l], l));
        cJSON_AddItemToArray(sources, model);
    }
    cJSON_AddBoolToObject(view, "has_forecasts", hindsight->source_count > 0);
}

/* ---- past years */

static void add_years(const struct view_context *context, const struct hindsight *hindsight, cJSON *view) {
    cJSON *years = cJSON_AddArrayToObject(view, "years");
    for (size_t i = 0; i < hindsight->year_count; i++) {
        const struct hindsight_year *year = &hindsight->year[i];
        cJSON *row = cJSON_CreateObject();
        cJSON_AddStringToObject(row, "field", year->field);
        cJSON_AddNumberToObject(row, "year", year->year);
        cJSON_AddStringToObject(
            row, "rule",
            words_get(context->words, year->by_cost ? "hindsight.rule.cost" : "hindsight.rule.depletion"));
        cJSON_AddNumberToObject(row, "turns", year->turns);
        add_depth(context, row, "gross_mm", year->gross_mm);
        add_depth(context, row, "percolation_mm", year->percolation_mm);
        add_share(context, row, "yield", year->yield);
        cJSON_AddItemToArray(years, row);
    }
    cJSON_AddBoolToObject(view, "has_years", hindsight->year_count > 0);
    cJSON *score = score_model(context, &hindsight->year_score);
    add_text(context, score, "brier_path", outlook_score_brier(&hindsight->year_path_score), 3);
    cJSON_AddItemToObject(view, "years_score", score);
}

cJSON *view_hindsight(const struct view_context *context, const struct hindsight *hindsight) {
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    char from[SAY_SIZE], to[SAY_SIZE];
    const struct words_hole holes[] = {{"from", say_date(context, hindsight->first, from)},
                                       {"to", say_date(context, hindsight->last, to)}};
    cJSON_AddStringToObject(view, "title", words_get(context->words, "title.hindsight"));
    frame_date(view, "first", hindsight->first);
    frame_date(view, "last", hindsight->last);
    add_words(context, view, "span", "hindsight.span", holes, 2);
    cJSON_AddItemToObject(view, "score", score_model(context, &hindsight->score));
    add_leads(context, hindsight, view);
    add_waits(context, hindsight, view);
    add_sources(context, hindsight, view);
    cJSON_AddStringToObject(view, "depth_unit", context->us_units ? "in" : "mm");
    add_calls(context, hindsight, view);
    add_years(context, hindsight, view);
    return view;
}
