#include "core/base/calendar.h"
#include "daemon/view/csv_cell.h"
#include "daemon/view/view.h"

static void add_row(const struct field_morning *morning, struct text *out) {
    const struct call *call = &morning->call;
    csv_add_text(out, morning->field);
    csv_add_date(out, call->date);
    text_printf(out, ",%s,%s", call_kind_key(call->kind), call_reason_key(call->reason));
    csv_add_date(out, call->start_by);
    csv_add_date(out, call->dry_date);
    const double numbers[] = {
        call->depletion_mm,          call->allowed_mm,         call->taw_mm,
        call->rain_expected_mm,      call->application.net_mm, call->application.gross_mm,
        call->application.volume_m3, call->application.hours};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        csv_add_number(out, numbers[i]);
    csv_add_date(out, morning->weather_until);
    csv_add_date(out, morning->forecast_issued);
    text_puts(out, "\r\n");
}

void view_calls_csv(const struct field_morning *mornings, size_t count, struct text *out) {
    text_puts(
        out,
        "field,date,call,reason,start_by,dry_date,depletion_mm,allowed_mm,taw_mm,rain_expected_mm,net_mm,"
        "gross_mm,volume_m3,hours,weather_until,forecast_issued\r\n");
    for (size_t i = 0; i < count; i++)
        add_row(&mornings[i], out);
}
