#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"
#include "daemon/view/say.h"
#include "daemon/view/view.h"

/* The order in which a person has to act. */
enum urgency { URGENCY_TODAY, URGENCY_CANNOT_SAY, URGENCY_BY, URGENCY_RAIN, URGENCY_HOLD, URGENCY_RAINFED };

struct place {
    const struct field_morning *morning;
    size_t index;
    enum urgency urgency;
};

static enum urgency urgency_of(const struct call *call) {
    if (call->reason == CALL_REASON_RAINFED)
        return URGENCY_RAINFED;
    switch (call->kind) {
    case CALL_WATER_TODAY:
        return URGENCY_TODAY;
    case CALL_WATER_BY:
        return URGENCY_BY;
    case CALL_RAIN_MAY_COVER:
        return URGENCY_RAIN;
    case CALL_HOLD:
        return URGENCY_HOLD;
    case CALL_CANNOT_SAY:
    case CALL_KIND_COUNT:
        break;
    }
    return URGENCY_CANNOT_SAY;
}

/* Unknown shares come after all others. */
static double share_or_least(const struct call *call) {
    double share = say_share_of(call->depletion_mm, call->allowed_mm);
    return isfinite(share) ? share : -1;
}

static int compare_places(const void *left, const void *right) {
    const struct place *a = left, *b = right;
    if (a->urgency != b->urgency)
        return a->urgency < b->urgency ? -1 : 1;
    const struct call *call_a = &a->morning->call, *call_b = &b->morning->call;
    bool dated = a->urgency == URGENCY_BY || a->urgency == URGENCY_RAIN;
    if (dated && call_a->start_by != call_b->start_by)
        return call_a->start_by < call_b->start_by ? -1 : 1;
    double share_a = share_or_least(call_a), share_b = share_or_least(call_b);
    if (share_a < share_b || share_a > share_b)
        return share_a > share_b ? -1 : 1;
    return a->index < b->index ? -1 : 1;
}

/* "Water 3 fields today", and what else wants a person. */
static void add_summary(const struct view_context *context, const struct place *places, size_t count,
                        cJSON *view) {
    int tally[URGENCY_RAINFED + 1] = {0};
    for (size_t i = 0; i < count; i++)
        tally[places[i].urgency]++;
    char number[SAY_SIZE], text[SAY_SIZE];
    struct words_hole hole = {"n", say_count(tally[URGENCY_TODAY], number)};
    const char *key = count == 0                       ? "summary.empty"
                      : tally[URGENCY_TODAY] == 1      ? "summary.one"
                      : tally[URGENCY_TODAY] > 1       ? "summary.many"
                      : tally[URGENCY_CANNOT_SAY] == 0 ? "summary.none"
                                                       : "summary.none.known";
    cJSON_AddStringToObject(view, "summary", say_words(context, key, &hole, 1, text));
    say_count(tally[URGENCY_CANNOT_SAY], number);
    if (tally[URGENCY_CANNOT_SAY] > 0)
        cJSON_AddStringToObject(
            view, "summary_more",
            say_words(context, tally[URGENCY_CANNOT_SAY] == 1 ? "summary.cannot.one" : "summary.cannot.many",
                      &hole, 1, text));
}

static void add_link(const struct view_context *context, cJSON *view, const char *key, const char *words,
                     size_t from, size_t fields) {
    char href[32], number[SAY_SIZE], text[SAY_SIZE];
    const struct words_hole hole = {"n", say_count((int)fields, number)};
    cJSON *link = cJSON_AddObjectToObject(view, key);
    snprintf(href, sizeof href, "?from=%zu", from);
    cJSON_AddStringToObject(link, "href", href);
    cJSON_AddStringToObject(link, "text", say_words(context, words, &hole, 1, text));
}

cJSON *view_today(const struct view_context *context, const struct field_morning *mornings, size_t count) {
    const struct today_part all = {.most = count};
    return view_today_part(context, mornings, count, &all);
}

cJSON *view_today_part(const struct view_context *context, const struct field_morning *mornings, size_t count,
                       const struct today_part *part) {
    struct place *places = calloc(count + 1, sizeof *places);
    cJSON *view = places != NULL ? frame_new(context) : NULL;
    if (view == NULL) {
        free(places);
        return NULL;
    }
    for (size_t i = 0; i < count; i++)
        places[i] = (struct place){&mornings[i], i, urgency_of(&mornings[i].call)};
    qsort(places, count, sizeof *places, compare_places);
    cJSON_AddStringToObject(view, "title", words_get(context->words, "title.today"));
    add_summary(context, places, count, view);
    cJSON *fields = cJSON_AddArrayToObject(view, "fields");
    size_t from = part->from < count ? part->from : 0;
    size_t end = part->most < count - from ? from + part->most : count;
    for (size_t i = from; i < end; i++) {
        if (part->want != NULL)
            part->want(part->want_context, places[i].index);
        cJSON_AddItemToArray(fields, frame_field(context, places[i].morning, (int)i));
    }
    if (from > 0)
        add_link(context, view, "before", "today.before", from > part->most ? from - part->most : 0, from);
    if (end < count)
        add_link(context, view, "after", "today.after", end, count - end);
    free(places);
    return view;
}
