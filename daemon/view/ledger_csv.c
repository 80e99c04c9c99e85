#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/csv_cell.h"
#include "daemon/view/ledger_columns.h"
#include "daemon/view/view.h"

static void add_origin(struct text *out, uint8_t origin) {
    const char *name = weather_origin_name(origin);
    text_puts(out, ",");
    csv_add_text(out, name != NULL ? name : "");
}

static void add_rule(struct text *out, uint8_t rule) {
    const char *key = weather_rule_key(rule);
    text_puts(out, ",");
    csv_add_text(out, key != NULL ? key : "");
}

static void add_row(struct text *out, const char *field, const struct ledger_row *row) {
    char iso[CALENDAR_ISO_SIZE];
    const char *stage = crop_stage_name(row->day.stage);
    csv_add_text(out, field);
    text_printf(out, ",%s,", calendar_format_iso(row->day.date, iso));
    csv_add_text(out, stage != NULL ? stage : "");
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++)
        csv_add_number(out, ledger_value(&row->day, column));
    csv_add_number(out, season_closure_mm(&row->day));
    add_origin(out, row->origin.temperature);
    add_origin(out, row->origin.humidity);
    add_rule(out, row->rule_humidity);
    add_origin(out, row->origin.radiation);
    add_rule(out, row->rule_radiation);
    add_origin(out, row->origin.wind);
    add_rule(out, row->rule_wind);
    add_origin(out, row->origin.rain);
    text_puts(out, row->et0_from_hours ? ",hours" : ",day");
    text_puts(out, "\r\n");
}

/* RFC 4180. */
void view_ledger_csv(const char *field, const struct ledger_row *rows, size_t count, struct text *out) {
    text_puts(out, "field,date,stage");
    for (const struct ledger_column *column = ledger_columns; column->name != NULL; column++)
        text_printf(out, ",%s", column->member);
    text_puts(out,
              ",closure_mm,temperature_origin,humidity_origin,humidity_rule,radiation_origin,radiation_rule,"
              "wind_origin,wind_rule,rain_origin,et0_from\r\n");
    for (size_t i = 0; i < count; i++)
        add_row(out, field, &rows[i]);
}
