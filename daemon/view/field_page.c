/* A field's page: the call, the season so far, where the weather comes from, the field. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/field_list.h"
#include "daemon/view/frame.h"
#include "daemon/view/neighbour_list.h"
#include "daemon/view/say.h"
#include "daemon/view/season_picture.h"
#include "daemon/view/view.h"

/* ---- the season so far ---- */

static const struct season_day *today_or_last(const struct field_morning *morning,
                                              const struct ledger_row *rows, size_t count) {
    if (morning != NULL && morning->ahead_count > 0)
        return &morning->ahead[0];
    return count > 0 ? &rows[count - 1].day : NULL;
}

static void add_season(const struct view_context *context, const struct field_facts *facts,
                       const struct season_day *day, const struct ledger_row *rows, size_t count,
                       cJSON *view) {
    struct season_total total = season_total_empty();
    for (size_t i = 0; i < count; i++)
        season_total_add(&total, &rows[i].day);
    char text[SAY_SIZE], number[SAY_SIZE];
    cJSON *list = cJSON_AddArrayToObject(view, "season");
    field_list_text(context, list, "fact.crop", words_crop(context->words, facts->planting.crop_name));
    field_list_text(context, list, "fact.planted", say_date(context, facts->planting.planting_date, text));
    if (day != NULL && day->days_in_season > 0) {
        const struct words_hole holes[] = {{"stage", frame_stage(context, day->stage)},
                                           {"n", say_number(context, day->days_in_season, 0, number)}};
        field_list_text(context, list, "fact.stage", say_words(context, "fact.stage.day", holes, 2, text));
    }
    field_list_text(context, list, "fact.rain", say_depth(context, total.rain_mm, text));
    field_list_text(context, list, "fact.irrigation", say_depth(context, total.irrigation_gross_mm, text));
    field_list_text(context, list, "fact.eta", say_depth(context, total.eta_mm, text));
    field_list_text(context, list, "fact.percolation", say_depth(context, total.percolation_mm, text));
    field_list_text(context, list, "fact.stress_days", say_count(total.stress_days, text));
    if (day == NULL)
        return;
    /* Days to come are kept without their roots. */
    if (count > 0)
        field_list_text(context, list, "fact.root", say_length(context, rows[count - 1].day.root_m, text));
    field_list_text(context, list, "fact.taw", say_depth(context, day->taw_mm, text));
    if (crop_growing(day->stage))
        field_list_text(context, list, "fact.allowed", say_depth(context, day->allowed_mm, text));
}

/* ---- weather ---- */

static void add_sources(const struct view_context *context, const struct field_facts *facts,
                        const struct field_morning *morning, cJSON *view) {
    char text[SAY_SIZE], until[SAY_SIZE], on[SAY_SIZE], time[16];
    cJSON *list = cJSON_AddArrayToObject(view, "sources");
    for (size_t i = 0; i < facts->source_count; i++) {
        const struct field_source *source = &facts->source[i];
        cJSON *item = cJSON_CreateObject();
        snprintf(time, sizeof time, "%d:%02d", source->taken_minute / 60, source->taken_minute % 60);
        const struct words_hole holes[] = {{"until", say_day(context, "until", source->last_day, until)},
                                           {"on", say_day(context, "on", source->taken_day, on)},
                                           {"time", time}};
        const char *key = !calendar_valid(source->taken_day) ? "source.never"
                          : source->kind == SOURCE_FORECAST  ? "source.forecast"
                                                             : "source.observed";
        cJSON_AddStringToObject(item, "name", source->name);
        cJSON_AddStringToObject(item, "kind", source->kind == SOURCE_FORECAST ? "forecast" : "observed");
        frame_date(item, "last_day", source->last_day);
        cJSON_AddStringToObject(item, "text", say_words(context, key, holes, 3, text));
        cJSON_AddItemToArray(list, item);
    }
    cJSON_AddBoolToObject(view, "has_neighbours", facts->neighbour_count > 0);
    cJSON_AddItemToObject(view, "neighbours",
                          neighbour_list(context, facts->neighbour, facts->neighbour_count));
    if (morning != NULL && calendar_valid(morning->forecast_issued)) {
        const struct words_hole hole = {"on", say_day(context, "on", morning->forecast_issued, on)};
        cJSON_AddStringToObject(view, "forecast", say_words(context, "source.issued", &hole, 1, text));
    }
}

cJSON *view_field(const struct view_context *context, const struct field_facts *facts,
                  const struct field_morning *morning, const struct ledger_row *rows, size_t count) {
    const char *name = facts->field.name;
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    cJSON_AddStringToObject(view, "title", name);
    cJSON_AddStringToObject(view, "name", name);
    frame_link(view, "ledger", name, "/ledger");
    frame_link(view, "csv", name, "/ledger.csv");
    if (morning != NULL)
        cJSON_AddItemToObject(view, "field", frame_field(context, morning, 0));
    struct text picture;
    text_init(&picture, 0);
    bool drawn = season_picture_add(context, morning, rows, count, &picture);
    if (drawn && picture.size > 0)
        cJSON_AddStringToObject(view, "picture", text_string(&picture));
    text_free(&picture);
    cJSON_AddBoolToObject(view, "planted", facts->planted);
    if (facts->planted)
        add_season(context, facts, today_or_last(morning, rows, count), rows, count, view);
    if (count > 0) {
        char tail[48], iso[CALENDAR_ISO_SIZE];
        snprintf(tail, sizeof tail, "/workings/%s", calendar_format_iso(rows[count - 1].day.date, iso));
        frame_link(view, "workings", name, tail);
    }
    add_sources(context, facts, morning, view);
    field_list_add(context, facts, cJSON_AddArrayToObject(view, "facts"));
    return drawn ? view : (cJSON_Delete(view), NULL);
}
