#include "daemon/view/ledger_record.h"

#include <math.h>
#include <stdio.h>

#include "core/base/calendar.h"
#include "core/base/units.h"
#include "daemon/view/field_list.h"
#include "daemon/view/frame.h"
#include "daemon/view/say.h"

/* In the units of the head of the table. */
static void add_depth(const struct view_context *context, cJSON *item, const char *key, double mm) {
    char text[SAY_SIZE];
    bool us = context->us_units;
    cJSON_AddStringToObject(
        item, key, say_number(context, us ? units_from_si(mm, units_find("in")) : mm, us ? 2 : 1, text));
}

static void add_volume(const struct view_context *context, cJSON *item, double m3) {
    char text[SAY_SIZE];
    bool us = context->us_units;
    cJSON_AddStringToObject(
        item, "volume",
        say_number(context, us ? units_from_si(m3, units_find("ac-in")) : m3, us ? 2 : 0, text));
}

static void add_watering(const struct view_context *context, double area_m2, const struct season_day *day,
                         cJSON *list) {
    char text[SAY_SIZE];
    double m3 = day->irrigation_gross_mm / 1000 * area_m2;
    cJSON *item = cJSON_CreateObject();
    frame_date(item, "date", day->date);
    cJSON_AddStringToObject(item, "date_text", say_date(context, day->date, text));
    add_depth(context, item, "gross", day->irrigation_gross_mm);
    add_depth(context, item, "net", day->irrigation_net_mm);
    add_volume(context, item, m3);
    frame_number(item, "gross_mm", day->irrigation_gross_mm);
    frame_number(item, "net_mm", day->irrigation_net_mm);
    frame_number(item, "volume_m3", m3);
    cJSON_AddItemToArray(list, item);
}

/* "Daily soil-water balance by FAO-56, dual crop coefficient; 3 soil-water readings." */
static char *say_method(const struct view_context *context, const struct field_facts *facts,
                        char out[SAY_SIZE]) {
    int readings = 0;
    for (size_t i = 0; i < facts->record_count; i++)
        readings += facts->record[i].kind == RECORD_READING;
    char number[SAY_SIZE];
    const struct words_hole hole = {"n", say_count(readings, number)};
    bool dual = facts->planting.method == COEFFICIENT_DUAL;
    return say_words(context, dual ? "record.method.dual" : "record.method.single", &hole, 1, out);
}

static void add_facts(const struct view_context *context, const struct field_facts *facts,
                      const struct ledger_row *rows, size_t count, cJSON *list) {
    char text[SAY_SIZE], from[SAY_SIZE], to[SAY_SIZE];
    field_list_text(context, list, "fact.farm", context->facts->farm_name);
    field_list_text(context, list, "fact.field", facts->field.name);
    field_list_add(context, facts, list);
    field_list_text(context, list, "fact.crop", words_crop(context->words, facts->planting.crop_name));
    field_list_text(context, list, "fact.planted",
                    say_date_year(context, facts->planting.planting_date, text));
    if (count > 0) {
        const struct words_hole holes[] = {{"from", say_date_year(context, rows[0].day.date, from)},
                                           {"to", say_date_year(context, rows[count - 1].day.date, to)}};
        field_list_text(context, list, "record.period",
                        say_words(context, "record.period.text", holes, 2, text));
    }
    field_list_text(context, list, "record.method", say_method(context, facts, text));
}

void ledger_record_add(const struct view_context *context, const struct field_facts *facts,
                       const struct ledger_row *rows, size_t count, cJSON *view) {
    cJSON *record = cJSON_AddObjectToObject(view, "record");
    add_facts(context, facts, rows, count, cJSON_AddArrayToObject(record, "facts"));
    cJSON_AddStringToObject(
        record, "depth_unit",
        words_get(context->words, context->us_units ? "unit.depth.us" : "unit.depth.metric"));
    cJSON_AddStringToObject(
        record, "volume_unit",
        words_get(context->words, context->us_units ? "unit.volume.us" : "unit.volume.metric"));
    cJSON *list = cJSON_AddArrayToObject(record, "waterings");
    double gross_mm = 0, net_mm = 0, area_m2 = facts->field.system.area_m2;
    for (size_t i = 0; i < count; i++) {
        const struct season_day *day = &rows[i].day;
        if (!(day->irrigation_gross_mm > 0))
            continue;
        gross_mm += day->irrigation_gross_mm;
        net_mm += day->irrigation_net_mm;
        add_watering(context, area_m2, day, list);
    }
    cJSON_AddBoolToObject(record, "has_waterings", cJSON_GetArraySize(list) > 0);
    cJSON *sum = cJSON_AddObjectToObject(record, "sum");
    add_depth(context, sum, "gross", gross_mm);
    add_depth(context, sum, "net", net_mm);
    add_volume(context, sum, gross_mm / 1000 * area_m2);
    frame_number(sum, "gross_mm", gross_mm);
    frame_number(sum, "net_mm", net_mm);
    frame_number(sum, "volume_m3", gross_mm / 1000 * area_m2);
}
