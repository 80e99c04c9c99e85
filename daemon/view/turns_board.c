#include "daemon/view/turns_board.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"
#include "daemon/view/json_read.h"
#include "daemon/view/turns_say.h"
#include "daemon/view/turns_strip.h"

#define HOLES(list) list, sizeof list / sizeof *list

/* ---- times and order */

bool turns_board_time(const cJSON *object, const char *key, int32_t *date, int *hour) {
    const char *text = json_string(object, key);
    char day[CALENDAR_ISO_SIZE];
    if (strlen(text) < 13 || text[10] != 'T')
        return false;
    (void)snprintf(day, sizeof day, "%.10s", text);
    *hour = (text[11] - '0') * 10 + text[12] - '0';
    return calendar_parse_iso(day, date) == STATUS_OK;
}

struct placed {
    cJSON *item;
    int at, index;
};

static int by_begin(const void *a, const void *b) {
    const struct placed *x = a, *y = b;
    return x->at != y->at ? x->at - y->at : x->index - y->index;
}

void turns_board_sort(cJSON *list) {
    int count = cJSON_GetArraySize(list);
    struct placed *placed = calloc((size_t)count + 1, sizeof *placed);
    if (placed == NULL)
        return;
    for (int i = 0; i < count; i++) {
        cJSON *item = cJSON_DetachItemFromArray(list, 0);
        placed[i] = (struct placed){item, json_int(item, "at"), i};
    }
    qsort(placed, (size_t)count, sizeof *placed, by_begin);
    for (int i = 0; i < count; i++)
        cJSON_AddItemToArray(list, placed[i].item);
    free(placed);
}

/* ---- what runs now, what comes next */

static void add_now(const struct view_context *context, const cJSON *turn, struct text *now) {
    int32_t date;
    int hour;
    char when[SAY_SIZE], text[TURNS_SAY_SIZE];
    if (!turns_board_time(turn, "end", &date, &hour))
        return;
    const struct words_hole holes[] = {{"field", json_string(turn, "field")},
                                       {"when", turns_say_when(context, date, hour, when)}};
    text_printf(now, "%s%s", now->size > 0 ? "; " : "",
                turns_say(context, "turns.until", HOLES(holes), text));
}

static void add_now_and_next(const struct view_context *context, cJSON *supply) {
    const cJSON *field, *turn, *next = NULL;
    struct text now;
    char text[TURNS_SAY_SIZE];
    text_init(&now, 0);
    cJSON_ArrayForEach(field, json_member(supply, "fields")) {
        cJSON_ArrayForEach(turn, json_member(field, "turns")) {
            if (turns_is_state(turn, "under_way"))
                add_now(context, turn, &now);
            else if (turns_is_to_come(turn) &&
                     (next == NULL || json_int(turn, "start_hour") < json_int(next, "start_hour")))
                next = turn;
        }
    }
    cJSON_AddStringToObject(supply, "now",
                            now.size > 0 ? text_string(&now) : words_get(context->words, "turns.now.none"));
    text_free(&now);
    if (next == NULL)
        return;
    const struct words_hole holes[] = {{"field", json_string(next, "field")},
                                       {"turn", json_string(next, "text")}};
    cJSON_AddStringToObject(supply, "next", turns_say(context, "turns.of", HOLES(holes), text));
}

/* ---- the list by days */

/* "to tomorrow 7:00, 14 h, 8 mm" */
static void add_item_text(const struct view_context *context, const cJSON *turn, cJSON *item) {
    int32_t date, end_date;
    int hour, end_hour;
    char start[16], end[SAY_SIZE], hours[SAY_SIZE], net[SAY_SIZE], text[TURNS_SAY_SIZE];
    const cJSON *net_mm = json_member(turn, "net_mm");
    if (!turns_board_time(turn, "start", &date, &hour) ||
        !turns_board_time(turn, "end", &end_date, &end_hour))
        return;
    (void)snprintf(start, sizeof start, "%d:00", hour);
    if (end_date == date)
        (void)snprintf(end, sizeof end, "%d:00", end_hour);
    else
        (void)turns_say_when(context, end_date, end_hour, end);
    const struct words_hole holes[] = {
        {"end", end},
        {"hours", turns_say_hours(context, json_int(turn, "hours"), hours)},
        {"net", say_depth(context, cJSON_IsNumber(net_mm) ? net_mm->valuedouble : (double)NAN, net)}};
    cJSON_AddStringToObject(item, "start", start);
    cJSON_AddStringToObject(item, "text", turns_say(context, "turns.item", HOLES(holes), text));
}

static void add_item(const struct view_context *context, cJSON *list, const cJSON *turn) {
    cJSON *item = cJSON_CreateObject();
    char link[40];
    (void)snprintf(link, sizeof link, "/turn/%d", json_int(turn, "number"));
    cJSON_AddStringToObject(item, "kind", json_string(turn, "state"));
    cJSON_AddStringToObject(item, "href", link);
    cJSON_AddStringToObject(item, "field", json_string(turn, "field"));
    cJSON_AddStringToObject(item, "supply", json_string(turn, "supply"));
    cJSON_AddNumberToObject(item, "at", json_int(turn, "start_hour"));
    add_item_text(context, turn, item);
    if (!turns_is_state(turn, "planned"))
        cJSON_AddStringToObject(item, "state", json_string(turn, "state_text"));
    if (cJSON_IsTrue(json_member(turn, "pinned")))
        cJSON_AddBoolToObject(item, "pinned", true);
    cJSON_AddItemToArray(list, item);
}

static void add_turns_of_day(const struct view_context *context, const cJSON *view, int day, cJSON *list) {
    const cJSON *supply, *field, *turn;
    cJSON_ArrayForEach(supply, json_member(view, "supplies")) {
        cJSON_ArrayForEach(field, json_member(supply, "fields")) {
            cJSON_ArrayForEach(turn, json_member(field, "turns")) {
                int start = json_int(turn, "start_hour");
                /* One that began before the first day goes on in it. */
                if (start >= 24 * day ? start < 24 * (day + 1) : day == 0)
                    add_item(context, list, turn);
            }
        }
    }
}

static void add_agenda(const struct view_context *context, cJSON *view) {
    cJSON *agenda = cJSON_AddArrayToObject(view, "agenda");
    const cJSON *day;
    int index = 0;
    cJSON_ArrayForEach(day, json_member(view, "days")) {
        int32_t date;
        char text[SAY_SIZE];
        cJSON *out = cJSON_CreateObject();
        cJSON_AddItemToArray(agenda, out);
        if (calendar_parse_iso(json_string(day, "date"), &date) == STATUS_OK)
            cJSON_AddStringToObject(out, "date_text", say_date(context, date, text));
        cJSON_AddBoolToObject(out, "today", cJSON_IsTrue(json_member(day, "today")));
        cJSON *list = cJSON_AddArrayToObject(out, "turns");
        add_turns_of_day(context, view, index++, list);
        turns_board_sort(list);
        cJSON_AddBoolToObject(out, "none", cJSON_GetArraySize(list) == 0);
    }
}

/* ---- all of it */

/* Above the strips: the days, and the hours that the supply runs of those that it could. */
static void add_columns(const struct view_context *context, const cJSON *view, cJSON *supply) {
    cJSON *hours, *columns = cJSON_AddArrayToObject(supply, "columns");
    int index = 0;
    cJSON_ArrayForEach(hours, json_member(supply, "days")) {
        const cJSON *day = cJSON_GetArrayItem(json_member(view, "days"), index++);
        char text[64], key[40], number[16];
        int32_t date = CALENDAR_NONE;
        cJSON *out = cJSON_CreateObject();
        (void)calendar_parse_iso(json_string(day, "date"), &date);
        (void)snprintf(key, sizeof key, "weekday_short.%d", calendar_weekday(date));
        (void)snprintf(number, sizeof number, "%d", json_int(day, "day"));
        (void)snprintf(text, sizeof text, "%d/%d", json_int(hours, "hours_run"),
                       json_int(hours, "hours_open"));
        cJSON_AddStringToObject(out, "weekday", words_get(context->words, key));
        cJSON_AddStringToObject(out, "day", number);
        cJSON_AddStringToObject(out, "hours", text);
        cJSON_AddBoolToObject(out, "today", cJSON_IsTrue(json_member(day, "today")));
        cJSON_AddBoolToObject(out, "full",
                              json_int(hours, "hours_open") > 0 && json_int(hours, "hours_free") == 0);
        cJSON_AddItemToArray(columns, out);
    }
}

/* A call's head, "Water today", which its sentence begins with. */
static void add_head(cJSON *field) {
    const char *sentence = json_string(field, "sentence");
    char head[SAY_SIZE];
    (void)snprintf(head, sizeof head, "%.*s", (int)strcspn(sentence, ":."), sentence);
    if (head[0] != '\0')
        cJSON_AddStringToObject(field, "head", head);
}

static void add_supply(const struct turns_strip *strip, const cJSON *view, int number, cJSON *supply) {
    char path[FRAME_PATH_SIZE], text[TURNS_SAY_SIZE];
    cJSON *field;
    cJSON_AddNumberToObject(supply, "number", number);
    if (strip->rights->plans) {
        const struct words_hole name = {"supply", json_string(supply, "name")};
        cJSON_AddStringToObject(supply, "settings", frame_path("/supply/", name.value, "", path));
        cJSON_AddStringToObject(supply, "settings_text",
                                turns_say(strip->context, "turns.supply.settings", &name, 1, text));
    }
    add_columns(strip->context, view, supply);
    add_now_and_next(strip->context, supply);
    cJSON_ArrayForEach(field, json_member(supply, "fields")) {
        add_head(field);
        turns_strip_add(strip, field);
    }
}

/* Seasons' allotments that the present course goes past. */
static void add_season(const struct view_context *context, const cJSON *view, cJSON *out) {
    const cJSON *supply;
    cJSON *list = cJSON_AddArrayToObject(out, "season");
    cJSON_ArrayForEach(supply, json_member(view, "supplies")) {
        const cJSON *left = json_member(json_member(supply, "allotment"), "season_left_m3");
        char volume[SAY_SIZE], text[TURNS_SAY_SIZE];
        if (!cJSON_IsNumber(left) || left->valuedouble >= 0)
            continue;
        const struct words_hole holes[] = {{"supply", json_string(supply, "name")},
                                           {"volume", say_volume(context, -left->valuedouble, volume)}};
        cJSON_AddItemToArray(
            list, cJSON_CreateString(turns_say(context, "turns.season_short", HOLES(holes), text)));
    }
}

static bool goes_past(const cJSON *field) {
    const cJSON *day;
    cJSON_ArrayForEach(day, json_member(field, "depletion")) {
        if (cJSON_IsTrue(json_member(day, "past")))
            return true;
    }
    return false;
}

/* "North pivot, Seed beds": fields that the plan lets go past their allowed depletion. */
static void add_past_fields(const cJSON *view, struct text *out) {
    const cJSON *supply, *field;
    cJSON_ArrayForEach(supply, json_member(view, "supplies")) {
        cJSON_ArrayForEach(field, json_member(supply, "fields")) {
            if (goes_past(field))
                text_printf(out, "%s%s", out->size > 0 ? ", " : "", json_string(field, "name"));
        }
    }
}

/* Whether there is enough: three kinds of limits say that there is not. What is enough may still be dear, so
 * that the plan lets a field go dry for a time. */
static void add_enough(const struct view_context *context, cJSON *view) {
    const cJSON *limit;
    struct text past;
    char text[TURNS_SAY_SIZE];
    bool enough = true;
    if (!cJSON_IsObject(json_member(view, "cost")))
        return;
    cJSON_ArrayForEach(limit, json_member(view, "limits")) {
        const char *kind = json_string(limit, "kind");
        size_t size = strlen(kind);
        enough = enough && (size < 6 || strcmp(kind + size - 6, "_short") != 0);
    }
    text_init(&past, 0);
    add_past_fields(view, &past);
    const struct words_hole hole = {"fields", text_string(&past)};
    cJSON *out = cJSON_AddObjectToObject(view, "water");
    cJSON_AddBoolToObject(out, "enough", enough);
    cJSON_AddStringToObject(out, "text",
                            turns_say(context,
                                      !enough         ? "turns.not_enough"
                                      : past.size > 0 ? "turns.enough.past"
                                                      : "turns.enough",
                                      &hole, 1, text));
    add_season(context, view, out);
    text_free(&past);
}

static void add_costs(const struct view_context *context, cJSON *view) {
    static const char *const parts[] = {"loss", "water", "pumping", "percolation", "end", "total"};
    cJSON *cost = cJSON_GetObjectItemCaseSensitive(view, "cost");
    cJSON *rows = cJSON_AddArrayToObject(view, "cost_rows");
    char key[40], text[SAY_SIZE];
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        const cJSON *value = json_member(cost, parts[i]);
        if (!cJSON_IsNumber(value))
            continue;
        cJSON *row = cJSON_CreateObject();
        (void)snprintf(key, sizeof key, "turns.cost.%s", parts[i]);
        cJSON_AddStringToObject(row, "name", words_get(context->words, key));
        cJSON_AddStringToObject(row, "text", turns_say_money(context, value->valuedouble, text));
        cJSON_AddItemToArray(rows, row);
    }
    const cJSON *lost = json_member(cost, "loss_share");
    if (cJSON_GetArraySize(rows) == 0 && cJSON_IsNumber(lost)) {
        cJSON *row = cJSON_CreateObject();
        cJSON_AddStringToObject(row, "name", words_get(context->words, "turns.cost.loss_share"));
        cJSON_AddStringToObject(row, "text", say_share(context, lost->valuedouble, text));
        cJSON_AddItemToArray(rows, row);
    }
}

/* Of the many turns that a morning adds or moves people want none before what runs now; of those that follow
 * from what they just said they want all. */
#define CHANGES_OPEN 5
#define SUPPLIES_FEW 3

static void add_folds(const struct view_context *context, cJSON *view) {
    int changes = cJSON_GetArraySize(json_member(view, "changes"));
    char number[SAY_SIZE], text[TURNS_SAY_SIZE];
    const struct words_hole hole = {"n", say_count(changes, number)};
    if (changes > CHANGES_OPEN && !cJSON_IsString(json_member(view, "change_sentence")))
        cJSON_AddStringToObject(view, "changes_folded",
                                turns_say(context, "turns.changed_many", &hole, 1, text));
    cJSON_AddBoolToObject(view, "many_supplies",
                          cJSON_GetArraySize(json_member(view, "supplies")) > SUPPLIES_FEW);
}

void turns_board_add(const struct view_context *context, const struct turns_rights *rights, cJSON *view) {
    const struct turns_strip strip = {.context = context,
                                      .rights = rights,
                                      .first_day = json_string(view, "first_day"),
                                      .hours = 24 * cJSON_GetArraySize(json_member(view, "days")),
                                      .first_hour = json_int(view, "first_hour")};
    cJSON *supply;
    int number = 0;
    if (strip.hours == 0)
        return;
    cJSON_ArrayForEach(supply, json_member(view, "supplies")) {
        add_supply(&strip, view, number++, supply);
    }
    cJSON_AddBoolToObject(view, "has_supplies", number > 0);
    add_agenda(context, view);
    add_enough(context, view);
    add_costs(context, view);
    cJSON_AddBoolToObject(view, "has_limits", cJSON_GetArraySize(json_member(view, "limits")) > 0);
    cJSON_AddBoolToObject(view, "has_changes",
                          cJSON_GetArraySize(json_member(view, "changes")) > 0 ||
                              cJSON_IsString(json_member(view, "change_sentence")));
    add_folds(context, view);
    cJSON_AddBoolToObject(view, "has_unrecorded", cJSON_GetArraySize(json_member(view, "not_recorded")) > 0);
    cJSON_AddBoolToObject(view, "may_plan", rights->plans);
    cJSON_AddBoolToObject(view, "may_record", rights->records);
}
