#include "daemon/view/frame.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/say.h"

/* Pages have hundreds of these: their keys are not copied. */
static void add_item(cJSON *object, const char *key, cJSON *item) {
    if (!cJSON_AddItemToObjectCS(object, key, item))
        cJSON_Delete(item);
}

void frame_number(cJSON *object, const char *key, double value) {
    add_item(object, key, isfinite(value) ? cJSON_CreateNumber(value) : cJSON_CreateNull());
}

void frame_date(cJSON *object, const char *key, int32_t date) {
    char iso[CALENDAR_ISO_SIZE];
    add_item(object, key,
             calendar_valid(date) ? cJSON_CreateString(calendar_format_iso(date, iso)) : cJSON_CreateNull());
}

char *frame_path(const char *before, const char *name, const char *after, char out[FRAME_PATH_SIZE]) {
    size_t size = (size_t)snprintf(out, FRAME_PATH_SIZE, "%s", before);
    for (const unsigned char *c = (const unsigned char *)name; *c != '\0' && size < FRAME_PATH_SIZE - 64;
         c++) {
        bool plain = (*c >= '0' && *c <= '9') || (*c >= 'A' && *c <= 'Z') || (*c >= 'a' && *c <= 'z') ||
                     *c == '-' || *c == '_' || *c == '~';
        if (plain)
            out[size++] = (char)*c;
        else
            size += (size_t)snprintf(out + size, FRAME_PATH_SIZE - size, "%%%02X", *c);
    }
    snprintf(out + size, FRAME_PATH_SIZE - size, "%s", after);
    return out;
}

void frame_link(cJSON *object, const char *key, const char *field, const char *tail) {
    char path[FRAME_PATH_SIZE];
    cJSON_AddStringToObject(object, key, frame_path("/field/", field, tail, path));
}

const char *frame_stage(const struct view_context *context, enum crop_stage stage) {
    static const char *const keys[STAGE_COUNT] = {"stage.bare", "stage.initial", "stage.development",
                                                  "stage.mid",  "stage.late",    "stage.ended"};
    return stage < STAGE_COUNT ? words_get(context->words, keys[stage]) : "";
}

/* ---- how the weather came to be */

enum { ELEMENTS = 5 };

static const char *const element_keys[ELEMENTS] = {"element.temperature", "element.humidity",
                                                   "element.radiation", "element.wind", "element.rain"};

static const char *const origin_keys[ORIGIN_COUNT] = {[ORIGIN_MISSING] = "origin.missing",
                                                      [ORIGIN_NEIGHBOUR] = "origin.neighbour",
                                                      [ORIGIN_FORECAST] = "origin.forecast",
                                                      [ORIGIN_ESTIMATED] = "origin.estimated",
                                                      [ORIGIN_CLIMATOLOGY] = "origin.climatology"};

/* Trust falls with the number, but nothing is worse than a value that is missing. */
static int distrust(uint8_t origin) {
    return origin == ORIGIN_MISSING ? ORIGIN_COUNT : origin;
}

static uint8_t least_trusted(const struct ledger_origins *days, size_t count, int element) {
    uint8_t worst = ORIGIN_MEASURED;
    for (size_t i = 0; i < count; i++) {
        const uint8_t origins[ELEMENTS] = {days[i].temperature, days[i].humidity, days[i].radiation,
                                           days[i].wind, days[i].rain};
        if (distrust(origins[element]) > distrust(worst))
            worst = origins[element];
    }
    return worst;
}

void frame_origins(const struct view_context *context, const struct ledger_origins *days, size_t count,
                   cJSON *list) {
    uint8_t worst[ELEMENTS];
    for (int element = 0; element < ELEMENTS; element++)
        worst[element] = least_trusted(days, count, element);
    for (int origin = 0; origin < ORIGIN_COUNT; origin++) {
        if (origin_keys[origin] == NULL)
            continue;
        char elements[SAY_SIZE] = "", note[SAY_SIZE];
        for (int element = 0; element < ELEMENTS; element++) {
            if (worst[element] != origin)
                continue;
            size_t size = strlen(elements);
            snprintf(elements + size, sizeof elements - size, "%s%s", size > 0 ? ", " : "",
                     words_get(context->words, element_keys[element]));
        }
        const struct words_hole holes[] = {{"elements", elements},
                                           {"origin", words_get(context->words, origin_keys[origin])}};
        if (elements[0] != '\0')
            cJSON_AddItemToArray(list, cJSON_CreateString(say_words(context, "origin.note", holes, 2, note)));
    }
}

/* ---- the frame itself */

static void add_choice(const struct view_context *context, cJSON *list, const char *key, const char *link,
                       const char *language, bool current) {
    cJSON *choice = cJSON_CreateObject();
    cJSON_AddStringToObject(choice, "text", words_get(context->words, key));
    cJSON_AddStringToObject(choice, "href", link);
    if (language != NULL)
        cJSON_AddStringToObject(choice, "lang", language);
    cJSON_AddBoolToObject(choice, "current", current);
    cJSON_AddItemToArray(list, choice);
}

static void add_choices(const struct view_context *context, cJSON *frame) {
    cJSON *units = cJSON_AddArrayToObject(frame, "units_choices");
    add_choice(context, units, "units.metric", "?units=metric", NULL, !context->us_units);
    add_choice(context, units, "units.us", "?units=us", NULL, context->us_units);
    cJSON *languages = cJSON_AddArrayToObject(frame, "language_choices");
    for (size_t i = 0; words_language_at(i) != NULL; i++) {
        const char *language = words_language_at(i);
        char key[32], link[32];
        snprintf(key, sizeof key, "language.%s", language);
        snprintf(link, sizeof link, "?lang=%s", language);
        add_choice(context, languages, key, link, language,
                   strcmp(language, words_language(context->words)) == 0);
    }
}

static void add_run(const struct view_context *context, cJSON *frame) {
    const struct farm_facts *facts = context->facts;
    bool any = calendar_valid(facts->last_run);
    char on[SAY_SIZE], time[16], text[SAY_SIZE];
    int minute = facts->last_run_minute;
    bool timed = minute >= 0 && minute < 24 * 60;
    snprintf(time, sizeof time, "%d:%02d", timed ? minute / 60 : 0, timed ? minute % 60 : 0);
    const struct words_hole holes[] = {{"on", say_day(context, "on", facts->last_run, on)}, {"time", time}};
    bool old = facts->last_run != facts->today;
    const char *key = !any ? "run.none" : old ? "run.old" : "run.today";
    cJSON_AddStringToObject(frame, "run", say_words(context, key, holes, 2, text));
    cJSON_AddBoolToObject(frame, "run_is_old", !any || old);
}

/* Calls are of the day that the clock says: a clock that cannot be right is told before all else. */
static void add_clock(const struct view_context *context, cJSON *frame) {
    static const char *const keys[] = {[CLOCK_BEHIND] = "clock.behind", [CLOCK_AHEAD] = "clock.ahead"};
    char iso[CALENDAR_ISO_SIZE], text[SAY_SIZE];
    bool known = calendar_valid(context->facts->today);
    const struct words_hole hole = {"date", known ? calendar_format_iso(context->facts->today, iso) : "?"};
    if (context->facts->clock != CLOCK_GOOD)
        cJSON_AddStringToObject(frame, "clock",
                                say_words(context, keys[context->facts->clock], &hole, 1, text));
}

static void add_problems(const struct view_context *context, cJSON *frame) {
    const struct farm_facts *facts = context->facts;
    cJSON *list = cJSON_AddArrayToObject(frame, "problems");
    for (size_t i = 0; i < facts->problem_count && i < FARM_FACTS_PROBLEMS_MAX; i++) {
        cJSON *problem = cJSON_CreateObject();
        cJSON_AddStringToObject(problem, "source", facts->problem[i].source);
        struct text message;
        text_init(&message, 0);
        words_kept(context->words, facts->problem[i].message, &message);
        cJSON_AddStringToObject(problem, "message", text_string(&message));
        text_free(&message);
        cJSON_AddItemToArray(list, problem);
    }
}

static void add_label(void *labels, const char *key, const char *text) {
    cJSON_AddStringToObject(labels, key, text);
}

cJSON *frame_new(const struct view_context *context) {
    cJSON *frame = cJSON_CreateObject();
    if (frame == NULL)
        return NULL;
    char text[SAY_SIZE];
    cJSON_AddStringToObject(frame, "language", words_language(context->words));
    cJSON_AddStringToObject(frame, "units", context->us_units ? "us" : "metric");
    add_choices(context, frame);
    words_each(context->words, "label.", add_label, cJSON_AddObjectToObject(frame, "labels"));
    if (context->facts == NULL)
        return frame;
    cJSON_AddStringToObject(frame, "farm", context->facts->farm_name);
    frame_date(frame, "date", context->facts->today);
    cJSON_AddStringToObject(frame, "date_text", say_date(context, context->facts->today, text));
    cJSON_AddBoolToObject(frame, "has_turns", context->facts->has_turns);
    add_run(context, frame);
    add_clock(context, frame);
    add_problems(context, frame);
    return frame;
}

cJSON *view_error(const struct view_context *context, const char *key) {
    cJSON *view = frame_new(context);
    char name[64];
    snprintf(name, sizeof name, "error.%s", key);
    cJSON_AddStringToObject(view, "error", key);
    cJSON_AddStringToObject(view, "title", words_get(context->words, name));
    snprintf(name, sizeof name, "error.%s.hint", key);
    cJSON_AddStringToObject(view, "hint", words_get(context->words, name));
    return view;
}
