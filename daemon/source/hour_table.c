#include "daemon/source/hour_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/base/calendar.h"
#include "core/weather/air.h"
#include "daemon/source/place_days.h"

#define HOUR_S        INT64_C(3600)
#define NIGHT_LOSS_MJ 0.05

static const enum weather_element element_of[HOUR_VALUE_COUNT] = {
    [HOUR_TMEAN] = WEATHER_TMEAN_C,     [HOUR_TMAX] = WEATHER_TMAX_C,
    [HOUR_TMIN] = WEATHER_TMIN_C,       [HOUR_EA] = WEATHER_EA_KPA,
    [HOUR_TDEW] = WEATHER_TDEW_C,       [HOUR_RH_MEAN] = WEATHER_RH_MEAN_PCT,
    [HOUR_RH_MAX] = WEATHER_RH_MAX_PCT, [HOUR_RH_MIN] = WEATHER_RH_MIN_PCT,
    [HOUR_WIND] = WEATHER_WIND_M_S,     [HOUR_RS] = WEATHER_RS_MJ_M2,
};

/* HOUR_VALUE_COUNT: the value tells no hour. */
static enum hour_value value_of(const struct layout_value *value) {
    bool sum = value->element == WEATHER_RS_MJ_M2 && value->how == HOW_SUM;
    if (value->how != HOW_MEAN && value->how != HOW_MAX && value->how != HOW_MIN && !sum)
        return HOUR_VALUE_COUNT;
    for (int v = 0; v < HOUR_VALUE_COUNT; v++) {
        if (element_of[v] == value->element)
            return (enum hour_value)v;
    }
    return HOUR_VALUE_COUNT;
}

void hour_table_start(struct hour_table *table, const struct layout *layout) {
    bool has[HOUR_VALUE_COUNT + 1] = {false};
    for (int i = 0; i < layout->value_count; i++)
        has[value_of(&layout->value[i])] = true;
    bool air = has[HOUR_TMEAN] || (has[HOUR_TMAX] && has[HOUR_TMIN]);
    bool vapour =
        has[HOUR_EA] || has[HOUR_TDEW] || has[HOUR_RH_MEAN] || (has[HOUR_RH_MAX] && has[HOUR_RH_MIN]);
    memset(table, 0, sizeof *table);
    table->wanted = !layout->forecast && air && vapour && has[HOUR_WIND] && has[HOUR_RS];
}

void hour_table_free(struct hour_table *table) {
    free(table->row);
    table->row = NULL;
}

/* The row of a date, empty when new; the search begins at the end, where it nearly always is. */
static struct hour_row *row_at(struct hour_table *table, int32_t date) {
    size_t place = table->count;
    while (place > 0 && table->row[place - 1].date > date)
        place--;
    if (place > 0 && table->row[place - 1].date == date)
        return &table->row[place - 1];
    if (table->count == table->room) {
        size_t room = table->room == 0 ? 32 : table->room * 2;
        struct hour_row *more = realloc(table->row, room * sizeof *more);
        if (more == NULL)
            return NULL;
        table->row = more;
        table->room = room;
    }
    struct hour_row *row = &table->row[place];
    memmove(row + 1, row, (table->count - place) * sizeof *row);
    table->count++;
    row->date = date;
    for (int v = 0; v < HOUR_VALUE_COUNT; v++) {
        for (int h = 0; h < REFERENCE_HOURS; h++)
            row->value[v][h] = (double)NAN;
    }
    return row;
}

/* One hour as it fills up. */
struct filling {
    int32_t date;
    int hour;
    int64_t covered, until; /* seconds of it with a reading; where the last one ends */
    double sum, weighed;
};

static enum status close_hour(struct hour_table *table, const struct layout_value *value, int to,
                              const struct filling *filling) {
    if (filling->covered < HOUR_S)
        return STATUS_OK;
    struct hour_row *row = row_at(table, filling->date);
    if (row == NULL)
        return STATUS_NO_MEMORY;
    double *place = &row->value[to][filling->hour];
    double mean = filling->sum / filling->weighed;
    if (isnan(*place)) /* sums are of the hour, means of radiation of a day */
        *place = value->how == HOW_SUM ? filling->sum : to == HOUR_RS ? mean / REFERENCE_HOURS : mean;
    return STATUS_OK;
}

/* The part of a reading that lies in the hour. */
static void fill(struct filling *filling, const struct reading *reading, bool sum, int64_t from, int64_t to) {
    double part = (double)(to - from), span = (double)(reading->end - reading->start);
    int64_t fresh = from > filling->until ? from : filling->until;
    if (to > fresh)
        filling->covered += to - fresh;
    if (to > filling->until)
        filling->until = to;
    filling->sum += reading->value * (sum ? part / span : part);
    filling->weighed += part;
}

enum status hour_table_add(struct hour_table *table, const struct layout *layout,
                           const struct layout_value *value, const struct reading *reading, size_t count) {
    enum hour_value to = value_of(value);
    struct filling filling = {.date = CALENDAR_NONE};
    enum status status = STATUS_OK;
    if (!table->wanted || to == HOUR_VALUE_COUNT)
        return STATUS_OK;
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        if (reading[i].end - reading[i].start > HOUR_S)
            continue;
        for (int64_t from = reading[i].start; from < reading[i].end && status == STATUS_OK;) {
            int32_t date = place_date(layout, from);
            int64_t start = place_day_start(layout, date), next_day = place_day_start(layout, date + 1);
            int hour = (int)((from - start) / HOUR_S);
            int64_t next = start + (hour + 1) * HOUR_S < next_day ? start + (hour + 1) * HOUR_S : next_day;
            int64_t end = next < reading[i].end ? next : reading[i].end;
            if (date != filling.date || hour != filling.hour) {
                status = close_hour(table, value, (int)to, &filling);
                filling = (struct filling){.date = date, .hour = hour, .until = INT64_MIN};
            }
            if (hour < REFERENCE_HOURS)
                fill(&filling, &reading[i], value->how == HOW_SUM, from, end);
            from = end;
        }
    }
    return status == STATUS_OK ? close_hour(table, value, (int)to, &filling) : status;
}

/* ---- the days ---- */

static double relative_humidity(double rh_pct) {
    if (!(rh_pct >= 0.0 && rh_pct <= WEATHER_RH_DRIFT_PCT))
        return (double)NAN;
    return rh_pct < 100.0 ? rh_pct : 100.0;
}

/* One of the values has to tell all hours of a day: the day is not pieced together. */
static bool whole(const struct hour_row *row, enum hour_value value) {
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        if (isnan(row->value[value][h]))
            return false;
    }
    return true;
}

static double hour_ea_kpa(const struct hour_row *row, double t_c, int h) {
    if (whole(row, HOUR_EA))
        return row->value[HOUR_EA][h];
    if (whole(row, HOUR_TDEW))
        return air_saturation_kpa(row->value[HOUR_TDEW][h]);
    double rh_pct = whole(row, HOUR_RH_MEAN)
                        ? row->value[HOUR_RH_MEAN][h]
                        : (row->value[HOUR_RH_MAX][h] + row->value[HOUR_RH_MIN][h]) / 2.0;
    return relative_humidity(rh_pct) / 100.0 * air_saturation_kpa(t_c);
}

static double hour_rs_mj_m2(double rs_mj_m2) {
    return rs_mj_m2 < 0.0 && rs_mj_m2 >= -NIGHT_LOSS_MJ ? 0.0 : rs_mj_m2;
}

/* False when an hour is missing, or has what no hour has. */
static bool fill_hours(const struct hour_row *row, struct weather_hours *hours) {
    bool mean = whole(row, HOUR_TMEAN);
    for (int h = 0; h < REFERENCE_HOURS; h++) {
        double t_c =
            mean ? row->value[HOUR_TMEAN][h] : (row->value[HOUR_TMAX][h] + row->value[HOUR_TMIN][h]) / 2.0;
        struct weather_hour *hour = &hours->hour[h];
        *hour = (struct weather_hour){t_c, hour_ea_kpa(row, t_c, h), row->value[HOUR_WIND][h],
                                      hour_rs_mj_m2(row->value[HOUR_RS][h])};
        bool possible = hour->t_c >= WEATHER_T_MIN_C && hour->t_c <= WEATHER_T_MAX_C && hour->ea_kpa >= 0.0 &&
                        hour->ea_kpa <= 20.0 && hour->wind_m_s >= 0.0 && hour->wind_m_s <= 100.0 &&
                        hour->rs_mj_m2 >= 0.0 && hour->rs_mj_m2 <= 6.0;
        if (!possible)
            return false;
    }
    return true;
}

enum status hour_table_finish(const struct hour_table *table, const struct layout *layout,
                              struct weather_days *days) {
    enum status status = STATUS_OK;
    for (size_t i = 0; i < table->count && status == STATUS_OK; i++) {
        const struct hour_row *row = &table->row[i];
        struct weather_hours hours = {.date = layout->time.named_by_end ? row->date + 1 : row->date};
        int64_t length = place_day_start(layout, row->date + 1) - place_day_start(layout, row->date);
        if (length != PLACE_DAY_S || !calendar_valid(hours.date) || !fill_hours(row, &hours))
            continue;
        int64_t start = place_day_start_utc(layout, row->date) - hours.date * PLACE_DAY_S;
        hours.start_utc_h = (double)start / (double)HOUR_S;
        status = weather_days_put_hours(days, &hours);
    }
    return status;
}
