#include "daemon/view/turns_sheet.h"

#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/json_read.h"
#include "daemon/view/turns_board.h"
#include "daemon/view/turns_say.h"

static void add_row(const struct view_context *context, const cJSON *turn, cJSON *rows) {
    int32_t date;
    int hour;
    char text[SAY_SIZE], day[SAY_SIZE], time[16], key[32];
    int32_t begin = CALENDAR_NONE;
    cJSON *row = cJSON_CreateObject();
    cJSON_AddNumberToObject(row, "at", json_number(turn, "start_hour"));
    if (turns_board_time(turn, "start", &date, &hour)) {
        begin = date;
        cJSON_AddStringToObject(row, "day", say_date(context, date, day));
        (void)snprintf(time, sizeof time, "%d:00", hour);
        cJSON_AddStringToObject(row, "start", time);
    }
    if (turns_board_time(turn, "end", &date, &hour)) {
        (void)snprintf(time, sizeof time, "%d:00", hour);
        cJSON_AddStringToObject(row, "end", time);
        (void)snprintf(key, sizeof key, "weekday_short.%d", calendar_weekday(date));
        (void)snprintf(text, sizeof text, "%s %d", words_get(context->words, key),
                       calendar_to_civil(date).day);
        if (date != begin)
            cJSON_AddStringToObject(row, "end_day", text);
    }
    cJSON_AddStringToObject(row, "field", json_string(turn, "field"));
    cJSON_AddStringToObject(row, "hours", turns_say_hours(context, (int)json_number(turn, "hours"), text));
    cJSON_AddStringToObject(row, "gross", say_depth(context, json_number(turn, "gross_mm"), text));
    cJSON_AddStringToObject(row, "volume", say_volume(context, json_number(turn, "volume_m3"), text));
    if (strcmp(json_string(turn, "state"), "planned") != 0)
        cJSON_AddStringToObject(row, "state", json_string(turn, "state_text"));
    cJSON_AddItemToArray(rows, row);
}

/* The day stands beside its first turn only. */
static void name_days_once(cJSON *rows) {
    cJSON *row;
    const char *last = "";
    cJSON_ArrayForEach(row, rows) {
        const char *day = json_string(row, "day");
        cJSON_AddBoolToObject(row, "new_day", strcmp(day, last) != 0);
        last = day;
    }
}

static void add_dry(const struct view_context *context, const cJSON *field, cJSON *list) {
    const cJSON *mark;
    cJSON_ArrayForEach(mark, json_member(field, "kept_dry")) {
        int32_t from_date, to_date;
        int from_hour, to_hour;
        char from[SAY_SIZE], to[SAY_SIZE], text[TURNS_SAY_SIZE];
        if (!turns_board_time(mark, "start", &from_date, &from_hour) ||
            !turns_board_time(mark, "end", &to_date, &to_hour))
            continue;
        const char *why = json_string(mark, "why");
        const struct words_hole holes[] = {{"field", json_string(field, "name")},
                                           {"from", turns_say_when(context, from_date, from_hour, from)},
                                           {"to", turns_say_when(context, to_date, to_hour, to)},
                                           {"why", why}};
        const char *key = why[0] != '\0' ? "turns.sheet.dry.why" : "turns.sheet.dry";
        cJSON_AddItemToArray(
            list, cJSON_CreateString(turns_say(context, key, holes, sizeof holes / sizeof *holes, text)));
    }
}

void turns_sheet_add(const struct view_context *context, cJSON *view) {
    const cJSON *supply, *field, *turn;
    cJSON *sheets = cJSON_AddArrayToObject(view, "sheets");
    cJSON_ArrayForEach(supply, json_member(view, "supplies")) {
        cJSON *sheet = cJSON_CreateObject();
        cJSON_AddStringToObject(sheet, "name", json_string(supply, "name"));
        cJSON_AddStringToObject(sheet, "flow", json_string(supply, "flow_text"));
        cJSON *rows = cJSON_AddArrayToObject(sheet, "rows"), *dry = cJSON_AddArrayToObject(sheet, "dry");
        cJSON_ArrayForEach(field, json_member(supply, "fields")) {
            cJSON_ArrayForEach(turn, json_member(field, "turns")) {
                if (strcmp(json_string(turn, "state"), "skipped") != 0)
                    add_row(context, turn, rows);
            }
            add_dry(context, field, dry);
        }
        turns_board_sort(rows);
        name_days_once(rows);
        cJSON_AddBoolToObject(sheet, "has_rows", cJSON_GetArraySize(rows) > 0);
        cJSON_AddBoolToObject(sheet, "has_dry", cJSON_GetArraySize(dry) > 0);
        cJSON_AddItemToArray(sheets, sheet);
    }
}
