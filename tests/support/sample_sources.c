#include "support/sample_sources.h"

#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "support/sample_mornings.h"

static struct morning_time time_on(int32_t day, int minute) {
    return (struct morning_time){day, (int64_t)day * 86400, minute};
}

static void set_text(char *out, size_t size, const char *text) {
    (void)snprintf(out, size, "%s", text);
}

/* Measured everywhere up to `measured` days, then as given. */
static void recent_days(struct source_report *report, int measured, enum weather_origin temperature,
                        enum weather_origin rain) {
    report->recent_count = SOURCE_RECENT_D;
    for (int i = 0; i < SOURCE_RECENT_D; i++) {
        struct ledger_origins *day = &report->recent[i];
        bool known = i < measured;
        day->temperature = day->humidity = day->radiation = day->wind =
            (uint8_t)(known ? ORIGIN_MEASURED : temperature);
        day->rain = (uint8_t)(known ? ORIGIN_MEASURED : rain);
    }
}

static struct source_report observed(int32_t last_day) {
    struct source_report report;
    int32_t today = sample_today();
    memset(&report, 0, sizeof report);
    set_text(report.state.name, sizeof report.state.name, "Yard gauge");
    set_text(report.state.station, sizeof report.state.station, "Yard");
    set_text(report.state.layout, sizeof report.state.layout, "plain");
    set_text(report.state.address, sizeof report.state.address,
             "https://weather.example/days.csv?appid={key}");
    report.state.kind = SOURCE_OBSERVED;
    report.state.first_day = today - 120;
    report.state.last_day = last_day;
    report.state.issued = CALENDAR_NONE;
    report.taken = report.tried = time_on(today, 275);
    report.retry = time_on(CALENDAR_NONE, 0);
    report.fields = 3;
    report.lag_days = today - 1 - last_day;
    recent_days(&report, SOURCE_RECENT_D, ORIGIN_MEASURED, ORIGIN_MEASURED);
    return report;
}

static struct source_report failing(void) {
    struct source_report report = observed(sample_today() - 6);
    set_text(report.state.name, sizeof report.state.name, "<script>alert('x')</script>");
    set_text(report.state.trouble, sizeof report.state.trouble,
             "https://weather.example/days.csv: found HTTP status 503, expected 200: {{name}} &amp; <b>");
    report.taken = time_on(sample_today() - 5, 275);
    report.retry = time_on(sample_today(), 720);
    recent_days(&report, 9, ORIGIN_FORECAST, ORIGIN_MISSING);
    return report;
}

static struct source_report never(void) {
    struct source_report report = observed(sample_today() - 1);
    set_text(report.state.name, sizeof report.state.name, "Canal post");
    report.state.first_day = report.state.last_day = CALENDAR_NONE;
    report.taken = report.tried = time_on(CALENDAR_NONE, 0);
    report.lag_days = -1;
    recent_days(&report, 0, ORIGIN_MISSING, ORIGIN_MISSING);
    return report;
}

static struct source_report odd(void) {
    struct source_report report = observed(sample_today() - 1);
    int32_t today = sample_today();
    set_text(report.state.name, sizeof report.state.name,
             "A very long name of a source that does not fit a narrow screen");
    report.gap_days = 11;
    report.gap_count = 2;
    report.gap[0] = (struct source_gap){today - 20, today - 20};
    report.gap[1] = (struct source_gap){today - 60, today - 51};
    report.finding_count = 2;
    report.finding[0] =
        (struct source_finding){FINDING_WIND_STUCK, WEATHER_WIND_M_S, 3, today - 2, 0.0, 0.05, true};
    report.finding[1] = (struct source_finding){
        FINDING_RS_ABOVE_CLEAR_SKY, WEATHER_RS_MJ_M2, 1, today - 9, 33.0, 29.5, false};
    return report;
}

static struct source_report forecast(void) {
    struct source_report report = observed(sample_today() - 1);
    set_text(report.state.name, sizeof report.state.name, "Ten days ahead");
    report.state.kind = SOURCE_FORECAST;
    report.state.issued = sample_today() - 3;
    report.state.last_day = sample_today() + 6;
    report.lag_days = 3;
    report.ahead_days = 7;
    return report;
}

struct source_report sample_source(int index) {
    switch (index) {
    case 1:
        return failing();
    case 2:
        return never();
    case 3:
        return odd();
    case 4:
        return forecast();
    default:
        return observed(sample_today() - 1);
    }
}
