#include "daemon/morning/station_days.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "core/weather/climatology.h"
#include "core/weather/day_block.h"
#include "core/weather/station_transfer.h"

/* Elements that say the same thing: a day takes the whole group from one origin, since a dew point of the
 * forecast beside a measured relative humidity would make two humidities. */
enum { GROUP_TEMPERATURE, GROUP_HUMIDITY, GROUP_PRESSURE, GROUP_WIND, GROUP_RADIATION, GROUP_RAIN, GROUPS };
static const struct group {
    int count, wanted; /* that many of the first ones must be there; 0: any one */
    enum weather_element element[7];
} groups[GROUPS] = {
    [GROUP_TEMPERATURE] = {3, 2, {WEATHER_TMAX_C, WEATHER_TMIN_C, WEATHER_TMEAN_C}},
    [GROUP_HUMIDITY] = {7,
                        0,
                        {WEATHER_TDEW_C, WEATHER_TDRY_C, WEATHER_TWET_C, WEATHER_RH_MAX_PCT,
                         WEATHER_RH_MIN_PCT, WEATHER_RH_MEAN_PCT, WEATHER_EA_KPA}},
    [GROUP_PRESSURE] = {1, 1, {WEATHER_PRESSURE_KPA}},
    [GROUP_WIND] = {1, 1, {WEATHER_WIND_M_S}},
    [GROUP_RADIATION] = {2, 0, {WEATHER_RS_MJ_M2, WEATHER_SUN_H}},
    [GROUP_RAIN] = {1, 1, {WEATHER_RAIN_MM}},
};

/* Bits of the elements that a finding sets aside. */
static unsigned suspects_of(const struct weather_findings *findings) {
    unsigned bits = 0;
    for (int i = 0; i < findings->count; i++) {
        if (findings->finding[i].suspect)
            bits |= 1U << findings->finding[i].element;
    }
    return bits;
}

/* Whether a day tells the group; `suspect`: elements that do not count. */
static bool tells(const struct group *group, const struct weather_day *day, unsigned suspect) {
    int there = 0;
    for (int i = 0; i < (group->wanted > 0 ? group->wanted : group->count); i++)
        there += !isnan(day->value[group->element[i]]) && (suspect >> group->element[i] & 1U) == 0;
    return group->wanted > 0 ? there == group->wanted : there > 0;
}

static void take_group(const struct group *group, const struct weather_day *from, struct weather_day *day) {
    for (int i = 0; i < group->count; i++) {
        enum weather_element element = group->element[i];
        day->value[element] = from->value[element];
        day->origin[element] = from->origin[element];
    }
}

/* Takes the group from another day when that one tells it. */
static bool fill_group(const struct group *group, const struct weather_day *from, struct weather_day *day) {
    if (!tells(group, from, 0))
        return false;
    take_group(group, from, day);
    return true;
}

/* ---- neighbours ---- */

/* The neighbours' values of a day, brought over when they are first asked for. */
struct neighbours {
    const struct station_input *input;
    int32_t date;
    bool known[FARM_NEIGHBOURS_MAX];
    struct weather_day day[FARM_NEIGHBOURS_MAX];
};

static const struct weather_day *neighbour_day(struct neighbours *neighbours, int index) {
    const struct station_neighbour *other = &neighbours->input->neighbour[index];
    if (!neighbours->known[index]) {
        const struct farm_station *station = neighbours->input->station;
        const struct weather_day *seen = weather_days_find(other->observed, neighbours->date);
        neighbours->day[index] = weather_day_empty(neighbours->date);
        if (seen != NULL)
            (void)station_transfer(seen, &other->station->site, &station->site, station->lapse_c_km,
                                   &neighbours->day[index]);
        neighbours->known[index] = true;
    }
    return &neighbours->day[index];
}

/* 1 + place of a neighbour in the station's own list. */
static uint8_t listed_as(const struct station_input *input, int index) {
    const char *name = input->neighbour[index].station->name;
    int place = 0;
    while (place < input->station->neighbour_count && strcmp(input->station->neighbour[place], name) != 0)
        place++;
    return (uint8_t)(place + 1);
}

static bool fill_from_neighbours(struct neighbours *neighbours, const struct group *group,
                                 struct station_day *out) {
    for (int i = 0; i < neighbours->input->neighbour_count; i++) {
        if (!fill_group(group, neighbour_day(neighbours, i), &out->reported))
            continue;
        for (int k = 0; k < group->count; k++) {
            enum weather_element element = group->element[k];
            if (!isnan(out->reported.value[element]))
                out->neighbour[element] = listed_as(neighbours->input, i);
        }
        return true;
    }
    return false;
}

/* ---- what a day is reported as ---- */

static void own_findings(const struct station_input *input, const struct weather_day *seen,
                         struct weather_findings *findings) {
    const struct weather_day *before = weather_days_find(input->observed, seen->date - 1);
    const struct weather_day *after = weather_days_find(input->observed, seen->date + 1);
    /* More findings than there is room for are counted as many. */
    (void)weather_check(seen, before, after, NULL, 0, &input->station->site, findings);
}

static void gather_day(const struct station_input *input, int32_t date, int32_t today,
                       struct station_day *out) {
    struct neighbours neighbours = {.input = input, .date = date};
    struct weather_findings findings = {0};
    const struct weather_day *seen = date < today ? weather_days_find(input->observed, date) : NULL;
    const struct weather_day *told = weather_days_find(input->forecast, date);
    struct weather_day *day = &out->reported;
    *day = seen != NULL ? *seen : weather_day_empty(date);
    if (seen != NULL)
        own_findings(input, seen, &findings);
    unsigned suspect = suspects_of(&findings);
    out->own_air = seen != NULL && station_hours_believed(seen, &findings);
    out->findings = findings.count;
    for (int i = 0; i < findings.count; i++)
        out->suspect += findings.finding[i].suspect;
    for (size_t g = 0; g < GROUPS; g++) {
        if (tells(&groups[g], day, suspect))
            continue;
        bool filled = date < today && fill_from_neighbours(&neighbours, &groups[g], out);
        if (!filled && told != NULL)
            (void)fill_group(&groups[g], told, day);
    }
}

/* ---- completing ---- */

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

#define ALL_KINDS (1u << REFERENCE_FAO56_GRASS | 1u << REFERENCE_ASCE_SHORT | 1u << REFERENCE_ASCE_TALL)

/* Days that are gathered, judged and completed together. */
#define BLOCK 64

/* Judges what went into days, and makes them complete. */
static void days_complete(struct weather_place *place, struct station_day *day, int count,
                          enum status status[BLOCK]) {
    struct day_block_day block[BLOCK];
    for (int i = 0; i < count; i++) {
        struct weather_findings findings = {0};
        (void)weather_check(&day[i].reported, NULL, NULL, NULL, 0, &place->site, &findings);
        block[i] = (struct day_block_day){.reported = &day[i].reported,
                                          .suspect = weather_suspects(&findings),
                                          .full = &day[i].full,
                                          .et_mm = day[i].et0_mm};
    }
    day_block_complete(place, ALL_KINDS, block, count);
    for (int i = 0; i < count; i++)
        status[i] = block[i].status;
}

static enum status day_complete(struct weather_place *place, struct station_day *day) {
    enum status status[BLOCK];
    days_complete(place, day, 1, status);
    return status[0];
}

/* Puts the sum of the hours in place of the day's ET0; a day whose hours cannot be summed keeps its own. */
static enum status sum_hours(const struct station_input *input, struct station_days *days,
                             struct station_day *day) {
    struct station_hours hours;
    double et0_mm[REFERENCE_ASCE_TALL + 1];
    if (!day->own_air || !station_hours_make(input->station, input->observed, &day->full, &hours) ||
        !station_hours_sum(&hours, day->full.date, et0_mm))
        return STATUS_OK;
    if (days->hours_count == days->hours_room) {
        int room = days->hours_room == 0 ? 16 : days->hours_room * 2;
        struct station_hours *more = realloc(days->hours, (size_t)room * sizeof *more);
        if (more == NULL)
            return STATUS_NO_MEMORY;
        days->hours = more;
        days->hours_room = room;
    }
    days->hours[days->hours_count++] = hours;
    day->hours = days->hours_count;
    memcpy(day->et0_mm, et0_mm, sizeof et0_mm);
    return STATUS_OK;
}

/* ---- what is usual ---- */

static const enum weather_element usual_element[CLIMATOLOGY_VALUE_COUNT] = {
    [CLIMATOLOGY_TMAX_C] = WEATHER_TMAX_C,     [CLIMATOLOGY_TMIN_C] = WEATHER_TMIN_C,
    [CLIMATOLOGY_EA_KPA] = WEATHER_EA_KPA,     [CLIMATOLOGY_WIND_2M_M_S] = WEATHER_WIND_M_S,
    [CLIMATOLOGY_RS_MJ_M2] = WEATHER_RS_MJ_M2,
};

#define RECENT_DAYS 7

struct means {
    double sum[CLIMATOLOGY_VALUE_COUNT];
    int count;
};

static void means_add(struct means *means, const struct weather_full *full) {
    const double value[CLIMATOLOGY_VALUE_COUNT] = {
        [CLIMATOLOGY_TMAX_C] = full->tmax_c.value,     [CLIMATOLOGY_TMIN_C] = full->tmin_c.value,
        [CLIMATOLOGY_EA_KPA] = full->ea_kpa.value,     [CLIMATOLOGY_WIND_2M_M_S] = full->wind_2m_m_s.value,
        [CLIMATOLOGY_RS_MJ_M2] = full->rs_mj_m2.value,
    };
    for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++)
        means->sum[v] += value[v];
    means->count++;
}

/* The means of the newest days before that the station itself observed, else of those that anything told. */
static void recent_means(const struct station_input *input, struct weather_place *place,
                         const struct station_days *days, int before, double mean[CLIMATOLOGY_VALUE_COUNT]) {
    struct means means = {{0}, 0};
    const struct weather_days *observed = input->observed;
    for (size_t i = observed->count; i-- > 0 && means.count < RECENT_DAYS;) {
        struct station_day day = {.reported = observed->day[i]};
        if (day.reported.date < days->first + before && day_complete(place, &day) == STATUS_OK)
            means_add(&means, &day.full);
    }
    for (int i = before - 1; observed->count == 0 && i >= 0 && means.count < RECENT_DAYS; i--) {
        const struct weather_full *full = &days->day[i].full;
        if (!isnan(full->tmax_c.value) && full->tmax_c.origin != ORIGIN_CLIMATOLOGY)
            means_add(&means, full);
    }
    for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++)
        mean[v] = means.count > 0 ? means.sum[v] / means.count : (double)NAN;
}

/* The day that is usual, as far as anything tells it; false when it has no temperatures. */
static bool usual_day(const struct station_input *input, struct weather_place *place,
                      const struct station_days *days, int index, struct weather_day *out) {
    const struct weather_site *site = &input->station->site;
    struct climatology usual;
    double recent[CLIMATOLOGY_VALUE_COUNT];
    *out = weather_day_empty(days->first + index);
    (void)climatology_of(input->observed->day, input->observed->count, site, out->date, &usual);
    recent_means(input, place, days, index, recent);
    bool past_years = !isnan(usual.mean[CLIMATOLOGY_TMAX_C]) && !isnan(usual.mean[CLIMATOLOGY_TMIN_C]);
    const double *mean = past_years ? usual.mean : recent;
    for (int v = 0; v < CLIMATOLOGY_VALUE_COUNT; v++) {
        double value = mean[v];
        if (v == CLIMATOLOGY_WIND_2M_M_S)
            value = station_wind_m_s(value, 2.0, site->wind_height_m);
        if (isnan(value))
            continue;
        out->value[usual_element[v]] = value;
        out->origin[usual_element[v]] = ORIGIN_CLIMATOLOGY;
    }
    return tells(&groups[GROUP_TEMPERATURE], out, 0);
}

/* ---- all days ---- */

/* A day that what was reported does not complete: with what is usual in its place, or missing. */
static void day_usual(const struct station_input *input, struct weather_place *place,
                      struct station_days *days, int index) {
    struct station_day *day = &days->day[index];
    struct weather_day kept = day->reported, usual;
    if (usual_day(input, place, days, index, &usual)) {
        take_group(&groups[GROUP_TEMPERATURE], &usual, &day->reported);
        for (size_t g = 1; g < GROUPS; g++) {
            if (!tells(&groups[g], &day->reported, 0))
                (void)fill_group(&groups[g], &usual, &day->reported);
        }
        if (day_complete(place, day) == STATUS_OK)
            return;
    }
    day->reported = kept;
    day_missing(day, days->first + index);
}

/* The days from `index` on, at most BLOCK of them. `place`: NULL at a site that is refused, where no day is
 * complete. */
static enum status block_build(const struct station_input *input, struct weather_place *place, int32_t today,
                               struct station_days *days, int index, int count) {
    enum status complete[BLOCK], status = STATUS_OK;
    for (int i = index; i < index + count; i++) {
        struct station_day *day = &days->day[i];
        int32_t date = days->first + i;
        gather_day(input, date, today, day);
        day_missing(day, date);
        if (date < today && day->reported.origin[WEATHER_TMAX_C] == ORIGIN_MEASURED &&
            tells(&groups[GROUP_TEMPERATURE], &day->reported, 0))
            days->observed_until = date;
    }
    if (place != NULL)
        days_complete(place, &days->day[index], count, complete);
    for (int i = 0; status == STATUS_OK && i < count; i++) {
        if (place != NULL && complete[i] != STATUS_OK)
            day_usual(input, place, days, index + i);
        status = sum_hours(input, days, &days->day[index + i]);
    }
    return status;
}

enum status station_days_build(const struct station_input *input, int32_t first, int32_t today, int32_t last,
                               struct station_days *out) {
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
    struct weather_place place;
    bool placed = weather_place_open(&input->station->site, &place) == STATUS_OK;
    enum status status = STATUS_OK;
    for (int i = 0; status == STATUS_OK && i < out->count; i += BLOCK) {
        int count = out->count - i < BLOCK ? out->count - i : BLOCK;
        status = block_build(input, placed ? &place : NULL, today, out, i, count);
    }
    return status;
}

void station_days_free(struct station_days *days) {
    free(days->day);
    free(days->hours);
    memset(days, 0, sizeof *days);
}

const struct station_day *station_days_at(const struct station_days *days, int32_t date) {
    if (days->day == NULL || date < days->first || date >= days->first + days->count)
        return NULL;
    return &days->day[date - days->first];
}
