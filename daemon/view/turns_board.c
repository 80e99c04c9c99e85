#include "daemon/view/turns_board.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"
#include "daemon/view/svg.h"
#include "daemon/view/turns_say.h"

#define HOLES(list) list, sizeof list / sizeof *list

/* Heights in pixels; lengths of time are per cent of the strip, so that it is as wide as its place. */
enum {
    STRIP_HEIGHT = 56,
    BLOCK_TOP = 5,
    BLOCK_HEIGHT = 46,
    TEXT_LEFT = 6,
    LINE_1 = 19,
    LINE_2 = 37,
    WIDE_HOURS = 14, /* blocks this long hold their words upright on any screen that shows the board */
    WORDS_HOURS = 3, /* shorter ones have none */
    THIN_HOURS = 6,  /* shorter ones have room for their start alone */
    TONES = 8,
    KEPT_DRY_INSET = 14,
};

struct strip {
    const struct view_context *context;
    const struct turns_rights *rights;
    const char *first_day;
    int hours;      /* of all days */
    int first_hour; /* from which on the plan goes */
};

/* ---- reading the model */

static const cJSON *member(const cJSON *object, const char *key) {
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

static const char *string_of(const cJSON *object, const char *key) {
    const char *text = cJSON_GetStringValue(member(object, key));
    return text != NULL ? text : "";
}

static int int_of(const cJSON *object, const char *key) {
    const cJSON *item = member(object, key);
    return cJSON_IsNumber(item) ? (int)item->valuedouble : 0;
}

static bool is_state(const cJSON *turn, const char *state) {
    return strcmp(string_of(turn, "state"), state) == 0;
}

static bool is_to_come(const cJSON *turn) {
    return is_state(turn, "planned") || is_state(turn, "late");
}

bool turns_board_time(const cJSON *object, const char *key, int32_t *date, int *hour) {
    const char *text = string_of(object, key);
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
        placed[i] = (struct placed){item, int_of(item, "at"), i};
    }
    qsort(placed, (size_t)count, sizeof *placed, by_begin);
    for (int i = 0; i < count; i++)
        cJSON_AddItemToArray(list, placed[i].item);
    free(placed);
}

/* ---- the strip of a field */

static double percent(const struct strip *strip, int hour) {
    int within = hour < 0 ? 0 : hour > strip->hours ? strip->hours : hour;
    return 100.0 * within / strip->hours;
}

static void add_span(const struct strip *strip, int from, int to, struct text *out) {
    text_printf(out, "x=\"%.4g%%\" width=\"%.4g%%\"", percent(strip, from),
                percent(strip, to) - percent(strip, from));
}

/* The evenings: toned by the share of the allowed depletion that is used, hatched where past it. */
static void add_days(const struct strip *strip, const cJSON *field, struct text *out) {
    const cJSON *day;
    int index = 0;
    cJSON_ArrayForEach(day, member(field, "depletion")) {
        const cJSON *mm = member(day, "mm"), *allowed = member(day, "allowed_mm");
        double share = cJSON_IsNumber(mm) && cJSON_IsNumber(allowed)
                           ? say_share_of(mm->valuedouble, allowed->valuedouble)
                           : (double)NAN;
        int from = 24 * index++, tone = (int)floor(fmin(fmax(share, 0), 1) * TONES);
        if (!isfinite(share))
            continue;
        for (int layer = 0; layer <= cJSON_IsTrue(member(day, "past")); layer++) {
            text_printf(out, layer == 0 ? "<rect class=\"t%d\" " : "<rect fill=\"url(#past)\" ", tone);
            add_span(strip, from, from + 24, out);
            text_printf(out, " height=\"%d\"/>", STRIP_HEIGHT);
        }
    }
}

static void add_escaped_label(const struct strip *strip, const char *key, const cJSON *turn,
                              struct text *out) {
    char label[TURNS_SAY_SIZE];
    const struct words_hole holes[] = {{"field", string_of(turn, "field")},
                                       {"turn", string_of(turn, "text")},
                                       {"state", string_of(turn, "state_text")}};
    svg_add_escaped(out, turns_say(strip->context, key, HOLES(holes), label));
}

/* A block's words: its start, and below it its hours; on their side where it is narrow. */
static void add_block_words(const cJSON *turn, const char *start, const char *hours, struct text *out) {
    static const char side[] = "<text class=\"side%s\" transform=\"rotate(-90)\" x=\"%d\" y=\"%d\">%s</text>";
    int span = int_of(turn, "end_hour") - int_of(turn, "start_hour");
    if (span < WORDS_HOURS)
        return;
    if (span >= WIDE_HOURS) {
        text_printf(out, "<text x=\"%d\" y=\"%d\">%s</text><text x=\"%d\" y=\"%d\">%s</text>", TEXT_LEFT,
                    LINE_1, start, TEXT_LEFT, LINE_2, hours);
    } else if (span >= THIN_HOURS) {
        text_printf(out, side, "", 5 - BLOCK_HEIGHT, 13, start);
        text_printf(out, side, "", 5 - BLOCK_HEIGHT, 26, hours);
    } else {
        text_printf(out, side, " thin", 5 - BLOCK_HEIGHT, 9, start);
    }
}

static void add_turn(const struct strip *strip, const cJSON *turn, struct text *out) {
    int32_t date = CALENDAR_NONE;
    int hour = 0;
    char start[16], hours[SAY_SIZE];
    (void)turns_board_time(turn, "start", &date, &hour);
    (void)snprintf(start, sizeof start, "%d:00", hour);
    bool pinned = cJSON_IsTrue(member(turn, "pinned"));
    text_printf(out, "<a class=\"turn %s%s\" href=\"/turn/%d\"", string_of(turn, "state"),
                pinned ? " pinned" : "", int_of(turn, "number"));
    if (strip->rights->plans && is_to_come(turn))
        text_printf(out, " data-start=\"%d\" data-hours=\"%d\"", int_of(turn, "start_hour"),
                    int_of(turn, "hours"));
    text_puts(out, "><title>");
    add_escaped_label(strip, pinned ? "turns.block.pinned" : "turns.block", turn, out);
    text_puts(out, "</title><svg ");
    add_span(strip, int_of(turn, "start_hour"), int_of(turn, "end_hour"), out);
    text_printf(out, " y=\"%d\" height=\"%d\"><rect width=\"100%%\" height=\"100%%\"/>", BLOCK_TOP,
                BLOCK_HEIGHT);
    add_block_words(turn, start, turns_say_hours(strip->context, int_of(turn, "hours"), hours), out);
    text_puts(out, pinned ? "<path class=\"pin\" d=\"M0 0h10l-10 10z\"/></svg></a>" : "</svg></a>");
}

static void add_kept_dry(const struct strip *strip, const cJSON *mark, struct text *out) {
    const char *why = string_of(mark, "why");
    text_puts(out, "<svg ");
    add_span(strip, int_of(mark, "start_hour"), int_of(mark, "end_hour"), out);
    text_printf(out,
                " y=\"%d\" height=\"%d\"><rect class=\"dry\" width=\"100%%\" height=\"100%%\"/>"
                "<text class=\"dry\" x=\"%d\" y=\"18\">",
                KEPT_DRY_INSET, STRIP_HEIGHT - 2 * KEPT_DRY_INSET, TEXT_LEFT);
    svg_add_escaped(out, why[0] != '\0' ? why : words_get(strip->context->words, "turns.dry"));
    text_puts(out, "</text></svg>");
}

static void add_strip(const struct strip *strip, cJSON *field) {
    struct text out;
    const cJSON *item;
    text_init(&out, 0);
    text_printf(&out,
                "<svg class=\"strip\" width=\"100%%\" height=\"%d\" data-hours=\"%d\" data-first=\"%s\" "
                "data-first-hour=\"%d\" role=\"group\" aria-label=\"",
                STRIP_HEIGHT, strip->hours, strip->first_day, strip->first_hour);
    svg_add_escaped(&out, string_of(field, "name"));
    text_puts(&out, "\">");
    add_days(strip, field, &out);
    for (int hour = 0; hour <= strip->hours; hour += 24)
        text_printf(&out, "<line class=\"edge\" x1=\"%.4g%%\" x2=\"%.4g%%\" y2=\"%d\"/>",
                    percent(strip, hour), percent(strip, hour), STRIP_HEIGHT);
    text_printf(&out, "<line class=\"now\" x1=\"%.4g%%\" x2=\"%.4g%%\" y2=\"%d\"/>",
                percent(strip, strip->first_hour), percent(strip, strip->first_hour), STRIP_HEIGHT);
    cJSON_ArrayForEach(item, member(field, "kept_dry")) {
        add_kept_dry(strip, item, &out);
    }
    cJSON_ArrayForEach(item, member(field, "turns")) {
        add_turn(strip, item, &out);
    }
    text_puts(&out, "</svg>");
    cJSON_AddStringToObject(field, "strip", text_string(&out));
    text_free(&out);
}

/* ---- what runs now, what comes next */

static void add_now(const struct view_context *context, const cJSON *turn, struct text *now) {
    int32_t date;
    int hour;
    char when[SAY_SIZE], text[TURNS_SAY_SIZE];
    if (!turns_board_time(turn, "end", &date, &hour))
        return;
    const struct words_hole holes[] = {{"field", string_of(turn, "field")},
                                       {"when", turns_say_when(context, date, hour, when)}};
    text_printf(now, "%s%s", now->size > 0 ? "; " : "",
                turns_say(context, "turns.until", HOLES(holes), text));
}

static void add_now_and_next(const struct view_context *context, cJSON *supply) {
    const cJSON *field, *turn, *next = NULL;
    struct text now;
    char text[TURNS_SAY_SIZE];
    text_init(&now, 0);
    cJSON_ArrayForEach(field, member(supply, "fields")) {
        cJSON_ArrayForEach(turn, member(field, "turns")) {
            if (is_state(turn, "under_way"))
                add_now(context, turn, &now);
            else if (is_to_come(turn) &&
                     (next == NULL || int_of(turn, "start_hour") < int_of(next, "start_hour")))
                next = turn;
        }
    }
    cJSON_AddStringToObject(supply, "now",
                            now.size > 0 ? text_string(&now) : words_get(context->words, "turns.now.none"));
    text_free(&now);
    if (next == NULL)
        return;
    const struct words_hole holes[] = {{"field", string_of(next, "field")},
                                       {"turn", string_of(next, "text")}};
    cJSON_AddStringToObject(supply, "next", turns_say(context, "turns.of", HOLES(holes), text));
}

/* ---- the list by days */

/* "to tomorrow 7:00, 14 h, 8 mm" */
static void add_item_text(const struct view_context *context, const cJSON *turn, cJSON *item) {
    int32_t date, end_date;
    int hour, end_hour;
    char start[16], end[SAY_SIZE], hours[SAY_SIZE], net[SAY_SIZE], text[TURNS_SAY_SIZE];
    const cJSON *net_mm = member(turn, "net_mm");
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
        {"hours", turns_say_hours(context, int_of(turn, "hours"), hours)},
        {"net", say_depth(context, cJSON_IsNumber(net_mm) ? net_mm->valuedouble : (double)NAN, net)}};
    cJSON_AddStringToObject(item, "start", start);
    cJSON_AddStringToObject(item, "text", turns_say(context, "turns.item", HOLES(holes), text));
}

static void add_item(const struct view_context *context, cJSON *list, const cJSON *turn) {
    cJSON *item = cJSON_CreateObject();
    char link[40];
    (void)snprintf(link, sizeof link, "/turn/%d", int_of(turn, "number"));
    cJSON_AddStringToObject(item, "kind", string_of(turn, "state"));
    cJSON_AddStringToObject(item, "href", link);
    cJSON_AddStringToObject(item, "field", string_of(turn, "field"));
    cJSON_AddStringToObject(item, "supply", string_of(turn, "supply"));
    cJSON_AddNumberToObject(item, "at", int_of(turn, "start_hour"));
    add_item_text(context, turn, item);
    if (!is_state(turn, "planned"))
        cJSON_AddStringToObject(item, "state", string_of(turn, "state_text"));
    if (cJSON_IsTrue(member(turn, "pinned")))
        cJSON_AddBoolToObject(item, "pinned", true);
    cJSON_AddItemToArray(list, item);
}

static void add_turns_of_day(const struct view_context *context, const cJSON *view, int day, cJSON *list) {
    const cJSON *supply, *field, *turn;
    cJSON_ArrayForEach(supply, member(view, "supplies")) {
        cJSON_ArrayForEach(field, member(supply, "fields")) {
            cJSON_ArrayForEach(turn, member(field, "turns")) {
                int start = int_of(turn, "start_hour");
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
    cJSON_ArrayForEach(day, member(view, "days")) {
        int32_t date;
        char text[SAY_SIZE];
        cJSON *out = cJSON_CreateObject();
        cJSON_AddItemToArray(agenda, out);
        if (calendar_parse_iso(string_of(day, "date"), &date) == STATUS_OK)
            cJSON_AddStringToObject(out, "date_text", say_date(context, date, text));
        cJSON_AddBoolToObject(out, "today", cJSON_IsTrue(member(day, "today")));
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
    cJSON_ArrayForEach(hours, member(supply, "days")) {
        const cJSON *day = cJSON_GetArrayItem(member(view, "days"), index++);
        char text[64], key[40], number[16];
        int32_t date = CALENDAR_NONE;
        cJSON *out = cJSON_CreateObject();
        (void)calendar_parse_iso(string_of(day, "date"), &date);
        (void)snprintf(key, sizeof key, "weekday_short.%d", calendar_weekday(date));
        (void)snprintf(number, sizeof number, "%d", int_of(day, "day"));
        (void)snprintf(text, sizeof text, "%d/%d", int_of(hours, "hours_run"), int_of(hours, "hours_open"));
        cJSON_AddStringToObject(out, "weekday", words_get(context->words, key));
        cJSON_AddStringToObject(out, "day", number);
        cJSON_AddStringToObject(out, "hours", text);
        cJSON_AddBoolToObject(out, "today", cJSON_IsTrue(member(day, "today")));
        cJSON_AddBoolToObject(out, "full",
                              int_of(hours, "hours_open") > 0 && int_of(hours, "hours_free") == 0);
        cJSON_AddItemToArray(columns, out);
    }
}

/* A call's head, "Water today", which its sentence begins with. */
static void add_head(cJSON *field) {
    const char *sentence = string_of(field, "sentence");
    char head[SAY_SIZE];
    (void)snprintf(head, sizeof head, "%.*s", (int)strcspn(sentence, ":."), sentence);
    if (head[0] != '\0')
        cJSON_AddStringToObject(field, "head", head);
}

static void add_supply(const struct strip *strip, const cJSON *view, int number, cJSON *supply) {
    char path[FRAME_PATH_SIZE], text[TURNS_SAY_SIZE];
    cJSON *field;
    cJSON_AddNumberToObject(supply, "number", number);
    if (strip->rights->plans) {
        const struct words_hole name = {"supply", string_of(supply, "name")};
        cJSON_AddStringToObject(supply, "settings", frame_path("/supply/", name.value, "", path));
        cJSON_AddStringToObject(supply, "settings_text",
                                turns_say(strip->context, "turns.supply.settings", &name, 1, text));
    }
    add_columns(strip->context, view, supply);
    add_now_and_next(strip->context, supply);
    cJSON_ArrayForEach(field, member(supply, "fields")) {
        add_head(field);
        add_strip(strip, field);
    }
}

/* Seasons' allotments that the present course goes past. */
static void add_season(const struct view_context *context, const cJSON *view, cJSON *out) {
    const cJSON *supply;
    cJSON *list = cJSON_AddArrayToObject(out, "season");
    cJSON_ArrayForEach(supply, member(view, "supplies")) {
        const cJSON *left = member(member(supply, "allotment"), "season_left_m3");
        char volume[SAY_SIZE], text[TURNS_SAY_SIZE];
        if (!cJSON_IsNumber(left) || left->valuedouble >= 0)
            continue;
        const struct words_hole holes[] = {{"supply", string_of(supply, "name")},
                                           {"volume", say_volume(context, -left->valuedouble, volume)}};
        cJSON_AddItemToArray(
            list, cJSON_CreateString(turns_say(context, "turns.season_short", HOLES(holes), text)));
    }
}

static bool goes_past(const cJSON *field) {
    const cJSON *day;
    cJSON_ArrayForEach(day, member(field, "depletion")) {
        if (cJSON_IsTrue(member(day, "past")))
            return true;
    }
    return false;
}

/* "North pivot, Seed beds": fields that the plan lets go past their allowed depletion. */
static void add_past_fields(const cJSON *view, struct text *out) {
    const cJSON *supply, *field;
    cJSON_ArrayForEach(supply, member(view, "supplies")) {
        cJSON_ArrayForEach(field, member(supply, "fields")) {
            if (goes_past(field))
                text_printf(out, "%s%s", out->size > 0 ? ", " : "", string_of(field, "name"));
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
    if (!cJSON_IsObject(member(view, "cost")))
        return;
    cJSON_ArrayForEach(limit, member(view, "limits")) {
        const char *kind = string_of(limit, "kind");
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
        const cJSON *value = member(cost, parts[i]);
        if (!cJSON_IsNumber(value))
            continue;
        cJSON *row = cJSON_CreateObject();
        (void)snprintf(key, sizeof key, "turns.cost.%s", parts[i]);
        cJSON_AddStringToObject(row, "name", words_get(context->words, key));
        cJSON_AddStringToObject(row, "text", turns_say_money(context, value->valuedouble, text));
        cJSON_AddItemToArray(rows, row);
    }
    const cJSON *lost = member(cost, "loss_share");
    if (cJSON_GetArraySize(rows) == 0 && cJSON_IsNumber(lost)) {
        cJSON *row = cJSON_CreateObject();
        cJSON_AddStringToObject(row, "name", words_get(context->words, "turns.cost.loss_share"));
        cJSON_AddStringToObject(row, "text", say_share(context, lost->valuedouble, text));
        cJSON_AddItemToArray(rows, row);
    }
}

void turns_board_add(const struct view_context *context, const struct turns_rights *rights, cJSON *view) {
    const struct strip strip = {.context = context,
                                .rights = rights,
                                .first_day = string_of(view, "first_day"),
                                .hours = 24 * cJSON_GetArraySize(member(view, "days")),
                                .first_hour = int_of(view, "first_hour")};
    cJSON *supply;
    int number = 0;
    if (strip.hours == 0)
        return;
    cJSON_ArrayForEach(supply, member(view, "supplies")) {
        add_supply(&strip, view, number++, supply);
    }
    add_agenda(context, view);
    add_enough(context, view);
    add_costs(context, view);
    cJSON_AddBoolToObject(view, "has_limits", cJSON_GetArraySize(member(view, "limits")) > 0);
    cJSON_AddBoolToObject(view, "has_changes",
                          cJSON_GetArraySize(member(view, "changes")) > 0 ||
                              cJSON_IsString(member(view, "change_sentence")));
    cJSON_AddBoolToObject(view, "has_unrecorded", cJSON_GetArraySize(member(view, "not_recorded")) > 0);
    cJSON_AddBoolToObject(view, "may_plan", rights->plans);
    cJSON_AddBoolToObject(view, "may_record", rights->records);
}
