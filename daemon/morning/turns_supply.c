#include "daemon/morning/turns_supply.h"

#include <math.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/base/wall_clock.h"
#include "daemon/morning/planting_run.h"

int turns_hour_of(int32_t today, int32_t date, int hour) {
    return 24 * (date - today) + hour;
}

/* ---- when it is open */

static bool opens_on(const struct farm_window *window, int32_t date) {
    if (window->weekdays != 0)
        return (window->weekdays >> calendar_weekday(date) & 1U) != 0;
    return window->every_days > 0 && (date - window->first) % window->every_days == 0;
}

static bool closed_on(const struct farm_supply *supply, int32_t date) {
    for (int i = 0; i < supply->closed_count; i++)
        if (date >= supply->closed[i].from && date <= supply->closed[i].to)
            return true;
    return false;
}

void turns_open_days(const struct farm_supply *supply, int32_t first, int days, uint32_t *open) {
    for (int d = 0; d < days; d++)
        open[d] = supply->window_count == 0 ? 0xFFFFFFU : 0;
    /* A window of the day before may reach into the first. */
    for (int d = -1; d < days; d++)
        for (int w = 0; w < supply->window_count; w++) {
            const struct farm_window *window = &supply->window[w];
            for (int h = 0; h < window->hours && opens_on(window, first + d); h++) {
                int at = 24 * d + window->from_hour + h;
                if (at >= 0 && at < 24 * days)
                    open[at / 24] |= UINT32_C(1) << at % 24;
            }
        }
    for (int d = 0; d < days; d++) {
        uint32_t skipped, twice;
        wall_clock_changes(first + d, &skipped, &twice);
        open[d] &= closed_on(supply, first + d) ? 0 : ~skipped;
    }
}

int turns_twice(const uint32_t *open, int32_t today, int from, int to) {
    int count = 0;
    for (int at = from < 0 ? 0 : from; at < to && at < TURNS_HOURS_MAX; at = 24 * (at / 24 + 1)) {
        uint32_t skipped, twice;
        wall_clock_changes(today + at / 24, &skipped, &twice);
        for (int t = at; twice != 0 && t < to && t < 24 * (at / 24 + 1); t++)
            count += (int)((twice & open[t / 24]) >> t % 24 & 1U);
    }
    return count;
}

int turns_day_hours(const struct farm_supply *supply) {
    return isnan(supply->hours_per_day) ? 24 : (int)floor(supply->hours_per_day + 1e-9);
}

int turns_hours_run(const struct farm_supply *supply, const struct stored_turn *turn, int32_t today,
                    int hour) {
    int from = turns_hour_of(today, turn->date, turn->hour), run = 0, on_day = 0;
    uint32_t open = 0;
    for (int at = from; at < hour && run < turn->hours; at++) {
        int of_day = ((at % 24) + 24) % 24;
        if (at == from || of_day == 0) {
            turns_open_days(supply, today + (at - of_day) / 24, 1, &open);
            on_day = 0;
        }
        if ((open >> of_day & 1U) != 0 && on_day < turns_day_hours(supply)) {
            on_day++;
            run++;
        }
    }
    return run;
}

/* ---- allotments */

static int32_t end_of(const struct farm_planting *planting) {
    double days = 0;
    if (planting->stage_date[CROP_GROWING_STAGES - 1] != CALENDAR_NONE)
        return planting->stage_date[CROP_GROWING_STAGES - 1];
    for (int k = 0; k < CROP_GROWING_STAGES; k++)
        days += planting->crop.stage_days[k];
    return isnan(days) ? CALENDAR_NONE : planting->planting_date + (int32_t)days;
}

struct farm_span turns_season_of(const struct farm *farm, const struct farm_supply *supply, int32_t today) {
    struct farm_span season = {CALENDAR_NONE, CALENDAR_NONE};
    for (size_t i = 0; i < farm->field_count; i++) {
        int current = planting_current(farm, farm->field[i].name, today);
        if (current < 0 || strcmp(farm->field[i].supply, supply->name) != 0)
            continue;
        const struct farm_planting *planting = &farm->planting[current];
        if (season.from == CALENDAR_NONE || planting->start_date < season.from)
            season.from = planting->start_date;
        if (season.to == CALENDAR_NONE || end_of(planting) > season.to)
            season.to = end_of(planting);
    }
    if (supply->season.from != CALENDAR_NONE)
        season.from = supply->season.from;
    if (supply->season.to != CALENDAR_NONE)
        season.to = supply->season.to;
    return season;
}

double turns_drawn_m3(const struct farm *farm, const struct farm_supply *supply, int32_t first,
                      int32_t last) {
    double sum_m3 = 0;
    for (size_t i = 0; i < farm->record_count; i++) {
        const struct farm_record *record = &farm->record[i];
        if (record->kind != RECORD_IRRIGATION || record->date < first || record->date > last)
            continue;
        const struct farm_field *field = farm_field_named(farm, record->field);
        if (field != NULL && strcmp(field->supply, supply->name) == 0)
            sum_m3 += record->amount * field->system.area_m2 / 1000;
    }
    return sum_m3;
}

const struct farm_allotment *turns_period_on(const struct farm_supply *supply, int32_t today) {
    for (int i = 0; i < supply->allotment_count; i++)
        if (today >= supply->allotment[i].days.from && today <= supply->allotment[i].days.to)
            return &supply->allotment[i];
    return NULL;
}

static void fill_periods(const struct farm *farm, const struct farm_supply *supply, int32_t today, int days,
                         double m3, struct turns_supply *out) {
    for (int i = 0; i < supply->allotment_count && out->period_count < TURNS_PERIODS_MAX; i++) {
        const struct farm_allotment *allotment = &supply->allotment[i];
        int first = allotment->days.from - today, last = allotment->days.to - today;
        if (last < 0 || first >= days)
            continue;
        double drawn_m3 = turns_drawn_m3(farm, supply, allotment->days.from, today);
        out->period[out->period_count++] =
            (struct turns_period){first > 0 ? first : 0, last < 24 * days ? last : 24 * days,
                                  fmax(allotment->volume_m3 - drawn_m3 - (first <= 0 ? m3 : 0), 0)};
    }
}

void turns_supply_fill(const struct farm *farm, const struct farm_supply *supply, int32_t today, int days,
                       double m3, struct turns_supply *out) {
    struct farm_span season = turns_season_of(farm, supply, today);
    *out = (struct turns_supply){.flow_m3_h = supply->flow_m3_h,
                                 .users = supply->users,
                                 .hours_per_day = turns_day_hours(supply),
                                 .season_left_m3 = NAN};
    turns_open_days(supply, today, days, out->open);
    for (int d = 0; d < days; d++)
        wall_clock_changes(today + d, &out->skipped[d], &out->twice[d]);
    bool begun = season.from == CALENDAR_NONE || season.from <= today;
    if (!isnan(supply->allotment_m3) && begun && (season.to == CALENDAR_NONE || season.to >= today))
        out->season_left_m3 =
            fmax(supply->allotment_m3 - m3 -
                     turns_drawn_m3(farm, supply, season.from != CALENDAR_NONE ? season.from : CALENDAR_FIRST,
                                    today),
                 0);
    fill_periods(farm, supply, today, days, m3, out);
}
