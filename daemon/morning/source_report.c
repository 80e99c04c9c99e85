#include "daemon/morning/source_report.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/morning/ingest_plan.h"
#include "daemon/morning/station_load.h"

struct reporter {
    struct db *db;
    const struct farm *farm;
    const struct farm_ids *ids;
    int32_t today;
    struct problems *problems;
};

static struct morning_time time_of(int64_t at) {
    struct morning_time never = {CALENDAR_NONE, 0, 0};
    return at != 0 ? wall_clock_of(at) : never;
}

/* The newest first, since that is what people can still do something about. */
static void note_gaps(const bool *has, int32_t first, int count, struct source_report *report) {
    for (int i = count - 1; i >= 0; i--) {
        if (has[i])
            continue;
        int start = i;
        while (start > 0 && !has[start - 1])
            start--;
        report->gap_days += i - start + 1;
        if (report->gap_count < SOURCE_GAPS_MAX)
            report->gap[report->gap_count++] = (struct source_gap){first + start, first + i};
        i = start;
    }
}

static enum status find_gaps(const struct reporter *reporter, int32_t first, struct source_report *report) {
    int32_t last = report->state.last_day;
    if (report->state.kind == SOURCE_FORECAST || last == CALENDAR_NONE || last < first)
        return STATUS_OK;
    bool *has = calloc((size_t)(last - first) + 1, sizeof *has);
    if (has == NULL)
        return STATUS_NO_MEMORY;
    enum status status =
        weather_store_reported(reporter->db, report->state.source_id, first, last, has, reporter->problems);
    if (status == STATUS_OK)
        note_gaps(has, first, last - first + 1, report);
    free(has);
    return status;
}

static enum status find_findings(const struct reporter *reporter, int32_t first,
                                 struct source_report *report) {
    struct source_finding *list = NULL;
    size_t count = 0;
    enum status status = weather_store_findings(reporter->db, report->state.source_id, first, &list, &count,
                                                reporter->problems);
    if (status != STATUS_OK)
        return status;
    report->finding_count = (int)(count < SOURCE_FINDINGS_MAX ? count : SOURCE_FINDINGS_MAX);
    memcpy(report->finding, list, (size_t)report->finding_count * sizeof *list);
    free(list);
    return STATUS_OK;
}

static void note_lag(int32_t today, struct source_report *report) {
    const struct source_state *state = &report->state;
    int32_t newest = state->kind == SOURCE_FORECAST ? state->issued : state->last_day;
    report->lag_days = -1;
    if (newest != CALENDAR_NONE)
        report->lag_days = state->kind == SOURCE_FORECAST ? today - newest : today - 1 - newest;
    if (state->kind == SOURCE_FORECAST && state->last_day != CALENDAR_NONE && state->last_day >= today)
        report->ahead_days = state->last_day - today + 1;
}

static struct ledger_origins origins_of(const struct station_day *day) {
    return (struct ledger_origins){.temperature = (uint8_t)day->full.tmax_c.origin,
                                   .humidity = (uint8_t)day->full.ea_kpa.origin,
                                   .radiation = (uint8_t)day->full.rs_mj_m2.origin,
                                   .wind = (uint8_t)day->full.wind_2m_m_s.origin,
                                   .rain = (uint8_t)day->full.rain_mm.origin};
}

static void note_recent(const struct station_days *days, int32_t today, struct source_report *report) {
    int lag = report->lag_days;
    int wanted = lag > 0 && lag < SOURCE_RECENT_D ? lag : SOURCE_RECENT_D;
    for (int i = wanted; i > 0; i--) {
        const struct station_day *day = station_days_at(days, today - i);
        if (day != NULL)
            report->recent[report->recent_count++] = origins_of(day);
    }
}

static size_t station_of(const struct farm *farm, const char *name) {
    size_t i = 0;
    while (i < farm->station_count && strcmp(farm->station[i].name, name) != 0)
        i++;
    return i;
}

static int fields_at(const struct farm *farm, const char *station) {
    int count = 0;
    for (size_t i = 0; i < farm->field_count; i++)
        count += strcmp(farm->field[i].station, station) == 0;
    return count;
}

static enum status report_source(const struct reporter *reporter, const struct source_state *state,
                                 struct source_report *report) {
    struct station_days days;
    size_t station = station_of(reporter->farm, state->station);
    int32_t first = 0;
    int32_t from = reporter->today - SOURCE_RECENT_D;
    memset(&days, 0, sizeof days);
    memset(report, 0, sizeof *report);
    report->state = *state;
    report->tried = time_of(state->tried_at);
    report->taken = time_of(state->taken_at);
    report->retry = time_of(state->retry_at);
    report->fields = fields_at(reporter->farm, state->station);
    if (state->kind == SOURCE_OBSERVED && station < reporter->farm->station_count)
        report->neighbour_count =
            neighbour_places(reporter->farm, &reporter->farm->station[station], report->neighbour);
    note_lag(reporter->today, report);
    enum status status =
        weather_first_needed(reporter->db, state->station, reporter->today, &first, reporter->problems);
    if (status == STATUS_OK)
        status = find_gaps(reporter, first, report);
    if (status == STATUS_OK)
        status = find_findings(reporter, first, report);
    if (status == STATUS_OK && station < reporter->farm->station_count)
        status = station_days_load(reporter->db, reporter->farm, reporter->ids, station,
                                   first < from ? first : from, reporter->today, reporter->today, &days,
                                   reporter->problems);
    if (status == STATUS_OK)
        note_recent(&days, reporter->today, report);
    station_days_free(&days);
    return status;
}

static enum status report_all(const struct reporter *reporter, struct source_report **out, size_t *count) {
    struct source_state *states = NULL;
    size_t found = 0;
    enum status status =
        weather_store_sources(reporter->db, reporter->today, &states, &found, reporter->problems);
    if (status != STATUS_OK)
        return status;
    struct source_report *list = calloc(found + 1, sizeof *list);
    if (list == NULL)
        status = STATUS_NO_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < found; i++)
        status = report_source(reporter, &states[i], &list[i]);
    free(states);
    if (status == STATUS_OK) {
        *out = list;
        *count = found;
    } else {
        free(list);
    }
    return status;
}

enum status source_reports_make(struct db *db, int32_t today, struct source_report **out, size_t *count,
                                struct problems *problems) {
    struct farm farm;
    struct farm_ids ids;
    enum status status = farm_store_view_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = farm_store_ids(db, &farm, &ids, problems);
    if (status == STATUS_OK) {
        const struct reporter reporter = {db, &farm, &ids, today, problems};
        status = report_all(&reporter, out, count);
    }
    farm_ids_free(&ids);
    farm_free(&farm);
    return status;
}
