#include "daemon/morning/station_days.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Elements that say the same thing: a day takes the whole group from one origin, since a dew point of the
 * forecast beside a measured relative humidity would make two humidities. */
static const struct group {
    int count;
    enum weather_element element[7];
} groups[] = {
    {3, {WEATHER_TMAX_C, WEATHER_TMIN_C, WEATHER_TMEAN_C}},
    {7,
     {WEATHER_TDEW_C, WEATHER_TDRY_C, WEATHER_TWET_C, WEATHER_RH_MAX_PCT, WEATHER_RH_MIN_PCT,
      WEATHER_RH_MEAN_PCT, WEATHER_EA_KPA}},
    {1, {WEATHER_PRESSURE_KPA}},
    {1, {WEATHER_WIND_M_S}},
    {2, {WEATHER_RS_MJ_M2, WEATHER_SUN_H}},
    {1, {WEATHER_RAIN_MM}},
};

static bool group_missing(const struct group *group, const struct weather_day *day) {
    for (int i = 0; i < group->count; i++) {
        if (!isnan(day->value[group->element[i]]))
            return false;
    }
    return true;
}

static void fill_groups(struct weather_day *day, const struct weather_day *from) {
    for (size_t g = 0; g < sizeof groups / sizeof groups[0]; g++) {
        if (!group_missing(&groups[g], day))
            continue;
        for (int i = 0; i < groups[g].count; i++) {
            enum weather_element element = groups[g].element[i];
            day->value[element] = from->value[element];
            day->origin[element] = from->origin[element];
        }
    }
}

static bool temperatures_known(const struct weather_day *day) {
    return !isnan(day->value[WEATHER_TMAX_C]) && !isnan(day->value[WEATHER_TMIN_C]);
}

#define RECENT_DAYS 7

/* The means of the newest days that are complete by measurement or forecast. */
static bool recent_mean(const struct station_days *days, int before, struct weather_day *out) {
    double sum[5] = {0};
    int count = 0;
    for (int i = before - 1; i >= 0 && count < RECENT_DAYS; i--) {
        const struct weather_full *full = &days->day[i].full;
        if (isnan(full->tmax_c.value) || full->tmax_c.origin == ORIGIN_CLIMATOLOGY)
            continue;
        sum[0] += full->tmax_c.value;
        sum[1] += full->tmin_c.value;
        sum[2] += full->ea_kpa.value;
        sum[3] += full->wind_2m_m_s.value;
        sum[4] += full->rs_mj_m2.value;
        count++;
    }
    if (count == 0)
        return false;
    static const enum weather_element element[5] = {WEATHER_TMAX_C, WEATHER_TMIN_C, WEATHER_EA_KPA,
                                                    WEATHER_WIND_M_S, WEATHER_RS_MJ_M2};
    for (int i = 0; i < 5; i++) {
        out->value[element[i]] = sum[i] / count;
        out->origin[element[i]] = ORIGIN_CLIMATOLOGY;
    }
    return true;
}

static void reported_day(const struct weather_days *observed, const struct weather_days *forecast,
                         int32_t date, int32_t today, struct weather_day *out) {
    *out = weather_day_empty(date);
    const struct weather_day *seen = date < today ? weather_days_find(observed, date) : NULL;
    const struct weather_day *told = weather_days_find(forecast, date);
    if (seen != NULL)
        *out = *seen;
    if (told != NULL)
        fill_groups(out, told);
}

static void day_missing(struct station_day *day, int32_t date) {
    struct weather_value nothing = {(double)NAN, ORIGIN_MISSING, WEATHER_RULE_NONE};
    memset(&day->full, 0, sizeof day->full);
    day->full.date = date;
    day->full.tmax_c = day->full.tmin_c = day->full.tmean_c = day->full.pressure_kpa = nothing;
    day->full.ea_kpa = day->full.rs_mj_m2 = day->full.wind_2m_m_s = day->full.rain_mm = nothing;
    day->full.rh_min_pct = day->full.ra_mj_m2 = day->full.rso_mj_m2 = day->full.rn_mj_m2 = (double)NAN;
    day->full.daylight_h = (double)NAN;
    for (int kind = 0; kind <= REFERENCE_ASCE_TALL; kind++)
        day->et0_mm[kind] = (double)NAN;
}

/* The wind of the recent mean is at 2 m already; the other way there are the station's own. */
static enum status day_complete(const struct weather_site *site, const struct weather_findings *findings,
                                struct station_day *day) {
    struct weather_site local = *site;
    if (day->reported.origin[WEATHER_WIND_M_S] == ORIGIN_CLIMATOLOGY)
        local.wind_height_m = 2.0;
    enum status status = weather_complete(&day->reported, &local, findings, &day->full);
    for (int kind = 0; status == STATUS_OK && kind <= REFERENCE_ASCE_TALL; kind++)
        status = reference_et_day(&day->full, site, (enum reference_kind)kind, NULL, &day->et0_mm[kind]);
    return status;
}

static void day_build(const struct farm_station *station, struct station_days *days, int index) {
    struct station_day *day = &days->day[index];
    int32_t date = days->first + index;
    struct weather_findings findings = {0};
    const struct weather_day *before = index > 0 ? &days->day[index - 1].reported : NULL;
    const struct weather_day *after = index + 1 < days->count ? &days->day[index + 1].reported : NULL;
    day_missing(day, date);
    /* More findings than there is room for are counted as many; the day stands or falls below. */
    (void)weather_check(&day->reported, before, after, NULL, 0, &station->site, &findings);
    for (int i = 0; i < findings.count; i++)
        day->suspect += findings.finding[i].suspect;
    day->findings = findings.count;
    if (day_complete(&station->site, &findings, day) == STATUS_OK)
        return;
    struct weather_day mean = weather_day_empty(date);
    mean.value[WEATHER_RAIN_MM] = day->reported.value[WEATHER_RAIN_MM];
    mean.origin[WEATHER_RAIN_MM] = day->reported.origin[WEATHER_RAIN_MM];
    struct weather_day kept = day->reported;
    if (recent_mean(days, index, &mean)) {
        day->reported = mean;
        if (day_complete(&station->site, NULL, day) == STATUS_OK)
            return;
    }
    day->reported = kept;
    day_missing(day, date);
}

enum status station_days_build(const struct farm_station *station, const struct weather_days *observed,
                               const struct weather_days *forecast, int32_t first, int32_t today,
                               int32_t last, struct station_days *out) {
    memset(out, 0, sizeof *out);
    out->first = first;
    out->observed_until = CALENDAR_NONE;
    out->forecast_issued = CALENDAR_NONE;
    if (last < first)
        return STATUS_ORDER;
    if (last - first >= WEATHER_DAYS_MAX)
        return STATUS_NO_ROOM;
    out->count = last - first + 1;
    out->day = calloc((size_t)out->count, sizeof *out->day);
    if (out->day == NULL)
        return STATUS_NO_MEMORY;
    for (int i = 0; i < out->count; i++) {
        struct weather_day *day = &out->day[i].reported;
        reported_day(observed, forecast, first + i, today, day);
        if (temperatures_known(day) && day->origin[WEATHER_TMAX_C] == ORIGIN_MEASURED && first + i < today)
            out->observed_until = first + i;
    }
    for (int i = 0; i < out->count; i++)
        day_build(station, out, i);
    return STATUS_OK;
}

void station_days_free(struct station_days *days) {
    free(days->day);
    memset(days, 0, sizeof *days);
}

const struct station_day *station_days_at(const struct station_days *days, int32_t date) {
    if (days->day == NULL || date < days->first || date >= days->first + days->count)
        return NULL;
    return &days->day[date - days->first];
}
